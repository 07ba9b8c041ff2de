"""What is written over and beside the pictures of a payload's way."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from reach.files.carry_question import BLANK
from reach.payload.clock import time_at
from reach.payload.records import PartGap
from reach.pictures.carries import Carry
from reach.pictures.moving import hazards_by
from reach.pictures.notes import Line, Notes, Tag, merged, sharp_edges
from reach.pictures.palette import (
    CARGO,
    CARGO_PALE,
    CRANE_LINK,
    FAIL,
    HAZARD,
    INK,
    PAPER,
    STAND_OFF,
    SUIT,
    WAY,
    mixed,
)
from reach.pictures.sheet import Drawing, Frame, key_of, patch, streak, with_step
from reach.reports.margin import margin_text
from reach.reports.sweep_words import clock
from reach.units import text_of

Array = NDArray[np.float64]

_OTHERS = 2
"""Further things come too near that are marked, beside the worst."""


def carry_notes(carry: Carry, is_near: bool) -> Notes:
    """Return the lines and tags of one view: the nearest pair, waypoints, hazards, other fails."""
    lines, tags = _hazards(carry)
    worst = carry.worst
    for gap in [worst] if worst is not None else []:
        lines += _gap_lines(gap)
        tags.append(_gap_tag(carry, gap))
    if not is_near:
        short = [gap for gap in _one_a_thing(carry) if gap.margin[1] < 0.0 and gap is not worst]
        for gap in short[:_OTHERS]:
            lines += _gap_lines(gap)
            tags.append(_gap_tag(carry, gap))
        for place, name in enumerate(carry.carriage.names):
            if name:
                at = carry.carriage.poses[place][:3, 3]
                tags.append(Tag((name,), at, "measure", "dot"))
    elif worst is not None:
        rider = carry.carriage.rider
        tags.append(Tag((carry.carriage.payload,), worst.pose[:3, 3], "name", ""))
        if rider is not None and carry.carriage.payload_from_boots is not None:
            boots = worst.pose @ carry.carriage.payload_from_boots
            tags.append(Tag((f"{rider.worker} · {rider.case}",), boots[:3, 3], "name", ""))
    return Notes(tuple(lines), merged(tags))


def _one_a_thing(carry: Carry) -> list[PartGap]:
    found: dict[str, PartGap] = {}
    for gap in carry.gaps:
        if np.isfinite(gap.at):
            found.setdefault(gap.thing, gap)
    return list(found.values())


def _gap_lines(gap: PartGap) -> list[Line]:
    ends = np.array([gap.on_part, gap.on_thing])
    if float(np.linalg.norm(ends[1] - ends[0])) < 1e-6:
        return []
    is_fail = gap.margin[1] < 0.0
    return [Line(ends, FAIL if is_fail else INK, 4.0 if is_fail else 3.0, "solid")]


def _gap_tag(carry: Carry, gap: PartGap) -> Tag:
    is_fail = gap.margin[1] < 0.0
    what = gap.piece_of_part.replace("_", " ") if gap.part == carry.carriage.payload else gap.part
    words = (
        f"{what} to {gap.thing}: {text_of(gap.high, 'm')}",
        f"{text_of(gap.stand_off, 'm')} asked, {margin_text(*gap.margin, 'm')}",
    )
    middle = 0.5 * (gap.on_part + gap.on_thing)
    return Tag(words, middle, "fail" if is_fail else "asked", "cross" if is_fail else "dot")


def _hazards(carry: Carry) -> tuple[list[Line], list[Tag]]:
    from reach.pictures.carrying import whole_subject

    points = whole_subject(carry)
    lines, tags = [], []
    for name, kind, triangles in hazards_by(carry.around, points):
        edges = sharp_edges(triangles)
        lines += [Line(edge, HAZARD, 2.0, "dash") for edge in edges[:: 1 + len(edges) // 20]]
        stand_off = carry.site.scene.hazards[name].stand_off
        words = f"{name}: {kind}" + (f", {text_of(stand_off, 'm')} off" if stand_off else "")
        corners = triangles.reshape(-1, 3)
        tags.append(Tag((words,), corners[int(np.argmax(corners[:, 2]))], "measure"))
    return lines, tags


def carry_frame(carry: Carry) -> Frame:
    """Return what stands round the picture of a motion."""
    frame = Frame(
        carry.verdict if carry.findings else None, carry_title(carry), company_words(carry),
        drawn_words(carry), carry.findings, carry_key(carry),
        found="FOUND" if carry.findings else "",
    )  # fmt: skip
    return with_step(frame, carry.elsewhere)


def carry_title(carry: Carry) -> str:
    """Return which step moves what along which path."""
    carriage = carry.carriage
    along = carriage.path or f"{carriage.names[0]} to {carriage.names[-1]}"
    words = f"{carriage.payload}, {along}"
    # A question's step has no name of its own.
    return words if carriage.step in (carriage.path, BLANK) else f"Step {carriage.step}: {words}"


def company_words(carry: Carry) -> str:
    """Return what carries the payload, who rides and who stands by."""
    carriage = carry.carriage
    words = [f"on {carriage.crane}" if carriage.crane else "no crane"]
    rider = carriage.rider
    if rider is not None:
        worst = f", the worst of {', '.join(carry.cases)}" if len(carry.cases) > 1 else ""
        words.append(f"{rider.worker} rides, {rider.case}{worst}")
    others = (stay.worker for stay in carriage.bystanders)
    standing = dict.fromkeys(worker for worker in others if worker != carriage.lane)
    if standing:
        words.append(f"{', '.join(standing)} beside it")
    if carriage.start is not None and carriage.duration:
        words.append(f"{clock(carriage.start)} to {clock(carriage.start + carriage.duration)}")
    return "   |   ".join(words)


def moment_words(carry: Carry, gap: PartGap) -> str:
    """Return when a gap is as small as it is."""
    share = time_at(carry.ends, gap.at)
    start, duration = carry.carriage.start, carry.carriage.duration
    if start is None or not duration:
        return f"at {100.0 * share:.0f} % of the time"
    return f"at {clock(start + share * duration)}, {100.0 * share:.0f} % of the time"


def drawn_words(carry: Carry) -> str:
    """Return in sentences what the picture shows."""
    names = [name for name in carry.carriage.names if name]
    words = f"{carry.carriage.payload} at {', '.join(names)} (pale)"
    worst = carry.worst
    if worst is None:
        return f"{words}. Nothing is near."
    links = ""
    if carry.carriage.crane and not _has_links(carry):
        way = carry.crane_way
        why = way.why if way is not None and way.why else "its postures are not known"
        links = f" The crane's links are not drawn: {why}."
    return (
        f"{words} and where the least is left (strong), {moment_words(carry, worst)}: "
        f"{text_of(worst.high, 'm')} from {worst.part} to {worst.thing}, which is to be kept "
        f"{text_of(worst.stand_off, 'm')} off.{links}"
    )


def carry_key(carry: Carry) -> Image.Image:
    """Return the key to those lines and colours that the picture has."""
    fails = any(gap.margin[1] < 0.0 for gap in carry.gaps)
    has_stand_off = any(
        carry.site.scene.hazards[name].stand_off > 0.0 for name, *_ in carry.around.hazards
    )
    rows: list[tuple[bool, Drawing, str]] = [
        (True, patch(CARGO), "payload at its worst moment"),
        (True, patch(mixed(CARGO_PALE, PAPER, 0.5)), "at its waypoints, rider included"),
        (carry.carriage.rider is not None, patch(SUIT), "rider at the worst moment"),
        (_has_links(carry), patch(CRANE_LINK), "links of the crane, as their covers"),
        (True, streak(WAY, 4.0), "way of the point that runs straight"),
        (carry.worst is not None, streak(INK, 3.0), "nearest pair, with the gap"),
        (fails, lambda p, x, y: p.cross((x + 20, y), 9), "gap that is too small"),
        (bool(carry.around.hazards), streak(HAZARD, 2.5, "dash"), "hazard"),
        (has_stand_off, patch(mixed(STAND_OFF, PAPER, 0.7)), "how far off it is to be kept"),
    ]
    return key_of([(draw, words) for is_drawn, draw, words in rows if is_drawn])


def _has_links(carry: Carry) -> bool:
    return carry.worst is not None and len(carry.links_at(carry.worst.at)) > 0
