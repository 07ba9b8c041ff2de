"""A worker who looks at a fastener without touching it: any trunk posture that is clear will do."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from reach.geometry import any_hit, inverse, transform_directions, transform_points
from reach.resting import rest_capsules, rest_frame, rest_limits, rest_room
from reach.site import Site, Situation
from reach.spots import spots_of
from reach.work import ROUNDING, Attempt
from reach.worker.chain import N_FREEDOMS
from reach.worker.figure import Grip, figure_of
from reach.worker.posing import Held as Posed
from reach.worker.posing import Target
from reach.worker.question import questions
from reach.worker.trunks import trunks_of
from reach.worker.volume import bulk_of, view_excess

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
        capsules = rest_capsules(self.figure, self.bulk, q)
        return rest_room(self.tree, self.world_from_boots, capsules, self.target.need)


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
    floor, pose = rest_limits(site, bulk), rest_frame(situation)
    tips, ways = questions(
        transform_points(inverse(pose), head.point[None]),
        transform_directions(inverse(pose), -head.axis[None]),
    )
    look = Look(
        situation.own_hand,
        figure,
        bulk,
        situation.surroundings,
        pose,
        Target(
            tips[0],
            ways[0],
            spots_of(head, pose, tips[0], ways[0]),
            floor + situation.surroundings.error + ROUNDING,
            site.limit("visible_share").value,
            site.limit("sight_angle").value,
        ),
        floor,
    )
    site.memo[key] = look
    return look
