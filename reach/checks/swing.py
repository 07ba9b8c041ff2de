"""Question. If the worker lets go on a move, is there a hazard that they may drift into?

Margin. Minus the number of hazards that the body may drift into on the slack from some point of the
way, and that do not say how they are controlled. Exact on a rail: who lets go stays in the ball
round the point held, of the slack and of all that the body then reaches. From rail to rail the hand
may be on either at any moment, which counts at the low end, as does what a ball just touches, and
a round hazard that it touches only if the facets lack so much.

Limit. None but 0; ``tether_slack`` is the free length, ``stand_off`` of a hazard counts to it. Of a
way that is planned no fail is proved, another may lead by less; nor of a hazard that is active only
if the step begins late.

Blind spots. The line is taken to run through the hand's last grip; where it does not, they drift
farther, at most in the ball of the whole line round its anchor: every hazard in that is listed too,
of each line that is worn from an anchor that stays where it is.
Structure, which stops a drift, is left out, and so is how hard they arrive. Hazards that are not
active while the step lasts do not count.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.checks.moving import moves
from reach.checks.wording import ANOTHER_WAY, SURE, finding_on, not_asked, point, who
from reach.finding import Finding, Mark
from reach.geometry import capsule_clearance, segment_distance
from reach.lines import swing
from reach.rails.route import Route
from reach.site import Site, Situation
from reach.travel.body_ball import ball_of, middle_of
from reach.travel.ground import on_crane, spot_in
from reach.travel.hazards import Met, met
from reach.travel.loops import middle_paths
from reach.travel.path import moves_of, path_of
from reach.travel.sides import corridor_of
from reach.travel.stance import mover_of
from reach.units import text_of

Array = NDArray[np.float64]

NAME = "swing"
IDS = ("G8",)


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each move and body."""
    return [_finding(site, situation) for situation in moves(situations)]


def _finding(site: Site, situation: Situation) -> Finding:
    lines, hazards = situation.worn, list(met(site, situation))
    if not lines:
        return not_asked(NAME, situation, f"No safety line of {situation.worker} is known.", "")
    if not hazards:
        return not_asked(NAME, situation, "There is no hazard to drift into.", "")
    path = path_of(site, situation)
    route = path.usable
    legs = moves_of(route) if route is not None else ()
    if route is None or not legs:
        return not_asked(NAME, situation, "The way follows no rail.", "")
    slack = site.limit("tether_slack")
    body = ball_of(mover_of(site, situation))
    holds = _holds(site, situation, route)
    free = slack.value + body
    near = {one.name: one for one in hazards if _drifts(one, holds, free, one.error + SURE)}
    bad = [one for one in near.values() if not one.record.control]
    trees = [(one.name, one.tree, one.record.stand_off + one.error) for one in hazards]
    known = [hold.least for hold in holds if math.isfinite(hold.least)]
    far: dict[str, None] = {}
    for line in lines:
        if on_crane(site, line.anchor):
            continue
        anchor = np.asarray(spot_in(site, situation, line.anchor).point)
        most = body + max(hold.most for hold in holds)
        far |= {one.name: None for one in swing(anchor, line.length, most, trees) if one.low < 0.0}
    because = (
        f"{who(situation)}, who lets go with {text_of(slack.value, 'm')} of slack, may drift into "
        f"{_listed(near)}."
    )
    names = " and ".join(one.name for one in bad)
    fix = f"Say how {names} is controlled, or go by another way." if bad else ""
    marks = tuple(_mark(one, holds, free) for one in bad)
    # The true surface may stand as far out as the error, it need not.
    sure = [one for one in bad if one.is_sure and _drifts(one, holds, free, None)]
    if sure and not path.is_proof:
        sure, because = [], because + ANOTHER_WAY
    return finding_on(
        NAME,
        situation,
        because,
        float(-len(bad)),
        float(-len(sure)),
        "",
        (slack,),
        fix,
        marks,
        {
            "near": list(near),
            "in the whole swing": list(far),
            "body": body,
            "off": [max(known) if known else None, max(hold.most for hold in holds)],
        },
    )


@dataclass(frozen=True, eq=False, slots=True)
class _Hold:
    """A stretch along which the line runs through the hand, and how far the body is off it, m.

    ``ends`` has shape (2, 3), m, world; the middle of the body is at least ``least`` off the hand
    at some moment, at most ``most``.  ``least`` is nan where the hand need not be there.
    """

    ends: Array
    least: float
    most: float


def _holds(site: Site, situation: Situation, route: Route) -> list[_Hold]:
    """Return where the hand holds on the way; between two rails it may be on either."""
    corridor = corridor_of(site, situation)
    if corridor is None or corridor.route is not route:
        # Of another way the sides are not known: as far off as on this one, and across its gaps.
        off = [] if corridor is None else [corridor.off(rail) for rail in corridor.offsets]
        far = max((float(np.linalg.norm(one)) for one in off), default=0.0)
        most = far + float(np.linalg.norm(middle_of(mover_of(site, situation)))) + route.widest
        legs = moves_of(route)
        return [_Hold(np.array([leg.start, leg.stop], float), np.nan, most) for leg in legs]
    middle, found = middle_of(corridor.mover), []
    (starts, stops), owner = corridor.poses, corridor.pieces[1]
    for i, one in enumerate(corridor.stretches):
        mine = np.flatnonzero(owner == i)
        paths = [middle_paths(starts[k], stops[k], middle) for k in mine]
        points = np.concatenate([path for lines, _ in paths for path in lines])
        bend = max(bend for _, bend in paths)
        own = (points[0] - one.start, points[-1] - one.stop)
        least = [float(np.linalg.norm(off)) for off in own]
        if one.is_along:
            # The body goes along as the hand does, without a turn.
            found.append(_Hold(np.array([one.start, one.stop]), min(least), max(least)))
            continue
        for grip, sure in zip((one.start, one.stop), least, strict=True):
            most = float(np.linalg.norm(points - grip, axis=1).max()) + bend
            found.append(_Hold(np.array([grip, grip]), sure, most))
    return found


def _listed(near: dict[str, Met]) -> str:
    if not near:
        return "no hazard"
    return ", ".join(
        f"{name} ({one.record.control or 'not controlled'})" for name, one in near.items()
    )


def _drifts(hazard: Met, holds: list[_Hold], free: float, more: float | None) -> bool:
    """Return whether the body may come to a hazard: ``more`` (m) than surely, None for surely."""
    for hold in holds:
        off = hold.least - SURE if more is None else hold.most + more
        asked = free + off + hazard.record.stand_off
        if math.isfinite(off) and _room(hazard, hold) < asked:
            return True
    return False


def _room(hazard: Met, hold: _Hold) -> float:
    """Return how far a hazard is from where the hand may be, m."""
    return float(capsule_clearance(hazard.tree, hold.ends[:1], hold.ends[1:], 0.0)[0])


def _mark(hazard: Met, holds: list[_Hold], free: float) -> Mark:
    """Return the ball round the hand in which a hazard lies deepest."""
    hold = min(holds, key=lambda one: _room(hazard, one) - one.most)
    nearest = segment_distance(hazard.tree, hold.ends[:1], hold.ends[1:])
    return Mark(
        "sphere", (point(nearest.on_query[0]),), f"drift to {hazard.name}", free + hold.most,
        bad=True,
    )  # fmt: skip
