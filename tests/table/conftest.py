"""Lets these tests use the figures and the slow twin that the worker's tests have."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "worker"))
