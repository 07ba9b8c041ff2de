"""A pytest plugin: which test ran which line, and how long each took.

Under coverage (``coverage run -m pytest -p benchmarks.contexts``) lines are noted under the name
of the test; the seconds go into the file that ``TEST_SECONDS`` names.
"""

from __future__ import annotations

import json
import os
import time
from collections.abc import Iterator
from pathlib import Path

import coverage
import pytest

FOR_SECONDS = "TEST_SECONDS"
_took: dict[str, float] = {}


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Iterator[None]:
    """Name the test whose lines come next; set-up that later tests share counts as its own."""
    measured = coverage.Coverage.current()
    if measured is not None:
        measured.switch_context(item.nodeid)
    begin = time.perf_counter()
    done = yield
    _took[item.nodeid] = time.perf_counter() - begin
    return done


def pytest_sessionfinish() -> None:
    """Write down how long each test took."""
    if FOR_SECONDS in os.environ:
        Path(os.environ[FOR_SECONDS]).write_text(json.dumps(_took))
