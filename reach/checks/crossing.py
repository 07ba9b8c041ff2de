"""Question. Does a move make the line of the worker cross the line of another worker?

Margin. Minus the number of lines that it comes to cross and that are not declared; of several lines
on one suit each counts. Exact, but that a line of which the way is not known counts at the low end,
and so does one that lies a decimetre beside another to a hair.

Limit. None but 0; ``crosses`` of the move names lines that it is meant to cross. Of a way that is
planned no fail is proved: another may lead the line beside them.

Blind spots. Each line runs along the shortest way by rails from its anchor to its worker, the
others where they were left, as steps are written; lines that were parked are not looked at. Lines
cross where they do as seen from the side on which the rails are held: what passes behind the
structure counts as if it were in front. On a rail that both share they lie side by side; what a
line does not do when it is led a decimetre aside, or comes back over another as it went out, is no
crossing. One that the move undoes again is not told.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from reach.checks.moving import moves
from reach.checks.wording import ANOTHER_WAY, finding_on, not_asked, point, who
from reach.finding import Finding, Mark
from reach.kept.noting import asked_whole
from reach.model.procedure import Translate
from reach.passage import Line
from reach.site import Site, Situation
from reach.travel.beside import Array, comes_to_cross, outward
from reach.travel.led import Led, led_ends, led_to
from reach.travel.path import path_of

NAME = "crossing"
IDS = ("G4",)

_Run = tuple[str, Line, Array]
"""A worker, a line that they wear, and where it runs."""


@dataclass(frozen=True, eq=False, slots=True)
class _Met:
    """A line of another worker that lines come to cross, whose it is, by which; surely or maybe."""

    name: str
    line: Line
    by: tuple[str, ...]
    is_sure: bool


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each move and body."""
    return [_finding(site, situation) for situation in moves(situations)]


def _finding(site: Site, situation: Situation) -> Finding:
    worn, action = situation.worn, situation.action
    assert isinstance(action, Translate)
    if not worn:
        return not_asked(NAME, situation, f"No safety line of {situation.worker} is known.", "")
    ends = [(line, led_ends(site, situation, line)) for line in worn]
    runs = [(line, *led) for line, led in ends if len(led) == 2]
    unled = [line.tether for line, led in ends if len(led) != 2]
    if not runs:
        because = f"Where {' and '.join(unled)} runs is not known: no rails lead there."
        return not_asked(NAME, situation, because, "")
    others, lost = _others(site, situation)
    if not others:
        return not_asked(NAME, situation, "Where the line of another worker runs is not known.", "")
    met = _crossed(site, situation, runs, others)
    bad = [one for one in met if one.line.tether not in action.crosses]
    sure = [one for one in bad if one.is_sure]
    is_chosen = bool(sure) and not path_of(site, situation).is_proof
    # A line that is worn but runs nobody knows where may be crossed, or cross others, as well.
    far = [f"{tether} of {name}" for name, tether in lost if tether not in action.crosses]
    may = [one for _, one, _ in others if one.tether not in action.crosses]
    n_most = len(may) + len(far) if unled else len(bad) + len(far)
    because = _because(situation, tuple(line for line, *_ in runs), met, others, bool(bad))
    if n_most > len(bad) and not sure:
        mine = [f"{tether} of {situation.worker}" for tether in unled]
        because = f"{because} Where {' and '.join([*far, *mine])} runs is not known."
    if is_chosen:
        sure, because = [], because + ANOTHER_WAY
    names = ", ".join(f'"{one.line.tether}"' for one in bad)
    return finding_on(
        NAME,
        situation,
        because,
        float(-n_most),
        float(-len(sure)),
        "",
        (),
        f"Pass on the other side of it, or declare it: crosses = [{names}]." if bad else "",
        tuple(mark for one in met for mark in _marks(others, one.line, bool(bad))),
        {"crosses": [one.line.tether for one in met]},
    )


def _because(
    situation: Situation, worn: tuple[Line, ...], met: list[_Met], others: list[_Run], bad: bool
) -> str:
    """Say which line comes to cross which; ``bad`` if not all of them are declared."""
    lines = ", ".join(f"{other.tether} of {name}" for name, other, _ in others)
    if not met:
        mine = " and ".join(line.tether for line in worn)
        come = "comes" if len(worn) == 1 else "come"
        return f"{mine} of {who(situation)} {come} to cross none of {lines}."
    told = "" if bad else ", as declared"
    said = []
    for is_sure in (True, False):
        some = [one for one in met if one.is_sure is is_sure]
        if not some:
            continue
        by = list(dict.fromkeys(tether for one in some for tether in one.by))
        come = "comes" if len(by) == 1 else "come"
        how = f"{come} to cross" if is_sure else f"{come} to lie just so near that it may cross"
        words = ", ".join(f"{one.line.tether} of {one.name}" for one in some)
        said.append(f"{' and '.join(by)} of {who(situation)} {how} {words}{told}.")
    return " ".join(said)


def _crossed(
    site: Site, situation: Situation, runs: list[tuple[Line, Led, Led]], others: list[_Run]
) -> list[_Met]:
    """Return whose lines are crossed at the end of a move more often than where it begins."""
    found = []
    for name, other, points in others:
        surely, maybe = [], []
        for line, before, after in runs:
            # From one side each: what a line hides changes with the side that is looked from.
            lines = before.route.points, after.route.points
            views = (outward(site, situation, one) for one in reversed(lines))
            more = [comes_to_cross(*lines, points, view) for view in views]
            if more[0][0] > 0:
                surely.append(line.tether)
            elif any(most > 0 for _, most in more):
                maybe.append(line.tether)
        if surely or maybe:
            found.append(_Met(name, other, tuple(surely or maybe), bool(surely)))
    return found


def _others(site: Site, situation: Situation) -> tuple[list[_Run], list[tuple[str, str]]]:
    """Return every line that others wear and where it runs, and those of which it is not known."""
    found, lost = [], []
    hatches = list(site.scene.hatches)
    for name in dict.fromkeys((*situation.others, *_workers(site))):
        place = situation.others.get(name)
        if place is None and name in situation.inside and len(hatches) == 1:
            place = hatches[0]
        if name == situation.worker:
            continue
        for one in situation.worn_by(name):
            led = None if place is None else led_to(site, situation, one, place)
            if led is None:
                lost.append((name, one.tether))
            else:
                found.append((name, led.line, led.route.points))
    return found, lost


@asked_whole
def _workers(site: Site) -> tuple[str, ...]:
    """Return everyone of whom the procedure asks anything."""
    return tuple(dict.fromkeys(one.worker for one in site.asked))


def _marks(others: list[_Run], line: Line, bad: bool) -> list[Mark]:
    points = next(points for _, other, points in others if other is line)
    return [
        Mark("segment", (point(a), point(b)), line.tether, bad=bad) for a, b in pairwise(points)
    ]
