"""How near the links of a crane come to anything while its joints take it along."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.arm import (
    Chain,
    Covers,
    chain_gap,
    chain_of,
    covers_of,
    link_capsules,
    nearest_at,
    self_chain_gap,
    self_clearance,
    tip_poses,
    turned_round,
)
from reach.crane.nearest import spots_between
from reach.geometry import Tree, build, inverse, transform_points
from reach.legs import placed_pose
from reach.payload.parts import parts_of
from reach.payload.records import Thing
from reach.payload.things import things_of
from reach.site import Carriage, Site

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False, slots=True)
class LinkGap:
    """How near a link of a crane comes to one thing over the whole motion.

    Attributes
    ----------
    link, thing : str
        ``thing`` is a solid, a hazard, a part of what is moved, or another link.
    kind : str
        ``"solid"``, ``"hazard"``, ``"carried"`` or ``"self"``.
    low, high : float, m
        Bracket of the least gap; facet errors are in it.  Links are held by capsules that
        cover them: a link is at least ``low`` away, ``high`` is infinite where only the
        cover is near (no contact of links is proved by it).
    stand_off : float, m
        What is asked of a hazard; 0 else (checks have limits for the rest).
    at : float
        Where the gap of the cover is least: posture number plus time 0 to 1; nan without one.
    on_link, on_thing : ndarray, shape (3,), m, world
        Then; nan without.
    """

    link: str
    thing: str
    kind: str
    low: float
    high: float
    stand_off: float
    at: float
    on_link: Array
    on_thing: Array


@dataclass(frozen=True, eq=False, slots=True)
class Structure:
    """All solids that stay, as one tree; ``name_of`` says which a triangle is of; error in m."""

    tree: Tree
    names: tuple[str, ...]
    name_of: NDArray[np.int64]
    error: float


def structure_of(site: Site, carriage: Carriage) -> Structure | None:
    """Return the solids that do not ride on what is moved; None where there are none."""
    solids = [thing for thing in things_of(site, carriage) if not thing.is_hazard]
    key = ("structure", id(carriage.surroundings), tuple(thing.name for thing in solids))
    if key not in site.memo:
        site.memo[key] = carriage.surroundings, _structure(solids)
    found: Structure | None = site.memo[key][1]
    return found


def _structure(solids: list[Thing]) -> Structure | None:
    if not solids:
        return None
    rows = [thing.tree.tri.reshape(-1, 3, 3) for thing in solids]
    return Structure(
        build(np.concatenate(rows)),
        tuple(thing.name for thing in solids),
        np.repeat(np.arange(len(rows)), [len(one) for one in rows]),
        max(thing.error for thing in solids),
    )


def link_gaps(
    site: Site, carriage: Carriage, chain: Chain, world_from_base: Array, q: Array
) -> tuple[LinkGap, ...]:
    """Return the nearest link to structure, to each hazard, to what is carried, and to a link.

    Proved for all of the way of the joints, which turn evenly from posture to posture.
    """
    covers = covers_of(chain)
    found: list[LinkGap] = []
    structure = structure_of(site, carriage)
    if structure is not None:
        found.append(_to_structure(structure, chain, covers, world_from_base, q))
    for thing in things_of(site, carriage):
        if thing.is_hazard:
            gap = _to(thing.tree, chain, covers, world_from_base, q)
            found.append(
                LinkGap(gap.link, thing.name, "hazard", gap.low - thing.error, math.inf,
                        thing.stand_off, gap.at, gap.on_link, gap.on_thing)
            )  # fmt: skip
    found += _to_carried(site, carriage, chain, q)
    found += _to_itself(chain, covers, world_from_base, q)
    return tuple(found)


@dataclass(frozen=True, eq=False, slots=True)
class _Near:
    link: str
    low: float
    at: float
    on_link: Array
    on_thing: Array
    face: int


def _to(
    tree: Tree, chain: Chain, covers: Covers, base: Array, q: Array,
    without: set[str] | None = None,
) -> _Near:  # fmt: skip
    gap = chain_gap(chain, q, tree, covers, base, without)
    there = q[gap.piece] + gap.moment * (q[gap.piece + 1] - q[gap.piece])
    near = nearest_at(chain, there, tree, covers, base, without)
    return _Near(
        near.name, gap.low, gap.piece + gap.moment, near.on_arm, near.on_structure, near.face
    )


def _to_structure(
    structure: Structure, chain: Chain, covers: Covers, base: Array, q: Array
) -> LinkGap:
    gap = _to(structure.tree, chain, covers, base, q)
    thing = structure.names[int(structure.name_of[gap.face])] if gap.face >= 0 else ""
    return LinkGap(
        gap.link, thing, "solid", gap.low - structure.error, math.inf, 0.0, gap.at, gap.on_link,
        gap.on_thing,
    )  # fmt: skip


def _to_carried(site: Site, carriage: Carriage, chain: Chain, q: Array) -> Iterator[LinkGap]:
    """Yield the gap to payload and rider: seen from the tip they stand still.

    Links that are fixed to the tip are left out: they hold what rides there.
    """
    assert carriage.payload_from_tip is not None
    names = [link.name for link in chain.arm.links]
    fixed = {name for name, piece in zip(names, chain.piece_of_link, strict=True)
             if piece == chain.piece_of_link[-1]}  # fmt: skip
    seen = chain_of(turned_round(chain.arm))
    tip_from_payload, base_from = inverse(carriage.payload_from_tip), np.eye(4)
    for part in parts_of(site, carriage):
        if part.kind == "plate":
            continue
        rows = transform_points(tip_from_payload, part.tree.tri.reshape(-1, 3)).reshape(-1, 3, 3)
        tree = build(rows)
        gap = _to(tree, seen, covers_of(seen), base_from, q[:, ::-1], fixed)
        # Shown where it is in the world then.
        piece = min(int(gap.at), len(q) - 2)
        there = q[piece] + (gap.at - piece) * (q[piece + 1] - q[piece])
        world = _tip_in_world(site, carriage, chain, there)
        ends = transform_points(world, np.array([gap.on_link, gap.on_thing]))
        yield LinkGap(
            gap.link, part.name, "carried", gap.low - part.error, math.inf, 0.0, gap.at, ends[0],
            ends[1],
        )  # fmt: skip


def _tip_in_world(site: Site, carriage: Carriage, chain: Chain, q: Array) -> Array:
    record = site.scene.cranes[carriage.crane]
    base = carriage.surroundings.world_from[record.frame] @ placed_pose(record)
    return np.asarray(base @ tip_poses(chain, q)[0])


def _to_itself(chain: Chain, covers: Covers, base: Array, q: Array) -> Iterator[LinkGap]:
    gap = self_chain_gap(chain, q, covers)
    if math.isinf(gap.low):
        return
    there = q[gap.piece] + gap.moment * (q[gap.piece + 1] - q[gap.piece])
    nearest = self_clearance(chain, there, covers)
    first, second = int(nearest.first[0]), int(nearest.second[0])
    names = [link.name for link in chain.arm.links]
    at = link_capsules(chain, there, covers, base)
    on_first, on_second = spots_between(
        at, np.flatnonzero(at.link == first), np.flatnonzero(at.link == second)
    )
    yield LinkGap(
        names[first], names[second], "self", gap.low, math.inf, 0.0, gap.piece + gap.moment,
        on_first, on_second,
    )  # fmt: skip
