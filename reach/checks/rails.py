"""Question. May every rail on the way be held: rated, not blocked, not to be left alone?

Margin. Minus the number of rails on the way that may not be held.

Limit. None may be unrated, blocked, gone or no-touch, none may be rated below ``crew_load``, none
may lie inside structure.  Where structure comes nearer to what is held than a glove is thick, it is
open whether there is room to hold it.  Of a way that is planned no fail is proved.

Blind spots. A rail that says nothing counts as rated, as the scene's author wrote it down as a
rail; which way its rating points, wear and how it is fixed are left out.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from reach.checks.moving import moves
from reach.checks.wording import ANOTHER_WAY, finding_on, not_asked, point, who
from reach.finding import Finding, Mark
from reach.geometry import capsule_clearance, inside
from reach.rails.records import Rail, Vec
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
    buried, tight = _buried(situation, path.route, known)
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
    is_chosen = bool(bad) and not path.is_written
    return finding_on(
        NAME,
        situation,
        f"{because}.{stow}{ANOTHER_WAY if is_chosen else ''}",
        -float(len(bad) + len(unsure)),
        0.0 if is_chosen else -float(len(bad)),
        "",
        (limit,),
        _fix(path.is_written and path.planned is not None, [known[name] for name in bad])
        if bad
        else "",
        tuple(
            Mark("segment", (point(rail.start), point(rail.stop)), rail.name, bad=True)
            for rail in used
            if rail.name in bad
        ),
        numbers={"rails": float(len(used)), "may not be held": float(len(bad))},
    )


def _buried(
    situation: Situation, route: Route, known: Mapping[str, Rail]
) -> tuple[list[str], list[str]]:
    """Return rails of which all that is held lies inside structure, and those near it.

    Near is nearer than the thickness of a gloved hand somewhere on what is held.
    """
    around, held = situation.surroundings, _held(route)
    if not around.names or not held:
        return [], []
    start, stop = (np.array([one[k] for one in held], float) for k in (1, 2))
    # The true surface may stand as far out of its facets as the error.
    gap = capsule_clearance(around.tree, start, stop, around.error)
    near = (gap < situation.suit.hand_radius).tolist()
    tight = [rail for (rail, *_), is_near in zip(held, near, strict=True) if is_near]
    # Whoever holds a rail at one point might as well hold it at another.
    along = {leg.rail for leg in route.legs if leg.kind == "along"}
    parts = [one for one in held if one[0] in along]
    parts += [(name, known[name].start, known[name].stop) for name, *_ in held if name not in along]
    out = {rail for rail, *ends in parts if not _is_deep(situation, *ends)}
    buried = [rail for rail, *_ in parts if rail not in out]
    return list(dict.fromkeys(buried)), list(dict.fromkeys(tight))


def _held(route: Route) -> list[tuple[str, Vec, Vec]]:
    """Return the stretches of rails that a way holds: name and both ends, m, world.

    A handhold, or a rail that is held at one point, has no leg along it: others end there.
    """
    held = []
    for leg in route.legs:
        if leg.kind == "along":
            held.append((leg.rail, leg.start, leg.stop))
        else:
            ends = (leg.rail, leg.start), (leg.to_rail, leg.stop)
            held += [(rail, point, point) for rail, point in ends if rail]
    return held


def _is_deep(situation: Situation, start: Vec, stop: Vec) -> bool:
    """Return whether a stretch lies inside structure at every point that is asked."""
    p, q = np.array(start), np.array(stop)
    at = p + np.linspace(0.0, 1.0, N_POINTS)[:, None] * (q - p)
    return bool(np.all(inside(situation.surroundings.tree, at)))


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
