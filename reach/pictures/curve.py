"""Draws the clearance along a payload's way: bound and witness span by span, one row for each part.

Time runs to the right, legs as wide as they last.  The stepped lower line is a bound: nothing
comes nearer than that; the upper line is what was met.  Below the line of what is asked it is
hatched.  Drawn by pen: a chart of steps needs no library of charts.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import groupby

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from reach.payload.clock import time_at
from reach.payload.records import Curve
from reach.pictures.carries import Carry
from reach.pictures.carry_notes import carry_title, company_words, moment_words
from reach.pictures.palette import (
    CURVE,
    CURVE_BETWEEN,
    FAIL,
    INK,
    PAPER,
    SOFT_INK,
    mixed,
)
from reach.pictures.pen import Pen, lay_over, new_sheet, shortened, text_width
from reach.pictures.sheet import VIEW, Drawing, Frame, framed, key_of, patch, streak, with_step
from reach.reports.sweep_words import clock
from reach.units import text_of

Array = NDArray[np.float64]

MOST = 1.5
"""Where the scale ends, m left: more than this is far enough to be of no interest."""

_LEFT, _RIGHT, _TOP, _BOTTOM = 92.0, 30.0, 64.0, 66.0
_NAMES, _APART = 24.0, 44.0
"""Height of the line of names under each row, and room between rows, px."""

_TICKS = (0.1, 0.2, 0.25, 0.5, 1.0)
_HATCH = 7.0


def curve_picture(carry: Carry) -> Image.Image:
    """Return the picture of the curves of a motion."""
    sheet = framed(curve_frame(carry))
    left, top, width, height = VIEW
    overlay, pen = new_sheet(width, height)
    pen.box((0, 0, width, height), PAPER, round_=0)
    curves = carry.curves
    pen.text((_LEFT, 24.0), "left of what is asked, m", 15.0, INK, True)
    room = (height - _TOP - _BOTTOM - _APART * (len(curves) - 1)) / max(len(curves), 1)
    scale = _scale(curves)
    for k, curve in enumerate(curves):
        y = _TOP + k * (room + _APART)
        _Row(pen, carry, curve, (_LEFT, y, width - _RIGHT, y + room - _NAMES), scale).draw()
    _time_axis(pen, carry, width, height)
    lay_over(sheet, overlay, (left, top))
    return sheet


def _scale(curves: Sequence[Curve]) -> tuple[float, float]:
    """Return the lowest and the highest value that is drawn, m."""
    low = min((float(np.min(c.margin_low)) for c in curves if len(c.margin_low)), default=0.0)
    high = max((_top(c) for c in curves), default=MOST)
    return min(low, 0.0) - 0.06 * (MOST + abs(min(low, 0.0))), min(max(high, 0.2), MOST)


def _top(curve: Curve) -> float:
    known = curve.margin_high[np.isfinite(curve.margin_high)]
    return float(known.max()) if len(known) == len(curve.margin_high) else MOST


class _Row:
    """One part's curve in its box (left, top, right, bottom), px."""

    def __init__(
        self,
        pen: Pen,
        carry: Carry,
        curve: Curve,
        box: tuple[float, float, float, float],
        scale: tuple[float, float],
    ) -> None:
        self.pen, self.carry, self.curve, self.box = pen, carry, curve, box
        self.low, self.high = scale
        self.edges = [self.x(float(at)) for at in (*curve.start, curve.stop[-1])]

    def x(self, at: float) -> float:
        """Return the pixel of a place of the way."""
        share = time_at(self.carry.ends, at)
        return self.box[0] + share * (self.box[2] - self.box[0])

    def y(self, value: float) -> float:
        """Return the pixel of a margin; beyond the scale it is at its end."""
        share = (min(max(value, self.low), self.high) - self.low) / (self.high - self.low)
        return self.box[3] - share * (self.box[3] - self.box[1])

    def draw(self) -> None:
        self.grid()
        self.waypoints()
        self.between()
        self.short()
        self.steps(self.curve.margin_high, SOFT_INK, 1.4)
        self.steps(self.curve.margin_low, CURVE, 2.6)
        self.asked()
        self.names()
        self.worst()

    def grid(self) -> None:
        left, top, right, bottom = self.box
        self.pen.box((left, top, right, bottom), PAPER, SOFT_INK, round_=0)
        step = next((t for t in _TICKS if (self.high - self.low) / t <= 6.0), _TICKS[-1])
        for k in range(math.ceil(self.low / step), math.floor(self.high / step + 1e-9) + 1):
            y = self.y(k * step)
            if k:
                self.pen.rule((left, y), (right, y), mixed(SOFT_INK, PAPER, 0.75), 1)
            words = f"{k * step:+.2g}" if k else "0"
            if k and k * step >= MOST - 1e-9:
                words = f"≥{k * step:.2g}"
            self.pen.text((left - 10 - text_width(words, 13.0), y), words, 13.0, INK)
        self.pen.text((left, top - 14.0), self.curve.part, 15.0, INK, True)

    def between(self) -> None:
        """Shade what lies between bound and witness."""
        for k in range(len(self.curve.start)):
            ends = (self.y(self.curve.margin_high[k]), self.y(self.curve.margin_low[k]))
            if ends[1] - ends[0] > 0.5:
                box = (self.edges[k], ends[0], self.edges[k + 1], ends[1])
                self.pen.box(box, CURVE_BETWEEN, round_=0)

    def short(self) -> None:
        """Hatch what is missing, where a witness shows it; dots where it is not settled."""
        zero = self.y(0.0)
        for k, high in enumerate(self.curve.margin_high):
            if self.curve.margin_low[k] >= 0.0:
                continue
            is_fail = high < 0.0
            a, b = self.edges[k], self.edges[k + 1]
            for x in np.arange(math.ceil(a / _HATCH) * _HATCH, b, _HATCH):
                if is_fail:
                    self.pen.rule((float(x), zero), (float(x), self.y(float(high))), FAIL, 2.0)
                else:
                    y = self.y(float(self.curve.margin_low[k]))
                    self.pen.dot((float(x), 0.5 * (zero + y)), 1.0)

    def steps(self, values: Array, colour: str, width: float) -> None:
        """Draw a stepped line, broken where it leaves the scale."""
        for is_on, group in groupby(range(len(values)), lambda k: values[k] < self.high):
            if not is_on:
                if colour == CURVE:
                    self.beyond(list(group))
                continue
            points = []
            for k in group:
                y = self.y(float(values[k]))
                points += [(self.edges[k], y), (self.edges[k + 1], y)]
            self.pen.line(points, colour, width)

    def beyond(self, spans: list[int]) -> None:
        """Say that there is more left than the scale holds, where there is room to."""
        a, b = self.edges[spans[0]], self.edges[spans[-1] + 1]
        words = f"more than {self.high:.2g} m left"
        wide = text_width(words, 12.0)
        if b - a > wide + 30.0:
            at = (0.5 * (a + b - wide), self.box[1] + 14.0)
            self.pen.box((at[0] - 4, at[1] - 9, at[0] + wide + 4, at[1] + 9), PAPER, round_=0)
            self.pen.text(at, words, 12.0, SOFT_INK)

    def asked(self) -> None:
        left, _, right, _ = self.box
        y = self.y(0.0)
        self.pen.line([(left, y), (right, y)], INK, 2.0, "dash")

    def waypoints(self) -> None:
        """Mark the poses with names, and name them over the first row."""
        for place, name in enumerate(self.carry.carriage.names):
            if name:
                x = self.x(float(place)) if place < len(self.carry.ends) else self.box[2]
                self.pen.rule((x, self.box[1]), (x, self.box[3]), SOFT_INK, 1.2)

    def names(self) -> None:
        """Name the thing that is nearest to its stand-off under the stretch on which it is."""
        y = self.box[3] + 0.5 * _NAMES
        known = [name if self.curve.margin_low[k] < self.high else ""
                 for k, name in enumerate(self.curve.thing)]  # fmt: skip
        start = 0
        for name, group in groupby(known):
            n = len(list(group))
            a, b = self.edges[start], self.edges[start + n]
            start += n
            if not name:
                continue
            self.pen.rule((a + 1.5, self.box[3] + 5.0), (b - 1.5, self.box[3] + 5.0), CURVE, 2.0)
            words = shortened(name, 12.0, b - a - 4.0)
            if len(words) > 3:
                self.pen.text((a + 2.0, y + 4.0), words, 12.0, SOFT_INK)

    def worst(self) -> None:
        """Mark the least gap of this part."""
        mine = [gap for gap in self.carry.gaps
                if gap.part == self.curve.part and math.isfinite(gap.at)]  # fmt: skip
        if not mine:
            return
        gap = mine[0]
        is_fail = gap.margin[1] < 0.0
        at = (self.x(gap.at), self.y(gap.margin[1]))
        words = f"{gap.thing}: {text_of(gap.high, 'm')}, {gap.margin[1]:+.3f} m left"
        words = f"{words}, {moment_words(self.carry, gap)}"
        wide = text_width(words, 13.0, True) + 16.0
        left = min(max(at[0] - 0.5 * wide, self.box[0] + 6.0), self.box[2] - wide - 6.0)
        free = self.free(left, left + wide)
        self.pen.line([(at[0], free + 11.0), at], FAIL if is_fail else INK, 1.4)
        if is_fail:
            self.pen.cross(at, 9.0)
        else:
            self.pen.dot(at, 4.0)
        fill, ink = (FAIL, PAPER) if is_fail else (PAPER, INK)
        self.pen.box((left, free - 12.0, left + wide, free + 12.0), fill, INK)
        self.pen.text((left + 8.0, free), words, 13.0, ink, True)

    def free(self, left: float, right: float) -> float:
        """Return the height at which a tag between two pixels hides least of the curve."""
        edges = np.asarray(self.edges)
        near = (edges[1:] > left) & (edges[:-1] < right)
        lines = [*self.curve.margin_low[near], *self.curve.margin_high[near], 0.0]
        heights = np.array([self.y(float(value)) for value in lines])
        places = np.arange(self.box[1] + 20.0, self.box[3] - 14.0, 8.0)
        hidden = [int((np.abs(heights - place) < 17.0).sum()) for place in places]
        return float(places[int(np.argmin(hidden))])


def _time_axis(pen: Pen, carry: Carry, width: float, height: float) -> None:
    """Name waypoints and moments under the last row, two lines in turn where they are close."""
    y = height - _BOTTOM + 14.0
    span = width - _RIGHT - _LEFT
    start, duration = carry.carriage.start, carry.carriage.duration
    ends = [-math.inf, -math.inf]
    for place, name in enumerate(carry.carriage.names):
        if not name:
            continue
        share = 1.0 if place >= len(carry.ends) else time_at(carry.ends, float(place))
        x = _LEFT + share * span
        when = (
            f"{100.0 * share:.0f} %"
            if start is None or not duration
            else clock(start + share * duration)
        )
        words = f"{name} ({when})"
        wide = text_width(words, 13.0)
        left = min(max(x - 0.5 * wide, 6.0), width - wide - 6.0)
        row = 0 if left > ends[0] + 8.0 or ends[0] <= ends[1] else 1
        ends[row] = left + wide
        pen.rule((x, y - 14.0), (x, y - 8.0 + 18.0 * row), SOFT_INK, 1.2)
        pen.text((left, y + 18.0 * row), words, 13.0, INK)


def curve_frame(carry: Carry) -> Frame:
    """Return what stands round the picture of the curves."""
    worst = carry.worst
    words = (
        "What is left of what is asked, along the way, for each part that moves, against the "
        "thing that is nearest to its stand-off. Nothing comes nearer than the lower line: it is "
        "a bound, not a row of samples. The time is shared out by the length of the legs."
    )
    if worst is not None:
        words += f" Least: {worst.part} to {worst.thing}, {moment_words(carry, worst)}."
    frame = Frame(
        carry.verdict if carry.findings else None,
        f"{carry_title(carry)}: clearance along the way",
        company_words(carry),
        words,
        carry.findings,
        _key(carry),
        found="FOUND" if carry.findings else "",
    )
    return with_step(frame, carry.elsewhere)


def _key(carry: Carry) -> Image.Image:
    fails = any(gap.margin[1] < 0.0 for gap in carry.gaps)
    rows: list[tuple[bool, Drawing, str]] = [
        (True, streak(CURVE, 2.6), "bound: nothing is nearer"),
        (True, streak(SOFT_INK, 1.4), "the nearest that was met"),
        (True, patch(CURVE_BETWEEN), "between the two"),
        (True, streak(INK, 2.0, "dash"), "stand-off: what is asked"),
        (fails, _hatched, "nearer than asked"),
        (fails, lambda p, x, y: p.cross((x + 20, y), 9), "least of a part, too near"),
        (True, lambda p, x, y: p.dot((x + 20, y), 4), "least of a part"),
        (True, lambda p, x, y: p.rule((x + 20, y - 9), (x + 20, y + 9), SOFT_INK, 1.2), "waypoint"),
    ]
    return key_of([(draw, words) for is_drawn, draw, words in rows if is_drawn])


def _hatched(pen: Pen, x: float, y: float) -> None:
    for k in range(6):
        pen.rule((x + 2.0 + k * _HATCH, y - 8.0), (x + 2.0 + k * _HATCH, y + 8.0), FAIL, 2.0)
