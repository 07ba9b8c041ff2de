"""Question. If the worker lets go on a move, is there a hazard that they may drift into?

Margin. Minus the number of hazards that the body may drift into on the slack from some point of the
way, and that do not say how they are controlled. Exact: all who let go on a rail stay in the ball
round the point held, of the slack and the body; what that ball just touches, and a round hazard
that it touches only if the facets lack so much, counts at the low end.

Limit. None but 0; ``tether_slack`` is the free length, ``stand_off`` of a hazard counts to it. Of a
way that is planned no fail is proved: another may lead by less.

Blind spots. The line is taken to run through the hand's last grip; where it does not, they drift
farther, at most in the ball of the whole line round its anchor: every hazard in that is listed too,
of each line that is worn.
Structure, which stops a drift, is left out, and so is how hard they arrive. Hazards that are not
active while the step lasts do not count.
"""

from __future__ import annotations

import numpy as np

from reach.checks.moving import moves
from reach.checks.wording import ANOTHER_WAY, SURE, finding_on, not_asked, point, who
from reach.finding import Finding, Mark
from reach.geometry import capsule_clearance, segment_distance
from reach.lines import swing
from reach.site import Site, Situation
from reach.travel.body_ball import ball_of, middle_of
from reach.travel.ground import spot_in
from reach.travel.hazards import Met, met
from reach.travel.path import moves_of, path_of
from reach.travel.sides import corridor_of
from reach.travel.stance import mover_of
from reach.units import text_of

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
    if not legs:
        return not_asked(NAME, situation, "The way follows no rail.", "")
    # Slack lies between the grip and the body, which starts as far off the rail as it is held.
    slack = site.limit("tether_slack")
    body = ball_of(mover_of(site, situation)) + _held_off(site, situation)
    held = np.array([[leg.start, leg.stop] for leg in legs], float)
    reach = slack.value + body
    near = {one.name: one for one in hazards if _drifts(one, held, reach + one.error + SURE)}
    bad = [one for one in near.values() if not one.record.control]
    trees = [(one.name, one.tree, one.record.stand_off + one.error) for one in hazards]
    far: dict[str, None] = {}
    for line in lines:
        anchor = np.asarray(spot_in(site, situation, line.anchor).point)
        far |= {one.name: None for one in swing(anchor, line.length, body, trees) if one.low < 0.0}
    because = (
        f"{who(situation)}, who lets go with {text_of(slack.value, 'm')} of slack, may drift into "
        f"{_listed(near)}."
    )
    names = " and ".join(one.name for one in bad)
    fix = f"Say how {names} is controlled, or go by another way." if bad else ""
    marks = tuple(_mark(one, held, reach) for one in bad)
    # The true surface may stand as far out as the error, it need not.
    sure = [one for one in bad if _drifts(one, held, reach - SURE)]
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
        {"near": list(near), "in the whole swing": list(far), "body": body},
    )


def _held_off(site: Site, situation: Situation) -> float:
    """Return the farthest that the middle of the body is held off its grip, m."""
    corridor = corridor_of(site, situation)
    if corridor is None:
        return 0.0
    middle = float(np.linalg.norm(middle_of(corridor.mover)))
    return middle + max(float(np.linalg.norm(corridor.off(rail))) for rail in corridor.offsets)


def _listed(near: dict[str, Met]) -> str:
    if not near:
        return "no hazard"
    return ", ".join(
        f"{name} ({one.record.control or 'not controlled'})" for name, one in near.items()
    )


def _drifts(hazard: Met, held: np.ndarray, reach: float) -> bool:
    asked = reach + hazard.record.stand_off
    return bool((capsule_clearance(hazard.tree, held[:, 0], held[:, 1], asked) < 0.0).any())


def _mark(hazard: Met, held: np.ndarray, reach: float) -> Mark:
    """Return the ball round the point of the way that is nearest to a hazard."""
    nearest = segment_distance(hazard.tree, held[:, 0], held[:, 1])
    at = nearest.on_query[int(np.argmin(nearest.distance))]
    return Mark("sphere", (point(at),), f"drift to {hazard.name}", reach, bad=True)
