"""Kernels as they are written, nothing compiled: for coverage, and to compare with what is.

As a pytest plugin, ``python -m pytest -p benchmarks.plain tests/geometry`` runs tests on the Python
source of the kernels, about a hundred times slower; a test that takes longer than ``PLAIN_SECONDS``
is skipped.  Numba's own switch (``NUMBA_DISABLE_JIT``) would do the same but for kept machine code,
which plain functions do not have.
"""

from __future__ import annotations

import importlib
import os
import signal
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest

FOR_SECONDS = "PLAIN_SECONDS"


def _as_written(routine: Any, inline: bool) -> Any:
    return routine


def compile_nothing() -> None:
    """Leave kernels as they are written; to be called before the first of them is."""
    marking = importlib.import_module("reach.geometry.compiled")
    marking._dispatcher = _as_written  # type: ignore[attr-defined]
    # Who gives up on a batch would wait for all its threads.
    marking.n_threads = lambda: 1  # type: ignore[attr-defined]
    # Kernels divide by zero as numpy does: what plain numpy would warn of is meant there.
    np.seterr(all="ignore")


def pytest_configure() -> None:
    """Come before any test."""
    compile_nothing()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item: pytest.Item) -> Iterator[None]:
    """Skip what takes too long."""

    def too_long(*_: object) -> None:
        pytest.skip("takes too long where nothing is compiled")

    signal.signal(signal.SIGVTALRM, too_long)
    signal.setitimer(signal.ITIMER_VIRTUAL, float(os.environ.get(FOR_SECONDS, "600")))
    try:
        return (yield)
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0.0)
