"""Question. Does a move make the line of the worker cross the line of another worker?

Margin. Minus the number of lines that it comes to cross and that are not declared. Exact, but
that a line worn by somebody else whose way is not known counts at the low end.

Limit. None but 0; ``crosses`` of the move names lines that it is meant to cross.

Blind spots. Each line runs along the shortest way by rails from its anchor to its worker, the
others where they were left, as steps are written; lines that were parked are not looked at. Lines
cross where they do as seen from the side on which the rails are held: what passes behind the
structure counts as if it were in front. On a rail that both share they lie side by side, and what
a line does not do when it is led a decimetre aside is no crossing. One that the move undoes again
is not told.
"""

from __future__ import annotations

from itertools import pairwise

from reach.checks.moving import moves
from reach.checks.wording import finding_on, not_asked, point, who
from reach.finding import Finding, Mark
from reach.model.procedure import Translate
from reach.passage import Line
from reach.site import Site, Situation
from reach.travel.beside import Array, must_cross
from reach.travel.led import led_ends, led_to

NAME = "crossing"
IDS = ("G4",)


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each move and body."""
    return [_finding(site, situation) for situation in moves(situations)]


def _finding(site: Site, situation: Situation) -> Finding:
    passage, line, action = situation.passage, situation.line, situation.action
    assert passage is not None
    assert isinstance(action, Translate)
    if line is None:
        return not_asked(NAME, situation, f"No safety line of {situation.worker} is known.", "")
    ends = led_ends(site, situation)
    if len(ends) < 2:
        return not_asked(
            NAME, situation, f"Where {line.tether} runs is not known: no rails lead there.", ""
        )
    before, after = ends
    others, lost = _others(site, situation)
    if not others:
        return not_asked(NAME, situation, "Where the line of another worker runs is not known.", "")
    crossed = [
        (name, other)
        for name, (other, points) in others.items()
        if must_cross(site, situation, after.route.points, points)
        > must_cross(site, situation, before.route.points, points)
    ]
    bad = [(name, other) for name, other in crossed if other.tether not in action.crosses]
    words = ", ".join(f"{other.tether} of {name}" for name, other in crossed)
    lines = ", ".join(f"{other.tether} of {name}" for name, (other, _) in others.items())
    if not crossed:
        because = f"{line.tether} of {who(situation)} comes to cross none of {lines}."
    else:
        told = "" if bad else ", as declared"
        because = f"{line.tether} of {who(situation)} comes to cross {words}{told}."
    names = ", ".join(f'"{other.tether}"' for _, other in bad)
    fix = f"Pass on the other side of it, or declare it: crosses = [{names}]." if bad else ""
    marks = [mark for _, other in crossed for mark in _marks(others, other, bool(bad))]
    # A line that is worn but runs nobody knows where may be crossed as well.
    unknown = [name for name in lost if situation.lines[name].tether not in action.crosses]
    if unknown and not bad:
        because = f"{because} Where the line of {' and '.join(unknown)} runs is not known."
    margin = float(-len(bad))
    return finding_on(
        NAME,
        situation,
        because,
        margin - len(unknown),
        margin,
        "",
        (),
        fix,
        tuple(marks),
        {"crosses": [other.tether for _, other in crossed]},
    )


def _others(
    site: Site, situation: Situation
) -> tuple[dict[str, tuple[Line, Array]], tuple[str, ...]]:
    """Return worker -> line worn and where it runs, and those of whom it is not known."""
    found, lost = {}, []
    for name, place in situation.others.items():
        line = situation.lines.get(name)
        led = led_to(site, situation, line, place) if line else None
        if led is not None:
            found[name] = led.line, led.route.points
        elif line:
            lost.append(name)
    return found, tuple(lost)


def _marks(others: dict[str, tuple[Line, Array]], line: Line, bad: bool) -> list[Mark]:
    points = next(points for other, points in others.values() if other is line)
    return [
        Mark("segment", (point(a), point(b)), line.tether, bad=bad) for a, b in pairwise(points)
    ]
