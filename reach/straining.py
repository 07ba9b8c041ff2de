"""What a load at the hand asks of the arm in one posture: moments at its joints, at rest.

The load is a wrench on the worker: the reaction to the push along the fastener's axis and to
the torque about it.  Nothing has weight.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.loading import Load, hand_force, left_of

Array = NDArray[np.float64]

JOINTS = ("shoulder", "elbow", "wrist")

HALF = 0.5
"""Share of a push that the stronger-loaded of two hands takes at least."""


@dataclass(frozen=True, slots=True)
class Strain:
    """Moments (N m) at shoulder, elbow and wrist, and the force (N) at the hand."""

    shoulder: float
    elbow: float
    wrist: float
    hand: float


def strain_of(
    points: dict[str, Array], tip: Array, direction: Array, load: Load, lever: float
) -> Strain:
    """Return what a load asks of the arm whose joints are at ``points``.

    Parameters
    ----------
    points : dict of str to ndarray, shape (3,), m
        ``shoulder``, ``elbow``, ``wrist`` and ``grip``, in any one frame.
    tip, direction : ndarray, shape (3,), m and unit vector, same frame
        The fastener's head, and the way into it.
    load : Load
        Its ``peak`` and ``torque`` count, whichever way the torque turns.
    lever : float, m
        Distance from the hand to the axis of a tool turned by a force at the hand; 0 for a
        tool that puts its torque into the hand.

    Examples
    --------
    >>> at = {name: np.zeros(3) for name in ("shoulder", "elbow", "wrist", "grip")}
    >>> ahead, up = np.array([0.5, 0.0, 0.0]), np.array([0.0, 0.0, 1.0])
    >>> strain_of(at, ahead, up, Load(0.0, 10.0, 0.0), 0.0).elbow
    5.0
    """
    push = load.peak * direction
    side, couple = np.zeros(3), load.torque * direction
    if lever > 0.0:
        arm = points["grip"] - tip
        across = np.cross(direction, arm - (arm @ direction) * direction)
        length = float(np.linalg.norm(across))
        side = load.torque / lever * across / length if length > 0.0 else side
        couple = np.zeros(3)
    moments = {}
    for name in JOINTS:
        axial = np.cross(tip - points[name], push)
        turning = np.cross(points["grip"] - points[name], side) + couple
        both = (float(np.linalg.norm(axial + way * turning)) for way in (1.0, -1.0))
        moments[name] = max(both)
    return Strain(hand=hand_force(load, lever), **moments)


def least_strain(load: Load, lever: float) -> Strain:
    """Return what no posture can do with less than.

    The moment of a push along the axis is square to the axis wherever the joint is, so a torque
    that goes into the hand is felt in full at every joint; the hand passes on every force.

    Examples
    --------
    >>> least_strain(Load(0.0, 20.0, 3.0), 0.0)
    Strain(shoulder=3.0, elbow=3.0, wrist=3.0, hand=20.0)
    """
    couple = load.torque if lever == 0.0 else 0.0
    return Strain(couple, couple, couple, hand_force(load, lever))


def least_of_two(load: Load, levers: tuple[float, ...]) -> Strain:
    """Return what the stronger-loaded of two hands cannot do with less than.

    One of them takes half the push or more.  A torque they may make by opposite forces, so that
    no joint feels a couple; of a tool with levers the hands' forces times their levers add up to
    the torque at most.

    Parameters
    ----------
    levers : tuple of float, m
        Distance of each hand from the axis; empty where that is not known or not how it is turned.

    Examples
    --------
    >>> least_of_two(Load(0.0, 20.0, 3.0), ())
    Strain(shoulder=0.0, elbow=0.0, wrist=0.0, hand=10.0)
    >>> round(least_of_two(Load(0.0, 20.0, 9.0), (0.2, 0.1)).hand, 9)
    30.0
    """
    turning = load.torque / sum(levers) if sum(levers) > 0.0 else 0.0
    return Strain(0.0, 0.0, 0.0, max(HALF * load.peak, turning))


def shares(strain: Strain, strength: Strain) -> dict[str, float]:
    """Return the share of its strength that each joint and the hand is asked for."""
    return {
        name: 1.0 - left_of(getattr(strength, name), getattr(strain, name))
        for name in (*JOINTS, "hand")
    }
