"""Threads change no bit, and kept machine code follows its source."""

from __future__ import annotations

import subprocess
import sys
import textwrap
import threading

import numba
import numpy as np
import pytest

from reach.geometry import (
    any_hit,
    capsule_clearance,
    cylinder_overlap,
    first_hit,
    in_chunks,
    is_compiled,
    on_one_core,
    point_distance,
    segment_distance,
    segment_pair_distance,
    swept_clearance,
    warm_up,
    winding_number,
)


def swept(tree, start, stop):
    """Sweep of one capsule from each point to another, turned a quarter on the way."""
    poses = np.tile(np.eye(4), (2, len(start), 1, 1))
    poses[0, :, :3, 3], poses[1, :, :3, 3] = start, stop
    poses[1, :, :2, :2] = [[0.0, -1.0], [1.0, 0.0]]
    return vars(swept_clearance(tree, *poses, [0.0, 0.0, 0.0], [0.3, 0.0, 0.1], 0.1))


BATCHES = {
    "point_distance": lambda tree, c, p, q: vars(point_distance(tree, c)),
    "segment_distance": lambda tree, c, p, q: vars(segment_distance(tree, p, q, 0.3)),
    "first_hit": lambda tree, c, p, q: first_hit(tree, p, q - p)._asdict(),
    "any_hit": lambda tree, c, p, q: {"": any_hit(tree, p, q - p, 1.0)},
    "cylinder_overlap": lambda tree, c, p, q: {"": cylinder_overlap(tree, p, q, 0.1)},
    "winding_number": lambda tree, c, p, q: {"": winding_number(tree, c)},
    "capsule_clearance": lambda tree, c, p, q: {"": capsule_clearance(tree, p, q, 0.1)},
    "swept_clearance": lambda tree, c, p, q: swept(tree, p, q),
    "segment_pair_distance": lambda tree, c, p, q: {"": segment_pair_distance(p, q, q[::-1], c)},
}


def test_on_one_core_nothing_changes_but_the_number_of_threads(monkeypatch):
    module = sys.modules["reach.geometry.compiled"]
    started = []
    monkeypatch.setattr(module.threading, "Thread", lambda **k: started.append(k) or _Idle())
    monkeypatch.setattr(module, "n_threads", lambda: 4)
    done = []
    with on_one_core():
        in_chunks(lambda a, b: done.append((a, b)), 4 * module.CHUNK)
    assert done == [(0, 4 * module.CHUNK)] and not started
    in_chunks(lambda a, b: done.append((a, b)), 4 * module.CHUNK)
    assert len(started) == 3


class _Idle:
    """A thread that does nothing: the caller's own turn does all."""

    def start(self):
        pass

    def join(self):
        pass


@pytest.fixture
def one_thread():
    before = numba.get_num_threads()
    numba.set_num_threads(1)
    yield
    numba.set_num_threads(before)


def assert_same_bits(one, two):
    for name in one:
        np.testing.assert_array_equal(one[name], two[name], strict=True)


@pytest.mark.parametrize("batch", BATCHES)
def test_the_number_of_threads_changes_no_bit(batch, trusses, queries, one_thread):
    _, tree = trusses["5k"]
    drawn = queries(tree, 5000, seed=5)
    alone = BATCHES[batch](tree, *drawn)
    numba.set_num_threads(min(2, numba.config.NUMBA_NUM_THREADS))
    assert_same_bits(alone, BATCHES[batch](tree, *drawn))


@pytest.mark.parametrize("batch", BATCHES)
def test_an_answer_does_not_depend_on_its_neighbours_in_the_batch(batch, trusses, queries):
    _, tree = trusses["5k"]
    c, p, q = queries(tree, 5000, seed=6)
    if batch == "segment_pair_distance":
        q = np.broadcast_to(q[0], q.shape)
    together = BATCHES[batch](tree, c, p, q)
    apart = BATCHES[batch](tree, c[2000:2100], p[2000:2100], q[2000:2100])
    if batch == "segment_pair_distance":
        together = {"": segment_pair_distance(p, q, q[0], c)}
    assert_same_bits({k: v[2000:2100] for k, v in together.items()}, apart)


def test_several_threads_may_ask_at_once(trusses, queries):
    _, tree = trusses["5k"]
    _, p, q = queries(tree, 4000, seed=7)
    alone = segment_distance(tree, p, q).distance
    answers = {}

    def ask(name):
        answers[name] = segment_distance(tree, p, q).distance

    threads = [threading.Thread(target=ask, args=(k,)) for k in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    for answer in answers.values():
        np.testing.assert_array_equal(answer, alone)
    assert len(answers) == 4


def test_a_failure_in_a_chunk_is_raised_where_it_was_asked():
    def kernel(start, stop):
        raise ZeroDivisionError(f"{start} to {stop}")

    with pytest.raises(ZeroDivisionError):
        in_chunks(kernel, 10_000)


def test_every_row_is_visited_once():
    seen = np.zeros(10_001, dtype=int)

    def kernel(start, stop):
        seen[start:stop] += 1

    in_chunks(kernel, len(seen))
    assert (seen == 1).all()


def test_after_warming_up_everything_is_compiled():
    warm_up()
    assert is_compiled()


def test_kept_machine_code_is_dropped_when_a_routine_it_calls_changes(tmp_path):
    """Numba alone would go on answering with the old code of the caller."""
    (tmp_path / "inner.py").write_text(module("x + 1"))
    (tmp_path / "outer.py").write_text(
        "from reach.geometry.compiled import compiled, is_cached\nimport inner\n"
        "@compiled\ndef outer(x):\n    return inner.inner(x)\n"
    )
    assert asked(tmp_path) == "False 2 True"
    assert asked(tmp_path) == "True 2 True"
    (tmp_path / "inner.py").write_text(module("x + 2"))
    assert asked(tmp_path) == "False 3 True"


def module(expression):
    return (
        "from reach.geometry.compiled import compiled\n"
        f"@compiled\ndef inner(x):\n    return {expression}\n"
    )


def asked(folder):
    script = textwrap.dedent(
        f"""
        import sys
        sys.path.insert(0, {str(folder)!r})
        from outer import outer, is_cached
        print(is_cached(outer), outer(1), is_cached(outer))
        """
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    return done.stdout.strip()
