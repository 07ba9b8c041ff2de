"""Lets these tests use the small scenes that the tests of the checks have."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "checks"))
