"""Question. Does any way along rails lead from the one place to the other for this body?

Margin. Metres between the smaller of the limit on gaps and what the body spans, and the widest
gap of the way found; short by what the narrowest gap that must be crossed is too wide.

Limit. ``rail_gap``, the span of the arms, and ``place_span`` from a place to a rail.  A fail is a
proof: every rail that can be got to from the start is known, and none reaches the other place.

Blind spots. Whether a handhold can be fixed where the fix puts it is not looked at.  Only rails
and handholds of the scene count, not structure that could be held; free
room and the safety line along the way are judged by corridor, passing and tether.
"""

from __future__ import annotations

import math

from reach.checks.moving import moves
from reach.checks.wording import SURE, UNKNOWN, finding_on, point, who
from reach.finding import Finding, Mark
from reach.rails.proof import NoRoute
from reach.site import Site, Situation
from reach.travel.ground import body_span, gap_limit
from reach.travel.path import path_of
from reach.units import text_of

NAME = "route"
IDS = ("E2",)

_SHOWN = 6
"""Rails that can be got to are named up to so many."""


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each move and body."""
    return [_finding(site, situation) for situation in moves(situations)]


def _finding(site: Site, situation: Situation) -> Finding:
    path, passage = path_of(site, situation), situation.passage
    assert passage is not None
    if path.planned is None:
        return _none(site, situation, path.none)
    route = path.planned
    room = path.gap - route.widest
    gaps = f"no gap wider than {text_of(route.widest, 'm')}" if route.widest else "no gap"
    because = (
        f"The shortest way of {who(situation)} from {passage.start} to {passage.stop} is by "
        f"{', '.join(route.rails) or 'no rail at all'}: {text_of(route.length, 'm')}, {gaps}."
    )
    return finding_on(
        NAME, situation, because, room - SURE, room + SURE, "m",
        (gap_limit(site), site.limit("place_span")),
        numbers={"length": route.length, "widest gap": route.widest},
    )  # fmt: skip


def _none(site: Site, situation: Situation, none: NoRoute | None) -> Finding:
    passage = situation.passage
    assert passage is not None
    limits = (gap_limit(site), site.limit("place_span"))
    if none is None:
        span = body_span(site, situation)
        because = (
            f"No way from {passage.start} to {passage.stop} is found for {who(situation)} at gaps "
            f"of {text_of(span.low, 'm')}; arms of {text_of(span.high, 'm')} would do."
        )
        return finding_on(NAME, situation, because, -UNKNOWN, UNKNOWN, "m", limits)
    because = (
        f"No rails lead {who(situation)} from {passage.start} to {passage.stop}: from there only "
        f"{_listed(none.from_start)} can be got to, and {_listed(none.from_stop)} from the other "
        "end."
    )
    short = max((gap.width - gap.limit for gap in none.gaps), default=math.inf)
    return finding_on(
        NAME,
        situation,
        because,
        -UNKNOWN if math.isinf(short) else -short - SURE,
        -SURE if math.isinf(short) else min(-SURE, -short + SURE),
        "m",
        limits,
        _fix(none),
        tuple(
            Mark("segment", (point(gap.start), point(gap.stop)), f"gap {gap.width:.2f} m", bad=True)
            for gap in none.gaps
        ),
        numbers={"bottleneck": none.bottleneck, "handholds missing": float(none.handholds)}
        if none.gaps
        else {},
    )


def _fix(none: NoRoute) -> str:
    """Return the least that joins both ends: handholds, or rails that are there but not free."""
    ways = []
    for gap in none.gaps:
        n = len(gap.handholds)
        what = "one more handhold" if n == 1 else f"{n} more handholds"
        closes = "closes" if n == 1 else "close"
        at = " and ".join("({:.2f}, {:.2f}, {:.2f})".format(*spot) for spot in gap.handholds)
        ways.append(
            f"{what} at {at} {closes} the gap of {text_of(gap.width, 'm')} between "
            f"{gap.names[0]} and {gap.names[1]}"
        )
    words = "; ".join(ways)
    parts = [f"{words[:1].upper()}{words[1:]}, if there is structure to fix it to."] if ways else []
    if none.freed:
        parts.append(f"Or free {' or '.join(none.freed)}.")
    elif none.freed_together:
        parts.append(f"Or free {' and '.join(none.freed_together)} together.")
    return " ".join(parts) or "Add rails: none that is free leads there."


def _listed(rails: tuple[str, ...]) -> str:
    if not rails:
        return "no rail"
    more = f" and {len(rails) - _SHOWN} more" if len(rails) > _SHOWN else ""
    return ", ".join(rails[:_SHOWN]) + more
