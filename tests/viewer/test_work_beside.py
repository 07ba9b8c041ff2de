"""The process that works for the page: what a job leaves behind does not pile up."""

from __future__ import annotations

import weakref
from pathlib import Path

from reach.files.starter import write_starter
from reach.viewer import workshop
from reach.viewer.answers import Inputs


class Ring:
    """Something that knows itself, as records that know each other do."""

    def __init__(self) -> None:
        self.me = self


class Jobs:
    """A pipe that asks for a job some times and looks at what is left of the one before."""

    def __init__(self, n: int, left: list[weakref.ref]) -> None:
        self.n, self.left, self.alive = n, left, []

    def recv(self):
        self.alive += [one for one in self.left if one() is not None]
        if not self.n:
            raise EOFError
        self.n -= 1
        return self.n, "ring", ()

    def send(self, answer):
        assert answer[1] == "done"


def test_rings_that_a_job_leaves_are_gone_before_the_next_one(tmp_path: Path, monkeypatch):
    write_starter(tmp_path / "site")
    left: list[weakref.ref] = []

    def ring(*_):
        left.append(weakref.ref(Ring()))

    monkeypatch.setitem(workshop.JOBS, "ring", ring)
    pipe = Jobs(3, left)
    workshop._serve(Inputs(str(tmp_path / "site")), None, pipe)
    assert len(left) == 3 and not pipe.alive
