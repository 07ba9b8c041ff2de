"""Figure: a body in a suit holding a grip, packed into the one flat vector the kernels read.

Frames.  Boot frame: origin on the plate between the ankles, x ahead, y left, z up.  Torso
frame: turned by ankle, hip and waist, origin at the right shoulder.  Hand frame: origin at
the grip centre, x along the forearm through the knuckles, z up with the thumb up.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.model.suit import Suit
from reach.worker.body import Body

(
    UPPER_ARM,
    FOREARM,
    GRIP,
    HALF,
    AHEAD,
    ANKLE,
    HIP,
    SHOULDER,
    CONE_X,
    CONE_Y,
    CONE_Z,
    CONE,
    TWIST,
    ELBOW_MIN,
    ELBOW_MAX,
    PRONATION,
    FLEXION,
    DEVIATION,
    TOLERANCE,
    TIP_X,
    TIP_Y,
    TIP_Z,
    AXIS_X,
    AXIS_Y,
    AXIS_Z,
    HINGE_X,
    HINGE_Y,
    HINGE_Z,
    RISE,
    R_MIN,
    R_MAX,
    ALONG,
    ACROSS,
    LOW,
) = range(34)
HIGH = LOW + 5
N_PARAMETERS = HIGH + 5
"""Index layout of ``Figure.p``; the five trunk limits follow from LOW and from HIGH."""

TRUNK = ("ankle_roll", "ankle_pitch", "hip_flexion", "waist_lateral", "waist_twist")
"""The trunk freedoms in the order of a posture vector."""


@dataclass(frozen=True, slots=True, eq=False)
class Grip:
    """Where a tool's working tip is in the hand that holds it.

    Attributes
    ----------
    tip : array_like, shape (3,), m, hand frame
        Counted from the grip centre.
    axis : array_like, shape (3,), hand frame
        Direction in which the tip works; scaled to unit length.
    tolerance : float, rad
        How far the tool axis may be off the wanted direction, below 1 rad.
    """

    tip: ArrayLike = (0.0, 0.0, 0.0)
    axis: ArrayLike = (1.0, 0.0, 0.0)
    tolerance: float = math.radians(5.0)


@dataclass(frozen=True, slots=True, eq=False)
class Figure:
    """A body in a suit holding a grip.

    Attributes
    ----------
    body : Body
    suit : Suit
    grip : Grip
    p : ndarray, shape (N_PARAMETERS,)
        What the kernels read, laid out by the index names of this module; not writable.
    key : bytes
        The contents of ``p``: equal for figures that answer every question alike.
    """

    body: Body
    suit: Suit
    grip: Grip
    p: NDArray[np.float64]
    key: bytes = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "key", self.p.tobytes())


def figure_of(body: Body, suit: Suit, grip: Grip) -> Figure:
    """Return the figure of a ``body`` in a ``suit`` that holds a ``grip``.

    Raises
    ------
    ValueError
        If the grip is not finite, its axis has no length or its tolerance is outside
        [0, 1) rad; or if the suit bends farther to one side than to the other.

    Examples
    --------
    >>> from reach.files.people import load_population, load_suits
    >>> from reach.worker.body import percentile_body
    >>> body = percentile_body(load_population("male"), 50)
    >>> figure = figure_of(body, load_suits()["halden"], Grip(tip=(0.25, 0, 0.05)))
    >>> figure.p[[UPPER_ARM, FOREARM, GRIP]].round(3)
    array([0.295, 0.268, 0.062])
    """
    tip, axis = _checked(grip)
    _check_mirrored(suit)
    k, p = body.links, np.zeros(N_PARAMETERS)
    p[UPPER_ARM], p[FOREARM], p[GRIP] = k.upper_arm, k.forearm, k.grip
    p[HALF], p[AHEAD] = k.half, suit.shoulder_ahead
    p[ANKLE], p[HIP], p[SHOULDER] = k.ankle + suit.sole, k.hip + suit.sole, k.shoulder + suit.sole
    p[RISE] = k.rise * suit.shoulder_rise
    cone = _cone_axis(suit)
    p[CONE_X : CONE_Z + 1], p[HINGE_X : HINGE_Z + 1] = cone, _hinge(cone)
    p[CONE], p[TWIST] = suit.arm_cone, suit.arm_twist
    p[ELBOW_MIN], p[ELBOW_MAX] = suit.elbow
    p[PRONATION], p[FLEXION], p[DEVIATION] = (
        suit.pronation,
        suit.wrist_flexion,
        suit.wrist_deviation,
    )
    p[R_MIN], p[R_MAX] = _extension(p, p[ELBOW_MAX]), _extension(p, p[ELBOW_MIN])
    p[TOLERANCE], p[TIP_X : TIP_Z + 1], p[AXIS_X : AXIS_Z + 1] = grip.tolerance, tip, axis
    from_wrist = tip + np.array([p[GRIP], 0.0, 0.0])
    p[ALONG] = from_wrist @ axis
    p[ACROSS] = np.linalg.norm(from_wrist - p[ALONG] * axis)
    p[LOW:HIGH] = [getattr(suit, name)[0] for name in TRUNK]
    p[HIGH:] = [getattr(suit, name)[1] for name in TRUNK]
    p.flags.writeable = False
    return Figure(body, suit, grip, p)


def mirrored(points: ArrayLike) -> NDArray[np.float64]:
    """Return points or directions mirrored left to right (y to -y), boot or hand frame.

    A question to the left hand is the mirrored question to the right one, with the tool
    mirrored too.

    Parameters
    ----------
    points : array_like, shape (..., 3)

    Examples
    --------
    >>> mirrored([1.0, 2.0, 3.0])
    array([ 1., -2.,  3.])
    """
    flipped: NDArray[np.float64] = np.asarray(points, np.float64) * np.array([1.0, -1.0, 1.0])
    return flipped


def _checked(grip: Grip) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    tip, axis = np.asarray(grip.tip, np.float64), np.asarray(grip.axis, np.float64)
    if tip.shape != (3,) or axis.shape != (3,):
        raise ValueError(f"a grip has tip and axis of shape (3,), found {tip.shape}, {axis.shape}")
    length = float(np.linalg.norm(axis))
    if not np.isfinite(tip).all() or not np.isfinite(length) or length < 1e-9:
        raise ValueError(f"a grip needs a finite tip and an axis with length, found {grip}")
    if not 0.0 <= grip.tolerance < 1.0:
        raise ValueError(f"grip tolerance must be within 0 to 1 rad, found {grip.tolerance!r}")
    return tip, axis / length


def _check_mirrored(suit: Suit) -> None:
    uneven = [
        f"{name} [{low:g}, {high:g}]"
        for name in ("ankle_roll", "waist_lateral", "waist_twist")
        for low, high in [getattr(suit, name)]
        if not math.isclose(-low, high, abs_tol=1e-12)
    ]
    if uneven:
        raise ValueError(f"left and right must be mirror images, found {', '.join(uneven)} rad")


def _cone_axis(suit: Suit) -> NDArray[np.float64]:
    outward, above = suit.arm_cone_axis
    c = math.cos(above)
    return np.array([math.cos(outward) * c, -math.sin(outward) * c, math.sin(above)])


def _hinge(cone: NDArray[np.float64]) -> NDArray[np.float64]:
    """Elbow axis of the untwisted arm: half-way between flexing up and flexing inward."""
    hinge = np.array([0.0, -1.0, 1.0])
    hinge -= (hinge @ cone) * cone
    return np.asarray(hinge / np.linalg.norm(hinge), np.float64)


def _extension(p: NDArray[np.float64], elbow: float) -> float:
    """Shoulder-to-wrist distance at an elbow angle."""
    a, b = p[UPPER_ARM], p[FOREARM]
    return math.sqrt(a * a + b * b + 2.0 * a * b * math.cos(elbow))
