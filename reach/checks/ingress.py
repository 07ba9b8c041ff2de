"""Question. Can the worker get into the restraint and out of it again, at this setting?

Two answers. *Boots*: they turn out about the sole normal by the restraint's ``boot_twist``, to a
side it allows, and legs, trunk and folded arms stay clear all the way. *Hand*: a rated handrail,
or the restraint's own handle, is within reach of a hand of the worker who stands there.

Margin. Boots: metres beyond the clearance asked, the least over the whole turn, as a lower bound
(between two angles nothing comes nearer than half its arc). Hand: at least 0 when a posture that
holds on is found; when every rail lies beyond the outer reach sphere, so many metres at least.

Limit. ``body_clearance`` and ``arm_clearance`` and the stand-off of hazards for the boots, the
joint ranges of the suit and ``grip_tolerance`` for the hand.

Blind spots. The body turns as it rests, in one piece; what a knee or a hip could do is left out,
as are the boots below ``boot_height``, ankles that must turn in the boot, and the force it takes.
The hand is judged by joint limits alone, not by clearance or sight; grips on a payload do not
count. How the worker comes to the
restraint is not looked at. A fail of the boots says that every trunk posture is refuted at the
start or at the end of the turn.
"""

from __future__ import annotations

import math
from dataclasses import replace

from reach.checks.wording import (
    SURE,
    at_least,
    blank,
    enough,
    finding_on,
    not_asked,
    point,
    standing,
    who,
)
from reach.finding import Finding, Mark
from reach.holding import hold_of, rails_of
from reach.kept.noting import step_of
from reach.model.procedure import Ingress
from reach.resting import Resting, resting_of
from reach.site import Site, Situation
from reach.turning import Swept, swept_room, turned_pose
from reach.units import text_of

NAME = "ingress"
IDS = ("A9",)

WAYS = {"left": 1.0, "right": -1.0}


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return two findings for each ingress and each step that sets a restraint, for each body."""
    seen = set()
    found = []
    for situation in situations:
        key = (step_of(situation), situation.worker, situation.case)
        asked = isinstance(situation.action, Ingress) or situation.sets_restraint
        if asked and key not in seen:
            seen.add(key)
            found += _findings(site, situation)
    return found


def _findings(site: Site, situation: Situation) -> list[Finding]:
    place = situation.place
    if place is None:
        return [not_asked(NAME, situation, "The step names no place to work from.")]
    if place.restraint.boot_twist is None:
        because = f"{place.restraint_name} does not say how boots come out of it."
        return [not_asked(NAME, situation, because)]
    missing = blank(situation)
    if missing:
        return [_unsettled(situation, missing)]
    return [_boots(site, situation, place.restraint.boot_twist), _hand(site, situation)]


def _unsettled(situation: Situation, because: str) -> Finding:
    return finding_on(NAME, situation, because, -math.inf, math.inf, "m")


def _boots(site: Site, situation: Situation, twist: float) -> Finding:
    place = situation.place
    assert place is not None
    rest = _resting(site, situation)
    allowed = (
        ("left", "right") if place.restraint.twist_to == "either" else (place.restraint.twist_to,)
    )
    swept = {side: _swept(site, situation, rest, twist, side) for side in WAYS}
    side = max(allowed, key=lambda one: (round(swept[one].low, 9), one == situation.own_hand))
    best = swept[side]
    base = f"{who(situation)} {standing(situation)} turns the boots out"
    limits = (site.limit("body_clearance"), site.limit("arm_clearance"))
    if best.low < 0.0 and all(_is_refuted(rest, WAYS[one] * twist) for one in allowed):
        because = f"{base} by {text_of(twist, 'rad')} only with a part too close to the structure."
        fix = _other_side(swept, allowed) or "Choose a setting or a socket with more room."
        return finding_on(NAME, situation, because, -math.inf, -SURE, "m", limits, fix)
    good = best.low >= 0.0
    because = (
        f"{base} by {text_of(twist, 'rad')} to the {side}: the {rest.names[best.part]} has "
        f"{at_least(best.low) + ' more' if good else enough(-best.low) + ' less'} than the "
        "clearance asked."
    )
    return finding_on(
        NAME,
        situation,
        because,
        best.low - SURE if good else -math.inf,
        best.high + situation.surroundings.error + SURE if good else math.inf,
        "m",
        limits,
        "" if good else _other_side(swept, allowed) or "Choose a setting or socket with more room.",
        (_part_mark(rest, best, not good),),
        {"answer": "boots", "side": side, "turn": best.angle, "part": rest.names[best.part]},
    )


def _other_side(swept: dict[str, Swept], allowed: tuple[str, ...]) -> str:
    clear = [side for side in WAYS if side not in allowed and swept[side].low >= 0.0]
    return f"Turn them out to the {clear[0]}, where it is clear." if clear else ""


def _resting(site: Site, situation: Situation) -> Resting:
    place = situation.place
    assert place is not None
    assert place.world_from_boots is not None
    key = ("resting", *_who_and_where(situation, place.world_from_boots.tobytes()))
    if key not in site.memo:
        site.memo[key] = resting_of(site, situation)
    found: Resting = site.memo[key]
    return found


def _swept(site: Site, situation: Situation, rest: Resting, twist: float, side: str) -> Swept:
    key = ("swept", id(rest), side, twist)
    if key not in site.memo:
        around = situation.surroundings
        site.memo[key] = rest, swept_room(rest, around, WAYS[side] * twist)
    found: Swept = site.memo[key][1]
    return found


def _who_and_where(situation: Situation, pose: bytes) -> tuple[object, ...]:
    return pose, situation.worker, situation.case, id(situation.surroundings)


def _is_refuted(rest: Resting, angle: float) -> bool:
    """Whether no trunk posture is clear with the boots in, or with them turned out."""
    if rest.refuted.proved:
        return True
    return replace(rest, world_from_boots=turned_pose(rest, angle)).refuted.proved


def _part_mark(rest: Resting, swept: Swept, bad: bool) -> Mark:
    pose = turned_pose(rest, swept.angle)
    capsule = rest.capsules[swept.part]
    ends = [point(pose[:3, :3] @ capsule[k : k + 3] + pose[:3, 3]) for k in (0, 3)]
    label = f"{rest.names[swept.part]} as the boots turn"
    return Mark("capsule", (ends[0], ends[1]), label, float(capsule[6]), bad)


def _hand(site: Site, situation: Situation) -> Finding:
    rails = rails_of(site, situation)
    place = situation.place
    assert place is not None
    assert place.world_from_boots is not None
    if not rails:
        return not_asked(NAME, situation, "The scene has no rated handrail to hold on to.")
    key = ("hold", *_who_and_where(situation, place.world_from_boots.tobytes()))
    if key not in site.memo:
        site.memo[key] = hold_of(site, situation, rails)
    hold = site.memo[key]
    base = f"{who(situation)} {standing(situation)}"
    mark = Mark("point", (point(hold.point),), hold.rail, bad=hold.short > 0.0)
    limits = (site.limit("grip_tolerance"),)
    numbers = {"answer": f"hold on {hold.rail}", "rail": hold.rail, "hand": hold.hand}
    if hold.hand:
        because = f"{base} holds on to {hold.rail} with the {hold.hand} hand (joint limits)."
        return finding_on(
            NAME, situation, because, 0.0, math.inf, "m", limits, "", (mark,), numbers
        )
    if hold.short > 0.0:
        short = at_least(hold.short)
        because = f"{base} has nothing to hold: {hold.rail} is nearest, {short} too far at least."
        fix = f"Bring a handhold at least {short} nearer than {hold.rail}."
        return finding_on(
            NAME, situation, because, -math.inf, -hold.short, "m", limits, fix, (mark,), numbers
        )
    because = f"{base}: no hold was found, and {hold.rail} is not excluded."
    fix = f"Choose a setting that faces {hold.rail}, or add a handhold."
    return finding_on(
        NAME, situation, because, -math.inf, math.inf, "m", limits, fix, (mark,), numbers
    )
