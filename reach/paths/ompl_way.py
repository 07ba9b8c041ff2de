"""The same search with the planner of a library (OMPL's RRTConnect), every motion certified by us.

The library draws poses and grows the trees; whether a motion is kept is our
certificate alone.  Its random numbers are seeded for the whole process: it
warns that a second seeding in one process is not sure to repeat a path, so a
seed means less here than with our own search.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from reach.geometry.tree import Floats
from reach.paths.keeping import state_kept
from reach.paths.states import N_STATE
from reach.paths.world import Packed


def ompl_way(
    world: Packed, ends: list[Floats], box: Floats, seed: int, search: Any
) -> list[Floats] | None:
    """Return states of a way found by the library's planner, or None.

    Parameters
    ----------
    world : Packed
    ends : list of ndarray, shape (7,)
        Start and goal.
    box : ndarray, shape (2, 3), m, world
        Where the point that runs straight may be; both ends are taken in.
    seed : int
    search
        Has ``kept(a, b)``, ``over`` and ``desk``.

    Raises
    ------
    ImportError
        If the package ``ompl`` is not there.
    """
    from ompl import base, geometric, util

    util.noOutputHandler()
    try:
        util.RNG.setSeed(seed + 1)
        return _planned(base, geometric, world, ends, box, search)
    finally:
        util.restorePreviousOutputHandler()


def _planned(
    base: Any, geometric: Any, world: Packed, ends: list[Floats], box: Floats, search: Any
) -> list[Floats] | None:
    space = base.SE3StateSpace()
    bounds = base.RealVectorBounds(3)
    for i in range(3):
        at = [box[0, i], box[1, i], ends[0][i], ends[1][i]]
        bounds.setLow(i, float(min(at)))
        bounds.setHigh(i, float(max(at)))
    space.setBounds(bounds)

    class Certified(base.MotionValidator):  # type: ignore[misc]
        def checkMotion(self, a: Any, b: Any, *_: Any) -> bool:  # noqa: N802
            return not search.over and search.kept(_read(a), _read(b))

    setup = geometric.SimpleSetup(space)
    info = setup.getSpaceInformation()
    setup.setStateValidityChecker(lambda s: bool(state_kept(world, _read(s), search.desk)))
    info.setMotionValidator(Certified(info))
    states = [space.allocState() for _ in ends]
    for state, end in zip(states, ends, strict=True):
        _write(state, end)
    setup.setStartAndGoalStates(*states)
    setup.setPlanner(geometric.RRTConnect(info))
    setup.solve(base.PlannerTerminationCondition(lambda: bool(search.over)))
    if not setup.haveExactSolutionPath():
        return None
    path = setup.getSolutionPath()
    way = [_read(path.getState(i)) for i in range(path.getStateCount())]
    return [ends[0], *way[1:-1], ends[1]]


def _read(state: Any) -> Floats:
    turn = state.rotation()
    return np.array(
        [state.getX(), state.getY(), state.getZ(), turn.w, turn.x, turn.y, turn.z]
    ).reshape(N_STATE)


def _write(state: Any, given: Floats) -> None:
    state.setX(given[0])
    state.setY(given[1])
    state.setZ(given[2])
    turn = state.rotation()
    turn.w, turn.x, turn.y, turn.z = (float(x) for x in given[3:])
