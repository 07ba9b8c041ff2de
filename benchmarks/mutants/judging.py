"""Mutants put to the tests, each in a copy of this process that has read everything already."""

from __future__ import annotations

import os
import signal
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from types import FunctionType, ModuleType
from typing import Any

import pytest

from benchmarks.mutants.making import Mutant, grown

KILLED, SURVIVED, OVERDUE, UNTESTED, LOST = "killed", "survived", "overdue", "untested", "lost"
FATES = (KILLED, OVERDUE, SURVIVED, UNTESTED, LOST)
"""Overdue: the tests did not end in their time.  Untested: no test runs the line.  Lost: the
mutant could not be put in place."""

_CODES = {0: SURVIVED, 1: KILLED, 2: LOST}


@dataclass(frozen=True, slots=True)
class Fate:
    """What became of a mutant, by which test, after how many tests and seconds."""

    mutant: Mutant
    what: str
    n_tests: int
    seconds: float
    by: str = ""


class Judge:
    """A plugin of pytest that runs, instead of all tests, for each mutant those that may tell.

    Parameters
    ----------
    mutants : sequence of Mutant
    tests_of : callable
        Mutant -> names of tests, those that are asked first in front.
    seconds : float
        How long to go on altogether.
    each : float
        How long the tests of one mutant may take.
    tell : callable
        Takes each `Fate` as it is known.
    """

    def __init__(
        self,
        mutants: Sequence[Mutant],
        tests_of: Callable[[Mutant], Sequence[str]],
        seconds: float,
        each: float,
        tell: Callable[[Fate], None],
    ) -> None:
        self.mutants, self.tests_of, self.each, self.tell = mutants, tests_of, each, tell
        self.until = time.monotonic() + seconds

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Judge one mutant after the other."""
        from reach.warmup import warm_up

        warm_up()
        items = {item.nodeid: item for item in session.items}
        for mutant in self.mutants:
            if time.monotonic() > self.until:
                break
            tests = [items[name] for name in self.tests_of(mutant) if name in items]
            self.tell(self._judged(session, mutant, tests))
        return True

    def _judged(self, session: pytest.Session, mutant: Mutant, tests: list[pytest.Item]) -> Fate:
        if not tests:
            return Fate(mutant, UNTESTED, 0, 0.0)
        begin = time.monotonic()
        with tempfile.TemporaryDirectory(prefix="mutant-") as folder:
            note = Path(folder) / "last"
            child = os.fork()
            if not child:
                _try(session, mutant, tests, note)
            code = _ended(child, self.each)
            ran = note.read_text().splitlines() if note.exists() else []
        what = OVERDUE if code is None else _CODES.get(code, KILLED)
        by = ran[-1] if ran and what in (KILLED, OVERDUE) else ""
        return Fate(mutant, what, len(ran), time.monotonic() - begin, by)


def _try(session: pytest.Session, mutant: Mutant, tests: list[pytest.Item], note: Path) -> None:
    """Run the tests with the mutant in place until one fails; ends the process."""
    code = 2
    try:
        os.setsid()
        dark = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(dark, stream)
        os.environ["REACH_CACHE"] = str(note.parent)
        put_in_place(mutant)
        code = 1
        for item, after in zip(tests, [*tests[1:], None], strict=True):
            with note.open("a") as file:
                print(item.nodeid, file=file)
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=after)
            if session.testsfailed:
                os._exit(1)
        code = 0
    finally:
        os._exit(code)


def _ended(child: int, seconds: float) -> int | None:
    """Return the exit code of a child process; None where it had to be ended."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        pid, status = os.waitpid(child, os.WNOHANG)
        if pid:
            return os.waitstatus_to_exitcode(status)
        time.sleep(0.01)
    with suppress(ProcessLookupError):
        os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return None


def put_in_place(mutant: Mutant) -> None:
    """Give the function that a mutant stands in its changed code, wherever it is held.

    Raises
    ------
    LookupError
        If there is no such function in the module.
    """
    module = sys.modules[mutant.module]
    source = Path(str(module.__file__)).read_text()
    found = [one for one in _functions(module, mutant.home)]
    if not found:
        raise LookupError(f"{mutant.module} has no function {mutant.home}")
    for one in found:
        one.__code__ = grown(mutant, source, str(module.__file__))


def _functions(module: ModuleType, home: str) -> Iterator[FunctionType]:
    """Yield the function of a name, without what decorators have put round it."""
    *owners, name = home.split(".")
    holder: Any = module
    for owner in owners:
        holder = getattr(holder, owner)
    one: Any = vars(holder).get(name)
    for within in ("fget", "func", "__func__"):
        one = getattr(one, within, None) or one
    while hasattr(one, "__wrapped__"):
        one = one.__wrapped__
    if isinstance(one, FunctionType) and one.__qualname__ == home:
        yield one
