"""Question. Does the crane reach, with a reserve, where its tip has to be?

Asked once of every place on a crane where a worker stands, of every place where a motion of the
crane ends, and of its way there.

Margin. Metres between what may be used of the full reach and the distance from the base's origin
to the tip; on a way at its farthest moment, as a bracket. The full reach is the sum of the link
lengths, which no posture exceeds, so a fail is proved by distance alone. A pass needs a posture
within the joint limits as well; none found is *open*, however near the place is.

Limit. ``crane_reserve``, a share of the full reach that is kept.

Blind spots. That a posture exists says nothing of joints near their limits, of links near
structure or of how it gets there: *joints* and *links* do. A crane under load bends; here it is
stiff. A way between two stations is the one on which all joints move evenly between the postures
found; another program of the joints takes another way.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from reach.arm import tip_poses
from reach.checks.carrying import (
    finding_of_carriage,
    has_no_way,
    is_way_known,
    leg_words,
    not_asked_of_carriage,
)
from reach.checks.craning import (
    Stand,
    reach_mark,
    stands,
    the,
    travels,
    unknown_arm,
    unknown_hold,
)
from reach.checks.wording import NAN, SURE, at_least, enough
from reach.crane import Rig, rig_of
from reach.crane.along import Extreme, farthest_asked, farthest_moved, tip_track
from reach.finding import Finding
from reach.geometry import inverse
from reach.payload.crane_way import CraneWay, crane_way_of
from reach.site import Carriage, Site, Situation
from reach.units import text_of

NAME = "crane-reach"
IDS = ("M1",)
TAKES = "both"


def find(
    site: Site, situations: Sequence[Situation], carriages: Sequence[Carriage] = ()
) -> list[Finding]:
    """Return one finding for each place on a crane, and one for each way of a crane."""
    found = [_place(site, stand) for stand in stands(site, situations, carriages, of_body=False)]
    asked = set()
    for carriage in travels(carriages):
        if id(carriage.action) not in asked:
            asked.add(id(carriage.action))
            found += _way(site, carriage)
    # Which body rides makes no difference.
    return [replace(finding, case="") for finding in found]


def _place(site: Site, stand: Stand) -> Finding:
    there = stand.answer(site)
    if there is None:
        return stand.finding(NAME, unknown_arm(stand.crane), NAN, NAN, "m")
    rig, reserve = there.rig, site.limit("crane_reserve")
    left = (1.0 - reserve.value) * rig.full_reach - there.distance
    words = (
        f"At {stand.place} the tip of {the(rig.name)} is {_used(there.distance, rig)}; "
        f"{_percent(1.0 - reserve.value)} may be used"
    )
    low, high, fix = left - SURE, left + SURE, ""
    if high < 0.0:
        fix = f"Bring {stand.place} at least {enough(-left)} nearer to the base of {the(rig.name)}."
    elif there.shortage > 0.0:
        low, high = -math.inf, -there.shortage
        short = at_least(there.shortage)
        words += f"; proved out of reach, by {short} at least"
        fix = f"Move {stand.place}: the links do not come so near to the base."
    elif not there.branches:
        low = -math.inf
        words += "; no posture was found within the joint limits, which is no proof"
        fix = f"Turn or move {stand.place} so that a posture is found."
    tip = stand.world_from_boots @ inverse(rig.tip_from_boots)
    return stand.finding(
        NAME, f"{words}.", low, high, "m", (reserve,), fix,
        (reach_mark(rig, tip[:3, 3], high < 0.0),),
        numbers=_numbers(rig, there.distance, there.shortage)
        | {"answer": "", "branches": len(there.branches)},
    )  # fmt: skip


def _way(site: Site, carriage: Carriage) -> list[Finding]:
    rig = rig_of(site, carriage.crane, carriage.surroundings)
    if rig is None:
        return [not_asked_of_carriage(NAME, carriage, unknown_arm(carriage.crane))]
    if carriage.payload_from_tip is None:
        return [unknown_hold(NAME, carriage, "m")]
    way = crane_way_of(site, carriage)
    far, at = _farthest(carriage, rig, way)
    reserve = site.limit("crane_reserve")
    allowed = (1.0 - reserve.value) * rig.full_reach
    low, high, fix = allowed - far.high - SURE, allowed - far.low + SURE, ""
    moved = way is not None and len(way.q) > 1
    if not carriage.payload and not moved and high < 0.0 and at >= len(carriage.poses) - 1:
        return []  # Its end is asked as a place, and fails as one.
    # The end is asked as a place: what counts here is the way to it.
    words = (
        f"The tip of {the(rig.name)} is farthest {leg_words(carriage, at)}, {_used(far.low, rig)}; "
        f"{_percent(1.0 - reserve.value)} may be used"
    )
    short = 0.0 if way is None else way.shortage
    if high < 0.0 and not is_way_known(carriage):
        # The way was chosen, not written: it proves nothing about others.
        low, high, words = -math.inf, math.inf, f"{words}; another way may stay nearer"
    elif high < 0.0:
        fix = f"Lead the way {enough(-low)} nearer to the base of {the(rig.name)}."
    elif short > 0.0 and not is_way_known(carriage):
        low = -math.inf
        words += f"; proved out of reach there, by {at_least(short)}, but another way may be in it"
    elif short > 0.0:
        low, high = -math.inf, -short
        words += f"; proved out of reach, by {at_least(short)} at least"
        fix = "Lead the way where the links come."
    elif way is None or not len(way.q) or not math.isnan(way.stuck_at):
        low = -math.inf
        words += f"; {_why(way)}"
        fix = "Lead another way, or take it up in other poses."
    elif has_no_way(site, carriage):
        low, words = -math.inf, f"{words}; the way is left blank, and none was found"
    tip = _tip_at(carriage, rig, way, far, at)
    marks = () if tip is None else (reach_mark(rig, tip, high < 0.0),)
    return [finding_of_carriage(
        NAME, carriage, f"{words}.", low, high, "m", (reserve,), fix, marks,
        numbers=_numbers(rig, far.low, short) | {"answer": "way", "at": at},
    )]  # fmt: skip


def _farthest(carriage: Carriage, rig: Rig, way: CraneWay | None) -> tuple[Extreme, float]:
    """Return the farthest that the tip comes, and where on the way of the carriage."""
    moved = way is not None and len(way.q) > 1
    if carriage.payload or not moved:
        far = farthest_asked(carriage, rig.world_from_base[:3, 3])
        if carriage.payload:
            return far, far.at
        # Where joints are not known only the places themselves are.
        assert carriage.payload_from_tip is not None
        ends = carriage.poses @ carriage.payload_from_tip
        away = np.linalg.norm(ends[:, :3, 3] - rig.world_from_base[:3, 3], axis=1)
        k = int(away.argmax())
        return Extreme(float(away[k]), float(away[k]), float(k)), float(k)
    assert way is not None
    far = farthest_moved(way.chain, way.q)
    k = min(int(far.at), len(way.q) - 2)
    return far, float(way.at[k] + (far.at - k) * (way.at[k + 1] - way.at[k]))


def _tip_at(
    carriage: Carriage, rig: Rig, way: CraneWay | None, far: Extreme, at: float
) -> np.ndarray | None:
    if carriage.payload:
        leg = min(int(at), len(carriage.legs) - 1)
        return np.asarray(tip_track(carriage, leg, np.array([at - leg]))[0])
    if way is None or len(way.q) < 2:
        assert carriage.payload_from_tip is not None
        return np.asarray((carriage.poses[int(at)] @ carriage.payload_from_tip)[:3, 3])
    k = min(int(far.at), len(way.q) - 2)
    q = way.q[k] + (far.at - k) * (way.q[k + 1] - way.q[k])
    return np.asarray((rig.world_from_base @ tip_poses(way.chain, q)[0])[:3, 3])


def _why(way: CraneWay | None) -> str:
    if way is None or not way.why:
        return "no postures were found that take it there, which is no proof"
    words = way.why.rstrip(".")
    return f"{words[0].lower()}{words[1:]}, which is no proof"


def _used(distance: float, rig: Rig) -> str:
    return (
        f"{text_of(distance, 'm')} from its base, {_percent(distance / rig.full_reach)} of its "
        f"full reach of {text_of(rig.full_reach, 'm')}"
    )


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f} %"


def _numbers(rig: Rig, distance: float, shortage: float) -> dict[str, Any]:
    return {
        "base to tip": distance,
        "full reach": rig.full_reach,
        "reach used": distance / rig.full_reach,
        "shortage": max(shortage, 0.0),
    }
