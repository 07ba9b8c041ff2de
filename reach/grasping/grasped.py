"""How a worker of a situation holds grips: found once, asked by several checks."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from reach.geometry import inverse, transform_points
from reach.grasp import Grasp
from reach.grasping.bars import Bar, bars_of, trees_of
from reach.grasping.clearing import clearest
from reach.grasping.holds import Hold, find_holds
from reach.grasping.margins import Margin, margin_of, short_of
from reach.grasping.shapes import ACROSS, Room, hand_name, names_of, room_of, shape_of
from reach.resting import rest_frame
from reach.site import Site, Situation
from reach.work import ROUNDING
from reach.worker.figure import Figure, Grip, figure_of
from reach.worker.volume import Bulk, bulk_of

Array = NDArray[np.float64]

FAR = 0.5
"""Room beyond this (m) is as good as any."""


@dataclass(frozen=True, eq=False)
class Grasped:
    """What was found about holding one or two grips.

    Points and directions are in the world, capsules in the true boot frame: nothing here is
    mirrored for a left-handed worker but ``bars``, ``hold`` and ``others``.

    Attributes
    ----------
    grips : tuple of str
    found : bool
        Whether a posture was found that holds them, by joint limits.
    short : float, m
        How far they are proved out of reach, at least; 0 or less proves nothing.
    hands : tuple of str
        ``"right"`` or ``"left"`` for each grip; empty without a posture, like all that follows.
    points : ndarray, shape (n, 3), m, world
        Where each grip is held, or the middle of each grip where no posture was found.
    thumbs : ndarray, shape (n, 3), world
        Unit vectors along the grips, to the thumb's side.
    capsules : ndarray, shape (m, 7), m, boot frame
    names : tuple of str
        What each capsule is.
    eye : ndarray, shape (3,), m, boot frame
    room : Room or None
        How near the body comes to what is round it.
    figure, bars, hold, others
        The posture itself, in the boot frame of the own hand, and other ones.
    """

    grips: tuple[str, ...]
    found: bool
    short: float
    hands: tuple[str, ...]
    points: Array
    thumbs: Array
    capsules: Array
    names: tuple[str, ...]
    eye: Array
    room: Room | None
    figure: Figure
    bars: tuple[Bar, ...]
    hold: Hold | None
    others: tuple[Hold, ...]

    @cached_property
    def margin(self) -> Margin:
        """How far the grips may move together and still be held, by joint limits.

        Raises
        ------
        ValueError
            Without a posture.
        """
        if self.hold is None:
            raise ValueError(f"no posture holds {', '.join(self.grips)}")
        return margin_of(self.figure, self.bars, self.hold, list(self.others))


def grasped_of(site: Site, situation: Situation, grasp: Grasp) -> Grasped:
    """Return how a worker holds grips from where they stand, where the surroundings have them.

    Of the postures found the clearest is taken: legs, trunk, helmet and backpack from all
    structure, arms from what is not held.  Always the same for the same question.

    Parameters
    ----------
    site : Site
    situation : Situation
        With a place whose boots are placed.
    grasp : Grasp
        One that `Grasp.is_sure`; every grip must say along which direction it runs.
    """
    assert situation.place is not None
    assert situation.place.world_from_boots is not None
    key = (
        "grasped",
        situation.worker,
        situation.case,
        situation.place.world_from_boots.tobytes(),
        id(situation.surroundings),
        grasp,
    )
    if key not in site.memo:
        # What is round the worker is kept with the answer, so that its id stays its own.
        site.memo[key] = (_grasped(site, situation, grasp), situation.surroundings)
    found: Grasped = site.memo[key][0]
    return found


def bare_hands(site: Site, situation: Situation) -> Figure:
    """Return the body in its suit, a hand's tip in the fist and its axis towards the thumb."""
    key = ("bare hand", situation.worker, situation.case)
    if key not in site.memo:
        grip = Grip((0.0, 0.0, 0.0), (0.0, 0.0, 1.0), site.limit("grip_tolerance").value)
        site.memo[key] = figure_of(situation.body, situation.suit, grip)
    found: Figure = site.memo[key]
    return found


def _grasped(site: Site, situation: Situation, grasp: Grasp) -> Grasped:
    figure, around = bare_hands(site, situation), situation.surroundings
    pose = rest_frame(situation)
    world = bars_of(site, around, grasp)
    bars = tuple(bar.seen_from(inverse(pose)).on_lattice() for bar in world)
    short = short_of(figure, bars)
    holds = _holds(site, figure, bars) if short <= 0.0 else []
    if not holds:
        return _nothing(grasp, world, short, figure, bars)
    bulk = bulk_of(figure, situation.suit, np.empty((0, 7)))

    def room(hold: Hold) -> Room:
        shape = shape_of(figure, bulk, bars, hold)
        error = around.error + ROUNDING
        return room_of(shape, pose, *trees_of(site, around, *grasp.payloads), error, FAR)

    need_body = site.limit("body_clearance").value
    need_arms = site.limit("arm_clearance").value

    def score(hold: Hold) -> float:
        one = room(hold)
        return min(one.body - need_body, one.arms - need_arms, one.own)

    best, _ = clearest(figure, bars, holds, score)
    return _answer(situation, grasp, figure, bulk, bars, best, holds, room(best), short)


def _holds(site: Site, figure: Figure, bars: tuple[Bar, ...]) -> list[Hold]:
    """Return ways to hold bars; who rides along with what they hold asks the same at each stop."""
    key = ("holds", figure.key, *(bar.key for bar in bars))
    if key not in site.memo:
        site.memo[key] = tuple(find_holds(figure, bars))
    return list(site.memo[key])


def _nothing(
    grasp: Grasp, world: tuple[Bar, ...], short: float, figure: Figure, bars: tuple[Bar, ...]
) -> Grasped:
    return Grasped(
        grips=grasp.grips,
        found=False,
        short=short,
        hands=(),
        points=np.array([bar.at(0.5) for bar in world]),
        thumbs=np.empty((0, 3)),
        capsules=np.empty((0, 7)),
        names=(),
        eye=np.full(3, np.nan),
        room=None,
        figure=figure,
        bars=bars,
        hold=None,
        others=(),
    )


def _answer(
    situation: Situation, grasp: Grasp, figure: Figure, bulk: Bulk, bars: tuple[Bar, ...],
    hold: Hold, holds: list[Hold], room: Room, short: float,
) -> Grasped:  # fmt: skip
    shape, pose = shape_of(figure, bulk, bars, hold), rest_frame(situation)
    points = np.array([bar.at(share) for bar, share in zip(bars, hold.shares, strict=True)])
    ways = np.array([s * (bar.end - bar.start) for bar, s in zip(bars, hold.signs, strict=True)])
    capsules, eye = shape.capsules, shape.eye
    if situation.own_hand == "left":
        capsules, eye = capsules * ACROSS, eye * ACROSS[:3]
    return Grasped(
        grips=grasp.grips,
        found=True,
        short=short,
        hands=tuple(hand_name(side, situation.own_hand) for side in hold.sides),
        points=transform_points(pose, points),
        thumbs=(ways / np.linalg.norm(ways, axis=1)[:, None]) @ pose[:3, :3].T,
        capsules=capsules,
        names=names_of(bulk, hold, situation.own_hand),
        eye=eye,
        room=room,
        figure=figure,
        bars=bars,
        hold=hold,
        others=tuple(holds),
    )
