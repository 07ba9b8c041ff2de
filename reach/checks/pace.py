"""Question. Is the time planned for a move enough at the pace that people keep?

Margin. Seconds between the time planned and the length of the way at that pace.

Limit. ``pace_free``, or ``pace_loaded`` with something bulky.

Blind spots. One pace for the whole way: corners, hooks, looks around, rests and what is done on
arrival are left out, and so is getting out of a restraint and into the next.
"""

from __future__ import annotations

from reach.checks.moving import moves
from reach.checks.wording import finding_on, not_asked, who
from reach.finding import Finding
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
    needed = route.length / pace.value
    margin = situation.duration - needed
    because = (
        f"{who(situation)} has {text_of(situation.duration / 60, '')} min for "
        f"{text_of(route.length, 'm')}; at {pace.value:g} m/s that takes "
        f"{text_of(needed / 60, '')} min."
    )
    fix = f"Plan {text_of(needed / 60, '')} min at least." if margin < 0.0 else ""
    return finding_on(
        NAME, situation, because, margin - SURE, margin + SURE, "s", (pace,), fix,
        numbers={"length": route.length, "needed": needed, "planned": situation.duration},
    )  # fmt: skip
