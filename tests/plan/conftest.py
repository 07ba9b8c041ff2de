"""Lets these tests use the bench of the checks' tests and the slow twin of the worker's."""

import sys
from pathlib import Path

import pytest

for _folder in ("checks", "worker"):
    sys.path.insert(0, str(Path(__file__).parents[1] / _folder))


@pytest.fixture(autouse=True)
def _no_tables_of_the_user(tmp_path, monkeypatch):
    """Reach tables that this computer keeps must not decide what is tested."""
    monkeypatch.setenv("REACH_CACHE", str(tmp_path / "cache"))
