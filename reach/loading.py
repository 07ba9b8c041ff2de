"""What a step asks of hand, fastener and socket: push along the axis and torque about it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.model.procedure import Drive
from reach.site import Held, Situation

LEVERS = ("ratchet", "wrench")
"""Kinds of tool that turn by a force at the hand; others put their torque into it."""

SHORTEST_LEVER = 0.01
"""A lever shorter than this (m) is none: the hand turns such a tool by torque."""

TINY = 1e-12
"""A limit of zero is taken as this: then anything is too much."""


@dataclass(frozen=True, slots=True)
class Load:
    """What is asked along and about the axis of one thing turned.

    Attributes
    ----------
    held : float, N
        Push held throughout, towards the structure.
    peak : float, N
        Largest push, which may last a moment; at least ``held``.
    torque : float, N m
        Largest torque; 0 where none is known.
    """

    held: float
    peak: float
    torque: float

    @property
    def is_any(self) -> bool:
        """Whether anything is asked at all."""
        return self.peak > 0.0 or self.torque > 0.0


def load_of(situation: Situation) -> Load:
    """Return what a situation asks: the step's own force, the fastener's push, the torque."""
    action, head = situation.action, situation.head
    held = (action.force or 0.0) if isinstance(action, Drive) else 0.0
    push = (head.record.push or 0.0) if head is not None else 0.0
    return Load(held, max(held, push), situation.wanted_torque or 0.0)


def lever_of(held: Held) -> float:
    """Return the distance (m) from the hand to the axis of a tool turned by force, else 0."""
    return lever_at(held, np.zeros(3)) if held.record.kind in LEVERS else 0.0


def lever_at(held: Held, grip: NDArray[np.float64]) -> float:
    """Return the distance (m) from a grip (3,), m, hand frame, to the axis of a tool.

    0 where it is too short to turn the tool by a force.
    """
    arm = held.tip - grip
    lever = float(np.linalg.norm(arm - (arm @ held.axis) * held.axis))
    return lever if lever >= SHORTEST_LEVER else 0.0


def grips_of(situation: Situation) -> tuple[NDArray[np.float64], ...]:
    """Return where the hands hold the tool, m, hand frame: the leading one, then the other.

    One where one hand works, or where nothing says where the second holds on.
    """
    held, first = situation.held, np.zeros(3)
    assert held is not None
    if not is_two_handed(situation) or held.record.second_grip is None:
        return (first,)
    return first, np.asarray(held.record.second_grip, np.float64)


def is_two_handed(situation: Situation) -> bool:
    """Whether the step asks for both hands."""
    return isinstance(situation.action, Drive) and situation.action.hand == "both"


def left_of(limit: float, value: float) -> float:
    """Return the share of a limit that a value leaves; negative beyond it.

    Examples
    --------
    >>> left_of(200.0, 50.0), left_of(10.0, 15.0)
    (0.75, -0.5)
    """
    return 1.0 - value / max(limit, TINY)


def hand_force(load: Load, lever: float) -> float:
    """Return the largest force (N) that the hand gives: the push and what turns the lever.

    Examples
    --------
    >>> hand_force(Load(0.0, 3.0, 1.0), 0.25)
    5.0
    """
    return math.hypot(load.peak, load.torque / lever) if lever > 0.0 else load.peak
