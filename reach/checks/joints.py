"""Question. Do the crane's joints keep off their limits, and the arm off singular poses?

Asked of every place on a crane where a worker stands or where a motion ends, in the best of the
postures found there, and of every way of a crane. Two answers each: of the joint that is nearest
to its limit, and of singular poses (*singular*), where joints must turn fast for the tip to move.

Margin. Joints: least distance of a joint from its limit, less the reserve, in rad. Singular: the
smallest singular value of how joints move the tip, lengths as shares of the full reach, less the
reserve. Between two postures of a way all joints move evenly: distances from limits are least at
its postures, singular values are bracketed.

Limit. ``joint_reserve``; ``singular_reserve``.

Blind spots. Branches are searched for, not enumerated: a shortfall of the best one found is
*open*, never a fail, since another may be better. Of an arm with a joint to spare the posture
looked at need not be the one its operator takes. Braking, bending and payload are left out; an
arm of fewer than six joints is not asked about singular poses.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from reach.checks.carrying import finding_of_carriage, leg_words, not_asked_of_carriage
from reach.checks.craning import (
    Stand,
    The,
    arm_marks,
    no_way,
    stands,
    the,
    travels,
    unknown_arm,
    unknown_hold,
)
from reach.checks.wording import NAN, SURE
from reach.crane import CraneAt, rig_of
from reach.crane.along import least_singular
from reach.finding import Finding, Limit
from reach.payload.crane_way import CraneWay, change_before, crane_way_of
from reach.site import Carriage, Site, Situation
from reach.units import text_of

NAME = "joints"
IDS = ("M2",)
TAKES = "both"

SINGULAR = "singular"
_LEAST = 6


def find(
    site: Site, situations: Sequence[Situation], carriages: Sequence[Carriage] = ()
) -> list[Finding]:
    """Return two findings for each place on a crane, and two for each way of a crane."""
    found: list[Finding] = []
    for stand in stands(site, situations, carriages):
        found += _place(site, stand)
    for carriage in travels(carriages):
        found += _way(site, carriage)
    return found


def _place(site: Site, stand: Stand) -> list[Finding]:
    there = stand.answer(site)
    if there is None:
        return [stand.finding(NAME, unknown_arm(stand.crane), NAN, NAN, "rad")]
    if there.shortage > 0.0:
        because = f"{stand.place} is proved out of reach of {the(stand.crane)}."
        return [stand.finding(NAME, because, NAN, NAN, "rad")]
    if there.best is None:
        because = (
            f"No posture was found in which {the(stand.crane)} holds its tip at {stand.place}, "
            "which is no proof that there is none."
        )
        return [stand.finding(NAME, because, -math.inf, math.inf, "rad")]
    return [one for one in (_limits(site, stand, there), _singular(site, stand, there)) if one]


def _limits(site: Site, stand: Stand, there: CraneAt) -> Finding:
    best, reserve = there.best, site.limit("joint_reserve")
    assert best is not None
    joint = there.rig.joints[best.tightest]
    kept = float(best.posture.from_limits[best.tightest])
    because = (
        f"{The(stand.crane)} at {stand.place}: {joint} is {text_of(kept, 'rad')} from its limit "
        f"in {_which(there)}; {text_of(reserve.value, 'rad')} are kept."
    )
    numbers = {
        "joint": joint,
        "branches": len(there.branches),
        "posture": dict(zip(there.rig.joints, map(float, best.posture.q), strict=True)),
    }
    return stand.finding(
        NAME, because, *_known(best.joint_margin), "rad", (reserve,),
        _turn(best.joint_margin, stand.place), arm_marks(there.rig, best.posture.q),
        numbers=numbers,
    )  # fmt: skip


def _singular(site: Site, stand: Stand, there: CraneAt) -> Finding | None:
    best, reserve = there.best, site.limit("singular_reserve")
    assert best is not None
    if there.rig.chain.n < _LEAST:
        return None
    because = (
        f"{The(stand.crane)} at {stand.place} is {best.posture.singular:.3f} from singular poses "
        f"in {_which(there)}; {reserve.value:.3f} is kept."
    )
    return stand.finding(
        NAME, because, *_known(best.singular_margin), "", (reserve,),
        _turn(best.singular_margin, stand.place),
        numbers={"answer": SINGULAR, "singular": best.posture.singular},
    )  # fmt: skip


def _which(there: CraneAt) -> str:
    n = len(there.branches)
    return "the one posture found" if n == 1 else f"the best of {n} branches found"


def _known(margin: float) -> tuple[float, float]:
    """Return the interval of a margin of the best posture found: short of it nothing is proved."""
    return (margin - SURE, margin + SURE) if margin >= 0.0 else (margin - SURE, math.inf)


def _turn(margin: float, place: str) -> str:
    return f"Turn or move {place}, or look for a better posture." if margin < 0.0 else ""


def _way(site: Site, carriage: Carriage) -> list[Finding]:
    if rig_of(site, carriage.crane, carriage.surroundings) is None:
        return [not_asked_of_carriage(NAME, carriage, unknown_arm(carriage.crane), "rad")]
    way = crane_way_of(site, carriage)
    crane = the(carriage.crane)
    if way is None:
        return [unknown_hold(NAME, carriage, "rad")]
    if way.shortage > 0.0:
        because = f"The way is proved out of reach of {crane}."
        return [not_asked_of_carriage(NAME, carriage, because, "rad")]
    if not len(way.q) or not math.isnan(way.stuck_at):
        because = no_way(way, carriage.crane)
        return [
            finding_of_carriage(NAME, carriage, because, -math.inf, math.inf, "rad",
                                numbers={"answer": "way"})
        ]  # fmt: skip
    return [_way_limits(site, carriage, way), *_way_singular(site, carriage, way)]


def _way_limits(site: Site, carriage: Carriage, way: CraneWay) -> Finding:
    chain, reserve = way.chain, site.limit("joint_reserve")
    from_limits = np.minimum(way.q - chain.lower, chain.upper - way.q)
    row, joint = np.unravel_index(int(from_limits.argmin()), from_limits.shape)
    kept = float(from_limits[row, joint])
    name = chain.arm.moving[int(joint)].name
    because = (
        f"{The(carriage.crane)} {leg_words(carriage, float(way.at[row]))}: {name} is "
        f"{text_of(kept, 'rad')} from its limit, the least on the way found; "
        f"{text_of(reserve.value, 'rad')} are kept."
    )
    margin = kept - reserve.value
    rig = rig_of(site, carriage.crane, carriage.surroundings)
    assert rig is not None
    return finding_of_carriage(
        NAME, carriage, because, *_known(margin), "rad", (reserve,), _lead(margin),
        arm_marks(rig, way.q[row]),
        {"answer": "way", "joint": name, "at": float(way.at[row]), "postures": len(way.q)}
        | _change(site, carriage),
    )  # fmt: skip


def _change(site: Site, carriage: Carriage) -> dict[str, Any]:
    """Return by how much the crane changes its posture before a way; empty where not known."""
    change = change_before(site, carriage)
    if change is None:
        return {}
    return {"way before": change[0], "change of posture before it": change[1]}


def _way_singular(site: Site, carriage: Carriage, way: CraneWay) -> list[Finding]:
    if way.chain.n < _LEAST:
        return []
    reserve: Limit = site.limit("singular_reserve")
    least = least_singular(way.chain, way.q)
    k = min(int(least.at), max(len(way.q) - 2, 0))
    step = float(way.at[k + 1] - way.at[k]) if len(way.q) > 1 else 0.0
    at = float(way.at[k]) + (least.at - k) * step
    because = (
        f"{The(carriage.crane)} {leg_words(carriage, at)} is {least.high:.3f} from singular poses, "
        f"the least on the way found ({least.low:.3f} is proved); {reserve.value:.3f} is kept."
    )
    low = least.low - reserve.value
    high = least.high - reserve.value if low >= 0.0 else math.inf
    return [
        finding_of_carriage(
            NAME, carriage, because, low - SURE, high + SURE, "", (reserve,), _lead(low),
            numbers={"answer": f"{SINGULAR} on the way", "singular": least.high, "at": at},
        )
    ]  # fmt: skip


def _lead(margin: float) -> str:
    return "Lead another way, or begin it in another posture." if margin < 0.0 else ""
