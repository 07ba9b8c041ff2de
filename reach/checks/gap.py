"""Question. Can each span of the way be crossed: from rail to rail, and at both its ends?

Margin. Metres between the widest gap of the way and the smaller of the limit and what the body
spans from hand to hand with both on a rail; or between a place and the nearest point of the
rail that the way begins or ends with, where less is left of its limit.

Limit. ``rail_gap``, and the span of the arms in the suit: at least what a found posture spans,
at most shoulders and two straight arms.  ``place_span`` from a place.  A second answer fails
where the body is held farther off a rail than ``hold_reach``.

Blind spots. Gaps are taken between the nearest points of two rails, whichever way the body
goes; the strength of one arm, the grip on the far rail before the near one is let go, and what
stands between the rails are left out (see corridor and passing).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from reach.checks.moving import moves, widest_leg
from reach.checks.wording import SURE, finding_on, not_asked, point, who
from reach.finding import Finding, Limit, Mark
from reach.rails.route import Leg
from reach.site import Site, Situation
from reach.travel.ground import body_span, gap_limit
from reach.travel.path import Path, detour, longer_by, path_of
from reach.travel.sides import corridor_of
from reach.units import text_of

NAME = "gap"
IDS = ("E1",)


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each move and body, one more where the rail is out of its reach."""
    found = []
    for situation in moves(situations):
        found.append(_finding(site, situation))
        found += _not_held(site, situation)
    return found


def _not_held(site: Site, situation: Situation) -> list[Finding]:
    """Return a finding where the body is written farther off a rail than hands reach."""
    corridor, limit = corridor_of(site, situation), site.limit("hold_reach")
    if corridor is None:
        return []
    names = dict.fromkeys(name for one in corridor.stretches for name in (one.rail, one.to_rail))
    off = {name: float(np.linalg.norm(corridor.off(name))) for name in names}
    name = max(off, key=lambda one: off[one])
    margin = limit.value - off[name]
    if margin > SURE:
        return []
    because = (
        f"{who(situation)} is held {text_of(off[name], 'm')} off {name}; hands reach it from "
        f"{text_of(limit.value, 'm')} at most."
    )
    fix = f"Hold the body nearer to {name}."
    return [
        finding_on(
            NAME, situation, because, margin - SURE, margin + SURE, "m", (limit,), fix,
            numbers={"off the rail": off[name]},
        )
    ]  # fmt: skip


@dataclass(frozen=True, eq=False)
class _Span:
    """One span of the way: how wide, what is allowed for sure and at most, m, and between what."""

    width: float
    low: float
    high: float
    limit: Limit
    words: tuple[str, str]
    ends: tuple[Any, Any]
    leg: Leg | None = None


def _finding(site: Site, situation: Situation) -> Finding:
    path = path_of(site, situation)
    if path.route is None:
        return not_asked(NAME, situation, "There is no way to look at.")
    spans = _spans(site, situation, path)
    if not spans:
        return not_asked(NAME, situation, "The way crosses no gap.")
    worst = min(spans, key=lambda one: one.low - one.width)
    low, high = worst.low - worst.width, worst.high - worst.width
    one, other = worst.words
    arms = body_span(site, situation)
    because = (
        f"On the way of {who(situation)} the span nearest to its limit is {one} to {other}, "
        f"{text_of(worst.width, 'm')}; {_least(worst, arms.low)}."
    )
    bad = high < 0.0
    mark = Mark(
        "segment",
        (point(worst.ends[0]), point(worst.ends[1])),
        f"{one} to {other} {worst.width:.2f} m",
        bad=bad,
    )
    return finding_on(
        NAME,
        situation,
        because,
        low - SURE,
        high + SURE,
        "m",
        (worst.limit,),
        _fix(site, situation, path, worst) if bad else "",
        (mark,),
        numbers={"gap": worst.width, "arms span at least": arms.low, "at most": arms.high},
    )


def _spans(site: Site, situation: Situation, path: Path) -> list[_Span]:
    """Return the widest gap between rails, and what is between the ends and their places."""
    assert path.route is not None
    limit, span = gap_limit(site), body_span(site, situation)
    low, high = min(limit.value, span.low), min(limit.value, span.high)
    found = []
    leg = widest_leg(path.route)
    if leg is not None:
        words, ends = (leg.rail, leg.to_rail), (leg.start, leg.stop)
        found.append(_Span(leg.length, low, high, limit, words, ends, leg))
    for end in path.ends:
        of_gap = end.limit is limit
        found.append(
            _Span(
                end.distance,
                low if of_gap else end.limit.value,
                high if of_gap else end.limit.value,
                end.limit,
                (end.place, end.rail),
                (end.start, end.stop),
            )
        )
    return found


def _least(worst: _Span, arms: float) -> str:
    limit = text_of(worst.limit.value, "m")
    if worst.low < worst.limit.value:
        return f"the arms span {text_of(arms, 'm')} (the limit is {limit})"
    return f"{limit} is the limit (the arms span {text_of(arms, 'm')})"


def _fix(site: Site, situation: Situation, path: Path, worst: _Span) -> str:
    """Name the way round, else how many handholds close the gap."""
    one, other = worst.words
    if worst.leg is not None:
        way = detour(site, situation, worst.leg)
        if way is not None:
            by = tuple(rail for rail in way.rails if rail not in (one, other))
            more = longer_by(site, situation, one, other, by)
            return (
                f"Between {one} and {other} go by {', '.join(by)}: {text_of(more, 'm')} more, no "
                f"gap wider than {text_of(way.widest, 'm')}."
            )
    elif path.planned is not None:
        return (
            f"Let the way lead up to {one}: by {', '.join(path.planned.rails)} it is "
            f"{text_of(path.planned.length, 'm')} in all."
        )
    n = math.ceil(worst.width / worst.high - SURE) - 1
    what = "One more handhold closes" if n == 1 else f"{n} more handholds close"
    return f"{what} the gap between {one} and {other}, if there is structure to fix it to."
