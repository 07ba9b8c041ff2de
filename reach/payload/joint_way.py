"""The joints' way of a crane from station to station, or with what it carries."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from reach.arm import chain_gap, follow, nearest_at, posture_at, self_chain_gap, with_rider
from reach.crane import CraneAt, Rig, crane_at, rig_of
from reach.crane.at_rest import worst_of
from reach.geometry import inverse
from reach.payload.crane_way import CraneWay, LinkGap
from reach.site import Carriage, Site

Array = NDArray[np.float64]


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
    rows = _linked(there)
    gaps = _gaps(site, rig, carriage, there[0], rows) if len(rows) > 1 else ()
    at = np.arange(len(rows), dtype=np.float64)
    return CraneWay(rig.chain, rig.world_from_base, rows, at, 0.0, gaps, math.nan, 0.0, "")


def _linked(there: list[CraneAt]) -> Array:
    """Return the best branch at the start, then each time the one that is good and near it."""
    start = there[0].best
    assert start is not None
    rows = [start.posture.q]
    for one in there[1:]:
        good = [b for b in one.branches if b.worst >= 0.0] or list(one.branches[:1])
        rows.append(min(good, key=lambda b: float(np.abs(b.posture.q - rows[-1]).max())).posture.q)
    return np.array(rows)


def _gaps(
    site: Site, rig: Rig, carriage: Carriage, start: CraneAt, rows: Array
) -> tuple[LinkGap, ...]:
    around, chain = carriage.surroundings, rig.chain
    names = [link.name for link in chain.arm.links]
    base, nowhere = rig.world_from_base, np.full(3, np.nan)
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
    for kind in ("self", "carried"):
        covers = rig.covers
        if kind == "carried":
            if start.rider is None:
                continue
            covers = with_rider(chain, covers, (start.rider.ends, start.rider.radii))
        gap = self_chain_gap(chain, rows, covers)
        found.append(
            LinkGap("links", "links" if kind == "self" else "rider", kind, gap.low, math.inf, 0.0,
                    gap.piece + gap.moment, nowhere, nowhere)
        )  # fmt: skip
    assert names
    return tuple(found)


__all__ = ["joint_way", "posture_at", "worst_of"]
