"""How near the best setting found comes to the best there is, over random sets of targets.

``python -m benchmarks.ranking`` prints a table; ``--long`` takes 200 sets.  The exhaustive best
is the largest worst margin over every setting of a fixed sample of settings, each with postures
that are clear and see; the search gets the same sample.
"""

from __future__ import annotations

import sys
import time

import numpy as np

from reach.files.people import load_population
from reach.files.procedure import load_procedure
from reach.files.question import questions, usual_way
from reach.files.scene import load_scene
from reach.files.tables import table_of
from reach.plan.grid import TableOf, boots_of, figure_of_ask, grid_of
from reach.plan.ranking import rank
from reach.plan.settings import distinct_poses
from reach.site import Site, Situation
from reach.situations import resolve
from reach.work import attempt_of, hands_of

TARGETS = ("IB1", "IB2", "IB3", "IB4", "IP1", "IP2", "BB2", "CN1", "CN2x")
SIZES = ("small", "medium", "large")
SOCKETS = ("SK3", "SK4", "SK6")
N_SETTINGS = 400


def main(long: bool = False) -> None:
    """Print what was measured."""
    n = 200 if long else 12
    print(f"\nBest setting found against the best of all: {n} random sets of targets", flush=True)
    rng = np.random.default_rng(77)
    loaded = load_scene("brackenfall")
    procedure = load_procedure(None, loaded).procedure
    ways = {"one by one": _no_table, "by table": _table}
    losses: dict[str, list[float]] = {name: [] for name in ways}
    took = dict.fromkeys(ways, 0.0)
    without = 0
    for _ in range(n):
        targets, sizes, seed = _drawn(rng)
        usual = usual_way(loaded, procedure, "W1", targets)
        asking = questions(loaded, targets, usual, restraint="FR-1", worker="W1")
        site, asks = resolve(loaded.scene, loaded.meshes, asking.procedure, load_population, sizes)
        assert asks[0].place is not None
        restraint = asks[0].place.restraint
        n_poses = len(distinct_poses(site, restraint)[0])
        only = np.sort(np.random.default_rng(seed).choice(n_poses, N_SETTINGS, replace=False))
        found = {}
        for name, tables in ways.items():
            for ask in asks:
                tables(figure_of_ask(site, ask), 0)  # a table is made once, not in each search
            start = time.perf_counter()
            grid = grid_of(site, asks, restraint, tables, SOCKETS, only=only)
            served = rank(site, grid, asks, 3).served
            took[name] += time.perf_counter() - start
            found[name] = served[0].worst if served else 0.0
        best = _exhaustive(site, asks, restraint, only)
        without += best is None
        for name in ways if best is not None else ():
            losses[name].append(best - found[name])
    for name, lost in losses.items():
        short = np.array(lost)
        print(
            f"  {name:10}  {len(short)} sets can be served, {without} by none found; short of "
            f"the best by {short.mean():.3f} m on average, {short.max():.3f} m at most, within "
            f"0.02 m in {(short <= 0.02).mean():.0%}; {took[name] / n:.2f} s a search",
            flush=True,
        )


def _drawn(rng: np.random.Generator) -> tuple[list[str], list[str], int]:
    targets = rng.choice(TARGETS, rng.integers(1, 3), replace=False).tolist()
    sizes = rng.choice(SIZES, rng.integers(1, 3), replace=False).tolist()
    return targets, sizes, int(rng.integers(1 << 30))


def _no_table(figure, n):  # type: ignore[no-untyped-def]
    return None


def _table(figure, n):  # type: ignore[no-untyped-def]
    return table_of(figure)


def _exhaustive(site: Site, asks: tuple[Situation, ...], restraint, only) -> float | None:  # type: ignore[no-untyped-def]
    """Largest worst margin over all settings that the outer bound leaves; None without one."""
    never: TableOf = _no_table
    grid = grid_of(site, asks, restraint, never, SOCKETS, only=only)
    best = None
    for row in range(len(grid.rows)):
        worst = np.inf
        for ask in asks:
            boots = boots_of(grid, ask, site, np.array([row]))[0]
            tried = [attempt_of(site, ask, hand, world_from_boots=boots) for hand in hands_of(ask)]
            able = [one for one in tried if one.short <= 0.0 and one.quick_witness is not None]
            worst = min(worst, max((one.margin.radius for one in able), default=-np.inf))
            if worst <= (best if best is not None else -np.inf):
                break
        if np.isfinite(worst) and (best is None or worst > best):
            best = worst
    return best


if __name__ == "__main__":
    main(long="--long" in sys.argv[1:])
