"""The sheet round a view: title strip, panel with verdicts and key, caution."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from PIL import Image

from reach.cautions import CAUTIONS
from reach.finding import RANK, Finding, Verdict, worst_of
from reach.model.procedure import Ingress
from reach.pictures.palette import (
    ARM,
    ENVELOPE,
    FAIL,
    FASTENER,
    HAZARD,
    INK,
    PAPER,
    SIGHT,
    SOFT_INK,
    SPHERE,
    STRIP,
    TOOL,
    mixed,
)
from reach.pictures.pen import SMOOTH, Pen, shortened, text_width
from reach.pictures.shown import Shown
from reach.pictures.told import Findings, heading, tell
from reach.pictures.worksite import Worksite
from reach.site import Situation

WIDTH, HEIGHT = 1600, 1000
STRIP_HEIGHT, FOOT_HEIGHT, PANEL_WIDTH = 92, 44, 404
VIEW = (0, STRIP_HEIGHT, WIDTH - PANEL_WIDTH, HEIGHT - STRIP_HEIGHT - FOOT_HEIGHT)
"""Left, top, width, height of the view, px."""

BUBBLE = mixed(ENVELOPE, PAPER, 0.6)
_MARGIN = 18.0
_TEXT, _SMALL = 15.0, 13.0
_VIEW_WORDS = 320.0
_BAND = 30


@dataclass(frozen=True, slots=True)
class Frame:
    """What stands round a view.

    Attributes
    ----------
    verdict : Verdict or None
        Badge in the strip; None for a picture that judges nothing.
    title : str
    words : str
        Second line of the strip.
    drawn : str
        What the picture shows, one or more sentences.
    findings : tuple of Finding
        Worst first.
    key : Image
        At the foot of the panel.
    found : str
        Heading over the findings; empty where none are told.
    """

    verdict: Verdict | None
    title: str
    words: str
    drawn: str
    findings: Findings
    key: Image.Image
    found: str = "FOUND"


def with_step(frame: Frame, bad: Sequence[Finding]) -> Frame:
    """Return a frame whose verdict is no better than that of its step, and says so.

    Parameters
    ----------
    frame : Frame
    bad : sequence of Finding
        What does not pass of the step, whatever it is about.
    """
    if frame.verdict is None or not bad:
        return frame
    worst = worst_of(bad)
    if RANK[worst] >= RANK[frame.verdict]:
        return frame
    checks = ", ".join(dict.fromkeys(one.check for one in bad if one.verdict is worst))
    said = f" Of what is drawn: {frame.verdict}. Not drawn, of the same step: {worst}, {checks}."
    return replace(frame, verdict=worst, drawn=frame.drawn + said)


def sheet_of(site: Worksite, shown: Shown) -> Image.Image:
    """Return everything round the views of a worksite, the place of the view left blank."""
    return framed(worksite_frame(site, shown))


def worksite_frame(site: Worksite, shown: Shown) -> Frame:
    """Return what stands round the views of a worksite."""
    situation = site.situation
    place = situation.place
    assert place is not None
    where = f"{place.restraint_name} at {place.name}" + (f": {place.shown}" if place.shown else "")
    body = body_words(situation, site.cases)
    words = "   |   ".join(part for part in (body, situation.suit.title, where) if part)
    title = f"Step {situation.step}: {site.action}"
    drawn = f"{shown.words[:1].upper()}{shown.words[1:]}."
    if situation.head is None and not isinstance(situation.action, Ingress):
        drawn += " What the hands do is not drawn."
    frame = Frame(site.verdict, title, words, drawn, site.findings, _key())
    return with_step(frame, site.elsewhere)


def body_words(situation: Situation, cases: tuple[str, ...]) -> str:
    """Return who is drawn, and of which bodies they are the worst."""
    body = f"{situation.worker}, {situation.case} ({situation.body.label})"
    return f"{body}, the worst of {', '.join(cases)}" if len(cases) > 1 else body


def framed(frame: Frame) -> Image.Image:
    """Return strip, panel and foot of a picture, the place of the view left blank."""
    sheet = Image.new("RGB", (WIDTH, HEIGHT), PAPER)
    pen = Pen(sheet)
    _strip(pen, frame)
    _panel(pen, frame)
    _foot(pen)
    at = (WIDTH - PANEL_WIDTH + 2, HEIGHT - FOOT_HEIGHT - frame.key.height)
    sheet.paste(frame.key, at)
    return sheet


def write_view(sheet: Image.Image, view: str) -> None:
    """Write into the strip where a view is taken from."""
    pen = Pen(sheet)
    pen.text((WIDTH - _MARGIN - text_width(view, 18), 30), view, 18, PAPER)


def write_what_if(
    sheet: Image.Image, what_if: Sequence[str], view: tuple[int, int, int, int] = VIEW
) -> None:
    """Write over the foot of a view for which variation a picture holds; nothing without one."""
    if not what_if:
        return
    pen = Pen(sheet)
    left, top, width, height = view
    bottom = top + height
    pen.box((left, bottom - _BAND, left + width, bottom - 1), STRIP, round_=0)
    words = f"Not the files as written. What if: {', '.join(what_if)}"
    words = shortened(words, 17, width - 2 * _MARGIN, True)
    pen.text((left + _MARGIN, bottom - 0.5 * _BAND), words, 17, PAPER, True)


def _strip(pen: Pen, frame: Frame) -> None:
    pen.box((0, 0, WIDTH, STRIP_HEIGHT), STRIP, round_=0)
    start = _MARGIN
    if frame.verdict is not None:
        start = int(pen.badge((_MARGIN, 30), frame.verdict, 20)) + _MARGIN
    room = WIDTH - start - _VIEW_WORDS
    pen.text((start, 30), shortened(frame.title, 23, room, True), 23, PAPER, True)
    pen.text((_MARGIN, 68), shortened(frame.words, 17, WIDTH - 2 * _MARGIN), 17, PAPER)


def _foot(pen: Pen) -> None:
    top = HEIGHT - FOOT_HEIGHT
    pen.box((0, top, WIDTH, HEIGHT), PAPER, round_=0)
    pen.rule((0, top), (WIDTH, top), INK, 2)
    pen.text((_MARGIN, top + 0.5 * FOOT_HEIGHT), CAUTIONS[0], 16, INK, True)


def _panel(pen: Pen, frame: Frame) -> None:
    left, top = WIDTH - PANEL_WIDTH, STRIP_HEIGHT
    bottom = HEIGHT - FOOT_HEIGHT
    pen.box((left, top, WIDTH, bottom), PAPER, round_=0)
    pen.rule((left, top), (left, bottom), INK, 2)
    x, width = left + _MARGIN, PANEL_WIDTH - 2 * _MARGIN
    y = heading(pen, (x, top + 12), "DRAWN")
    y = pen.paragraph((x, y), frame.drawn, _TEXT, width)
    if not frame.found:
        return
    y = heading(pen, (x, y + 10), frame.found)
    tell(pen, frame.findings, (x, y), width, bottom - frame.key.height - 14)


Drawing = Callable[[Pen, float, float], object]
"""What draws a line of a key, given a pen, its left end and its height."""

Rows = list[tuple[Drawing, str]]
"""What draws the lines of a key, and their words."""


def key_of(rows: Rows) -> Image.Image:
    """Return a key to lines and colours."""
    size = (PANEL_WIDTH - 2, round(32 + 21.6 * len(rows)))
    image = Image.new("RGB", (SMOOTH * size[0], SMOOTH * size[1]), PAPER)
    pen = Pen(image, SMOOTH)
    x = _MARGIN - 2.0
    pen.rule((x, 2), (size[0] - _MARGIN, 2), SOFT_INK, 1.0)
    y = heading(pen, (x, 8), "KEY")
    for draw, words in rows:
        draw(pen, x, y + 10)
        pen.text((x + 54, y + 10), words, _SMALL, INK)
        y += 21.6
    small = image.reduce(SMOOTH)
    small.info["words"] = tuple(words for _, words in rows)
    return small


def streak(
    colour: str, width: float, pattern: str = "solid"
) -> Callable[[Pen, float, float], None]:
    """Return what draws a line of a key as it is in the picture."""
    return lambda pen, x, y: pen.line([(x, y), (x + 40.0, y)], colour, width, pattern)


def patch(colour: str) -> Callable[[Pen, float, float], None]:
    """Return what draws a colour of a key."""
    return lambda pen, x, y: pen.box((x, y - 8, x + 40.0, y + 8), colour, INK)


@lru_cache(maxsize=1)
def _key() -> Image.Image:
    """Return the key of a worksite, always the same one."""
    return key_of(
        [
            (
                lambda p, x, y: p.ring((x + 20, y), 8, FASTENER),
                "fastener, arrow outward along its axis",
            ),
            (lambda p, x, y: p.cross((x + 20, y), 9), "what fails, with the margin"),
            (lambda p, x, y: p.diamond((x + 20, y), 9), "what is not settled"),
            (streak(FAIL, 3.5, "dash"), "what is missing"),
            (streak(SIGHT, 3.0, "dot"), "line of sight"),
            (streak(INK, 3.0), "least room, with the distance"),
            (patch(BUBBLE), "reach of the tool tip, tool on the axis"),
            (streak(SPHERE, 2.0, "dash"), "reach of each wrist (outer bound)"),
            (_pair, "arm that works, tool"),
            (streak(HAZARD, 2.5, "dash"), "hazard"),
        ]
    )


def _pair(pen: Pen, x: float, y: float) -> None:
    pen.box((x, y - 8, x + 19, y + 8), ARM, INK)
    pen.box((x + 21, y - 8, x + 40, y + 8), TOOL, INK)
