"""What one worker can do in one situation: found once, asked by several checks.

An `Attempt` is one hand with one tool at one fastener from one place.  Its answers are made
when they are first asked for and kept in the site's memo, so that the checks on reach,
clearance and sight speak of the same posture.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from reach.geometry import (
    Tree,
    capsule_clearance,
    inside,
    inverse,
    transform_directions,
    transform_points,
)
from reach.model.procedure import Drive
from reach.site import Held, Site, Situation, Surroundings
from reach.spots import spots_of
from reach.worker.bound import shortage, too_near, wrist_centres
from reach.worker.cells import ARM, REASONS, ROOM, SIGHT, Refuted, refute_cells
from reach.worker.figure import Figure, Grip, figure_of
from reach.worker.margin import Margin, reach_margin
from reach.worker.posing import (
    CLEAR,
    SEEN,
    Target,
    buffers_of,
    capsules_of,
    eye_of,
    fault_of,
    find_held,
    kit_of,
    world_of,
)
from reach.worker.posing import Held as Posed
from reach.worker.search import find_postures
from reach.worker.shadow import Shadows, shadows_of
from reach.worker.trunks import trunks_of
from reach.worker.volume import N_IDLE, Bulk, bulk_of

Array = NDArray[np.float64]

MIRROR = np.diag([1.0, -1.0, 1.0, 1.0])
ROUNDING = 2e-9
N_SHADING = 8
"""Convex solids tried as what hides a head."""

N_TRUNKS = {"quick": 128, "full": 512}


def tool_capsules(held: Held) -> Array:
    """Return the envelope of a tool as capsules (k, 7), m, hand frame: two ends and a radius."""
    rows = [[*part.start, *part.end, part.radius] for part in held.record.parts]
    return np.asarray(rows, float).reshape(-1, 7)


@dataclass(frozen=True, eq=False)
class Attempt:
    """One hand, one tool, one fastener, one boot pose; left hands are mirrored at the door.

    Attributes
    ----------
    hand : str
    figure : Figure
    bulk : Bulk
    surroundings : Surroundings
    world_from_boots : ndarray, shape (4, 4)
        Of the right-handed question: for a left hand the mirrored boot frame.
    target : Target
    floor : ndarray, shape (n_capsules,), m
        The limits on clearance, without the tessellation error that ``target.need`` adds.
    shading : tuple of ndarray
        Convex solids that may hide the head.
    """

    hand: str
    figure: Figure
    bulk: Bulk
    surroundings: Surroundings
    world_from_boots: Array
    target: Target
    floor: Array

    @property
    def tree(self) -> Tree:
        """The structure."""
        return self.surroundings.tree

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the capsules, left and right as the worker has them."""
        if self.hand == "right":
            return self.bulk.names
        left, right, *rest = self.bulk.names
        return (right, left, *rest)

    @cached_property
    def short(self) -> float:
        """Proved shortage of reach, m; above 0 the target is out of reach."""
        return float(shortage(self.figure, self.target.tip, self.target.direction)[0])

    @cached_property
    def near(self) -> float:
        """Proved depth inside the too-near region round the boots, m."""
        return float(too_near(self.figure, self.target.tip, self.target.direction)[0])

    @cached_property
    def wrist_distance(self) -> float:
        """Distance of the wrist from the boot plate's origin, m, good to the wrist slack."""
        centre = wrist_centres(self.figure, self.target.tip, self.target.direction)[0]
        return float(np.linalg.norm(centre))

    @cached_property
    def envelope(self) -> tuple[float, Array]:
        """Best (violation in rad, posture) by joint limits alone."""
        found = find_postures(self.figure, self.target.tip, self.target.direction, "full")
        return float(found.violation[0]), found.x[0]

    @property
    def in_envelope(self) -> bool:
        """Whether joint limits allow it, obstacles left out."""
        return self.short <= 0.0 and self.envelope[0] <= 0.0

    @cached_property
    def witness(self) -> Posed | None:
        """A posture with everything asked for, or None."""
        return self._found(CLEAR | SEEN)

    @cached_property
    def clear_only(self) -> Posed | None:
        """A posture that reaches and is clear, sight left out, or None."""
        return self.witness or self._found(CLEAR)

    @cached_property
    def seen_only(self) -> Posed | None:
        """A posture that reaches and sees, clearance left out, or None."""
        return self.witness or self._found(SEEN)

    @cached_property
    def nearest_miss(self) -> Posed:
        """The best posture of the full search, whatever it lacks."""
        return self._search(CLEAR | SEEN, "full")

    @property
    def quick_witness(self) -> Posed | None:
        """A posture with everything asked for that a quick search finds, or None."""
        if "witness" in self.__dict__:
            return self.witness
        return self._found(CLEAR | SEEN, ("quick",)) if self.short <= 0.0 else None

    def _found(self, wanted: int, efforts: tuple[str, ...] = ("quick", "full")) -> Posed | None:
        if not self.in_envelope:
            return None
        for effort in efforts:
            posed = self._search(wanted, effort)
            barred = wanted & CLEAR and self._is_barred(posed.posture)
            if posed.fault <= 0.0 and not barred and not self._is_blind(posed.posture, wanted):
                return posed
        return None

    def _is_blind(self, posture: Array, wanted: int) -> bool:
        """Whether the eye that is to see lies inside a solid: no line from there meets its skin."""
        if not wanted & SEEN:
            return False
        eye = eye_of(self.figure, self.bulk, posture)[None]
        return bool(inside(self.tree, transform_points(self.world_from_boots, eye))[0])

    def allows(self, posture: Array, wanted: int) -> bool:
        """Whether a posture reaches and has what is wanted, `CLEAR`, `SEEN` or both."""
        fault = fault_of(
            self.figure.p,
            self.target.tip,
            self.target.direction,
            posture,
            wanted,
            0.0,
            world_of(self.tree, self.world_from_boots),
            kit_of(self.bulk),
            (self.target.spots, self.target.need, self.target.share, self.target.angle),
            buffers_of(self.bulk),
            np.empty(7),
        )
        return bool(fault <= 0.0) and not (wanted & CLEAR and self._is_barred(posture))

    def _is_barred(self, posture: Array) -> bool:
        """Whether the search overlooked something: a part inside a solid or near a hazard."""
        return self._is_buried(posture) or self._breaks_stand_off(posture)

    def _breaks_stand_off(self, posture: Array) -> bool:
        """Whether part of body or tool is closer to a hazard than its stand-off; vents aside."""
        capsules = capsules_of(self.figure, self.bulk, self.target, posture)
        p = transform_points(self.world_from_boots, capsules[:, :3])
        q = transform_points(self.world_from_boots, capsules[:, 3:6])
        return any(
            float(capsule_clearance(tree, p, q, capsules[:, 6]).min()) < stand_off
            for _, kind, tree, stand_off in self.surroundings.hazards
            if kind != "vent"
        )

    def _is_buried(self, posture: Array) -> bool:
        """Whether part of body or tool lies wholly inside a solid, far from its surface."""
        capsules = capsules_of(self.figure, self.bulk, self.target, posture)
        middle = 0.5 * (capsules[:, :3] + capsules[:, 3:6])
        return bool(inside(self.tree, transform_points(self.world_from_boots, middle)).any())

    def _search(self, wanted: int, effort: str) -> Posed:
        key = (wanted, effort)
        if key not in self._searched:
            self._searched[key] = find_held(
                self.figure,
                self.bulk,
                self.tree,
                self.world_from_boots,
                self.target,
                trunks_of(self.figure, N_TRUNKS[effort]),
                wanted,
                effort,
            )
        return self._searched[key]

    @cached_property
    def _searched(self) -> dict[tuple[int, str], Posed]:
        return {}

    @cached_property
    def margin(self) -> Margin:
        """How far the target may move and still be reached, by joint limits."""
        x = self.witness.posture if self.witness else self.envelope[1]
        return reach_margin(self.figure, self.target.tip, self.target.direction, x)

    @cached_property
    def shadows(self) -> Shadows:
        """Shadow regions of the convex solids that hide the head most often."""
        from reach.geometry import first_hit

        trunks = trunks_of(self.figure, N_TRUNKS["quick"])
        sizes = self.bulk.sizes
        eyes = trunks.hip + trunks.rotation @ np.array([sizes[5], 0.0, sizes[6]])
        eyes = transform_points(self.world_from_boots, eyes)
        spot = self.target.spots[0]
        hit = first_hit(self.tree, np.broadcast_to(spot, eyes.shape), eyes - spot, 1.0)
        parts = self.surroundings.part_of[hit.face[hit.face >= 0]]
        parts = parts[parts >= 0]
        which, count = np.unique(parts, return_counts=True)
        best = which[np.argsort(-count, kind="stable")][:N_SHADING]
        return shadows_of([self.surroundings.parts[i] for i in best], self.target.spots)

    def refuted(self, reasons: int) -> Refuted:
        """Try to refute every cell of trunk postures for the given reasons."""
        if reasons not in self._refutations:
            self._refutations[reasons] = refute_cells(
                self.figure,
                self.bulk,
                self.tree,
                self.world_from_boots,
                self.target,
                self.floor - self.surroundings.excess,
                self.shadows,
                reasons,
            )
        return self._refutations[reasons]

    @cached_property
    def _refutations(self) -> dict[int, Refuted]:
        return {}


def hands_of(situation: Situation) -> tuple[str, ...]:
    """Return the hands to try, the worker's own first.

    Where the step leaves it open, only those that the fastener allows.
    """
    action = situation.action
    asked = action.hand if isinstance(action, Drive) else "own"
    other = "left" if situation.own_hand == "right" else "right"
    if asked == "own":
        return (situation.own_hand,)
    if asked in ("either", "both"):
        allowed = situation.head.record.hand if situation.head is not None else "either"
        return (situation.own_hand, other) if allowed == "either" else (allowed,)
    return (asked,)


def attempt_of(
    site: Site,
    situation: Situation,
    hand: str,
    *,
    world_from_boots: Array | None = None,
    held: Held | None = None,
) -> Attempt:
    """Return the attempt of one hand, from the situation's own place and tool or others."""
    assert situation.head is not None
    if world_from_boots is None:
        assert situation.place is not None
        assert situation.place.world_from_boots is not None
        world_from_boots = situation.place.world_from_boots
    tool = held or situation.held
    assert tool is not None
    key = (
        "attempt",
        hand,
        world_from_boots.tobytes(),
        tool.title,
        situation.head.name,
        situation.worker,
        situation.case,
        id(situation.surroundings),
    )
    if key not in site.memo:
        site.memo[key] = _attempt(site, situation, hand, world_from_boots, tool)
    found: Attempt = site.memo[key]
    return found


def _attempt(
    site: Site, situation: Situation, hand: str, world_from_boots: Array, held: Held
) -> Attempt:
    head = situation.head
    assert head is not None
    pose = world_from_boots @ MIRROR if hand == "left" else world_from_boots
    figure = figure_for(site, situation, held)
    bulk = _bulk(site, situation, figure, held)
    boots_from_world = inverse(pose)
    tip = _snapped(transform_points(boots_from_world, head.point[None])[0], 1e-9)
    direction = _snapped(transform_directions(boots_from_world, -head.axis[None])[0], 1e-12)
    direction /= np.linalg.norm(direction)
    floor = capsule_limits(site, bulk)
    return Attempt(
        hand=hand,
        figure=figure,
        bulk=bulk,
        surroundings=situation.surroundings,
        world_from_boots=pose,
        target=Target(
            tip=tip,
            direction=direction,
            spots=spots_of(head, pose, tip, direction),
            need=floor + situation.surroundings.error + ROUNDING,
            share=site.limit("visible_share").value,
            angle=site.limit("sight_angle").value,
        ),
        floor=floor,
    )


def figure_for(site: Site, situation: Situation, held: Held) -> Figure:
    """Return the body of a situation in its suit, holding a tool; made once."""
    tolerance = site.limit("axis_tolerance").value
    key = ("figure", situation.worker, situation.case, held.tip.tobytes(), held.axis.tobytes())
    if key not in site.memo:
        grip = Grip(held.tip, held.axis, tolerance)
        site.memo[key] = figure_of(situation.body, situation.suit, grip)
    found: Figure = site.memo[key]
    return found


def _bulk(site: Site, situation: Situation, figure: Figure, held: Held) -> Bulk:
    key = ("bulk", situation.worker, situation.case, held.title)
    if key not in site.memo:
        site.memo[key] = bulk_of(figure, situation.suit, tool_capsules(held))
    found: Bulk = site.memo[key]
    return found


def capsule_limits(site: Site, bulk: Bulk) -> Array:
    """Return the least clearance asked of each capsule, m."""
    limits = np.full(len(bulk.names), site.limit("arm_clearance").value)
    limits[: bulk.n_body] = site.limit("body_clearance").value
    limits[bulk.n_body + N_IDLE + 2] = site.limit("hand_clearance").value
    return limits


def _snapped(values: Array, step: float) -> Array:
    """Round to a lattice, so that a moved world asks the very same question."""
    return np.asarray(np.round(values / step) * step, np.float64)


__all__ = ["ARM", "REASONS", "ROOM", "SIGHT", "Attempt", "attempt_of", "figure_for", "hands_of"]
