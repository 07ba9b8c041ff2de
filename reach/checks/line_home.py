"""Question. Does the line that is worn lead back to the lock, for who finds home by feel?

Asked once for each worker, lines worn and lines left behind, and again where an end of one is on
what has moved; of several lines on the suit one that leads home is enough.

Margin. Metres: ``place_span`` less the widest break on the way from the anchor of the line worn,
along lines that the same worker took off and left, and of which nobody has taken up an end since,
to a hatch. Each is followed from where it was left to its anchor. When the chain is not known, but
no line of the scene is long enough to make one, the margin is how much the longest is too short,
at least.

Limit. ``place_span``: a break no wider is felt across. A line can bridge its ``length`` less
``tether_slack``, straight.

Blind spots. Where the reel of a line was parked is taken to be where the next one was put on; that
lines lie where they were led, and that hands find them, is not looked at. Lines of the other
worker, and lines strung before, count for the proof alone: then nothing is asked; nor is it where a
line leads to the tip of a crane, which may be anywhere.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.checks.once import firsts
from reach.checks.wording import SURE, finding_on, not_asked, point, who
from reach.finding import Finding, Mark
from reach.motions import tip_name
from reach.passage import Line, Parked
from reach.site import Site, Situation
from reach.travel.ground import on_crane, spot_in, spots_now
from reach.units import text_of

NAME = "line-home"
IDS = ("Q4",)

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class _Chain:
    """Lines from the one worn towards a hatch: their anchors, widest break (m), hatch reached."""

    lines: tuple[Line, ...]
    points: tuple[Array, ...]
    widest: float
    hatch: str


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each worker, line worn and lines left behind."""
    return [_finding(site, situation) for situation in firsts(site, situations, _question)]


def _question(site: Site, situation: Situation) -> object:
    trail = _left(site, situation)
    ends = [line.anchor for line in (*situation.worn, *(one.line for one in trail))]
    names = [*ends, *(one.at for one in trail), *site.scene.hatches]
    spots = spots_now(site, situation, names)
    return (situation.worker, situation.case, situation.worn, trail, spots)


def _finding(site: Site, situation: Situation) -> Finding:
    lines, limit = situation.worn, site.limit("place_span")
    if not lines:
        return not_asked(NAME, situation, f"No safety line of {situation.worker} is known.")
    if not site.scene.hatches:
        return not_asked(NAME, situation, "The scene has no hatch to come home through.")
    # Of several lines on the suit one that leads home is enough.
    chains = [_chain(site, situation, one) for one in lines]
    chain = next((one for one in chains if one.hatch), chains[0])
    by = ", then ".join(f"{one.tether} to {one.anchor}" for one in chain.lines)
    marks = tuple(
        Mark("segment", (point(a), point(b)), "line home")
        for a, b in zip(chain.points[:-1], chain.points[1:], strict=True)
    )
    if chain.hatch:
        because = (
            f"{who(situation)} is led home by {by}; {chain.hatch} is at hand from there "
            f"(widest break {text_of(chain.widest, 'm')})."
        )
        margin = limit.value - chain.widest
        return finding_on(
            NAME, situation, because, margin - SURE, margin + SURE, "m", (limit,), "", marks,
            {"lines": [one.tether for one in chain.lines], "break": chain.widest},
        )  # fmt: skip
    short = min(_short(site, situation, one.lines[-1]) for one in chains)
    if any(on_crane(site, one.lines[-1].anchor) for one in chains):
        short = 0.0
    end = chain.lines[-1].anchor
    if short > SURE:
        because = (
            f"The line of {who(situation)} ends at {end} ({by}), and no line of the scene is long "
            f"enough to lead on to a hatch: {text_of(short, 'm')} too short at least."
        )
        mark = Mark("point", (point(chain.points[-1]),), end, bad=True)
        fix = f"Have a line at least {text_of(_up(short), 'm')} longer to lead from the hatch on."
        return finding_on(
            NAME, situation, because, -math.inf, -short, "m", (limit,), fix, (*marks, mark)
        )
    because = (
        f"The line of {who(situation)} leads to {end} ({by}); that a line was left there which "
        "leads on to the hatch is not known."
    )
    return not_asked(NAME, situation, because)


def _up(length: float) -> float:
    return math.ceil(length * 1000.0) / 1000.0


def _chain(site: Site, situation: Situation, line: Line) -> _Chain:
    """Follow lines from anchor to anchor, each time the one whose left end is nearest."""
    span = site.limit("place_span").value
    hatches = {name: _at(site, situation, name) for name in site.scene.hatches}
    lines, points, widest = [line], [_at(site, situation, line.anchor)], 0.0
    left = list(_left(site, situation))
    while True:
        if on_crane(site, lines[-1].anchor):
            return _Chain(tuple(lines), tuple(points), widest, "")
        end = points[-1]
        away, hatch = min((_apart(end, at), name) for name, at in hatches.items())
        if away <= span + SURE:
            points.append(hatches[hatch])
            return _Chain(tuple(lines), tuple(points), max(widest, away), hatch)
        breaks = [(_apart(end, _at(site, situation, one.at)), i) for i, one in enumerate(left)]
        if not breaks or min(breaks)[0] > span + SURE:
            return _Chain(tuple(lines), tuple(points), widest, "")
        away, i = min(breaks)
        found = left.pop(i).line
        widest = max(widest, away)
        lines.append(found)
        points.append(_at(site, situation, found.anchor))


def _left(site: Site, situation: Situation) -> tuple[Parked, ...]:
    """Return the lines left behind whose ends are where they were: those on a crane's tip are not.

    That goes for where they were left and for the anchor.
    """
    scene = site.scene
    tips = {name for name, one in scene.stations.items() if one.on}
    tips |= {tip_name(crane) for crane in scene.cranes}
    return tuple(
        one for one in situation.trail if one.at not in tips and not on_crane(site, one.line.anchor)
    )


def _short(site: Site, situation: Situation, last: Line) -> float:
    """Return how much every line of the scene is too short to make a chain home, m; 0 if not.

    From hatch to hatch and anchor to anchor: the least, over all chains, of the widest stretch
    that no line can bridge straight, a break at either end.
    """
    span, slack = site.limit("place_span").value, site.limit("tether_slack").value
    longest = max((one.length for one in site.scene.tethers.values()), default=0.0) - slack
    names = [last.anchor, *site.scene.hatches, *site.scene.anchors]
    names = list(dict.fromkeys(names))
    points = np.array([_at(site, situation, name) for name in names])
    need = np.linalg.norm(points[:, None] - points[None], axis=2) - 2.0 * span - longest
    # The smallest stretch that joins: spread from the last anchor by the cheapest stretch out.
    inside, worst = {0}, 0.0
    goals = {names.index(hatch) for hatch in site.scene.hatches}
    while not inside & goals:
        outside = [i for i in range(len(names)) if i not in inside]
        short, i = min((float(need[list(inside), i].min()), i) for i in outside)
        worst = max(worst, short)
        inside.add(i)
    return worst


def _at(site: Site, situation: Situation, name: str) -> Array:
    return np.asarray(spot_in(site, situation, name).point)


def _apart(a: Array, b: Array) -> float:
    return float(np.linalg.norm(a - b))
