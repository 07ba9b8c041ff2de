"""How far a target may stray in the boot frame when places and settings are a little off.

The worst case is a bound on the shift of the target and on the turn of the boots.  Draws are
ways: each runs from where everything is as written to one drawn error and, to a whole step,
beyond, so that a tolerance scaled down walks the beginning of the same ways.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.geometry import inverse, transform_points
from reach.model.hardware import Joint
from reach.model.tolerance import Tolerance
from reach.site import Place, Site, Situation
from reach.work import MIRROR

Array = NDArray[np.float64]

SEED = 20_061
"""All draws start from this, whatever is drawn for."""

STEP = 0.005
"""Distance (m) from target to target along a way."""

MOST_STEPS = 200
"""Ways longer than this many steps are not walked."""

TURN_LEVER = 0.6
"""Length of an arm (m): turns a turn of the boots into a distance along a way."""


@dataclass(frozen=True, slots=True)
class Strays:
    """What may be off for one situation.

    Attributes
    ----------
    socket, fastener : Tolerance or None
    joints : tuple of Joint
        Those of the restraint that have a tolerance.
    """

    socket: Tolerance | None
    fastener: Tolerance | None
    joints: tuple[Joint, ...]

    @property
    def is_any(self) -> bool:
        """Whether anything has a tolerance."""
        return bool(self.socket or self.fastener or self.joints)


@dataclass(frozen=True, slots=True)
class Worst:
    """Bounds over everything the tolerances allow.

    Attributes
    ----------
    shift : float, m
        The target is nowhere farther from its place in the boot frame.
    turn : float, rad
        The boots are nowhere turned farther.
    sure : float, m
        The target may be so far off in every direction.
    """

    shift: float
    turn: float
    sure: float


@dataclass(frozen=True, slots=True, eq=False)
class Ways:
    """Drawn errors as ways of targets in the boot frame of a right-handed question.

    Attributes
    ----------
    tips, directions : ndarray, shape (n, m, 3), m and unit vectors
        Of each way, step by step.
    counts : ndarray of int, shape (n,)
        Steps of each way; `MOST_STEPS` + 1 for one that is too long to walk.
    end_tips, end_directions : ndarray, shape (n, 3)
        The drawn errors themselves.
    """

    tips: Array
    directions: Array
    counts: NDArray[np.int64]
    end_tips: Array
    end_directions: Array


def strays_of(site: Site, situation: Situation) -> Strays:
    """Return what may be off for the place, setting and fastener of a situation."""
    place, head, scene = situation.place, situation.head, site.scene
    socket: Tolerance | None = None
    joints: tuple[Joint, ...] = ()
    if place is not None:
        record = scene.sockets.get(place.name) or scene.stations.get(place.name)
        socket = record.tolerance if record is not None else None
        joints = tuple(joint for joint in place.restraint.joints if joint.tolerance is not None)
        joints = joints if place.world_from_socket is not None else ()
    return Strays(socket, head.record.tolerance if head is not None else None, joints)


def worst_of(site: Site, situation: Situation, strays: Strays) -> Worst:
    """Return the bounds: joint by joint from the socket, each moves the target on its lever.

    A joint off by an angle moves the target by the chord over its distance from the axis,
    and what was off before may have carried the target so much farther from that axis.
    """
    shift, sure, turn = 0.0, 0.0, 0.0
    for tolerance in (strays.socket, strays.fastener):
        if tolerance is not None:
            shift += float(np.linalg.norm(tolerance.worst))
            sure += min(tolerance.worst)
    for lever, joint in zip(_levers(situation), _joints(situation), strict=True):
        if joint in strays.joints:
            assert joint.tolerance is not None
            angle = min(joint.tolerance.worst, math.pi)
            turn += angle
            shift += 2.0 * math.sin(0.5 * angle) * (lever + shift)
    return Worst(shift, turn, sure)


def ways_of(site: Site, situation: Situation, strays: Strays, hand: str, n: int) -> Ways:
    """Return ``n`` drawn errors as ways, for a hand.

    The draws are the same numbers for every situation, laid along the frames that sockets and
    fasteners are written in; a tolerance scaled by a factor scales them.
    """
    joints = [joint for joint in _joints(situation) if joint in strays.joints]
    draws = np.random.default_rng(SEED).random((n, 6 + len(joints)))
    socket = _drawn(strays.socket, draws[:, :3]) @ _turned(site, situation, "place").T
    fastener = _drawn(strays.fastener, draws[:, 3:6]) @ _turned(site, situation, "head").T
    angles = np.zeros((n, len(_joints(situation))))
    column = 6
    for k, joint in enumerate(_joints(situation)):
        if joint in strays.joints:
            angles[:, k] = _drawn_angle(joint, draws[:, column])
            column += 1
    length = np.linalg.norm(socket, axis=1) + np.linalg.norm(fastener, axis=1)
    length += np.abs(angles) @ (np.array(_levers(situation)) + TURN_LEVER)
    counts = np.minimum(np.ceil(length / STEP - 1e-9), MOST_STEPS + 1).astype(np.int64)
    m = int(min(counts.max(initial=0), MOST_STEPS))
    share = STEP * np.arange(1, m + 1) / np.maximum(length, STEP * 1e-6)[:, None]
    offset = (fastener - socket)[:, None, :] * share[:, :, None]
    tips, directions = _targets(situation, offset, angles[:, None, :] * share[:, :, None], hand)
    ends = _targets(situation, fastener - socket, angles, hand)
    return Ways(tips, directions, counts, *ends)


def _joints(situation: Situation) -> tuple[Joint, ...]:
    place = situation.place
    if place is None or place.world_from_socket is None:
        return ()
    return place.restraint.joints


def _drawn(tolerance: Tolerance | None, u: Array) -> Array:
    """Return errors (n, 3), m, from uniform numbers."""
    if tolerance is None:
        return np.zeros_like(u)
    if tolerance.box is not None:
        return np.asarray((2.0 * u - 1.0) * np.array(tolerance.box), np.float64)
    from scipy.special import ndtri

    return np.asarray(ndtri(_inside(u)) * np.array(tolerance.sigma), np.float64)


def _drawn_angle(joint: Joint, u: Array) -> Array:
    play = joint.tolerance
    assert play is not None
    if play.box is not None:
        return (2.0 * u - 1.0) * play.box
    from scipy.special import ndtri

    return np.asarray(ndtri(_inside(u)) * play.sigma, np.float64)


def _inside(u: Array) -> Array:
    """Keep numbers off 0, whose normal quantile is infinite."""
    return np.maximum(u, 1e-12)


def _turned(site: Site, situation: Situation, which: str) -> Array:
    """Return the rotation (3, 3) to the world from the frame a place or fastener is written in."""
    world_from = situation.surroundings.world_from
    if which == "head":
        assert situation.head is not None
        return world_from[situation.head.record.frame][:3, :3]
    if situation.place is None:
        return np.eye(3)
    name = situation.place.name
    record = site.scene.sockets.get(name) or site.scene.stations.get(name)
    # Where a path has taken a crane's tip is written nowhere but in its own frame.
    return world_from[name if record is None else record.frame][:3, :3]


def _chain(place: Place, point: Array) -> tuple[Array, list[tuple[str, Array, float]]]:
    """Return the target in the frame the chain starts from, and the links to go through.

    Each link is (axis, shift, angle): a shift has the axis "".
    """
    if place.world_from_socket is None:
        assert place.world_from_boots is not None
        return transform_points(inverse(place.world_from_boots), point[None])[0], []
    links = []
    for link in place.restraint.chain:
        if link.shift is not None:
            links.append(("", np.asarray(link.shift, float), 0.0))
        else:
            assert place.setting is not None
            links.append((str(link.turn), np.zeros(3), place.setting[link.name]))
    return transform_points(inverse(place.world_from_socket), point[None])[0], links


def _levers(situation: Situation) -> list[float]:
    """Return the distance (m) of the target from the axis of each joint, in order."""
    place, head = situation.place, situation.head
    assert place is not None
    assert head is not None
    x, links = _chain(place, head.point)
    levers = []
    for axis, shift, angle in links:
        if not axis:
            x = x - shift
            continue
        across = np.delete(x, "xyz".index(axis))
        levers.append(float(np.linalg.norm(across)))
        x = _back(axis, np.array(angle), x)
    return levers


def _targets(situation: Situation, offset: Array, angles: Array, hand: str) -> tuple[Array, Array]:
    """Return tips and directions in the boot frame with places and joints off.

    Parameters
    ----------
    offset : ndarray, shape (..., 3), m, world
        Of the fastener, less that of the place.
    angles : ndarray, shape (..., n_joints), rad
    """
    place, head = situation.place, situation.head
    assert place is not None
    assert head is not None
    start = place.world_from_socket
    if start is None:
        start = place.world_from_boots
    assert start is not None
    x, links = _chain(place, head.point)
    tips = x + offset @ start[:3, :3]
    ways = np.broadcast_to(-head.axis @ start[:3, :3], tips.shape)
    k = 0
    for axis, shift, angle in links:
        if not axis:
            tips = tips - shift
            continue
        turn = angle + angles[..., k]
        tips, ways = _back(axis, turn, tips), _back(axis, turn, ways)
        k += 1
    if hand == "left":
        tips, ways = tips @ MIRROR[:3, :3], ways @ MIRROR[:3, :3]
    return np.asarray(tips, np.float64), np.asarray(ways, np.float64)


def _back(axis: str, angle: Array, x: Array) -> Array:
    """Return points (..., 3) in the frame turned by ``angle`` about one of its axes."""
    i = "xyz".index(axis)
    j, k = (i + 1) % 3, (i + 2) % 3
    c, s = np.cos(angle), np.sin(angle)
    out = np.array(x, np.float64)
    out[..., j] = c * x[..., j] + s * x[..., k]
    out[..., k] = c * x[..., k] - s * x[..., j]
    return out
