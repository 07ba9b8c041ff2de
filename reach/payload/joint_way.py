"""The joints' way of a crane from station to station, or with what it carries."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from reach.arm import chain_gap, follow, nearest_at, self_chain_gap, with_rider
from reach.arm.clearance import compared_pairs, pair_gaps
from reach.arm.margins import far_from_singular
from reach.crane import CraneAt, Rig, crane_at, rig_of
from reach.crane.at_rest import worst_of
from reach.crane.nearest import Neighbours
from reach.geometry import inverse
from reach.payload.crane_way import CraneWay, LinkGap
from reach.site import Carriage, Site

Array = NDArray[np.float64]

N_SAMPLES = 32
MOST_ENDS = 8
"""Branches at each end that are tried with each other."""


def joint_way(site: Site, carriage: Carriage) -> CraneWay | None:
    """Return how the joints go; None where no crane moves or where it holds is not known."""
    key = ("joint way", id(carriage))
    if key not in site.memo:
        site.memo[key] = carriage, _joint_way(site, carriage)
    found: CraneWay | None = site.memo[key][1]
    return found


def _joint_way(site: Site, carriage: Carriage) -> CraneWay | None:
    if not carriage.crane or carriage.payload_from_tip is None:
        return None
    rig = rig_of(site, carriage.crane, carriage.surroundings)
    if rig is None:
        return None
    return _carrying(rig, carriage) if carriage.payload else _alone(site, rig, carriage)


def _carrying(rig: Rig, carriage: Carriage) -> CraneWay:
    assert carriage.payload_from_tip is not None
    about = carriage.legs[0].about or (0.0, 0.0, 0.0)
    found = follow(
        rig.chain, inverse(rig.world_from_base) @ carriage.poses,
        tip_from_body=inverse(carriage.payload_from_tip), about=about, starts=rig.starts,
    )  # fmt: skip
    why = "" if found.found else "No postures were found that go all the way."
    return CraneWay(
        rig.chain, rig.world_from_base, found.q, found.at, found.off, (), found.stuck_at,
        found.shortage, why,
    )  # fmt: skip


def _alone(site: Site, rig: Rig, carriage: Carriage) -> CraneWay:
    n = rig.chain.n
    rider = carriage.rider
    there: list[CraneAt] = []
    for pose in carriage.poses:
        who = None
        if rider is not None and rider.place is not None:
            who = replace(rider, place=replace(rider.place, world_from_boots=pose))
        answer = crane_at(site, carriage.crane, pose, carriage.surroundings, who)
        assert answer is not None
        there.append(answer)
    short = max(0.0, *(one.shortage for one in there))
    if any(not one.branches for one in there):
        why = "No posture was found at one of the stations."
        return CraneWay(
            rig.chain, rig.world_from_base, np.empty((0, n)), np.empty(0), math.nan, (), 0.0, short,
            why,
        )  # fmt: skip
    rows = _linked(site, rig, carriage, there)
    gaps = _gaps(site, rig, carriage, there[0], rows) if len(rows) > 1 else ()
    at = np.arange(len(rows), dtype=np.float64)
    return CraneWay(rig.chain, rig.world_from_base, rows, at, 0.0, gaps, math.nan, 0.0, "")


def _linked(site: Site, rig: Rig, carriage: Carriage, there: list[CraneAt]) -> Array:
    """Return postures at the stations, those between which the joints' way is best.

    Of all pairs of the best branches the samples between are looked at; what is kept is
    bracketed later.
    """
    near = Neighbours(
        rig, carriage.surroundings, site.limit("link_clearance").value, there[0].rider
    )
    rows = np.array([_best_start(site, rig, near, there)])
    for one in there[1:]:
        ends = np.array([branch.posture.q for branch in one.branches[:MOST_ENDS]])
        scores = _scores(site, rig, near, np.repeat(rows[-1:], len(ends), axis=0), ends)
        rows = np.vstack([rows, ends[int(scores.argmax())]])
    return rows


def _best_start(site: Site, rig: Rig, near: Neighbours, there: list[CraneAt]) -> Array:
    starts = np.array([branch.posture.q for branch in there[0].branches[:MOST_ENDS]])
    if len(there) < 2:
        return np.asarray(starts[0])
    ends = np.array([branch.posture.q for branch in there[1].branches[:MOST_ENDS]])
    pairs = [(a, b) for a in range(len(starts)) for b in range(len(ends))]
    first, second = np.array(pairs).T
    scores = _scores(site, rig, near, starts[first], ends[second])
    return np.asarray(starts[first[int(scores.argmax())]])


def _scores(site: Site, rig: Rig, near: Neighbours, starts: Array, ends: Array) -> Array:
    """Return the worst margin seen on the way from each start to its end, as `worst_of`."""
    chain = rig.chain
    share = np.linspace(0.0, 1.0, N_SAMPLES)[None, :, None]
    rows = (starts[:, None] * (1.0 - share) + ends[:, None] * share).reshape(-1, chain.n)
    room = near.gaps(rows)
    joints = np.minimum(rows - chain.lower, chain.upper - rows).min(axis=1)
    singular = far_from_singular(chain, rows)
    kept = site.limit("joint_reserve").value, site.limit("singular_reserve").value
    worst = [
        worst_of(a - kept[0], b - kept[1], c)
        for a, b, c in zip(joints, singular, room, strict=True)
    ]
    least = np.array(worst).reshape(len(starts), N_SAMPLES).min(axis=1)
    # Of ways that are as good the shorter.
    return np.asarray(np.round(least, 6) - 1e-6 * np.abs(ends - starts).max(axis=1))


def _gaps(
    site: Site, rig: Rig, carriage: Carriage, start: CraneAt, rows: Array
) -> tuple[LinkGap, ...]:
    around, chain = carriage.surroundings, rig.chain
    base = rig.world_from_base
    found = []
    trees = [("", "solid", around.tree, around.error, 0.0)] if around.names else []
    trees += [(name, "hazard", tree, 0.0, off) for name, _, tree, off in around.hazards]
    for name, kind, tree, error, stand_off in trees:
        gap = chain_gap(chain, rows, tree, rig.covers, base)
        q = rows[gap.piece] + gap.moment * (rows[gap.piece + 1] - rows[gap.piece])
        near = nearest_at(chain, q, tree, rig.covers, base)
        thing = name or around.names[int(around.solid_of[near.face])]
        found.append(
            LinkGap(near.name, thing, kind, gap.low - error, math.inf, stand_off,
                    gap.piece + gap.moment, near.on_arm, near.on_structure)
        )  # fmt: skip
    found += _to_itself(site, rig, start, rows)
    return tuple(found)


def _to_itself(site: Site, rig: Rig, start: CraneAt, rows: Array) -> Iterator[LinkGap]:
    """Yield the gap among links, or between links and rider, that leaves least of what is asked.

    The rider is held by capsules as much thicker as is asked more of them.
    """
    chain, covers, rider = rig.chain, rig.covers, start.rider
    more = site.limit("link_clearance").value
    if rider is not None:
        covers = with_rider(chain, covers, (rider.ends, rider.radii + more))
    gap = self_chain_gap(chain, rows, covers)
    if math.isinf(gap.low):
        return
    q = rows[gap.piece] + gap.moment * (rows[gap.piece + 1] - rows[gap.piece])
    pairs = compared_pairs(chain, covers)
    a, b = covers.link[pairs[int(pair_gaps(chain, q, covers, pairs)[0].argmin())]]
    names = [link.name for link in chain.arm.links]
    rides = b >= len(names)
    thing = rider.names[b - len(names)] if rides and rider is not None else names[b]
    nowhere = np.full(3, np.nan)
    yield LinkGap(
        names[a], thing, "carried" if rides else "self", gap.low + (more if rides else 0.0),
        math.inf, 0.0, gap.piece + gap.moment, nowhere, nowhere,
    )  # fmt: skip
