"""What is written over and beside the pictures of a move."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from reach.finding import Finding, Mark
from reach.pictures.moves import Move
from reach.pictures.notes import Line, Notes, Tag, merged, of_mark, sharp_edges
from reach.pictures.palette import (
    CORRIDOR,
    FAIL,
    HANDRAIL,
    HAZARD,
    INK,
    LINE,
    PAPER,
    RAIL_BEYOND,
    RAIL_USED,
    TAUT,
    mixed,
)
from reach.pictures.sheet import Drawing, Frame, body_words, key_of, patch, streak, with_step
from reach.rails.route import Route
from reach.reports.margin import unsigned
from reach.travel.ground import rails_in
from reach.travel.headings import aside_words
from reach.units import text_of

Array = NDArray[np.float64]

LEAST_GAP = 0.02
"""Spans shorter than this (m) are not written at."""


def move_notes(move: Move) -> Notes:
    """Return the lines and tags of a move: ends, rails, spans, line, marks of what fails."""
    lines, tags = _hazards(move)
    route = move.route
    if move.led is not None:
        lines.append(Line(move.led.route.points, LINE, 2.4, "dot"))
        if move.tight is not None:
            lines.append(Line(move.tight.points, TAUT, 2.0))
        tags.append(Tag((f"{move.led.line.tether} from {move.led.line.anchor}",),
                        move.led.route.points[0], "measure"))  # fmt: skip
    if route is not None:
        tags += _ends(route.start, route.stop, route.points[0], route.points[-1])
        for leg in route.legs:
            ends = np.array([leg.start, leg.stop], float)
            middle = ends.mean(axis=0)
            if leg.kind == "along":
                tags.append(Tag((leg.rail,), middle, "name", ""))
            elif leg.length > LEAST_GAP:
                lines.append(Line(ends, INK, 2.5))
                if leg.kind == "gap" and leg.length >= route.widest - 1e-9:
                    tags.append(Tag((text_of(leg.length, "m"),), middle, "measure", ""))
    elif move.none is not None:
        from reach.pictures.moving import ends_of

        (start, first), (stop, last) = ends_of(move)
        tags += _ends(start, stop, first, last)
    if move.none is not None:
        for gap in move.none.gaps:
            ends = np.array([gap.start, gap.stop], float)
            lines.append(Line(ends, FAIL, 4.0, "dash"))
            words = f"{' to '.join(gap.names)}: {text_of(gap.width, 'm')}"
            over = f"{text_of(gap.width - gap.limit, 'm')} too wide"
            tags.append(Tag((words, over), ends.mean(axis=0), "fail", "cross"))
    for finding in move.findings:
        if move.none is not None and finding.check == "route":
            continue  # its gaps are drawn above
        said: dict[tuple[str, ...], Tag] = {}
        for mark in finding.marks:
            more, its_tags = of_mark(finding, mark)
            # A whole line or way that fails is not what is missing.
            lines += (
                [replace(line, width=2.0, pattern="solid") for line in more]
                if mark.bad and _is_chained(finding, mark)
                else more
            )
            said |= {tag.lines: tag for tag in its_tags}
        tags += said.values()  # a line of many pieces fails once
    return Notes(tuple(lines), merged(tags))


def _is_chained(finding: Finding, mark: Mark) -> bool:
    """Return whether a mark is a piece of a longer line, ending where another one begins."""
    segments = [other.points for other in finding.marks if other.kind == "segment"]
    first, last = mark.points[0], mark.points[-1]
    return any(ends[0] == last or ends[-1] == first for ends in segments if ends != mark.points)


def _ends(start: str, stop: str, first: Array, last: Array) -> list[Tag]:
    return [
        Tag((f"from {start}",), first, "asked", "dot"),
        Tag((f"to {stop}",), last, "asked", "ring"),
    ]


def _hazards(move: Move) -> tuple[list[Line], list[Tag]]:
    from reach.pictures.moving import hazards_by, subject

    points = subject(move)
    lines, tags = [], []
    for name, kind, triangles in hazards_by(move.situation.surroundings, points):
        edges = sharp_edges(triangles)
        lines += [Line(edge, HAZARD, 2.0, "dash") for edge in edges[:: 1 + len(edges) // 20]]
        stand_off = move.site.scene.hazards[name].stand_off
        words = f"{name}: {kind}" + (f", {text_of(stand_off, 'm')} off" if stand_off else "")
        corners = triangles.reshape(-1, 3)
        tags.append(Tag((words,), corners[int(np.argmax(corners[:, 2]))], "measure"))
    return lines, tags


def move_frame(move: Move) -> Frame:
    """Return what stands round the picture of a move."""
    one = move.situation
    passage = one.passage
    assert passage is not None
    words = [body_words(one, move.cases), one.suit.title]
    carried = (*passage.carrying, *passage.in_hand)
    if carried:
        words.append(f"with {', '.join(carried)}")
    title = f"Step {one.step}: {passage.start} to {passage.stop}"
    frame = Frame(
        move.verdict if move.findings else None, title, "   |   ".join(w for w in words if w),
        drawn_words(move), move.findings, move_key(move),
    )  # fmt: skip
    return with_step(frame, move.elsewhere)


def drawn_words(move: Move) -> str:
    """Return in sentences what the picture shows."""
    route, corridor = move.route, move.corridor
    if route is None:
        passage = move.situation.passage
        assert passage is not None
        return (
            f"No way along rails: the gaps with crosses, between the rails that {passage.start} "
            f"leads to and those that {passage.stop} leads to, are too wide."
        )
    words = [f"{text_of(route.length, 'm')} by {', '.join(route.rails)}."]
    if route.widest:
        words.append(f"Widest span {text_of(route.widest, 'm')}, {' to '.join(route.at)}.")
    if corridor is not None:
        aside = {rail: aside_words(move.site.scene, v) for rail, v in corridor.asides.items()}
        held = [f"{rail} {side}" for rail, side in aside.items() if side != "straight out"]
        side = f"body held {'; '.join(held)}" if held else "straight out"
        words.append(f"Tube of {text_of(corridor.radius, 'm')}, {side}.")
    if move.led is not None:
        length = text_of(move.led.route.length, "m")
        line = f"{move.led.line.tether} as led to {move.led.place} {length}"
        if move.tight is not None:
            low, high = (text_of(v, "m") for v in (move.tight.low, move.tight.high))
            line += f", pulled tight {low} to {high}"
        words.append(f"{line}.")
    return unsigned(" ".join(words))


def move_key(move: Move) -> Image.Image:
    """Return the key to those lines and colours that the picture of a move has."""
    from reach.pictures.moving import is_near, subject

    notes, route, none = move_notes(move), move.route, move.none
    passage = move.situation.passage
    assert passage is not None
    fails = any(tag.style == "fail" for tag in notes.tags)
    patterns = {line.pattern for line in notes.lines if line.colour == FAIL}
    used = set(() if route is None else route.rails)
    if none is not None:
        used |= {*none.from_start, *none.from_stop}
    points = subject(move)
    rails = rails_in(move.site, move.situation.surroundings)
    left = (rail for rail in rails if rail.name not in used and rail.status != "gone")
    unused = any(is_near(rail, points) for rail in left)
    rows: list[tuple[bool, Drawing, str]] = [
        (route is not None, patch(RAIL_USED), "rail used"),
        (none is not None, patch(RAIL_USED), f"rail that {passage.start} leads to"),
        (none is not None, patch(RAIL_BEYOND), f"rail that {passage.stop} leads to"),
        (unused, streak(HANDRAIL, 3.5), "other rail"),
        (_has_span(route), streak(INK, 2.5), "span, the widest with its length"),
        (move.corridor is not None, patch(mixed(CORRIDOR, PAPER, 0.6)), "tube that must be free"),
        (move.led is not None, streak(LINE, 3.0, "dot"), "safety line as it is led"),
        (move.tight is not None, streak(TAUT, 2.5), "safety line pulled tight"),
        (fails, lambda p, x, y: p.cross((x + 20, y), 9), "what fails, with the margin"),
        ("dash" in patterns, streak(FAIL, 3.5, "dash"), "what is missing"),
        ("solid" in patterns, streak(FAIL, 2.0), "line or way that fails"),
        (any(line.colour == HAZARD for line in notes.lines), streak(HAZARD, 2.5, "dash"), "hazard"),
    ]
    return key_of([(draw, words) for is_drawn, draw, words in rows if is_drawn])


def _has_span(route: Route | None) -> bool:
    legs = () if route is None else route.legs
    return any(leg.kind != "along" and leg.length > LEAST_GAP for leg in legs)
