"""Question. Is each safety line that is worn long enough for the whole move, where it runs?

Margin. Metres between what may be used of the line and its length along the rails from its
anchor, at the point of the move where that is largest: at worst as it is led along the way of
the move, at best along the shortest way over rails.  Wide where the line comes to lie in a loop.
Of several lines on the suit the least counts; one of which it is not known is open.

Limit. Length of the line less ``tether_slack``.

Blind spots. Where a move begins the line is taken to run along the shortest way over rails that
may be held; from there on along the way of the move, taken in where that goes back.  Where it was
really led before, hooks and who passed whom come with the procedure.  Pulled
tight it needs less: both lengths are in the numbers.
"""

from __future__ import annotations

import math
from itertools import pairwise

from reach.checks.moving import moves
from reach.checks.wording import SURE, finding_on, not_asked, point, who
from reach.checks.worn import together
from reach.finding import Finding, Limit, Mark
from reach.model.provenance import Provenance
from reach.passage import Line
from reach.site import Site, Situation
from reach.travel.ground import on_crane, spot_in
from reach.travel.led import Led, led_ends, led_to, tight_of
from reach.travel.path import path_of
from reach.units import text_of

NAME = "tether"
IDS = ("G1",)

LOOSE = "Go back over the way the line is led, or change to a line from an anchor ahead."

LOOP = 0.01
"""A line led longer than the shortest way by more than this (m) lies in a loop."""


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each move and body."""
    return [_finding(site, situation) for situation in moves(situations)]


def _finding(site: Site, situation: Situation) -> Finding:
    lines = situation.worn
    if not lines:
        return not_asked(NAME, situation, f"No safety line of {situation.worker} is known.")
    return together(lines, [_of_line(site, situation, line) for line in lines])


def _of_line(site: Site, situation: Situation, line: Line) -> Finding:
    route = path_of(site, situation).usable
    known = led_ends(site, situation, line)
    if route is None or not known:
        return _unled(site, situation, line)
    slack = site.limit("tether_slack")
    usable = line.length - slack.value
    worst = max(known, key=lambda led: led.route.length)
    # No point of the way is farther from the anchor than both ends and the way itself allow.
    most = 0.5 * (sum(led.route.length for led in known) + route.length)
    low = min(usable - worst.route.length, usable - most)
    # A line that comes to lie in a loop may be taken in: it never runs less than the shortest way.
    least = [led_to(site, situation, line, led.place) for led in known]
    shortest = max((led.route.length for led in least if led is not None), default=0.0)
    high = max(low, usable - min(shortest, worst.route.length))
    # Pulled tight from below it counts only where the line led along the rails is too short.
    tight = tight_of(site, situation, worst, is_close=high < 0.0)
    pulled = (
        f"pulled tight {text_of(tight.low, 'm')} to {text_of(tight.high, 'm')}"
        if math.isfinite(tight.high)
        else "pulled tight not known: it is led through structure"
    )
    because = (
        f"{line.tether} from {line.anchor} of {who(situation)} runs "
        f"{text_of(worst.route.length, 'm')} along the rails to {worst.place} (straight "
        f"{text_of(worst.straight, 'm')}, {pulled}); {text_of(max(0.0, usable), 'm')} may be used."
    )
    if worst.route.length - shortest > LOOP:
        because += (
            f" It comes to lie in a loop; taken in, it runs {text_of(shortest, 'm')} along the "
            "shortest way over rails."
        )
    bad = high < 0.0
    return finding_on(
        NAME,
        situation,
        because,
        low - SURE,
        high + SURE,
        "m",
        (Limit(f"length of {line.tether}", line.length, "m", Provenance()), slack),
        _fix(site, situation, line, usable) if bad else LOOSE if low < 0.0 else "",
        (
            *(
                Mark(
                    "segment", (point(a), point(b)), f"{line.tether} pulled tight" if not i else ""
                )
                for i, (a, b) in enumerate(pairwise(tight.points))
            ),
            Mark("point", (point(tight.points[-1]),), f"{line.tether} at {worst.place}", bad=bad),
        ),
        numbers={
            "routed": worst.route.length,
            "straight": worst.straight,
            "tight at least": tight.low,
            "tight at most": tight.high,
            "usable": usable,
        },
    )


def _unled(site: Site, situation: Situation, line: Line) -> Finding:
    """Return the finding of a line that no rails lead: a fail where even straight it is short."""
    passage, slack = situation.passage, site.limit("tether_slack")
    assert passage is not None
    if crane := on_crane(site, line.anchor):
        because = f"{line.anchor} is on the tip of {crane}: where that is then is not known."
        return not_asked(NAME, situation, because)
    anchor, stop = (spot_in(site, situation, name).point for name in (line.anchor, passage.stop))
    margin = line.length - slack.value - math.dist(anchor, stop)
    if margin >= -SURE:
        return not_asked(NAME, situation, f"No rails lead all the way from {line.anchor}.")
    because = (
        f"{line.tether} from {line.anchor} of {who(situation)} is too short for {passage.stop} "
        f"even in a straight line of {text_of(math.dist(anchor, stop), 'm')}."
    )
    fix = "Use a longer line, or one from an anchor nearer to there."
    return finding_on(NAME, situation, because, -math.inf, margin + SURE, "m", (slack,), fix)


def _fix(site: Site, situation: Situation, line: Line, usable: float) -> str:
    """Name a line that nobody wears whose anchor lies on the way and that is long enough."""
    passage = situation.passage
    assert passage is not None
    worn = {worn.tether for worn in situation.lines.values()}
    worn |= {worn.tether for several in situation.more.values() for worn in several}
    before = led_to(site, situation, line, passage.start)
    stuck = before is not None and before.route.length > usable
    found: list[tuple[float, str, str]] = []
    for name, tether in site.scene.tethers.items():
        if name in worn or tether.anchor is None or tether.worker is not None:
            continue
        other = Line(name, tether.anchor, tether.length)
        to_place = led_to(site, situation, other, passage.stop)
        if to_place is None or not _is_met(site, situation, line, other, usable):
            continue
        if to_place.route.length <= tether.length - site.limit("tether_slack").value:
            found.append((to_place.route.length, name, tether.anchor))
    if stuck and not found:
        return f"Mend the move that led to {passage.start}: the line is too short for that already."
    if not found:
        return "Use a longer line, or one from an anchor nearer to there."
    length, name, anchor = min(found)
    return (
        f"Change to {name} at {anchor} on the way: from there it runs {text_of(length, 'm')} to "
        f"{passage.stop}."
    )


def _is_met(site: Site, situation: Situation, line: Line, other: Line, usable: float) -> bool:
    """Return whether the worker comes within reach of an anchor on their own line."""
    path, span, passage = (
        path_of(site, situation), site.limit("place_span").value, situation.passage
    )  # fmt: skip
    assert passage is not None
    here = spot_in(site, situation, passage.start).point
    at = spot_in(site, situation, other.anchor).point
    if math.dist(here, at) <= span:
        return True
    before = led_to(site, situation, line, passage.start)
    if before is None or before.route.length > usable:
        return False
    route = path.usable
    to_anchor: Led | None = led_to(site, situation, line, other.anchor)
    if route is None or to_anchor is None or to_anchor.route.length > usable:
        return False
    near = ((route.points - at) ** 2).sum(axis=1).min() ** 0.5
    return bool(near <= span)
