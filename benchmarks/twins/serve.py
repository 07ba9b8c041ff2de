"""Both hands on a tool, all sizes, shares of a crowd, any socket: witnesses measured anew.

Postures are taken from the package; that they hold the tool, are clear and see is worked out by
`work`, poses of a restraint joint by joint, intervals of shares by adding up binomials.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping
from types import SimpleNamespace
from typing import Any

import numpy as np

from benchmarks.twins import serve_cases, work
from benchmarks.twins.holder import Limb, grip_of, limb_of, one_trunk, out_of_reach
from benchmarks.twins.opinion import Opinion, opinion
from benchmarks.twins.space import moved, world_from
from benchmarks.twins.work_body import flaws
from benchmarks.twins.work_cases import BODIES, MIRROR, tool_tip
from reach.worker.chain import N_FREEDOMS, ROLL, SWIVEL, evaluate, work_arrays
from reach.worker.figure import Grip, figure_of
from reach.worker.margin import sphere_points
from reach.worker.two_hands import find_two_handed, mirror_trunk

CHECKS = ("reach", "sizes", "share", "socket", "two-handed")
NEAR = 1e-5
SHOWN = 5
"""So many people of each kind are looked at of a crowd."""

draw = serve_cases.draw


class Site(work.Site):
    """A worksite of one body, with the attempts that are its own."""

    def __init__(
        self, scene: Mapping[str, Any], procedure: Mapping[str, Any], outcome: Any, size: str
    ) -> None:
        worker = {**scene["workers"]["W"], "size": size}
        super().__init__({**scene, "workers": {"W": worker}}, procedure, outcome)
        self.size, self.planted = size, scene["_planted"]
        if self.action.get("hand") == "both":
            allowed = self.fastener["hand"]
            self.hands = ["right", "left"] if allowed == "either" else [allowed]

    def attempts(self) -> list[Any]:
        """Return the attempts of the program for this body."""
        return [v for k, v in self.outcome.site.memo.items() if k[0] == "attempt"
                and k[6] == self.size]  # fmt: skip

    def here(self, hand: str) -> list[Any]:
        """Return the attempts of a hand, with a witness, where the boots are."""
        flip = np.diag([1.0, -1.0, 1.0, 1.0]) if hand == "left" else np.eye(4)
        size = max(1.0, float(np.abs(self.boots).max()))
        return [
            one for one in self.attempts()
            if one.hand == hand and one.witness is not None
            and np.abs(one.world_from_boots @ flip - self.boots).max() < 1e-6 * size
        ]  # fmt: skip

    def wrong(self, attempt: Any, posture: Any) -> list[str]:
        """Return what is wrong with a posture that should hold the tool, be clear and see."""
        bones, is_left = self.bones(attempt, posture)
        notes = list(self.faults(bones, is_left, posture))
        notes += [
            f"{part} {left:g}" for part, _, left in self.rooms(bones, is_left)
            if left < -work.NEAR
        ]  # fmt: skip
        share, off, outside = self.seen(bones, is_left)
        if share < self.limits["visible_share"] - 0.15 or off > self.limits["sight_angle"] + 1e-6:
            notes.append(f"sees {share:g} at {off:g} rad")
        if outside > 1e-6:
            notes.append(f"{outside:g} rad outside of the field of view")
        return notes

    def beyond(self, boots: Any = None) -> float:
        """Return how far the fastener is out of reach of any posture, m, for sure."""
        boots = self.boots if boots is None else boots
        tip, _ = tool_tip(self.action["tool"])
        point = moved(np.linalg.inv(boots), self.point)
        return out_of_reach(self.body, self.suit, point) - float(np.linalg.norm(tip)) - 0.05


def opinions(
    scene: Mapping[str, Any], procedure: Mapping[str, Any], outcome: Any
) -> Iterator[Opinion]:
    """Yield what checks and twins say of one worksite."""
    found = {name: [one for one in outcome.findings if one.check == name] for name in CHECKS}
    own, mode = scene["workers"]["W"]["size"], scene["_mode"]
    if mode == "sizes":
        yield _sizes(scene, procedure, outcome, found)
        return
    site = Site(scene, procedure, outcome, own)
    if mode == "both":
        yield _both(site, found["two-handed"])
    elif mode == "share":
        yield _share(site, found["share"])
        site = Site(scene, procedure, outcome, own)
    if "sockets" in scene:
        yield _socket(site, found["socket"])


# ---- sizes ------------------------------------------------------------------------------


def _sizes(
    scene: Mapping[str, Any], procedure: Mapping[str, Any], outcome: Any,
    found: dict[str, list[Any]],
) -> Opinion:  # fmt: skip
    """Measure the witness of each body; one that is surely out of reach fails for all."""
    good: bool | None = True
    notes = []
    for size in BODIES:
        site = Site(scene, procedure, outcome, size)
        told = [one for one in found["reach"] if one.case == size]
        if len(told) != 1:
            notes.append(f"{len(told)} findings of {size}")
        if site.beyond() > -float(scene["limits"].get("reach_margin", 0.0)):
            notes.append(f"{size} is {site.beyond():g} m short")
        elif not told or str(told[0].verdict) != "pass":
            good = None
        else:
            hand = told[0].numbers["hand"]
            some = site.here(hand)
            if hand not in site.hands or not some:
                notes.append(f"{size} has no posture of the {hand} hand")
            else:
                notes += [f"{size}: {w}" for w in site.wrong(some[0], some[0].witness.posture)]
    if notes:
        good = False
    told = found["sizes"]
    if good is None and told and str(told[0].verdict) == "pass":
        good, notes = False, ["a body that does not pass"]
    return opinion("sizes", "B", told, good, "; ".join(notes))


# ---- share ------------------------------------------------------------------------------


def tail(k: int, n: int, p: float) -> float:
    """Return the probability of k or more of n."""
    return sum(math.comb(n, i) * p**i * (1 - p) ** (n - i) for i in range(k, n + 1))


def ends_of(least: int, most: int, n: int) -> tuple[float, float]:
    """Return the share below which so many are rarer than 2.5 %, and above which so few."""

    def where(value: Any, wanted: float) -> float:
        low, high = 0.0, 1.0
        for _ in range(60):
            half = (low + high) / 2
            low, high = (half, high) if value(half) < wanted else (low, half)
        return low

    low = 0.0 if least == 0 else where(lambda p: tail(least, n, p), 0.025)
    high = 1.0 if most == n else where(lambda p: tail(most + 1, n, p), 0.975)
    return low, high


def _share(site: Site, told: list[Any]) -> Opinion:
    """Measure the witnesses of some people; count again; look whom reach excludes for sure."""
    asked = float(site.limits.get("population_share", 0.9))
    bodies = site.outcome.situations[0].crowd.bodies
    turnouts = [v for k, v in site.outcome.site.memo.items() if k[0] == "turnout"]
    turnouts = [one for one in turnouts if one.hand in site.hands]
    n, notes, able, unable = len(bodies), [], 0, 0
    shown = 0
    for i, body in enumerate(bodies):
        site.body = body
        mine = [one for one in turnouts if one.can[i]]
        if site.beyond() > 0.0:
            unable += 1
            if mine:
                notes.append(f"{body.label} is {site.beyond():g} m short")
            continue
        if not mine:
            continue
        able += 1
        shown += 1
        if shown <= SHOWN:
            one = SimpleNamespace(figure=mine[0].figures[i], hand=mine[0].hand)
            bad = site.wrong(one, mine[0].x[i])
            able -= bool(bad)
            notes += [f"{body.label}: {word}" for word in bad]
    low, high = ends_of(able, n - unable, n)
    good: bool | None = None
    if low - asked > 1e-9:
        good = True
    elif high - asked < -1e-9:
        good = False
    verdict = str(told[0].verdict) if told else "not asked"
    if notes or (verdict == "pass" and not good):
        good = False
    if good is None and verdict == "fail":
        # Of a fail all must be proved that are not known to be able.
        most = n - sum(all(one.cannot[i] for one in turnouts) for i in range(n))
        good = True if ends_of(0, most, n)[1] - asked > 1e-9 else None
    words = "; ".join(notes[:3]) or f"{able} of {n} can, {unable} cannot: {low:.3f} .. {high:.3f}"
    return opinion("share", "B", told, good, words)


# ---- sockets ----------------------------------------------------------------------------


def settings_of(site: Site) -> Iterator[dict[str, float]]:
    """Yield every setting of the restraint, joint angles in rad by name."""
    joints = [j for j in site.scene["restraints"]["stand"]["chain"] if "name" in j]
    stops = []
    for joint in joints:
        low, step = float(joint["from"]), float(joint["step"])
        n = round((float(joint["to"]) - low) / step)
        stops.append([low + i * step for i in range(n + 1)])
    for some in itertools.product(*stops):
        yield {j["name"]: v for j, v in zip(joints, some, strict=True)}


def boots_at(site: Site, socket: str, angles: Mapping[str, float]) -> Any:
    """Return the boots of a setting in the world."""
    joints = site.scene["restraints"]["stand"]["chain"]
    plain = [{**j, "numbered": False} if "name" in j else j for j in joints]
    scene = {**site.scene, "restraints": {"stand": {"chain": plain}}}
    step = {"where": socket, "setting": angles}
    other = SimpleNamespace(scene=scene, step=step)
    return world_from(site.scene, "site") @ work.Site._boots(other)  # type: ignore[arg-type]


def _socket(site: Site, told: list[Any]) -> Opinion:
    """Go to the setting told, and measure the posture there; try every setting by reach alone."""
    sockets = site.scene["sockets"]
    free = [name for name, one in sockets.items() if one.get("status", "free") == "free"]
    own = str(site.step["where"])
    verdict = str(told[0].verdict) if told else "not asked"
    if own not in free:
        return opinion("socket", "B", told, False, "its socket is not free")
    if verdict == "pass":
        numbers, notes = told[0].numbers, []
        if "socket" in numbers:
            angles = numbers["setting"]
            site.boots = boots_at(site, numbers["socket"], angles)
            if numbers["socket"] not in free:
                notes.append(f"{numbers['socket']} is not free")
            stops = list(settings_of(site))
            if not any(max(abs(one[k] - angles[k]) for k in one) < 1e-9 for one in stops):
                notes.append(f"no setting {angles}")
        some = [one for hand in site.hands for one in site.here(hand)]
        if not some:
            notes.append("no posture there")
        else:
            notes += site.wrong(some[0], some[0].witness.posture)
        return opinion("socket", "B", told, not notes, "; ".join(notes))
    good: bool | None = None
    if all(site.beyond(boots_at(site, s, a)) > 0.0 for s in free for a in settings_of(site)):
        good = False
    elif verdict == "fail" and "setting" in site.planted and "bones" in site.planted:
        good = True  # somebody had the tool on it at a setting of this socket
    return opinion("socket", "B", told, good, f"{len(free)} free")


# ---- both hands -------------------------------------------------------------------------


def _both(site: Site, told: list[Any]) -> Opinion:
    """Look for the other arm from the trunks that the package has; both arms on one trunk."""
    tool = site.scene["tools"][site.action["tool"]]
    if "second_grip" not in tool:
        good = None if str(told[0].verdict) != "pass" else False
        return opinion("two-handed", "B", told, good, "no second grip")
    second = np.array([float(v) for v in tool["second_grip"]])
    apart = float(np.linalg.norm(tool_tip(site.action["tool"])[0] - second))
    head = moved(np.linalg.inv(site.boots), site.point)
    if site.beyond() > 0.0:
        return opinion("two-handed", "B", told, False, f"{site.beyond():g} m short")
    if out_of_reach(site.body, site.suit, head) > apart + 0.05:
        return opinion("two-handed", "B", told, False, "the second grip is out of reach")
    most = float(np.linalg.norm(head)) - out_of_reach(site.body, site.suit, head)
    if apart > most + float(np.linalg.norm(head)) + 0.2:
        return opinion("two-handed", "B", told, False, "the second grip is too far away")
    if not told or str(told[0].verdict) != "pass":
        # Fails rest on one hand that reaches nowhere.
        planted = "bones" in site.planted and str(told[0].verdict) == "fail"
        return opinion("two-handed", "B", told, True if planted else None, "planted")
    notes = ["no pair of arms"]
    for attempt in site.attempts():
        if attempt.hand != told[0].numbers["leading hand"] or not attempt.in_envelope:
            continue
        for pair in _pairs(site, attempt, second):
            notes = list(_wrong_pair(site, attempt, second, *pair))
            if not notes:
                return opinion("two-handed", "B", told, True, "two arms")
    return opinion("two-handed", "B", told, False, "; ".join(notes))


def _pairs(site: Site, attempt: Any, second: Any) -> Iterator[tuple[Any, Any, Any, Any]]:
    """Yield leading posture, posture of the other hand, its target and way (its own frame)."""
    figure, target = attempt.figure, attempt.target
    bare = figure_of(figure.body, figure.suit, Grip(tolerance=figure.grip.tolerance))
    known = [attempt.envelope[1]]
    if attempt.witness is not None:
        known.insert(0, attempt.witness.posture)
    arrays = work_arrays()
    for start in known:
        posture = start
        for _ in range(4):
            lead = limb_of(site.body, site.suit, figure, posture, target.tip, target.direction,
                           "right")  # fmt: skip
            fist = lead.bones.wrist + site.body.links.grip * lead.bones.hand[:, 0]
            grip = fist + lead.bones.hand @ second
            other = np.zeros(N_FREEDOMS)
            mirror_trunk(posture, other)
            turns = np.linspace(0.0, 2 * math.pi, 12, endpoint=False)
            for way, roll, swivel in itertools.product(sphere_points(60), turns, turns):
                other[ROLL], other[SWIVEL] = roll, swivel
                if evaluate(bare.p, MIRROR @ grip, way, other, *arrays) <= 0.0:
                    yield posture, other.copy(), MIRROR @ grip, way
                    break
            found = find_two_handed(figure, bare.grip, target.tip, target.direction, grip)
            if found.violation[0] > 0.0:
                break
            posture = found.right[0]


def _wrong_pair(
    site: Site, attempt: Any, second: Any, lead: Any, other: Any, grip: Any, way: Any
) -> Iterator[str]:
    """Yield what is wrong with two arms on one trunk."""
    bones, is_left = site.bones(attempt, lead)
    yield from site.faults(bones, is_left, lead)
    bare = figure_of(site.body, site.suit, Grip(tolerance=attempt.figure.grip.tolerance))
    hand = attempt.hand
    first = Limb(bones, np.array(lead[:5]), hand)
    arm = limb_of(site.body, site.suit, bare, other, grip, way,
                  "left" if hand == "right" else "right")  # fmt: skip
    yield from flaws(site.body, site.suit, arm.bones, arm.q)
    yield from one_trunk([first, arm])
    fist = bones.wrist + site.body.links.grip * bones.hand[:, 0]
    wanted = first.to_boots(fist + bones.hand @ second)
    off = float(np.linalg.norm(grip_of(site.body, arm) - wanted))
    if off > NEAR:
        yield f"the other fist is {off:g} m off the second grip"
