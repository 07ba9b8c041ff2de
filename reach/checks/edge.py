"""Question. Do glove and line keep off sharp edges on a move?

Margin. Metres between a sharp edge and what comes nearest to it, less the gap asked: the gloved
hand along the rails that are held, or the line, pulled tight from its anchor to the worker at
either end of the move; each line that is worn. One of which it is not known where it runs is open.

Limit. ``edge_gap``; the glove's bulk is ``hand_radius`` of the suit. Of a way that is planned no
fail is proved but of a line where the move begins: another may keep off. Nor is it of an edge that
is there only if the step begins late.

Blind spots. Hands go straight from rail to rail; sleeves, bags and the suit's body are not looked
at. The line is led along the shortest way by rails and pulled tight; that it is the tightest is
found, not proved. Between the ends of the move it is not looked at; its slack is a check of its own
(sag).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.checks.moving import moves
from reach.checks.wording import (
    ANOTHER_WAY,
    SURE,
    UNKNOWN,
    apart,
    finding_on,
    not_asked,
    point,
    who,
)
from reach.finding import Finding, Mark
from reach.geometry import capsule_clearance, segment_distance
from reach.site import Site, Situation
from reach.travel.hazards import Met, met
from reach.travel.led import led_ends, tight_of
from reach.travel.path import moves_of, path_of
from reach.units import text_of

NAME = "edge"
IDS = ("B3",)

Array = NDArray[np.float64]

ENDS = ("begins", "ends")
"""Where a line is looked at on a move."""


@dataclass(frozen=True, eq=False)
class _Close:
    """What comes nearest to one edge: gap (m), which thing, nearest points, error of facets (m).

    ``is_sure`` says whether the edge is there though the step does not begin late.
    """

    gap: float
    what: str
    edge: str
    on_thing: Array
    on_edge: Array
    error: float
    is_sure: bool


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each move and body."""
    return [_finding(site, situation) for situation in moves(situations)]


def _finding(site: Site, situation: Situation) -> Finding:
    if not any(hazard.kind == "sharp edge" for hazard in site.scene.hazards.values()):
        return not_asked(NAME, situation, "The scene has no sharp edge.")
    edges = list(met(site, situation, "sharp edge"))
    if not edges:
        return not_asked(NAME, situation, "No sharp edge is there while the step lasts.")
    path = path_of(site, situation)
    route = path.usable
    legs = moves_of(route) if route is not None else ()
    lines, lost = _lines(site, situation)
    # Who comes from a hatch to the end of a rail goes along none: what is worn is led all the same.
    if route is None or not (legs or lines):
        return not_asked(NAME, situation, "The way follows no rail.")
    hand = np.array([[leg.start, leg.stop] for leg in legs], float).reshape(-1, 2, 3)
    radius = float(situation.suit.hand_radius)
    found = [_close(edge, hand[:, 0], hand[:, 1], radius, "glove") for edge in edges if legs]
    certain: list[_Close] = []
    for what, line, is_before in lines:
        close_to = [_close(edge, line[:-1], line[1:], 0.0, what) for edge in edges]
        found += close_to
        certain += close_to if is_before else []
    close = min(found, key=lambda one: one.gap - one.error)
    limit = site.limit("edge_gap")
    low = close.gap - close.error - limit.value
    sure = [one.gap - limit.value for one in found if one.is_sure]
    high = min(sure, default=UNKNOWN)
    fix = f"Cover {close.edge}, or lead the {close.what} {text_of(-low, 'm')} farther from it."
    fix = fix if low < 0.0 else ""
    because = (
        f"The {close.what} of {who(situation)} passes {apart(close.gap)} {close.edge}; at least "
        f"{text_of(limit.value, 'm')} is asked."
    )
    if high < 0.0 and not path.is_proof:
        # Where a line is as the move begins no way changes; hands, and lines led on, follow one.
        high = min((one.gap - limit.value for one in certain if one.is_sure), default=UNKNOWN)
        if high >= 0.0:
            high, because = UNKNOWN, because + ANOTHER_WAY
    if lost and high + SURE >= 0.0:
        low, because = -math.inf, f"{because} Where {' and '.join(lost)} runs is not known."
    mark = Mark(
        "segment",
        (point(close.on_thing), point(close.on_edge)),
        f"{close.what} to {close.edge}",
        bad=close.gap < limit.value,
    )
    return finding_on(
        NAME,
        situation,
        because,
        low - SURE,
        high + SURE,
        "m",
        (limit,),
        fix,
        (mark,),
        {"what": close.what, "gap": close.gap},
    )


def _close(edge: Met, p: Array, q: Array, radius: float, what: str) -> _Close:
    gaps = capsule_clearance(edge.tree, p, q, radius)
    i = int(np.argmin(gaps))
    nearest = segment_distance(edge.tree, p[i : i + 1], q[i : i + 1])
    return _Close(
        float(gaps[i]),
        what,
        edge.name,
        nearest.on_query[0],
        nearest.on_mesh[0],
        edge.error,
        edge.is_sure,
    )


def _lines(site: Site, situation: Situation) -> tuple[list[tuple[str, Array, bool]], list[str]]:
    """Return each line that is worn, in words and tight at both ends of a move; those not known.

    With each whether it is the line where the move begins.
    """
    found, lost, worn = [], [], situation.worn
    for line in worn:
        ends = led_ends(site, situation, line)
        tight = [(one, tight_of(site, situation, one)) for one in ends if len(one.route.points) > 1]
        # What is led through structure runs nobody knows where once it is tight.
        known = [(one, pulled) for one, pulled in tight if math.isfinite(pulled.high)]
        lost += [line.tether] if len(ends) < len(ENDS) or len(known) < len(tight) else []
        what = "line" if len(worn) == 1 else f"line {line.tether}"
        found += [(what, pulled.points, one is ends[0]) for one, pulled in known]
    return found, lost
