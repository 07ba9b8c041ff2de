"""Lets these tests use the small scenes that the tests of the checks have."""

import sys
from pathlib import Path

# Behind all others: that folder has a conftest of its own.
sys.path.append(str(Path(__file__).parents[1] / "checks"))
