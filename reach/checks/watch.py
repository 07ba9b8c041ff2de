"""Question. Does someone see the gaps that matter, all along the way of what is moved?

Margin. Metres between the longest stretch of the way on which the nearest gap is smaller than
``watched_gap`` and nobody sees it, and what may go unseen.  What is moved is looked at in steps of
5 cm of its fastest point at most; the bracket is as wide as those steps.

Limit. ``watched_gap`` and ``unseen_stretch``.  The cameras and the clear-caller that the action
names look; a gap is seen where the line to its middle is free of structure and of what is moved,
and in the field of a camera.  The clear-caller looks from their eyes at rest while they stand.  A
pass counts them while they can be nowhere else, however long their steps and the motion last, and
not where other lanes may make them late, nor where the motion may begin late and they do not wait
for it; a fail is one course of their steps and of the motion in which it goes unseen: of likely,
least and longest times, steps with a move in them taken as on the way throughout.

Blind spots. The clear-caller's helmet is left out: head and body turn.  Light, the sharpness of
cameras and who looks at their pictures are not known; the links of the crane hide nothing.  Of
several gaps at one moment the nearest counts; where contact is meant none does.
"""

from __future__ import annotations

from reach.checks.carrying import (
    NO_WAY,
    finding_of_carriage,
    gap_mark,
    has_no_way,
    is_way_known,
    leg_words,
    moved_words,
    not_asked_of_carriage,
    out_of_reach,
)
from reach.checks.wording import SURE, UNKNOWN
from reach.finding import Finding, Mark
from reach.payload.track import track_of
from reach.payload.watching import Watched, watched
from reach.site import Carriage, Site
from reach.units import text_of

NAME = "watch"
IDS = ("C3",)
TAKES = "carriages"


def find(site: Site, carriages: tuple[Carriage, ...]) -> list[Finding]:
    """Return one finding for each motion."""
    return [_finding(site, carriage) for carriage in carriages]


def _finding(site: Site, carriage: Carriage) -> Finding:
    limits = (site.limit("unseen_stretch"), site.limit("watched_gap"))
    if track_of(site, carriage) is None:
        why = out_of_reach(site, carriage)
        if why:
            return not_asked_of_carriage(NAME, carriage, why)
        because = f"The way of {moved_words(carriage)} is not known."
        return finding_of_carriage(NAME, carriage, because, -UNKNOWN, UNKNOWN, "m", limits)
    found = watched(site, carriage)
    if found is None:
        why = f"Nothing comes nearer than {text_of(limits[1].value, 'm')} to what it must keep off."
        return not_asked_of_carriage(NAME, carriage, why)
    least, most = found.least, max([0.0, *(one[3] for one in found.stretches)])
    low, high = limits[0].value - most - SURE, limits[0].value - least + SURE
    because = _because(carriage, found)
    if high < 0.0 and not is_way_known(carriage):
        low, high, because = -UNKNOWN, UNKNOWN, f"{because} Another way may be seen better."
    if low >= 0.0 and has_no_way(site, carriage):
        low, high, because = -UNKNOWN, UNKNOWN, because + NO_WAY
    marks: tuple[Mark, ...] = ()
    if found.worst is not None:
        _, part, thing, on_part, on_thing = found.worst
        marks = gap_mark(on_part, on_thing, f"{part} to {thing}, not seen", high < 0.0)
    return finding_of_carriage(
        NAME,
        carriage,
        because,
        low,
        high,
        "m",
        limits,
        _fix(site, carriage, found) if low < 0.0 else "",
        marks,
        {
            "near": found.near,
            "unseen": [least, most],
            "seen by": found.seen_by,
            "stretches": [list(one) for one in found.stretches],
        },
        found.seers,
    )


def _because(carriage: Carriage, found: Watched) -> str:
    near = f"{text_of(found.near, 'm')} of the way of {moved_words(carriage)} run near something"
    who = " and ".join(found.seers)
    if found.worst is None:
        return f"{near}, seen all along by {who}."
    place, part, thing, *_ = found.worst
    where = leg_words(carriage, place)
    longest = max(one[2] for one in found.stretches)
    unseen = f"{text_of(longest, 'm')} at a stretch, as of {part} to {thing} {where},"
    caller = carriage.action.clear_caller
    if found.least < longest:
        why = carriage.strays or f"{caller} may be elsewhere by then, or not yet there"
        if found.least > 0.0:
            why += f"; as the times may go {text_of(found.least, 'm')} are not seen"
        return f"{near}; {unseen} may be seen by nobody: {why}."
    if not found.seers and caller:
        return f"{near}; {unseen} are seen by nobody: {caller} is not known to stand outside then."
    if not found.seers:
        return f"{near}; {unseen} are seen by nobody: no camera and no clear-caller is named."
    return f"{near}; {unseen} are not seen by {who}."


def _fix(site: Site, carriage: Carriage, found: Watched) -> str:
    more = [name for name in site.scene.cameras if name not in carriage.action.cameras]
    ways = []
    if not carriage.action.clear_caller:
        ways.append("name a clear-caller who stands where they see it")
    if more:
        ways.append(f"name another camera ({', '.join(more)})")
    if not ways:
        ways.append("place a camera, or the clear-caller, where they see it")
    words = ", or ".join(ways)
    return f"{words[0].upper()}{words[1:]}."
