"""How complete, how well proved and how fast the reach of one worker is.

``python -m benchmarks.worker`` prints a table; ``--long`` runs the full counts.
Every miss counted here is one that some longer search found: no search knows them all, so the
oracle is the union of several, and planted postures need none.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests" / "worker"))

from figures import BARE_HAND, figure, random_targets
from twin import planted

from reach.worker.bound import shortage
from reach.worker.margin import reach_margins
from reach.worker.search import Effort, find_postures
from reach.worker.two_hands import find_two_handed

LONG_SEARCHES = (
    Effort(1024, 128, 500, near=0.9),
    Effort(768, 256, 300, near=0.8),
)


class Row(NamedTuple):
    """One line of the table; ``good`` is None where no goal is set."""

    what: str
    found: str
    goal: str
    good: bool | None


def run(long: bool = False) -> Iterator[Row]:
    """Yield the rows of the table; ``long`` runs the full counts (some minutes)."""
    _timed(lambda: find_postures(figure(), [0.7, 0.0, 1.3], [1, 0, 0]))  # compile
    yield from completeness(2000 if long else 300, LONG_SEARCHES if long else LONG_SEARCHES[:1])
    for size in ("S", "M", "L") if long else ("M",):
        yield from planting(size, 20_000 if long else 2000)
    yield from margins(200 if long else 30)
    yield from two_hands(200 if long else 40)


def completeness(n: int, searches: tuple[Effort, ...]) -> list[Row]:
    """Random targets: reached, proved out of reach, or open."""
    f = figure()
    tips, directions = random_targets(n, seed=20)
    answer, seconds = _timed(lambda: find_postures(f, tips, directions))
    short, seconds_bound = _timed(lambda: shortage(f, tips, directions, sharp=False))
    proved, found = short > 0, answer.violation <= 0
    reachable = found.copy()
    for effort in searches:
        left = np.flatnonzero(~reachable)  # proved ones too: a search may contradict a proof
        reachable[left] |= _search_only(f, tips[left], directions[left], effort)
    missed = int((reachable & ~found).sum())
    wrong = int((reachable & proved).sum())
    share = proved.sum() / max(1, (~reachable).sum())
    return [
        Row(f"{n} random targets, reachable", f"{reachable.sum()}", "", None),
        Row("proved out of reach, yet reached", f"{wrong}", "0", wrong == 0),
        Row("reachable left open, of all", f"{missed / n:.2%}", "< 0.5 %", missed < 0.005 * n),
        Row(
            "reachable left open, of the reachable",
            f"{missed / reachable.sum():.2%}",
            "< 2 %",
            missed < 0.02 * float(reachable.sum()),
        ),
        Row("unreachable proved", f"{share:.1%}", ">= 80 %", bool(share >= 0.8)),
        Row("search a target", _ms(seconds / n), "<= 4 ms", seconds / n <= 0.004),
        Row("bound a target, first proof", _ms(seconds_bound / n), "", None),
    ]


def planting(size: str, n: int) -> list[Row]:
    """Postures planted by forward kinematics of legal joints, many at limits."""
    f = figure(size)
    tips, directions = planted(f, n, seed=1)
    answer, seconds = _timed(lambda: find_postures(f, tips, directions))
    missed = int((answer.violation > 0).sum())
    wrong = int((shortage(f, tips, directions, sharp=False) > 0).sum())
    return [
        Row(f"{size}: {n} planted, missed", f"{missed}", "< 0.05 %", missed < 0.0005 * n),
        Row(f"{size}: planted, proved out of reach", f"{wrong}", "0", wrong == 0),
        Row(f"{size}: search a planted target", _ms(seconds / n), "", None),
    ]


def margins(n: int) -> list[Row]:
    """Shell probing of reached targets."""
    f = figure()
    tips, directions = planted(f, n, seed=2)
    x = find_postures(f, tips, directions)
    ok = x.violation <= 0
    ask = (f, tips[ok], directions[ok], x.x[ok])
    reach_margins(f, tips[ok][:1], directions[ok][:1], x.x[ok][:1])
    answer, seconds = _timed(lambda: reach_margins(*ask))
    each = seconds / len(answer)
    radius = np.array([margin.radius for margin in answer])
    over = sum(margin.ceiling < margin.radius for margin in answer)
    return [
        Row("margin a target", _ms(each), "", None),
        Row("margin, median", f"{np.median(radius):.3f} m", "", None),
        Row("margins above their proved ceiling", f"{over}", "0", over == 0),
    ]


def two_hands(n: int) -> list[Row]:
    """Pairs of targets ahead, the left hand held any way round."""
    f, rng = figure(), np.random.default_rng(4)
    right = rng.uniform([0.4, -0.4, 1.0], [0.8, 0.0, 1.5], (n, 3))
    left = rng.uniform([0.4, 0.0, 1.0], [0.7, 0.4, 1.5], (n, 3))
    find_two_handed(f, BARE_HAND, right[:1], [1, 0, 0], left[:1])
    answer, seconds = _timed(lambda: find_two_handed(f, BARE_HAND, right, [1, 0, 0], left))
    return [
        Row("two-handed pairs reached", f"{(answer.violation <= 0).mean():.0%}", "", None),
        Row("two hands a pair", _ms(seconds / n), "", None),
    ]


def _search_only(f, tips, directions, effort: Effort) -> np.ndarray:
    """Search without asking the bound first, so that the bound can be found wrong."""
    return find_postures(f, tips, directions, effort, ask_bound=False).violation <= 0


def _timed(task: Callable[[], Any]) -> tuple[Any, float]:
    start = time.perf_counter()
    return task(), time.perf_counter() - start


def _ms(seconds: float) -> str:
    return f"{1000 * seconds:.2f} ms"


def main(long: bool = False) -> bool:
    """Print the table; return whether every goal is met."""
    all_good = True
    print("\nReach of one worker, joint limits alone")
    for row in run(long):
        mark = {True: "ok", False: "MISSED", None: ""}[row.good]
        print(f"  {row.what:42} {row.found:>10}  {row.goal:9} {mark}", flush=True)
        all_good &= row.good is not False
    return all_good


if __name__ == "__main__":
    sys.exit(not main(long="--long" in sys.argv[1:]))
