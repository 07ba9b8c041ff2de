"""Question. Is the time planned for a move enough at the pace that people keep?

Margin. Seconds between the time planned and the length of the way at that pace; of all its ways
together where a step has several moves.

Limit. ``pace_free``, or ``pace_loaded`` with something bulky.

Blind spots. One pace for the whole way: corners, hooks, looks around, rests and what is done on
arrival are left out, and so is getting out of a restraint and into the next.
"""

from __future__ import annotations

import math

from reach.checks.moving import moves
from reach.checks.wording import finding_on, not_asked, who
from reach.finding import Finding
from reach.kept.noting import asked_whole
from reach.site import Site, Situation
from reach.travel.path import pace_of, path_of
from reach.units import text_of

NAME = "pace"
IDS = ("E6",)

SURE = 1e-6
"""Times are lengths over paces: good to this (s)."""


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each move and body."""
    return [_finding(site, situation) for situation in moves(situations)]


def _finding(site: Site, situation: Situation) -> Finding:
    path, passage = path_of(site, situation), situation.passage
    assert passage is not None
    route = path.usable or path.route
    if route is None:
        return not_asked(NAME, situation, "There is no way to look at.", "s")
    if situation.duration is None:
        return not_asked(NAME, situation, "The step gives no duration.", "s")
    pace = pace_of(site, passage)
    needed, others = route.length / pace.value, _others(site, situation)
    margin = situation.duration - needed - sum(one for one in others if one is not None)
    because = (
        f"{who(situation)} has {text_of(situation.duration / 60, '')} min for "
        f"{text_of(route.length, 'm')}; at {pace.value:g} m/s that takes "
        f"{text_of(needed / 60, '')} min"
    )
    if others:
        needed = situation.duration - margin
        moves = f"other move{'' if len(others) == 1 else 's'}"
        because += f", with the {moves} of the step {text_of(needed / 60, '')} min"
    is_known = None not in others
    because += "." if is_known else " without those of which no way is known."
    fix = f"Plan {text_of(needed / 60, '')} min at least." if margin < 0.0 else ""
    low = margin - SURE if is_known else -math.inf
    return finding_on(
        NAME, situation, because, low, margin + SURE, "s", (pace,), fix,
        numbers={"length": route.length, "needed": needed, "planned": situation.duration},
    )  # fmt: skip


def _others(site: Site, situation: Situation) -> list[float | None]:
    """Return how long the other moves of the step take the same body, s; None where not known."""
    found: list[float | None] = []
    for other in _moves(site, situation):
        path, passage = path_of(site, other), other.passage
        route = path.usable or path.route
        if route is None or passage is None:
            found.append(None)
        else:
            found.append(route.length / pace_of(site, passage).value)
    return found


@asked_whole
def _moves(site: Site, situation: Situation) -> tuple[Situation, ...]:
    """Return the other moves of the same body in the step."""
    mine = (situation.step, situation.worker, situation.case)
    return tuple(
        one
        for one in site.asked
        if one is not situation
        and one.passage is not None
        and (one.step, one.worker, one.case) == mine
        and one.action is not situation.action
    )
