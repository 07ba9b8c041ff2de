"""The best settings for everything asked at once: worst margin first, by postures not by scores.

Settings are taken in the order of their estimated worst margin, in blocks; each loses its place
as soon as one question falls below the best found so far.  The search ends when no optimistic
score left is better than what was found, or when the budget is spent; then it says by how much
a setting that was not looked at could still be better.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from reach.geometry.compiled import n_threads
from reach.plan.grid import Candidate, Grid, boots_of, figure_of_ask, in_boots
from reach.site import Site, Situation
from reach.work import Attempt, attempt_of, hands_of
from reach.worker.search import find_postures

Array = NDArray[np.float64]
Say = Callable[[int, int, str], None]
Stands = Callable[[Candidate], bool]

BLOCK = 32
MOST = 512
"""Settings looked at before the search is given up."""

PATIENCE = 128
"""Settings searched one by one are given up after so many without a better one."""

MOST_HARD = 8
"""Of the settings that a quick look at postures blocks, so many get a long one."""


@dataclass(frozen=True, eq=False, slots=True)
class Served:
    """A setting with a witness posture for everything asked.

    Attributes
    ----------
    candidate : Candidate
    row : int
        Of the grid.
    margins : tuple of float, m
        Margin of reach of each question, by joint limits.
    hands : tuple of str
        The hand of each.
    stands : bool
        Whether the worker gets in and stands there, as far as that was asked.
    """

    candidate: Candidate
    row: int
    margins: tuple[float, ...]
    hands: tuple[str, ...]
    stands: bool = True

    @property
    def worst(self) -> float:
        """The least of the margins, m."""
        return min(self.margins)


@dataclass(frozen=True, eq=False, slots=True)
class Miss:
    """A setting that reaches everything by joint limits, but not clear and in view.

    Question ``ask`` has no witness; ``n_done`` of those tried before it have one.
    """

    candidate: Candidate
    row: int
    ask: int
    n_done: int


@dataclass(frozen=True, eq=False, slots=True)
class Ranking:
    """What the search for settings found.

    Attributes
    ----------
    served : tuple of Served
        Those the worker can stand in first, then by worst margin.
    misses : tuple of Miss
        Settings that reach everything, yet have no witness; those that go farthest first.
    n_looked : int
        Settings tried by postures.
    gap : float, m
        No setting that was not looked at has a worst margin larger than the worst served one's
        (or 0) by more than this, as far as the optimistic scores go; 0 when none was left.
    lost : dict of int -> int
        Question -> how often it was the one that a tried setting did not reach.
    """

    served: tuple[Served, ...]
    misses: tuple[Miss, ...]
    n_looked: int
    gap: float
    lost: dict[int, int]


def rank(
    site: Site,
    grid: Grid,
    asks: Sequence[Situation],
    top: int = 5,
    most: int = MOST,
    say: Say | None = None,
    hard: bool = True,
    stands: Stands | None = None,
    patience: int | None = None,
) -> Ranking:
    """Return the ``top`` best settings for all of ``asks`` together.

    Parameters
    ----------
    grid : Grid
        Of the same asks.
    top : int
    most : int
        Settings to look at, at most.
    say : callable, optional
        Told (done, total, words).
    hard : bool
        Whether to look long at the nearest misses where a quick look finds no setting.
    stands : callable, optional
        Tells whether the worker gets in and stands at a setting; those that do come first.
    patience : int, optional
        Give up after so many without a better one, once there are ``top`` to stand in;
        `PATIENCE` where settings are searched one by one, never by table, when left out.
    """
    if patience is None:
        patience = PATIENCE if grid.searched else most
    order = _order(grid)
    hoped = grid.hoped.min(axis=1, initial=math.inf)
    best_left = np.append(np.maximum.accumulate(hoped[order][::-1])[::-1], -math.inf)
    hardest = np.argsort(grid.likely.max(axis=0, initial=-math.inf), kind="stable").tolist()
    served: list[Served] = []
    misses: list[Miss] = []
    lost: Counter[int] = Counter()
    done, since = 0, 0
    with ThreadPoolExecutor(n_threads()) as pool:
        while done < min(len(order), most) and best_left[done] >= _floor(served, top):
            block = order[done : done + BLOCK]
            done += len(block)
            if say:
                say(done, len(order), f"{len(served)} of {top} settings found")
            floor = _floor(served, top)
            block = block[hoped[block] >= floor]
            if not grid.searched:
                block = _reached(site, grid, asks, block, hardest, lost)
            tries = pool.map(partial(_tried, site, grid, asks, hardest, floor), block.tolist())
            before = served
            for found in tries:
                if isinstance(found, Served):
                    if stands is not None:
                        found = replace(found, stands=stands(found.candidate))
                    served = [*served, found]
                elif found is not None:
                    misses.append(found)
            served = sorted(served, key=lambda one: (not one.stands, -one.worst, one.row))[:top]
            since = since + len(block) if served == before else 0
            if len(served) >= top and served[-1].stands and since >= patience:
                break
    if not served and hard:
        served, misses = _looked_at_hard(site, grid, asks, misses, hardest)
    left = float(best_left[done])
    if grid.searched:
        lost.update(_unreached(grid))
        # Those cut off before the search, and near ones that a quick search did not reach.
        left = math.inf if len(order) > done or (hoped > 0.0).sum() > len(order) else -math.inf
    gap = max(0.0, left - _floor(served, top)) if left >= 0.0 else 0.0
    return Ranking(tuple(served), tuple(misses), done, gap, dict(lost))


def _order(grid: Grid) -> NDArray[np.int64]:
    """Return rows whose optimistic worst margin is not below 0, likeliest first.

    Of rows that were searched one by one, those that reach everything.
    """
    worst = grid.likely.min(axis=1, initial=math.inf)
    kept = np.flatnonzero((grid.hoped.min(axis=1, initial=math.inf) >= 0.0)
                          & ((worst >= 0.0) | (not grid.searched)))  # fmt: skip
    worst = worst[kept]
    # The mean breaks ties of the direct search, which only knows reached or not.
    mean = grid.likely[kept].mean(axis=1) if grid.likely.shape[1] else worst
    return np.asarray(kept[np.lexsort((kept, -mean, -worst))], np.int64)


def _unreached(grid: Grid) -> Counter[int]:
    """Return which question each searched row fails to reach, counted."""
    asked = np.isfinite(grid.likely) & (grid.likely < 0.0)
    return Counter({k: int(n) for k, n in enumerate(asked.sum(axis=0)) if n})


def _floor(served: list[Served], top: int) -> float:
    full = len(served) >= top and served[-1].stands
    return served[-1].worst if full else 0.0


def _reached(
    site: Site,
    grid: Grid,
    asks: Sequence[Situation],
    block: NDArray[np.int64],
    hardest: list[int],
    lost: Counter[int],
) -> NDArray[np.int64]:
    """Return the rows of a block by which a quick search reaches everything."""
    for k in hardest:
        if not len(block):
            break
        figure = figure_of_ask(site, asks[k])
        boots = boots_of(grid, asks[k], site, block)
        ok = np.zeros(len(block), bool)
        for hand in hands_of(asks[k]):
            found = find_postures(figure, *in_boots(boots, asks[k], hand), "quick")
            ok |= found.violation <= 0.0
        lost[k] += int((~ok).sum())
        block = block[ok]
    return block


def _tried(
    site: Site,
    grid: Grid,
    asks: Sequence[Situation],
    hardest: list[int],
    floor: float,
    row: int,
    hard: bool = False,
) -> Served | Miss | None:
    """Return a setting with a witness for every question, or the first question without one.

    None when its worst margin is below ``floor``.  A quick look at postures unless ``hard``.
    """
    able: dict[int, list[Attempt]] = {}
    for n, k in enumerate(hardest):
        boots = boots_of(grid, asks[k], site, np.array([row]))[0]
        tried = [attempt_of(site, asks[k], h, world_from_boots=boots) for h in hands_of(asks[k])]
        able[k] = [
            one for one in tried
            if one.short <= 0.0 and (one.witness if hard else one.quick_witness) is not None
        ]  # fmt: skip
        if not able[k]:
            return Miss(grid.candidate(row), row, k, n)
    best: dict[int, Attempt] = {}
    for k in hardest:
        best[k] = max(able[k], key=lambda one: one.margin.radius)
        if best[k].margin.radius < floor:
            return None
    found = [best[k] for k in range(len(asks))]
    margins = tuple(one.margin.radius for one in found)
    return Served(grid.candidate(row), row, margins, tuple(one.hand for one in found))


def _looked_at_hard(
    site: Site, grid: Grid, asks: Sequence[Situation], misses: list[Miss], hardest: list[int]
) -> tuple[list[Served], list[Miss]]:
    """Try the nearest misses again with a long search, until one serves.

    Nearest are those that reach everything, then those a quick search leaves just out of reach.
    """
    misses = sorted(misses, key=lambda miss: (-miss.n_done, miss.row))
    rows = [miss.row for miss in misses[:MOST_HARD]]
    worst = grid.likely.min(axis=1, initial=math.inf)
    near = np.flatnonzero((worst < 0.0) & np.isfinite(worst) & grid.searched)
    rows += near[np.argsort(-worst[near], kind="stable")][: 2 * MOST_HARD].tolist()
    for row in rows:
        found = _tried(site, grid, asks, hardest, 0.0, row, hard=True)
        if isinstance(found, Served):
            return [found], misses
    return [], misses
