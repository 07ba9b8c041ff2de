"""Work at one fastener against slow twins: the witness posture measured anew, plain statics.

The posture that a pass rests on is taken as landmarks; that its bones are as long as they should
be, within their joints, hold the tool on the fastener and are clear and seen is worked out here.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping
from typing import Any

import coal
import numpy as np

from benchmarks.twins import space, work_cases
from benchmarks.twins.opinion import Opinion, opinion
from benchmarks.twins.space import moved, pose, unit, world_from
from benchmarks.twins.work_body import (
    NEAR,
    Bones,
    capsules,
    eye_of,
    flaws,
    outside_view,
    trunk,
)
from reach.finding import Verdict
from reach.worker.bound import shortage
from reach.worker.figure import mirrored
from reach.worker.posture import posture_of

CHECKS = (
    "reach", "clearance", "sight", "access", "glove", "inner", "torque", "load", "push", "effort",
    "hand", "fit", "tool-class", "light", "touch", "error",
)  # fmt: skip

SHIPPED = {
    "body_clearance": 0.08, "arm_clearance": 0.01, "hand_clearance": 0.01, "access_gap": 0.002,
    "axis_tolerance": math.radians(5.0), "visible_share": 0.5, "sight_angle": math.radians(80.0),
    "handling_force": 45 * 4.4482216152605, "socket_force": 274 * 4.4482216152605,
    "socket_moment": 4200 * 0.0254 * 4.4482216152605, "head_radius": 0.01,
    "effort_sustained": 0.15, "effort_peak": 0.5,
    "touch_hot": (145 + 459.67) * 5 / 9, "touch_cold": (-45 + 459.67) * 5 / 9,
}  # fmt: skip
STRENGTH = {
    "female": {"shoulder": 30.0, "elbow": 27.0, "wrist": 6.0, "hand": 260.0},
    "male": {"shoulder": 67.0, "elbow": 46.0, "wrist": 11.0, "hand": 450.0},
}
draw = work_cases.draw


class Site:
    """One case, with everything in the world."""

    def __init__(
        self, scene: Mapping[str, Any], procedure: Mapping[str, Any], outcome: Any
    ) -> None:
        self.scene, self.outcome = scene, outcome
        self.step = procedure["steps"][0]
        self.action = self.step["actions"][0]
        self.windows = procedure.get("windows", {})
        self.limits = {**SHIPPED, **scene["limits"]}
        worker = scene["workers"]["W"]
        self.suit = work_cases.SUITS[worker["suit"]]
        self.body = work_cases.BODIES[worker["size"]]
        self.sex = "female" if worker["size"] == "small" else "male"
        self.tool = scene["tools"][self.action["tool"]]
        self.fastener = scene["fasteners"]["B"]
        site = world_from(scene, "site")
        self.point = moved(site, self.fastener["at"])
        self.axis = unit(site[:3, :3] @ np.array(self.fastener["axis"], float))
        self.boots = site @ self._boots()
        self.solids = space.placed_shapes(scene, "solids")
        self.hazards = space.placed_shapes(scene, "hazards")
        # Sight is told against facets: what hides for sure lies inside of them.
        self.shades = space.placed_shapes(scene, "solids", inner=True)
        own = self.action.get("hand", "own")
        self.hands = [worker["hand"] if own == "own" else own]

    def _boots(self) -> Any:
        """Return the pose of the boots in the site's frame, from what is written."""
        name = self.step["where"]
        if name in self.scene.get("stations", {}):
            record = self.scene["stations"][name]
            return _square(record["at"], record["up"], record["toes"])
        record = self.scene["sockets"][name]
        chain = _square(record["at"], record["axis"], record["zero"])
        for joint in self.scene["restraints"]["stand"]["chain"]:
            if "shift" in joint:
                chain = chain @ pose(np.eye(3), [float(v) for v in joint["shift"]])
                continue
            value = self.step["setting"][joint["name"]]
            angle = float(value)
            if joint["numbered"]:
                angle = float(joint["from"]) + value * float(joint["step"])
            chain = chain @ pose(
                space.turned(np.eye(3)["xyz".index(joint["turn"])], angle), [0, 0, 0]
            )
        return chain

    # ---- the witness --------------------------------------------------------------------

    def attempts(self) -> list[Any]:
        """Return the attempts of the program, from which the witness postures are taken."""
        return [v for k, v in self.outcome.site.memo.items() if k[0] == "attempt"]

    def bones(self, attempt: Any, posture: Any) -> tuple[Bones, bool]:
        """Return the bones of a witness as those of a right-handed body, and whether it is one."""
        is_left = attempt.hand == "left"
        way = np.linalg.inv(self.boots)
        tip, direction = moved(way, self.point), -(way[:3, :3] @ self.axis)
        p = posture_of(attempt.figure, posture, tip, direction, attempt.hand)
        low = trunk(self.body, self.suit, posture[:5])
        flip = mirrored if is_left else np.asarray
        hand = np.asarray(p.hand_rotation)
        if is_left:
            # Back to the right-handed figure: its frames are mirror images of those told.
            hand = work_cases.MIRROR @ hand @ work_cases.MIRROR
        points = [np.asarray(flip(getattr(p, n))) for n in ("shoulder", "elbow", "wrist")]
        return Bones(low[0], low[1], low[2], *points, hand), is_left

    def to_world(self, point: Any, is_left: bool) -> Any:
        """Return a point of the right-handed body's boot frame in the world."""
        return moved(self.boots, work_cases.MIRROR @ point if is_left else point)

    def faults(self, bones: Bones, is_left: bool, posture: Any) -> Iterator[str]:
        """Yield what is wrong with a witness as a posture that holds the tool on the fastener."""
        k = self.body.links
        yield from flaws(self.body, self.suit, bones, posture[:5])
        tip_in_hand, axis = work_cases.tool_tip(self.action["tool"])
        tip = bones.wrist + k.grip * bones.hand[:, 0] + bones.hand @ tip_in_hand
        miss = np.linalg.norm(self.to_world(tip, is_left) - self.point)
        if miss > 1e-5 + 1e-9 * float(np.abs(self.point).max()):
            yield f"the tool's tip is {miss:g} m off"
        way = self.to_world(tip + bones.hand @ axis, is_left) - self.to_world(tip, is_left)
        askew = math.atan2(float(np.linalg.norm(np.cross(way, self.axis))), float(-way @ self.axis))
        if askew > self.limits["axis_tolerance"] + 1e-6 and askew > 1e-6:
            yield f"the tool is {askew:g} rad off the axis"

    def rooms(self, bones: Bones, is_left: bool) -> Iterator[tuple[str, str, float]]:
        """Yield part, kind of clearance and what is left of what is asked, m."""
        parts = [(one["from"], one["to"], one["radius"]) for one in self.tool["parts"]]
        for name, kind, a, b, radius in capsules(self.body, self.suit, parts, bones):
            p, q = self.to_world(a, is_left), self.to_world(b, is_left)
            for solid, (shape, at) in self.solids.items():
                gap = space.apart(shape, at, p, q, radius)
                yield f"{name} {solid}", kind, gap - self.limits[f"{kind}_clearance"]
            for hazard, (shape, at) in self.hazards.items():
                record = self.scene["hazards"][hazard]
                if record["kind"] != "vent":
                    gap = space.apart(shape, at, p, q, radius)
                    yield f"{name} {hazard}", "hazard", gap - float(record["stand_off"])

    def seen(self, bones: Bones, is_left: bool) -> tuple[float, float, float]:
        """Return share of the head seen, of dense points, line off the axis, excess of view."""
        eye = eye_of(self.body, self.suit, bones)
        world_eye = self.to_world(eye, is_left)
        off = math.acos(float(np.clip(unit(world_eye - self.point) @ self.axis, -1, 1)))
        way = np.linalg.inv(self.boots)
        target = moved(way, self.point)
        outside = outside_view(
            self.suit, bones, eye, work_cases.MIRROR @ target if is_left else target
        )
        u = unit(np.cross(self.axis, [0.31, 0.57, 0.76]))
        v = np.cross(self.axis, u)
        spots = [
            self.point + 0.005 * self.axis + r * self.limits["head_radius"]
            * (math.cos(t) * u + math.sin(t) * v)
            for r, n in ((0.0, 1), (0.5, 8), (0.95, 16))
            for t in np.arange(n) * 2 * math.pi / n
        ]  # fmt: skip
        shapes = list(self.shades.values())
        free = [not space.hidden(shapes, world_eye, spot) for spot in spots]
        return float(np.mean(free)), off, outside


def _square(at: Any, z: Any, x: Any) -> Any:
    """Return a pose from origin, z axis and where x points, made square to it."""
    z = unit([float(v) for v in z])
    x = np.array([float(v) for v in x])
    x = unit(x - (x @ z) * z)
    return pose(np.stack([x, np.cross(z, x), z], axis=1), [float(v) for v in at])


def opinions(
    scene: Mapping[str, Any], procedure: Mapping[str, Any], outcome: Any
) -> Iterator[Opinion]:
    """Yield what checks and twins say of one worksite."""
    site = Site(scene, procedure, outcome)
    found = {name: [one for one in outcome.findings if one.check == name] for name in CHECKS}
    yield from _reach(site, found)
    yield from _postures(site, found)
    yield opinion("access", "B", found["access"], *_access(site, found["access"]))
    yield from _plain(site, found)
    # What is out of reach as it is `reach` tells.
    reaches = not any(one.verdict is Verdict.FAIL for one in found["reach"])
    if "tolerance" in site.fastener and reaches:
        yield from _error(site, found["error"])


def _error(site: Site, told: list[Any]) -> Iterator[Opinion]:
    """Shift the fastener to every corner of its box: none may be proved out of reach.

    The proof is that of the outer bound, which the check on errors does not go by.
    """
    box = np.array([float(v) for v in site.fastener["tolerance"]["box"]])
    turn = world_from(site.scene, "site")[:3, :3]
    attempts = {one.hand: one for one in site.attempts() if one.hand in site.hands}
    if not attempts:
        return
    (attempt,) = attempts.values()
    boots = np.linalg.inv(attempt.world_from_boots)
    way = boots[:3, :3] @ -site.axis
    corners = [site.point + turn @ (box * one) for one in itertools.product((-1, 1), repeat=3)]
    worst = max(float(shortage(attempt.figure, moved(boots, p), way)[0]) for p in corners)
    yield opinion("error", "B", told, False if worst > 1e-6 else None, f"{worst:g} m short")


def _reach(site: Site, found: dict[str, list[Any]]) -> Iterator[Opinion]:
    """Check the witness of a pass; against a fail the posture that was planted speaks."""
    verdict = str(found["reach"][0].verdict)
    notes: list[str] = []
    if verdict == "pass":
        hand = found["reach"][0].numbers["hand"]
        attempt = next(one for one in site.attempts() if one.hand == hand)
        if hand not in site.hands:
            notes.append(f"hand {hand}")
        posture = attempt.witness.posture
        bones, is_left = site.bones(attempt, posture)
        notes += list(site.faults(bones, is_left, posture))
        notes += [
            f"{part} {left:g}" for part, _, left in site.rooms(bones, is_left) if left < -NEAR
        ]
        share, off, outside = site.seen(bones, is_left)
        if share < site.limits["visible_share"] - 0.15 or off > site.limits["sight_angle"] + 1e-6:
            notes.append(f"sees {share:g} at {off:g} rad")
        if outside > 1e-6:
            notes.append(f"{outside:g} rad outside of the field of view")
        yield opinion("reach", "B", found["reach"], not notes, "; ".join(notes))
        return
    bones = site.scene["_planted"].get("bones")
    if bones is None:
        yield opinion("reach", "B", found["reach"], None)
        return
    is_left = site.hands[0] == "left"
    clear = all(left > 1e-3 for _, _, left in site.rooms(bones, is_left))
    share, off, outside = site.seen(bones, is_left)
    sees = (
        share >= min(1.0, site.limits["visible_share"] + 0.1)
        and off < site.limits["sight_angle"] - 0.05
        and outside < -1e-3
    )
    good = True if clear and sees else None
    yield opinion("reach", "B", found["reach"], good, "the planted posture is clear and sees")


def _postures(site: Site, found: dict[str, list[Any]]) -> Iterator[Opinion]:
    """Measure the posture that each check speaks of."""
    planted = site.scene["_planted"].get("bones")
    is_left = site.hands[0] == "left"
    rooms = list(site.rooms(planted, is_left)) if planted is not None else []
    for check, name in (
        ("clearance", "clear_only"),
        ("glove", "clear_only"),
        ("sight", "seen_only"),
    ):
        if not found[check]:
            continue
        told = str(found[check][0].verdict)
        good: bool | None = None
        note = ""
        if told == "pass":
            attempt = next((a for a in site.attempts() if getattr(a, name) is not None), None)
            if attempt is None:
                yield opinion(check, "B", found[check], False, "no posture")
                continue
            bones, left_hand = site.bones(attempt, getattr(attempt, name).posture)
            if check == "sight":
                share, off, outside = site.seen(bones, left_hand)
                good = (
                    share >= site.limits["visible_share"] - 0.15
                    and off <= site.limits["sight_angle"] + 1e-6
                    and outside <= 1e-6
                )
                note = f"{share:g} at {off:g} rad, {outside:g} outside"
            else:
                bad = [
                    f"{part} {left:g}"
                    for part, kind, left in site.rooms(bones, left_hand)
                    if left < -NEAR and (check == "clearance" or kind == "hand")
                ]
                good, note = not bad, "; ".join(bad)
        elif planted is not None:
            if check == "sight":
                share, off, outside = site.seen(planted, is_left)
                sees = share == 1.0 and off < site.limits["sight_angle"] - 0.05 and outside < -1e-3
                good = True if sees else None
            else:
                clear = all(
                    left > 1e-3 for _, kind, left in rooms if check == "clearance" or kind == "hand"
                )
                good = True if clear and check == "clearance" else None
            note = "planted"
        yield opinion(check, "B", found[check], good, note)
    told = found["inner"]
    good = None if planted is None else True
    if told and str(told[0].verdict) != "fail":
        good = None
    yield opinion("inner", "B", told, good, "a planted posture is not too near")


def _access(site: Site, told: list[Any]) -> tuple[bool | None, str]:
    """Try the cylinder of bit and shaft with coal, and sweep the lever in small steps."""
    if not told:
        return None, ""
    bit = work_cases.BIT
    radius = max(site.tool["shaft"], bit["radius"]) + site.limits["access_gap"]
    length = bit["length"] + site.tool["shaft_length"]
    start = site.point + 0.004 * site.axis
    stop = site.point + length * site.axis

    def blocked(r: float) -> bool:
        size, at = space.capsule_pose(start, stop)
        rod = coal.Cylinder(r, size)
        return any(space.overlap(shape, world, rod, at) for shape, world in site.solids.values())

    good = not blocked(radius - 1e-5)
    tie = good != (not blocked(radius + 2e-3))
    swing = site.tool.get("swing")
    if swing is not None and good:
        free, least = _free_arc(site, stop, swing, -1e-5), swing["least_arc"]
        if free < least - 0.02:
            good = False
        elif _free_arc(site, stop, swing, 2e-3) < least + 0.05:
            tie = True
    return (None if tie and good else good), f"radius {radius:g} length {length:g}"


def _free_arc(site: Site, hub: Any, swing: Mapping[str, Any], more: float) -> float:
    """Return the longest arc in which a lever meets nothing, in steps of half a degree."""
    u = unit(np.cross(site.axis, [0.31, 0.57, 0.76]))
    v = np.cross(site.axis, u)
    n = 720
    free = []
    for t in np.arange(n) * 2 * math.pi / n:
        end = hub + swing["lever"] * (math.cos(t) * u + math.sin(t) * v)
        gaps = [
            space.apart(shape, at, hub, end, swing["radius"] + more)
            for shape, at in site.solids.values()
        ]
        free.append(min(gaps, default=1.0) > 0.0)
    if all(free):
        return 2 * math.pi
    run = best = 0
    for one in (*free, *free):
        run = run + 1 if one else 0
        best = max(best, run)
    return max(0, best - 1) * 2 * math.pi / n


def _plain(site: Site, found: dict[str, list[Any]]) -> Iterator[Opinion]:
    """Judge what is arithmetic: torque, push, load, effort, hand, fit, tools, light, touch."""
    f, action, tool = site.fastener, site.action, site.tool
    wanted = max(float(action.get("torque", f["torque"])), float(f.get("breakaway", 0.0)))
    name = "stand" if "stand" in site.scene["restraints"] else "plate"
    restraint = site.scene["restraints"][name]
    yield opinion("torque", "B", found["torque"],
                  _le(wanted, float(restraint["holds_torque"])), f"{wanted}")  # fmt: skip
    push = max(float(action.get("force", 0.0)), float(f.get("push", 0.0)))
    most = float(f.get("most_push", site.limits["handling_force"]))
    if push > 0.0:
        yield opinion("push", "B", found["push"], _le(push, most), f"{push} of {most}")
    yield from _load(site, found["load"], push, wanted)
    yield from _effort(site, found["effort"], push, wanted)
    allowed = f["hand"]
    yield opinion("hand", "B", found["hand"],
                  allowed == "either" or site.hands == [allowed], str(site.hands))  # fmt: skip
    strong = tool["torque"] >= wanted
    weak = tool.get("least_torque", 0.0) <= float(f.get("most_torque", math.inf))
    right = work_cases.BIT["head"] == f["head"]
    yield opinion("fit", "B", found["fit"], strong and weak and right, f"{strong} {weak} {right}")
    if "tools" in f:
        yield opinion("tool-class", "B", found["tool-class"], action["tool"] in f["tools"])
    if "temperature" in f:
        hot, cold = site.limits["touch_hot"], site.limits["touch_cold"]
        low, high = f["temperature"]
        yield opinion("touch", "B", found["touch"], low >= cold and high <= hot)
    dark = [one for one in site.windows.values() if one.get("dark")]
    begin, end = 600.0, 900.0
    is_dark = any(a < end and b > begin for one in dark for a, b in one["spans"])
    if found["light"] and not is_dark:
        yield opinion("light", "B", found["light"], True)
    elif is_dark:
        good: bool | None = None
        lamp = site.suit.lamp
        seen = [a for a in site.attempts() if a.seen_only is not None]
        if lamp is not None and seen:
            bones, is_left = site.bones(seen[0], seen[0].seen_only.posture)
            eye = site.to_world(eye_of(site.body, site.suit, bones), is_left)
            good = bool(np.linalg.norm(eye - site.point) <= lamp + NEAR)
        yield opinion("light", "B", found["light"], good)


def _le(value: float, limit: float) -> bool | None:
    """Return whether a value is within a limit; units are rounded, so a tie is not told apart."""
    if abs(value - limit) <= 1e-9 * max(1.0, abs(limit)) and value != limit:
        return None
    return value <= limit


def _turned_by_force(site: Site) -> float:
    """Return the lever of the tool that is turned by a force at the hand, else 0."""
    if site.tool["kind"] not in ("ratchet", "wrench"):
        return 0.0
    tip, axis = work_cases.tool_tip(site.action["tool"])
    return float(np.linalg.norm(tip - (tip @ axis) * axis))


def _load(site: Site, told: list[Any], push: float, torque: float) -> Iterator[Opinion]:
    """Turn the lever to every side and take force and moment on the place of the boots."""
    place = site.scene.get("sockets", site.scene.get("stations"))["P"]
    rating = place.get("rating")
    if rating is None:
        if "sockets" not in site.scene:
            return
        rating = {"force": site.limits["socket_force"], "moment": site.limits["socket_moment"]}
    at = moved(world_from(site.scene, "site"), place["at"])
    lever = _turned_by_force(site)
    tip, axis = work_cases.tool_tip(site.action["tool"])
    back = float(tip @ axis)
    u = unit(np.cross(site.axis, [0.31, 0.57, 0.76]))
    v = np.cross(site.axis, u)
    worst_force = worst_moment = 0.0
    for t in np.arange(0.0, 2 * math.pi, 0.02):
        side = math.cos(t) * u + math.sin(t) * v
        across = np.cross(site.axis, side)
        force, couple = push * site.axis, torque * site.axis
        grip = site.point + back * site.axis + lever * side
        moment = np.cross(site.point - at, force)
        if lever > 0.0:
            turning = torque / lever * across
            force = force + turning
            moment = moment + np.cross(grip - at, turning)
        else:
            moment = moment + couple
        worst_force = max(worst_force, float(np.linalg.norm(force)))
        worst_moment = max(worst_moment, float(np.linalg.norm(moment)))
    # All sides count for a pass; some may not happen, so that they prove no fail.
    good = worst_force <= float(rating["force"]) * (1 + 1e-9) and worst_moment <= float(
        rating["moment"]
    ) * (1 + 1e-9)
    felt = site.tool.get("felt", 1.0)
    certain = good or (felt == 1.0 and lever == 0.0)
    yield opinion("load", "B", told, good if certain or str(told[0].verdict) == "pass" else None,
                  f"{worst_force:g} N {worst_moment:g} N m")  # fmt: skip


def _effort(site: Site, told: list[Any], push: float, torque: float) -> Iterator[Opinion]:
    """Take moments at the joints of the posture told, from its numbers only what it is."""
    if not told or str(told[0].verdict) != "pass":
        yield opinion("effort", "B", told, None)
        return
    hand = told[0].numbers["hand"]
    attempt = next(one for one in site.attempts() if one.hand == hand)
    # The posture may be an easier one than the witness: the mark tells shoulder and grip alone,
    # so what any posture must bear, and the force at the hand, are held against the limits.
    strength = dict(STRENGTH[site.sex])
    strength["hand"] *= site.suit.grip_share
    lever, felt = _turned_by_force(site), site.tool.get("felt", 1.0)
    force = math.hypot(push, felt * torque / lever) if lever > 0.0 else push
    held = float(site.action.get("force", 0.0))
    peak, sustained = site.limits["effort_peak"], site.limits["effort_sustained"]
    bad = []
    if force > peak * strength["hand"] * (1 + 1e-9) or held > sustained * strength["hand"] * (
        1 + 1e-9
    ):
        bad.append(f"hand {force:g} N, {held:g} N held of {strength['hand']:g}")
    if lever == 0.0:
        for joint in ("shoulder", "elbow", "wrist"):
            if felt * torque > peak * strength[joint] * (1 + 1e-9):
                bad.append(f"{joint} {felt * torque:g}")
    (a, b) = (np.asarray(p) for p in told[0].marks[0].points)
    del b, attempt
    arm = float(np.linalg.norm(np.cross(site.point - a, push * site.axis)))
    if arm > peak * strength["shoulder"] * (1 + 1e-6):
        bad.append(f"shoulder {arm:g} N m of {strength['shoulder']:g} by the push alone")
    yield opinion("effort", "B", told, not bad, "; ".join(bad))
