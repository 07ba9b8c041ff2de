"""Question. Can a loop of the line's slack touch a hazard on a move?

Margin. Metres between a hazard and all places of a line that is held at the hand's grip and at the
body, longer than these are apart by the slack: a guaranteed lower bound over the whole way, with a
witness. Hazards that say how they are controlled are left to that where the slack can touch them.

Limit. No touch; ``tether_slack`` is the length that hangs loose. Of a way that is planned no fail
is proved, another may keep clear; nor of a hazard that is active only if the step begins late.

Blind spots. The line behind the hand's grip is not looked at, nor the way between a rail and the
place itself. Structure, which holds the line back, is left out. The line is held at the middle of
the body; all lines that are worn alike, so that what is said of one holds for each.
"""

from __future__ import annotations

from reach.checks.moving import moves, piece_words
from reach.checks.wording import ANOTHER_WAY, SURE, UNKNOWN, finding_on, not_asked, point, who
from reach.finding import Finding, Mark
from reach.site import Site, Situation
from reach.travel.hazards import Met, met
from reach.travel.loops import Loop, nearest_loop
from reach.travel.path import path_of
from reach.travel.sides import corridor_of
from reach.units import text_of

NAME = "sag"
IDS = ("G5",)


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each move and body."""
    return [_finding(site, situation) for situation in moves(situations)]


def _finding(site: Site, situation: Situation) -> Finding:
    if not situation.worn:
        return not_asked(NAME, situation, f"No safety line of {situation.worker} is known.")
    corridor = corridor_of(site, situation)
    if corridor is None:
        return not_asked(NAME, situation, "The way follows no rail.")
    slack, hazards = site.limit("tether_slack"), list(met(site, situation))
    if not hazards:
        return not_asked(NAME, situation, "There is no hazard that slack could touch.")
    found = [(nearest_loop(corridor, one.tree, slack.value), one) for one in hazards]
    left = [one.name for loop, one in found if loop.low < one.error and one.record.control]
    asked = [(loop, one) for loop, one in found if one.name not in left]
    if not asked:
        because = f"What slack can touch is controlled otherwise: {', '.join(left)}."
        return not_asked(NAME, situation, because)
    loop, hazard = min(asked, key=_room)
    stretch = corridor.stretches[loop.stretch]
    because = (
        f"{text_of(slack.value, 'm')} of slack beside {who(situation)} {_how(loop.high)} "
        f"{hazard.name} {piece_words(stretch.rail, stretch.to_rail)}"
        f"{f' ({_listed(left)} controlled otherwise)' if left else ''}."
    )
    low = loop.low - hazard.error
    high = min((each.high for each, one in asked if one.is_sure), default=UNKNOWN)
    bad = loop.high < 0.0
    if high < 0.0 and not path_of(site, situation).is_written:
        high, because = UNKNOWN, because + ANOTHER_WAY
    marks = (
        Mark("segment", (point(loop.grip), point(loop.body)), "slack", bad=bad),
        Mark("point", (point(loop.witness),), hazard.name, bad=bad),
    )
    fix = f"Take in the slack by {hazard.name}, guard it, or say how it is controlled."
    return finding_on(
        NAME,
        situation,
        because,
        low - SURE,
        high + SURE,
        "m",
        (slack,),
        fix if low < 0.0 else "",
        marks,
        {"controlled": left},
    )


def _room(pair: tuple[Loop, Met]) -> float:
    return pair[0].low - pair[1].error


def _how(gap: float) -> str:
    return f"stays {text_of(gap, 'm')} from" if gap >= 0.0 else "may touch"


def _listed(names: list[str]) -> str:
    return f"{', '.join(names)} {'is' if len(names) == 1 else 'are'}"
