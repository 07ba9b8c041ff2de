"""A second process changes nothing in what is found, whatever becomes of it."""

import os
import signal

import pytest
from shop import STEPS, procedure, scene

from reach import run
from reach.kept import beside as second
from reach.kept.beside import can_be_beside
from reach.kept.keeping import Entry, Kept
from reach.run import check

pytestmark = pytest.mark.skipif(not can_be_beside(), reason="no second process here")

QUESTION = (b"scene", b"kind", "check")


def told(outcome):
    return [repr(one) for one in outcome.findings]


def test_with_a_second_process_the_same_is_found(monkeypatch):
    started = []
    monkeypatch.setattr(run, "beside", lambda *given: started.append(1) or second.beside(*given))
    alone = check(scene(), procedure(STEPS))
    both = check(scene(), procedure(STEPS), processes=2)
    assert started == [1]
    assert told(both) == told(alone)


def test_what_the_second_process_keeps_is_taken_over():
    kept = Kept()
    with second.beside(lambda: kept.keep(QUESTION, Entry((), [1])), kept):
        assert kept.of(QUESTION) == ()
    assert kept.of(QUESTION) == (Entry((), [1]),)


@pytest.mark.parametrize("end", ["fails", "is killed"])
def test_a_second_process_that_comes_to_nothing_is_no_error(end):
    def work():
        if end == "fails":
            raise RuntimeError("no")
        os.kill(os.getpid(), signal.SIGKILL)

    kept = Kept()
    with second.beside(work, kept):
        pass
    assert kept.of(QUESTION) == ()


def test_where_the_first_fails_the_second_is_ended(monkeypatch):
    begun, fork = [], os.fork

    def noting_fork():
        begun.append(fork())
        return begun[-1]

    monkeypatch.setattr(os, "fork", noting_fork)
    with pytest.raises(ValueError, match="first"), second.beside(signal.pause, Kept()):
        raise ValueError("first")
    (child,) = begun
    # Other tests in this process may have children of their own: this one is gone.
    with pytest.raises(ChildProcessError):
        os.waitpid(child, os.WNOHANG)
