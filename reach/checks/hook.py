"""Question. Where a line is taken, can the worker see that the hook at its anchor is closed?

Asked of moves on which a line is taken, and of the first move of each worker, where the move
begins within reach of the anchor: then of every line that is worn.

Margin. Share of the hook that is seen less the share asked: the share of twelve points on a
sphere of 20 mm round the anchor to which the line from the eye is free. The best stance counts of
those that hold a rail near the anchor, keep clear and have it in the field of view.

Limit. ``visible_share``; ``place_span`` is how near the rail is; the field of view of the suit.

Blind spots. The hook is a ball, its gate may face away; the line, the hand and glare are left
out. The body is straight. A stance that was not found is open; a fail says that the whole hook
lies inside a solid.
"""

from __future__ import annotations

import math

import numpy as np

from reach.checks.moving import moves
from reach.checks.once import firsts
from reach.checks.wording import SURE, finding_on, not_asked, point, who
from reach.checks.worn import together
from reach.finding import Finding, Mark, Verdict
from reach.model.procedure import Translate
from reach.passage import Line
from reach.site import Site, Situation
from reach.travel.ground import on_crane, spot_in
from reach.travel.seeing import HOOK, best_view, is_buried
from reach.units import text_of

NAME = "hook"
IDS = ("C4",)


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each move on which a line is taken, and each first move."""
    first = {id(one) for one in firsts(site, tuple(moves(situations)), _first_move)}
    return [
        _finding(site, situation, is_first=id(situation) in first)
        for situation in moves(situations)
        if _takes(situation) or id(situation) in first
    ]


def _first_move(_: Site, situation: Situation) -> object:
    return (situation.worker, situation.case) if situation.passage else None


def _takes(situation: Situation) -> bool:
    action = situation.action
    return isinstance(action, Translate) and bool(action.tether or action.anchor)


def _finding(site: Site, situation: Situation, is_first: bool) -> Finding:
    """Return what is said of all lines that are worn, or of the one that is taken."""
    lines = situation.worn
    if not lines:
        return not_asked(NAME, situation, f"No safety line of {situation.worker} is known.")
    if not is_first:
        lines = lines[:1]
    found = [(line, _of_line(site, situation, line)) for line in lines]
    # Where one hook is at hand another that is far off was never to be looked at from here.
    near = [(line, one) for line, one in found if one.verdict is not Verdict.NOT_ASKED]
    asked = near or found[:1]
    return together([line for line, _ in asked], [one for _, one in asked])


def _of_line(site: Site, situation: Situation, line: Line) -> Finding:
    passage = situation.passage
    assert passage is not None
    if crane := on_crane(site, line.anchor):
        because = f"{line.anchor} is on the tip of {crane}: where that is then is not known."
        return not_asked(NAME, situation, because)
    hook = np.asarray(spot_in(site, situation, line.anchor).point)
    begin = np.asarray(spot_in(site, situation, passage.start).point)
    away = float(np.linalg.norm(hook - begin))
    if away > site.limit("place_span").value + SURE:
        because = f"{passage.start} is {text_of(away, 'm')} from {line.anchor}: nobody looks there."
        return not_asked(NAME, situation, because)
    limit = site.limit("visible_share")
    name = f"the hook of {line.tether} at {line.anchor}"
    seen = best_view(site, situation, hook)
    if seen is not None and seen.share >= limit.value:
        margin = seen.share - limit.value
        because = f"{who(situation)} at {seen.rail} sees {seen.share:.0%} of {name}."
        mark = Mark("segment", (point(seen.eye), point(hook)), f"line of sight to {line.anchor}")
        numbers = {"share": seen.share, "rail": seen.rail}
        return finding_on(
            NAME, situation, because, margin, margin, "", (limit,), "", (mark,), numbers
        )
    mark = Mark("sphere", (point(hook),), line.anchor, HOOK, bad=True)
    if is_buried(situation, hook):
        because = f"All of {name} lies inside a solid, so {who(situation)} cannot see it."
        fix = f"Bring {line.anchor} out of the structure."
        return finding_on(NAME, situation, because, -limit.value, -SURE, "", (limit,), fix, (mark,))
    most = 0.0 if seen is None else seen.share
    because = f"No stance was found from which {who(situation)} sees {name}: {most:.0%} at most."
    fix = f"Look at it from somewhere else, or lead {line.tether} from an anchor in the open."
    return finding_on(
        NAME, situation, because, -math.inf, math.inf, "", (limit,), fix, (mark,), {"share": most}
    )
