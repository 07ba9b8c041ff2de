"""What mends a way that comes too near: poses on it moved aside, tried and then proved clear."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from reach.geometry import path_gap
from reach.legs import legs_in_between
from reach.model.carrying import Leg
from reach.payload.gaps import gaps_of
from reach.payload.parts import parts_of
from reach.payload.things import things_of
from reach.payload.track import track_of
from reach.site import Carriage, Site

Array = NDArray[np.float64]

STEP = 0.1
FARTHEST = 1.5
"""Poses are moved in steps of so many metres, so far at most."""

SURE = 1e-9


@dataclass(frozen=True, slots=True)
class Shift:
    """Poses moved aside, all by the same.

    Attributes
    ----------
    poses : tuple of str
    by : tuple of float, m, world
    """

    poses: tuple[str, ...]
    by: tuple[float, float, float]


def clearing_shift(site: Site, carriage: Carriage, leg: int, nearest: str) -> Shift | None:
    """Return the smallest shift of the poses at the ends of a leg that clears the legs it changes.

    Proved for every part of what is moved and everything it must keep off.  Poses at the ends of
    the way stay, and along one axis of the world at a time is tried; None where none was found.

    Parameters
    ----------
    leg : int
    nearest : str
        Thing that is looked at first: the one that comes too near.
    """
    named = [i for i, name in enumerate(carriage.names) if name]
    before = max(i for i in named if i <= leg)
    after = min(i for i in named if i > leg)
    inner = [i for i in (before, after) if 0 < i < len(carriage.names) - 1]
    sets = ([tuple(inner)] if len(inner) == 2 else []) + [(i,) for i in inner]
    n = round(FARTHEST / STEP)
    for k, poses, axis, sign in product(range(1, n + 1), sets, range(3), (1.0, -1.0)):
        by = np.zeros(3)
        by[axis] = sign * round(k * STEP, 9)
        moved = _shifted(carriage, poses, by)
        if moved is not None and _is_clear(site, carriage, *moved, by, nearest):
            names = tuple(carriage.names[i] for i in poses)
            return Shift(names, (float(by[0]), float(by[1]), float(by[2])))
    return None


def _shifted(
    carriage: Carriage, poses: Sequence[int], by: Array
) -> tuple[Carriage, tuple[int, ...]] | None:
    """Return the motion with poses moved, and the legs that changes; None where it cannot be."""
    named = [i for i, name in enumerate(carriage.names) if name]
    world = [np.array(carriage.poses[i]) for i in named]
    for i in poses:
        world[named.index(i)][:3, 3] += by
    rows, names = [world[0]], [carriage.names[0]]
    legs: list[Leg] = []
    changed: list[int] = []
    for k in range(1, len(named)):
        leg = carriage.legs[named[k] - 1]
        try:
            between = legs_in_between(world[k - 1], world[k], leg)
        except ValueError:
            return None
        if named[k] in poses or named[k - 1] in poses:
            changed += range(len(legs), len(legs) + len(between) - 1)
        rows += list(between[1:])
        names += [*[""] * (len(between) - 2), carriage.names[named[k]]]
        legs += [leg] * (len(between) - 1)
    moved = replace(carriage, poses=np.array(rows), names=tuple(names), legs=tuple(legs))
    return moved, tuple(changed)


def _is_clear(
    site: Site, carriage: Carriage, moved: Carriage, changed: tuple[int, ...], by: Array,
    nearest: str,
) -> bool:  # fmt: skip
    """Return whether every part keeps what is asked on the legs that changed, proved.

    No point is moved by more than the poses are: what was far enough before is so still.
    """
    track = track_of(site, moved)
    if track is None:
        return False
    far = float(np.linalg.norm(by))
    parts = {part.name: part for part in parts_of(site, carriage)}
    things = {thing.name: thing for thing in things_of(site, carriage)}
    gaps = [
        gap for gap in gaps_of(site, carriage)
        if not gap.is_contact_meant and gap.low - far < gap.stand_off + SURE
    ]  # fmt: skip
    gaps.sort(key=lambda gap: (gap.thing != nearest, gap.margin[0]))
    for gap in gaps:
        part, thing = parts[gap.part], things[gap.thing]
        wanted = gap.stand_off + part.error + thing.error + SURE
        for run in track.runs(leg for leg in gap.legs if leg in changed):
            found = path_gap(thing.tree, part.tree, run.poses, enough=wanted, about=run.about)
            if found.gap.low < wanted:
                return False
    return True
