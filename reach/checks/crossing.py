"""Question. Does a move make the line of the worker cross the line of another worker?

Margin. Minus the number of lines that it comes to cross and that are not declared; of several lines
on one suit each counts. Exact, but that a line of which the way is not known counts at the low end.

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
from reach.kept.noting import altered
from reach.model.procedure import Translate
from reach.passage import Line
from reach.site import Site, Situation
from reach.travel.beside import Array, must_cross
from reach.travel.led import Led, led_ends, led_to

NAME = "crossing"
IDS = ("G4",)

_Run = tuple[str, Line, Array]
"""A worker, a line that they wear, and where it runs."""


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
    others, lost = _others(site, situation)
    if not others:
        return not_asked(NAME, situation, "Where the line of another worker runs is not known.", "")
    crossed = _crossed(site, situation, ends, others)
    for one in situation.more.get(situation.worker, ()):
        beside = led_ends(site, _on(situation, one))
        if len(beside) < 2:
            lost.append((situation.worker, one.tether))
        else:
            found = _crossed(site, situation, beside, others)
            crossed += [pair for pair in found if pair not in crossed]
    bad = [(name, other) for name, other in crossed if other.tether not in action.crosses]
    words = ", ".join(f"{other.tether} of {name}" for name, other in crossed)
    lines = ", ".join(f"{other.tether} of {name}" for name, other, _ in others)
    if not crossed:
        because = f"{line.tether} of {who(situation)} comes to cross none of {lines}."
    else:
        told = "" if bad else ", as declared"
        because = f"{line.tether} of {who(situation)} comes to cross {words}{told}."
    names = ", ".join(f'"{other.tether}"' for _, other in bad)
    fix = f"Pass on the other side of it, or declare it: crosses = [{names}]." if bad else ""
    marks = [mark for _, other in crossed for mark in _marks(others, other, bool(bad))]
    # A line that is worn but runs nobody knows where may be crossed as well.
    unknown = [(name, tether) for name, tether in lost if tether not in action.crosses]
    if unknown and not bad:
        words = " and ".join(f"{tether} of {name}" for name, tether in unknown)
        because = f"{because} Where {words} runs is not known."
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


def _on(situation: Situation, line: Line) -> Situation:
    """Return a situation in which another line that is worn as well is the one looked at."""
    return altered(situation, lines={**situation.lines, situation.worker: line})


def _crossed(
    site: Site, situation: Situation, ends: tuple[Led, ...], others: list[_Run]
) -> list[tuple[str, Line]]:
    """Return whose lines a line comes to cross, led as where a move begins, then as at its end."""
    before, after = ends
    return [
        (name, other)
        for name, other, points in others
        if must_cross(site, situation, after.route.points, points)
        > must_cross(site, situation, before.route.points, points)
    ]


def _others(site: Site, situation: Situation) -> tuple[list[_Run], list[tuple[str, str]]]:
    """Return every line that others wear and where it runs, and those of which it is not known."""
    found, lost = [], []
    for name, place in situation.others.items():
        line = situation.lines.get(name)
        for one in (*([line] if line else []), *situation.more.get(name, ())):
            led = led_to(site, situation, one, place)
            if led is None:
                lost.append((name, one.tether))
            else:
                found.append((name, led.line, led.route.points))
    return found, lost


def _marks(others: list[_Run], line: Line, bad: bool) -> list[Mark]:
    points = next(points for _, other, points in others if other is line)
    return [
        Mark("segment", (point(a), point(b)), line.tether, bad=bad) for a, b in pairwise(points)
    ]
