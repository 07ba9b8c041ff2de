"""Question. Can a loop of the line's slack touch a hazard on a move?

Margin. Metres between a hazard and all places of a line that is held at the hand's last grip and
at the body, longer than these are apart by the slack: a guaranteed lower bound. The least over the
ends of each piece of the way. Hazards that say how they are controlled are left to that where the
slack can touch them.

Limit. No touch; ``tether_slack`` is the length that hangs loose.

Blind spots. Between the ends of the pieces it is not looked at, nor is the line behind the last
grip. Structure, which holds the line back, is left out. The line is held at the middle of the body.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.checks.moving import moves, piece_words
from reach.checks.wording import SURE, finding_on, not_asked, point, who
from reach.finding import Finding, Mark
from reach.geometry import point_distance
from reach.lines import slack_gap
from reach.site import Site, Situation
from reach.travel.body_ball import middle_of
from reach.travel.corridor import Corridor
from reach.travel.hazards import Met, met
from reach.travel.sides import corridor_of
from reach.units import text_of

NAME = "sag"
IDS = ("G5",)

Array = NDArray[np.float64]

WITHIN = 1e-6
"""How closely a gap is found (m)."""


@dataclass(frozen=True, eq=False)
class _Loop:
    """Where slack comes nearest to one hazard: bracket (m), piece of the way, ends, witness."""

    low: float
    high: float
    piece: int
    ends: tuple[Array, Array]
    witness: Array


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each move and body."""
    return [_finding(site, situation) for situation in moves(situations)]


def _finding(site: Site, situation: Situation) -> Finding:
    if situation.line is None:
        return not_asked(NAME, situation, f"No safety line of {situation.worker} is known.")
    corridor = corridor_of(site, situation)
    if corridor is None:
        return not_asked(NAME, situation, "The way follows no rail.")
    slack, hazards = site.limit("tether_slack"), list(met(site, situation))
    if not hazards:
        return not_asked(NAME, situation, "There is no hazard that slack could touch.")
    found = [(_loop(corridor, one, slack.value), one) for one in hazards]
    left = [one.name for loop, one in found if loop.low < 0.0 and one.record.control]
    asked = [(loop, one) for loop, one in found if one.name not in left]
    if not asked:
        because = f"What slack can touch is controlled otherwise: {', '.join(left)}."
        return not_asked(NAME, situation, because)
    loop, hazard = min(asked, key=lambda pair: pair[0].low)
    stretch = corridor.stretches[loop.piece]
    because = (
        f"{text_of(slack.value, 'm')} of slack beside {who(situation)} {_how(loop.high)} "
        f"{hazard.name} {piece_words(stretch.rail, stretch.to_rail)}"
        f"{f' ({_listed(left)} controlled otherwise)' if left else ''}."
    )
    bad = loop.high < 0.0
    marks = (
        Mark("segment", (point(loop.ends[0]), point(loop.ends[1])), "slack", bad=bad),
        Mark("point", (point(loop.witness),), hazard.name, bad=bad),
    )
    fix = f"Take in the slack by {hazard.name}, guard it, or say how it is controlled."
    return finding_on(
        NAME,
        situation,
        because,
        loop.low - SURE,
        loop.high + SURE,
        "m",
        (slack,),
        fix if loop.low < 0.0 else "",
        marks,
        {"controlled": left},
    )


def _how(gap: float) -> str:
    return f"stays {text_of(gap, 'm')} from" if gap >= 0.0 else "may touch"


def _listed(names: list[str]) -> str:
    return f"{', '.join(names)} {'is' if len(names) == 1 else 'are'}"


def _loop(corridor: Corridor, hazard: Met, slack: float) -> _Loop:
    """Return the nearest place of slack, over the ends of each piece of the way."""
    held = _held(corridor)
    lengths = np.linalg.norm(held[:, 1] - held[:, 0], axis=1) + slack
    # Slack lies in the ball of half its length round the middle: most ends need no closer look.
    middles = held.mean(axis=1)
    least = point_distance(hazard.tree, middles).distance - 0.5 * lengths
    best: _Loop | None = None
    for i in np.argsort(least, kind="stable"):
        if best is not None and least[i] - hazard.error >= best.low:
            break
        gap = slack_gap(hazard.tree, held[i, 0], held[i, 1], float(lengths[i]), WITHIN)
        low = gap.low - hazard.error
        if best is None or low < best.low:
            best = _Loop(low, gap.high, int(i) // 2, (held[i, 0], held[i, 1]), gap.witness)
    assert best is not None
    return best


def _held(corridor: Corridor) -> Array:
    """Return grip and middle of the body at both ends of each piece, shape (2 n, 2, 3), m."""
    (starts, stops), owner = corridor.poses, corridor.pieces[1]
    middle, held = middle_of(corridor.mover), []
    for i, stretch in enumerate(corridor.stretches):
        mine = np.flatnonzero(owner == i)
        for grip, pose in ((stretch.start, starts[mine[0]]), (stretch.stop, stops[mine[-1]])):
            held.append((grip, pose[:3, :3] @ middle + pose[:3, 3]))
    return np.array(held)
