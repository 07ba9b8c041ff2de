"""Restraint settings that would do: next-door detents first, then a bounded look at a socket.

What is returned has a witness posture; not finding one within the budget proves nothing.
`socket_shortage` is the proof side: one bound for all settings of a socket at once.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.geometry import inverse, transform_directions, transform_points
from reach.kept.noting import asked_whole
from reach.model.hardware import Joint, Restraint
from reach.model.procedure import Drive
from reach.placing import boots_from_setting, shown, socket_pose
from reach.site import Site, Situation
from reach.work import MIRROR, attempt_of, hands_of
from reach.worker.bound import plate_shortage, reach_sphere, wrist_centres
from reach.worker.search import find_postures

Array = NDArray[np.float64]

CHUNK = 256
MOST_POSES = 1536
"""Poses of one socket looked at before the look is given up."""

MOST_WITNESSES = 12
"""Settings of one socket that are put to full posture searches."""

RANGE_STEP = math.radians(15.0)
"""Joints without detents are looked at in steps of this."""


@dataclass(frozen=True, eq=False, slots=True)
class Setting:
    """A setting with a witness: where, the joint angles (rad) and the words for them."""

    socket: str
    angles: dict[str, float]
    words: str
    hand: str


@dataclass(frozen=True, eq=False, slots=True)
class Service:
    """What the free sockets can do for a situation.

    ``setting`` is the first one found with a witness, or None; ``short`` the proved shortage
    (m) of each free socket over all its settings, above 0 where it is excluded.
    """

    setting: Setting | None
    short: dict[str, float]

    @property
    def is_impossible(self) -> bool:
        """Whether every free socket is excluded by proof."""
        return bool(self.short) and min(self.short.values()) > 0.0


def service_of(site: Site, situation: Situation) -> Service:
    """Return what the free sockets can do with the step's own restraint; looked for once."""
    place = situation.place
    assert place is not None
    key = ("service", place.restraint_name, *_question(situation))
    if key not in site.memo:
        free = site.scene.free_sockets
        short = {name: socket_shortage(site, situation, name, place.restraint) for name in free}
        left = sorted((name for name in free if short[name] <= 0.0), key=lambda name: short[name])
        found = (setting_at(site, situation, name, place.restraint) for name in left)
        site.memo[key] = Service(next((setting for setting in found if setting), None), short)
    known: Service = site.memo[key]
    return known


def _question(situation: Situation) -> tuple[object, ...]:
    """Return what tells one question from another, its place aside."""
    head, held = situation.head, situation.held
    assert head is not None
    assert held is not None
    return (
        head.name,
        held.title,
        hands_of(situation),
        situation.worker,
        situation.case,
        id(situation.surroundings),
    )


@asked_whole
def mates_of(site: Site, situation: Situation) -> tuple[Situation, ...]:
    """Return what a body turns in one step from one place: one setting has to serve all of it.

    The situation itself stands in place of what was asked about the same thing.
    """
    mine = (situation.step, situation.worker, situation.case)
    place = situation.place
    mates: dict[tuple[object, ...], Situation] = {}
    for one in site.asked:
        if not isinstance(one.action, Drive) or one.place is None or place is None:
            continue
        if (one.step, one.worker, one.case) == mine and one.place.name == place.name:
            mates.setdefault(_question(one), one)
    own = _question(situation)
    if own not in mates:
        return (situation,)
    return tuple(situation if key == own else one for key, one in mates.items())


def service_of_step(site: Site, situation: Situation) -> Service:
    """Return what the free sockets can do for everything turned in a step at one setting."""
    mates = mates_of(site, situation)
    if len(mates) == 1:
        return service_of(site, situation)
    place = situation.place
    assert place is not None
    key = ("service of step", place.restraint_name, *map(_question, mates))
    if key not in site.memo:
        each = [service_of(site, one).short for one in mates]
        short = {name: max(one[name] for one in each) for name in site.scene.free_sockets}
        left = sorted((name for name in short if short[name] <= 0.0), key=lambda name: short[name])
        found = (setting_for(site, mates, name, place.restraint) for name in left)
        site.memo[key] = Service(next((setting for setting in found if setting), None), short)
    known: Service = site.memo[key]
    return known


def next_door(site: Site, *asks: Situation) -> Setting | None:
    """Return a setting one detent away in one joint that has a witness for all, or None."""
    place = asks[0].place
    if place is None or place.world_from_socket is None or not place.setting:
        return None
    for joint in place.restraint.joints:
        for stop in _neighbours(joint, place.setting[joint.name]):
            angles = {**place.setting, joint.name: stop}
            pose = place.world_from_socket @ boots_from_setting(place.restraint, angles)
            hand = _witness_of_all(site, asks, pose)
            if hand:
                return Setting(place.name, angles, shown(place.restraint, angles), hand)
    return None


def setting_at(
    site: Site, situation: Situation, socket: str, restraint: Restraint
) -> Setting | None:
    """Return a setting of a socket that has a witness, looked for within the budget, or None."""
    return setting_for(site, (situation,), socket, restraint)


def setting_for(
    site: Site, asks: Sequence[Situation], socket: str, restraint: Restraint
) -> Setting | None:
    """Return a setting of a socket with a witness for everything asked, within the budget."""
    key = ("setting", id(restraint), socket, *map(_question, asks))
    if key not in site.memo:
        # The restraint is kept with the answer, so that its id stays its own.
        site.memo[key] = restraint, _setting_for(site, asks, socket, restraint)
    found: Setting | None = site.memo[key][1]
    return found


def _setting_for(
    site: Site, asks: Sequence[Situation], socket: str, restraint: Restraint
) -> Setting | None:
    world_from_socket = _socket(site, asks[0], socket)
    angles, poses = distinct_poses(site, restraint)
    order = scattered(len(poses))[:MOST_POSES]
    spent = 0
    for start in range(0, len(order), CHUNK):
        which = order[start : start + CHUNK]
        boots = world_from_socket @ poses[which]
        for i in _in_envelope(site, asks, boots):
            if spent >= MOST_WITNESSES:
                return None
            spent += 1
            hand = _witness_of_all(site, asks, boots[i])
            if hand:
                found = angles[which[i]]
                return Setting(socket, found, shown(restraint, found), hand)
    return None


def socket_shortage(site: Site, situation: Situation, socket: str, restraint: Restraint) -> float:
    """Return the proved shortage (m) over every setting of a socket and every allowed hand.

    Above 0 no setting of the restraint in this socket lets this body reach the fastener.
    """
    world_from_socket = _socket(site, situation, socket)
    centre, spread = _plate_ball(restraint)
    plate = transform_points(world_from_socket, centre[None])[0]
    worst = math.inf
    for hand in hands_of(situation):
        attempt = attempt_of(site, situation, hand, world_from_boots=world_from_socket)
        target, pose = attempt.target, attempt.world_from_boots
        wrist = wrist_centres(attempt.figure, target.tip, target.direction)[0]
        distance = float(np.linalg.norm(transform_points(pose, wrist[None])[0] - plate))
        # The shortage is least half-way between the spheres, or as near to that as the plate gets.
        half_way = 0.5 * sum(reach_sphere(attempt.figure))
        nearest = min(max(half_way, distance - spread), distance + spread)
        worst = min(worst, float(plate_shortage(attempt.figure, [nearest])[0]))
    return worst


def distinct_poses(
    site: Site, restraint: Restraint, step: float | None = None
) -> tuple[list[dict[str, float]], Array]:
    """Return the settings of a restraint that differ in pose: angles and socket_from_boots.

    Joints without detents are looked at in steps of at most ``step`` (rad; `RANGE_STEP` when
    left out).
    """
    step = RANGE_STEP if step is None else step
    key = ("poses", id(restraint), step)
    if key not in site.memo:
        site.memo[key] = _distinct(restraint, step)
    found: tuple[list[dict[str, float]], Array] = site.memo[key]
    return found


def _distinct(restraint: Restraint, step: float) -> tuple[list[dict[str, float]], Array]:
    joints = restraint.joints
    stops = [_stops(joint, step) for joint in joints]
    poses = np.eye(4)[None]
    for link in restraint.chain:
        # A joint multiplies the settings so far by its stops; the last joint changes fastest.
        values = _stops(link, step) if link.turn is not None else (0.0,)
        one = Restraint(kind=restraint.kind, chain=(link,))
        moves = np.array([boots_from_setting(one, {link.name: value}) for value in values])
        poses = (poses[:, None] @ moves[None]).reshape(-1, 4, 4)
    _, first = np.unique(np.round(poses, 6).reshape(-1, 16) + 0.0, axis=0, return_index=True)
    first.sort()
    every = list(itertools.product(*stops))
    names = [joint.name for joint in joints]
    return [dict(zip(names, every[i], strict=True)) for i in first], poses[first]


def _socket(site: Site, situation: Situation, name: str) -> Array:
    """Return world from socket, with the payloads where the step has them."""
    return socket_pose(site.scene.sockets[name], situation.surroundings.world_from)


def _stops(joint: Joint, step: float = RANGE_STEP) -> tuple[float, ...]:
    if joint.stops:
        return joint.stops
    count = max(1, math.ceil((joint.high - joint.low) / step))
    return tuple(np.linspace(joint.low, joint.high, count + 1).tolist())


def _neighbours(joint: Joint, angle: float) -> list[float]:
    stops = list(_stops(joint))
    i = int(np.argmin(np.abs(np.array(stops) - angle)))
    around = [i - 1, i + 1]
    full_turn = len(stops) > 2 and math.isclose(
        stops[-1] - stops[0] + stops[1] - stops[0], math.tau, abs_tol=1e-9
    )
    if full_turn:
        return [stops[k % len(stops)] for k in around]
    return [stops[k] for k in around if 0 <= k < len(stops)]


def _witness(site: Site, situation: Situation, world_from_boots: Array) -> str:
    for hand in hands_of(situation):
        attempt = attempt_of(site, situation, hand, world_from_boots=world_from_boots)
        if attempt.short <= 0.0 and attempt.witness is not None:
            return hand
    return ""


def _witness_of_all(site: Site, asks: Sequence[Situation], world_from_boots: Array) -> str:
    """Return the hands that do everything asked, "right" or "right and left"; empty if not all."""
    hands = []
    for ask in asks:
        hand = _witness(site, ask, world_from_boots)
        if not hand:
            return ""
        hands.append(hand)
    return " and ".join(dict.fromkeys(hands))


def _in_envelope(site: Site, asks: Sequence[Situation], boots: Array) -> NDArray[np.int64]:
    """Return which boot poses (n, 4, 4) reach everything by joint limits, after a quick look."""
    left = np.arange(len(boots))
    for ask in asks:
        left = left[_reaching(site, ask, boots[left])] if len(left) else left
    return left


def _reaching(site: Site, situation: Situation, boots: Array) -> NDArray[np.bool_]:
    head = situation.head
    assert head is not None
    ok = np.zeros(len(boots), np.bool_)
    for hand in hands_of(situation):
        attempt = attempt_of(site, situation, hand, world_from_boots=boots[0])
        pose = boots @ MIRROR if hand == "left" else boots
        tips = np.array([transform_points(inverse(b), head.point[None])[0] for b in pose])
        ways = np.array([transform_directions(inverse(b), -head.axis[None])[0] for b in pose])
        ok |= find_postures(attempt.figure, tips, ways, "quick").violation <= 0.0
    return ok


def _plate_ball(restraint: Restraint) -> tuple[Array, float]:
    """Return centre and radius (m) of a ball, socket frame, that holds the boot plate's origin.

    Shifts along the axis of the joints before them do not move with those joints; what comes
    after a joint that tilts it may be anywhere round.
    """
    centre, spread = np.zeros(3), 0.0
    turned: set[str] = set()
    for link in restraint.chain:
        if link.turn is not None:
            turned.add(link.turn)
            continue
        shift = np.asarray(link.shift, float)
        axes = {"xyz"[i] for i in np.flatnonzero(np.abs(shift) > 0.0)}
        if not turned or (len(axes) <= 1 and turned <= axes):
            centre = centre + shift
        else:
            spread += float(np.linalg.norm(shift))
    return centre, spread


def scattered(n: int) -> NDArray[np.int64]:
    """Return 0..n-1 in a fixed order that jumps about, so that an early stop is a fair sample."""
    step = max(1, int(n * 0.6180339887))
    while math.gcd(step, n) != 1:
        step += 1
    return (np.arange(n) * step) % n
