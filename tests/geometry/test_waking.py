"""Marked routines wait: Numba is imported when the first of them is called, not before."""

from __future__ import annotations

import os
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from reach.geometry.compiled import compiled, on_waking


def said(script: str, **environment: str) -> str:
    """Return what a new Python prints that runs a script."""
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(script)],
        capture_output=True, text=True, check=True, env=os.environ | environment,
    )  # fmt: skip
    return done.stdout.strip()


def test_looking_at_a_routine_imports_nothing_and_calling_it_wakes_all():
    told = said(
        """
        import sys
        from reach.geometry import distance, segments
        held = [segments._rows]  # where no module's name stands for it
        print("numba" in sys.modules, held[0].__name__, type(distance._point_rows).__name__)
        print(segments.segment_pair_distance([0, 0, 0], [1, 0, 0], [0, 2, 0], [1, 2, 0]).tolist())
        print("numba" in sys.modules, type(distance._point_rows).__module__.split(".")[0])
        print(type(held[0]).__name__, held[0].signatures == segments._rows.signatures)
        """
    )
    assert told.split("\n") == ["False _rows Waiting", "[2.0]", "True numba", "Waiting True"]


def test_several_threads_may_call_the_first_routine_at_once():
    told = said(
        """
        import threading
        from reach.geometry import segment_pair_distance
        found = []
        def ask():
            found.extend(segment_pair_distance([0, 0, 0], [1, 0, 0], [0, 2, 0], [1, 2, 0]).tolist())
        threads = [threading.Thread(target=ask) for _ in range(6)]
        for one in threads: one.start()
        for one in threads: one.join()
        print(found)
        """
    )
    assert told == str([2.0] * 6)


def test_what_is_to_come_before_the_first_call_comes_once():
    told = said(
        """
        from reach.geometry import on_waking, segment_pair_distance
        on_waking(lambda: print("first"))
        print("nothing yet")
        for _ in range(2):
            segment_pair_distance([0, 0, 0], [1, 0, 0], [0, 2, 0], [1, 2, 0])
        on_waking(lambda: print("now"))
        """
    )
    assert told.split("\n") == ["nothing yet", "first", "now"]


@pytest.fixture
def yard(tmp_path: Path) -> Path:
    said("from reach.cli import main; import sys; sys.argv = ['reach', 'new', 'yard']; main()"
         .replace("'yard'", repr(str(tmp_path / "yard"))))  # fmt: skip
    return tmp_path / "yard"


def test_a_check_whose_answers_are_all_kept_does_not_even_import_numba(yard: Path):
    script = f"""
        import contextlib, io, sys
        from reach.cli import main
        sys.argv = ["reach", "check", {str(yard)!r}]
        text = io.StringIO()
        with contextlib.redirect_stdout(text), contextlib.suppress(SystemExit):
            main()
        print("numba" in sys.modules, text.getvalue().count("\\n") > 20)
    """
    kept = str(yard.parent / "kept")
    assert said(script, REACH_CACHE=kept) == "True True"
    assert said(script, REACH_CACHE=kept) == "False True"


def test_a_routine_marked_once_all_are_awake_is_compiled_at_once():
    on_waking(lambda: None)
    import numba

    from reach.geometry import awake

    awake()

    @compiled
    def double(x: float) -> float:
        return 2.0 * x

    assert isinstance(double, numba.core.dispatcher.Dispatcher)
    assert double(2.0) == 4.0
