"""What work on a fastener puts on the place where the worker is held: force and moment, at rest.

Worker and tool are one body in balance: what the fastener gives back, the place bears.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.loading import Load, grips_of, is_two_handed, lever_at, lever_of, load_of
from reach.site import Situation

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Burden:
    """Force (N) and moment (N m) at a place: what they may be, and what they are for certain.

    Attributes
    ----------
    most, sure : (force in N, moment in N m)
    arm : float, m
        From the place to the axis of the fastener: the arm of the push.
    """

    most: tuple[float, float]
    sure: tuple[float, float]
    arm: float


def burden_of(situation: Situation, place: Array) -> Burden:
    """Return what a situation puts on the place at a point (3,), m, world."""
    head, held = situation.head, situation.held
    assert head is not None
    assert held is not None
    load, lever = load_of(situation), lever_of(held)
    offset = head.point - place
    arm = float(np.linalg.norm(np.cross(offset, head.axis)))
    felt = held.record.felt
    if lever == 0.0:
        return _by_couple(load, arm, felt)
    grips = grips_of(situation)
    levers = [at for at in (lever_at(held, grip) for grip in grips) if at > 0.0]
    along = max(abs(float(offset @ head.axis + (held.tip - grip) @ held.axis)) for grip in grips)
    least = 0.0 if is_two_handed(situation) else felt * load.torque / lever
    return _by_force(load, arm, along, (least, load.torque / min(levers)), felt)


def _by_couple(load: Load, arm: float, felt: float) -> Burden:
    """Return the burden of a push, and of a torque whose axis is square to the push's moment."""
    moments = [math.hypot(load.peak * arm, share * load.torque) for share in (1.0, felt)]
    return Burden((load.peak, moments[0]), (load.peak, moments[1]), arm)


def _by_force(
    load: Load, arm: float, along: float, side: tuple[float, float], felt: float
) -> Burden:
    """Return the burden of a push and of a side force across the lever.

    With n the axis of the fastener, d the way to it from the place and g from there to the grip,
    the side force F, square to n and to the lever, has the moment (d + g) x F.  Its part across n
    is (d + g) . n times F and adds to that of the push (d x n times the push), which may point
    any way across n; its part along n is the torque and the moment of F about a line through the
    place, at most ``arm`` times F either way.

    Parameters
    ----------
    along : float, m
        (d + g) . n without its sign, the larger where there are two grips.
    side : (float, float), N
        Least and most; two hands may turn without any.
    """
    pushed, turned = load.peak * arm, (side[0] * along, side[1] * along)
    across = max(0.0, pushed - turned[1], turned[0] - pushed)
    about = max(0.0, felt * load.torque - side[1] * arm)
    return Burden(
        (
            math.hypot(load.peak, side[1]),
            math.hypot(pushed + turned[1], load.torque + side[1] * arm),
        ),
        (math.hypot(load.peak, side[0]), math.hypot(across, about)),
        arm,
    )
