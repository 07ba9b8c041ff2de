"""Question. Does the anchor of each line that is worn bear the pull on a line?

Asked once for each worker and lines worn, where the worker first moves or works on them.

Margin. What the anchor is rated for less the pull, in N; of several lines the least. Exact.

Limit. ``tether_load`` of the scene's limits; the rating stands with the anchor.

Blind spots. The pull is one number, whichever way it goes; the strength of line, hooks and reel,
two lines on one anchor and anchors on a payload or across a joint are not looked at.
"""

from __future__ import annotations

from reach.checks.once import firsts
from reach.checks.wording import NAN, finding_on, point, who
from reach.checks.worn import together
from reach.finding import Finding, Mark
from reach.passage import Line
from reach.site import Site, Situation
from reach.travel.ground import spot_in
from reach.units import text_of

NAME = "anchor"
IDS = ("D4",)


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each worker, lines and their anchors."""
    return [_finding(site, situation) for situation in firsts(site, situations, _question)]


def _question(_: Site, situation: Situation) -> object:
    ends = frozenset((line.tether, line.anchor) for line in situation.worn)
    return (situation.worker, situation.case, ends)


def _finding(site: Site, situation: Situation) -> Finding:
    lines = situation.worn
    if not lines:
        because = f"No safety line of {situation.worker} is known."
        return finding_on(NAME, situation, because, NAN, NAN, "N")
    return together(lines, [_of_line(site, situation, line) for line in lines])


def _of_line(site: Site, situation: Situation, line: Line) -> Finding:
    limit = site.limit("tether_load")
    anchor = site.scene.anchors[line.anchor]
    if anchor.rating is None:
        because = f"{line.anchor}, which {line.tether} leads from, gives no rating."
        return finding_on(NAME, situation, because, NAN, NAN, "N")
    margin = anchor.rating - limit.value
    because = (
        f"{line.anchor} holds {line.tether} of {who(situation)} and bears "
        f"{text_of(anchor.rating, 'N')}; the pull is {text_of(limit.value, 'N')}."
    )
    good = [
        name
        for name, one in site.scene.anchors.items()
        if one.rating is not None and one.rating >= limit.value
    ]
    fix = f"Lead it from an anchor that bears {text_of(limit.value, 'N')}"
    fix += f": {', '.join(good)}." if good else "; the scene has none."
    return finding_on(
        NAME,
        situation,
        because,
        margin,
        margin,
        "N",
        (limit,),
        fix if margin < 0.0 else "",
        (
            Mark(
                "point", (point(_at(site, situation, line.anchor)),), line.anchor, bad=margin < 0.0
            ),
        ),
        {"rating": anchor.rating},
    )


def _at(site: Site, situation: Situation, anchor: str) -> tuple[float, float, float]:
    return spot_in(site, situation, anchor).point
