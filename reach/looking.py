"""A worker who looks at a fastener without touching it: any trunk posture that is clear will do."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from reach.geometry import (
    any_hit,
    inverse,
    segment_distance,
    transform_directions,
    transform_points,
)
from reach.site import Site, Situation
from reach.work import ROUNDING, Attempt, capsule_limits, spots_of
from reach.worker.chain import N_FREEDOMS
from reach.worker.figure import Grip, figure_of
from reach.worker.posing import Held as Posed
from reach.worker.posing import Target, buffers_of
from reach.worker.trunks import trunks_of
from reach.worker.volume import body_capsules, bulk_of, view_excess

Array = NDArray[np.float64]

N_TRUNKS = 512


@dataclass(frozen=True, eq=False)
class Look(Attempt):
    """An attempt to see only; the arms stay folded."""

    @cached_property
    def sighting(self) -> Posed | None:
        """The first sampled trunk posture that is clear and sees enough, or None."""
        trunks = trunks_of(self.figure, N_TRUNKS)
        sizes, view, target = self.bulk.sizes, self.bulk.view, self.target
        eyes = trunks.hip + trunks.rotation @ np.array([sizes[5], 0.0, sizes[6]])
        share = self._shares(eyes)
        for i in np.flatnonzero(share >= target.share):
            line = eyes[i] - target.tip
            off = math.acos(np.clip(-line @ target.direction / np.linalg.norm(line), -1.0, 1.0))
            outside = float(view_excess(trunks.rotation[i], eyes[i], target.tip, view))
            if off > target.angle or outside > 0.0:
                continue
            room = self._room(trunks.q[i])
            if room >= 0.0:
                posture = np.zeros(N_FREEDOMS)
                posture[:5] = trunks.q[i]
                return Posed(0.0, posture, 0.0, room, room, room, float(share[i]), off, outside)
        return None

    def _shares(self, eyes: Array) -> Array:
        spots = self.target.spots
        world = transform_points(self.world_from_boots, eyes)
        origin = np.repeat(world, len(spots), axis=0)
        to = np.tile(spots, (len(world), 1)) - origin
        free = ~any_hit(self.tree, origin, to, 1.0)
        return np.asarray(free.reshape(len(world), len(spots)).mean(axis=1), np.float64)

    def _room(self, q: Array) -> float:
        _, _, R, S, eye, body, _, _ = buffers_of(self.bulk)
        body_capsules(self.figure.p, q, self.bulk.shells, self.bulk.sizes, R, S, eye, body)
        p = transform_points(self.world_from_boots, body[:, :3])
        end = transform_points(self.world_from_boots, body[:, 3:6])
        need = self.target.need[: len(body)]
        return float((segment_distance(self.tree, p, end).distance - body[:, 6] - need).min())


def look_of(site: Site, situation: Situation) -> Look:
    """Return the look of a situation, made once."""
    place, head = situation.place, situation.head
    assert place is not None
    assert place.world_from_boots is not None
    assert head is not None
    key = (
        "look",
        place.world_from_boots.tobytes(),
        head.name,
        situation.worker,
        situation.case,
        id(situation.surroundings),
    )
    if key in site.memo:
        known: Look = site.memo[key]
        return known
    figure = figure_of(situation.body, situation.suit, Grip())
    bulk = bulk_of(figure, situation.suit, np.empty((0, 7)))
    floor = capsule_limits(site, bulk)
    boots_from_world = inverse(place.world_from_boots)
    look = Look(
        "right",
        figure,
        bulk,
        situation.surroundings,
        place.world_from_boots,
        Target(
            transform_points(boots_from_world, head.point[None])[0],
            transform_directions(boots_from_world, -head.axis[None])[0],
            spots_of(head),
            floor + situation.surroundings.errors.max(initial=0.0) + ROUNDING,
            site.limit("visible_share").value,
            site.limit("sight_angle").value,
        ),
        floor,
    )
    site.memo[key] = look
    return look


