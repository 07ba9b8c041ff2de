"""Question. May every rail on the way be held: rated, not blocked, not to be left alone?

Margin. Minus the number of rails on the way that may not be held.

Limit. None may be unrated, blocked, gone or no-touch, none may be rated below ``crew_load``, none
may lie inside structure.  Where structure comes nearer to the held stretch than a glove is thick,
it is open whether there is room to hold it.

Blind spots. A rail that says nothing counts as rated, as the scene's author wrote it down as a
rail; which way its rating points, wear and how it is fixed are left out.
"""

from __future__ import annotations

import numpy as np

from reach.checks.moving import moves
from reach.checks.wording import finding_on, not_asked, point, who
from reach.finding import Finding, Mark
from reach.geometry import capsule_clearance, inside
from reach.rails.records import Rail
from reach.rails.route import Route
from reach.site import Site, Situation
from reach.travel.ground import rails_in
from reach.travel.path import path_of
from reach.units import text_of

NAME = "rails"
IDS = ("E3",)

N_POINTS = 5
"""Points of a held stretch that are asked whether they lie inside structure."""


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each move and body."""
    return [_finding(site, situation) for situation in moves(situations)]


def _finding(site: Site, situation: Situation) -> Finding:
    path = path_of(site, situation)
    if path.route is None:
        return not_asked(NAME, situation, "There is no way to look at.", "")
    limit = site.limit("crew_load")
    known = {rail.name: rail for rail in rails_in(site, situation.surroundings)}
    used = [known[name] for name in dict.fromkeys(path.route.rails)]
    bad = {rail.name: why for rail in used if (why := _why_not(rail, limit.value))}
    buried, tight = _buried(situation, path.route)
    bad |= {name: "lies inside structure" for name in buried if name not in bad}
    if bad:
        because = f"{who(situation)} would hold what may not be held: " + "; ".join(
            f"{name} {why}" for name, why in bad.items()
        )
    else:
        what = "The one rail" if len(used) == 1 else f"All {len(used)} rails"
        because = f"{what} on the way of {who(situation)} may be held"
    unsure = [name for name in tight if name not in bad]
    if unsure and not bad:
        because += f"; whether a glove has room along {', '.join(unsure)} is not known"
    stowed = [f"{', '.join(rail.stowed)} on {rail.name}" for rail in used if rail.stowed]
    stow = f" Stowed there: {'; '.join(stowed)}." if stowed else ""
    return finding_on(
        NAME,
        situation,
        f"{because}.{stow}",
        -float(len(bad) + len(unsure)),
        -float(len(bad)),
        "",
        (limit,),
        _fix(path.planned is not None, [known[name] for name in bad]) if bad else "",
        tuple(
            Mark("segment", (point(rail.start), point(rail.stop)), rail.name, bad=True)
            for rail in used
            if rail.name in bad
        ),
        numbers={"rails": float(len(used)), "may not be held": float(len(bad))},
    )


def _buried(situation: Situation, route: Route) -> tuple[list[str], list[str]]:
    """Return rails whose held stretch lies wholly inside structure, and those near it.

    Near is nearer than the thickness of a gloved hand somewhere on the stretch.
    """
    tree, names = situation.surroundings.tree, situation.surroundings.names
    legs = [leg for leg in route.legs if leg.kind == "along"]
    if not names or not legs:
        return [], []
    start, stop = np.array([leg.start for leg in legs]), np.array([leg.stop for leg in legs])
    gap = capsule_clearance(tree, start, stop, 0.0)
    at = start[:, None] + np.linspace(0.0, 1.0, N_POINTS)[:, None] * (stop - start)[:, None]
    within = np.asarray(inside(tree, at.reshape(-1, 3)), bool).reshape(len(legs), N_POINTS)
    deep: list[bool] = np.all(within, axis=1).tolist()
    thin: list[bool] = np.asarray(gap < situation.suit.hand_radius).tolist()
    buried = [leg.rail for leg, is_deep in zip(legs, deep, strict=True) if is_deep]
    tight = [leg.rail for leg, is_thin in zip(legs, thin, strict=True) if is_thin]
    return buried, tight


def _why_not(rail: Rail, load: float) -> str:
    if rail.status != "free":
        return f"is {rail.status}"
    if rail.rating is not None and rail.rating < load:
        return f"bears {text_of(rail.rating, 'N')} of {text_of(load, 'N')}"
    return "" if rail.rated else "is not rated"


def _fix(has_other: bool, bad: list[Rail]) -> str:
    names = ", ".join(rail.name for rail in bad)
    if has_other:
        return f"Leave out {names}: a way without them is found when the route is blank."
    if any(rail.status == "gone" for rail in bad):
        return "Add other rails."
    return f"Make {names} fit to be held, or add other rails."
