"""How near a body comes to one thing: swept along its corridor, or at rest where it works."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.geometry import (
    Tree,
    build,
    capsule_clearance,
    segment_distance,
    swept_clearance,
    transform_points,
)
from reach.resting import Resting, resting_of
from reach.site import Site, Situation, Surroundings
from reach.travel.corridor import Corridor

Array = NDArray[np.float64]

WITHIN = 1e-3
"""Bound and witness of a sweep are brought this near to each other (m)."""

LEGS = 2
"""Rows of a resting body that are legs."""


@dataclass(frozen=True, eq=False)
class Near:
    """The least gap between a body and a thing.

    Attributes
    ----------
    low, high : float, m
        Bracket on the gap; high is inf where nothing within the distance asked was met.
    part : str
        Of the body; empty where nothing is near.
    piece : int
        Of the corridor; -1 at rest.
    on_part, on_thing : ndarray, shape (3,), m, world
        On the axis of the part and on the thing; nan where nothing is near.
    radius : float, m
        Of the part.
    """

    low: float
    high: float
    part: str
    piece: int
    on_part: Array
    on_thing: Array
    radius: float


def moving_near(corridor: Corridor, tree: Tree, n_parts: int, beyond: float) -> Near:
    """Return the least gap of the first parts of a body on its way; ``beyond`` (m) is far."""
    mover = corridor.mover
    starts, stops = corridor.poses
    swept = swept_clearance(
        tree, starts, stops, mover.p[:n_parts], mover.q[:n_parts], mover.radius[:n_parts],
        WITHIN, beyond,
    )  # fmt: skip
    i = int(np.argmin(swept.low))
    part = int(swept.capsule[i])
    is_near = part >= 0 and bool(np.isfinite(swept.on_mesh[i]).all())
    return Near(
        float(swept.low[i]),
        float(swept.high[i]) if is_near else np.inf,
        mover.names[part] if is_near else "",
        i,
        swept.on_axis[i],
        swept.on_mesh[i],
        float(mover.radius[part]) if is_near else 0.0,
    )


def resting_near(site: Site, situation: Situation, tree: Tree, legs_alone: bool) -> Near:
    """Return the least gap of a body at rest, of its legs down to the soles alone if asked."""
    rest = at_rest(site, situation)
    rows, names = rest.capsules, rest.names
    if legs_alone:
        # Legs lean with the body, boots do not: below a leg stands a piece of its own.
        down = rows[:LEGS].copy()
        down[:, 3:6] = down[:, :3]
        down[:, 2] = down[:, 6]
        rows, names = np.vstack([rows[:LEGS], down]), names[:LEGS] * 2
    p = transform_points(rest.world_from_boots, rows[:, :3])
    q = transform_points(rest.world_from_boots, rows[:, 3:6])
    gaps = capsule_clearance(tree, p, q, rows[:, 6])
    i = int(np.argmin(gaps))
    nearest = segment_distance(tree, p[i : i + 1], q[i : i + 1])
    gap = float(gaps[i])
    return Near(gap, gap, names[i], -1, nearest.on_query[0], nearest.on_mesh[0], float(rows[i, 6]))


def at_rest(site: Site, situation: Situation) -> Resting:
    """Return the body at rest in its place, found once."""
    place = situation.place
    assert place is not None
    assert place.world_from_boots is not None
    pose, around = place.world_from_boots.tobytes(), id(situation.surroundings)
    key = ("resting", pose, situation.worker, situation.case, around)
    if key not in site.memo:
        site.memo[key] = resting_of(site, situation)
    found: Resting = site.memo[key]
    return found


def tree_of(site: Site, around: Surroundings, solid: str) -> Tree:
    """Return the search tree of one solid, made once."""
    key = ("tree", id(around), solid)
    if key not in site.memo:
        rows = np.flatnonzero(around.solid_of[around.tree.face] == around.names.index(solid))
        site.memo[key] = around, build(around.tree.tri[rows].reshape(-1, 3, 3))
    found: Tree = site.memo[key][1]
    return found
