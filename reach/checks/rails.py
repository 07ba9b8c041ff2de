"""Question. May every rail on the way be held: rated, not blocked, not to be left alone?

Margin. Minus the number of rails on the way that may not be held.

Limit. None may be unrated, blocked or no-touch, and none may be rated below ``crew_load``.
Exact.

Blind spots. A rail that says nothing counts as rated, as the scene's author wrote it down as a
rail; which way its rating points, wear and how it is fixed are left out.
"""

from __future__ import annotations

from reach.checks.moving import moves, not_asked_move
from reach.checks.wording import finding_on, point, who
from reach.finding import Finding, Mark
from reach.rails.records import Rail
from reach.site import Site, Situation
from reach.travel.ground import rails_in
from reach.travel.path import path_of
from reach.units import text_of

NAME = "rails"
IDS = ("E3",)


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each move and body."""
    return [_finding(site, situation) for situation in moves(situations)]


def _finding(site: Site, situation: Situation) -> Finding:
    path = path_of(site, situation)
    if path.route is None:
        return not_asked_move(NAME, situation, "There is no way to look at.", "")
    limit = site.limit("crew_load")
    known = {rail.name: rail for rail in rails_in(site, situation.surroundings)}
    used = [known[name] for name in dict.fromkeys(path.route.rails)]
    bad = {rail.name: why for rail in used if (why := _why_not(rail, limit.value))}
    if bad:
        because = f"{who(situation)} would hold what may not be held: " + "; ".join(
            f"{name} {why}" for name, why in bad.items()
        )
    else:
        what = "The one rail" if len(used) == 1 else f"All {len(used)} rails"
        because = f"{what} on the way of {who(situation)} may be held"
    stowed = [f"{', '.join(rail.stowed)} on {rail.name}" for rail in used if rail.stowed]
    stow = f" Stowed there: {'; '.join(stowed)}." if stowed else ""
    return finding_on(
        NAME,
        situation,
        f"{because}.{stow}",
        -float(len(bad)),
        -float(len(bad)),
        "",
        (limit,),
        _fix(situation, path.planned is not None, list(bad)) if bad else "",
        tuple(
            Mark("segment", (point(rail.start), point(rail.stop)), rail.name, bad=True)
            for rail in used
            if rail.name in bad
        ),
        numbers={"rails": float(len(used)), "may not be held": float(len(bad))},
    )


def _why_not(rail: Rail, load: float) -> str:
    if rail.status != "free":
        return f"is {rail.status}"
    if not rail.rated:
        return "is not rated"
    if rail.rating is not None and rail.rating < load:
        return f"bears {text_of(rail.rating, 'N')} of {text_of(load, 'N')}"
    return ""


def _fix(situation: Situation, has_other: bool, bad: list[str]) -> str:
    if has_other:
        return f"Leave out {', '.join(bad)}: a way without them is found when the route is blank."
    return f"Make {', '.join(bad)} fit to be held, or add other rails."
