"""Question. Can each gap from rail to rail be crossed hand over hand on the way that is taken?

Margin. Metres between the widest gap of the way and the smaller of the limit and what the body
spans from hand to hand with both on a rail.

Limit. ``rail_gap``, and the span of the arms in the suit: at least what a found posture spans,
at most shoulders and two straight arms.

Blind spots. Gaps are taken between the nearest points of two rails, whichever way the body
goes; the strength of one arm, the grip on the far rail before the near one is let go, and what
stands between the rails are left out (see corridor and passing).
"""

from __future__ import annotations

from reach.checks.moving import moves, not_asked_move, widest_leg
from reach.checks.wording import SURE, finding_on, point, who
from reach.finding import Finding, Mark
from reach.site import Site, Situation
from reach.travel.ground import body_span, gap_limit
from reach.travel.path import Path, path_of
from reach.units import text_of

NAME = "gap"
IDS = ("E1",)


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each move and body."""
    return [_finding(site, situation) for situation in moves(situations)]


def _finding(site: Site, situation: Situation) -> Finding:
    path = path_of(site, situation)
    if path.route is None:
        return not_asked_move(NAME, situation, "There is no way to look at.")
    leg = widest_leg(path.route)
    if leg is None:
        return not_asked_move(NAME, situation, "The way crosses no gap between rails.")
    limit, span = gap_limit(site), body_span(site, situation)
    low = min(limit.value, span.low) - leg.length
    high = min(limit.value, span.high) - leg.length
    because = (
        f"On the way of {who(situation)} the widest gap is {text_of(leg.length, 'm')}, from "
        f"{leg.rail} to {leg.to_rail}; {_least(limit.value, span.low)}."
    )
    mark = Mark("segment", (point(leg.start), point(leg.stop)), f"gap {leg.length:.2f} m")
    return finding_on(
        NAME,
        situation,
        because,
        low - SURE,
        high + SURE,
        "m",
        (limit,),
        _fix(path) if high < 0.0 else "",
        (Mark(mark.kind, mark.points, mark.label, bad=high < 0.0),),
        numbers={"gap": leg.length, "spanned at least": span.low, "spanned at most": span.high},
    )


def _least(limit: float, span: float) -> str:
    if limit <= span:
        return f"{text_of(limit, 'm')} is the limit (the arms span {text_of(span, 'm')})"
    return f"the arms span {text_of(span, 'm')} (the limit is {text_of(limit, 'm')})"


def _fix(path: Path) -> str:
    """Name the way whose gaps can be crossed, else where a handhold closes this one."""
    route = path.route
    assert route is not None
    leg = widest_leg(route)
    assert leg is not None
    if path.planned is not None:
        new = [rail for rail in path.planned.rails if rail not in route.rails]
        more = path.planned.length - route.length
        by = ", ".join(new or path.planned.rails)
        length = f"{text_of(abs(more), 'm')} {'more' if more > 0.0 else 'less'}"
        return f"Go by {by}: {length}, no gap wider than {text_of(path.planned.widest, 'm')}."
    return f"Add a handhold half-way between {leg.rail} and {leg.to_rail}, if that is enough."
