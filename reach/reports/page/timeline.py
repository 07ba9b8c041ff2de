"""The outing as a drawing with real text: lanes, windows, phases, glove checks, what sets the end.

Time runs to the right in strips below each other, each as long as there is room for names; the
words on a bar are as many as fit, its title says all.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING

from reach.finding import Finding, Verdict, worst_of
from reach.pictures.palette import FAIL, INK, OPEN, PAPER, SOFT_INK, STRIP, mixed
from reach.reports.clock import hours_text
from reach.reports.page.bar_words import SIZE, SMALL, beside, glove, label_of
from reach.reports.page.lettering import FACE, fitted, width_of
from reach.reports.page.svg import line, rect, text
from reach.reports.verdicts import SHAPE
from reach.timing import glove_moments

if TYPE_CHECKING:
    from reach.clock import Span, Task
    from reach.timetables import Timed

WIDTH, LEFT, RIGHT = 1080.0, 84.0, 12.0
STRIP_SECONDS = 7200.0
"""A strip is two hours: a minute is then as wide as a digit is high."""

_AXIS, _BAND, _ROW, _APART = 18.0, 15.0, 38.0, 24.0
_TICK = 600.0
_LEAST_WIDE = 2.6
"""A bar that would be narrower is drawn so wide, with a tick over it that says so."""

_TICKED = 3.0

FILLS = {"worker": "#f2e7cf", "crane": "#cfdae8", "inside lead": "#cfe6e1"}
SECOND_WORKER = "#e3c9a0"
"""Fill of every other worker's bars; lanes are told apart by their place and name."""

DARK = STRIP


@dataclass(frozen=True, slots=True)
class Bar:
    """One task in one lane, in one strip.

    Attributes
    ----------
    task : Task
    begin, end : float, s
        The part in this strip.
    row : int
        Below the first of its lane, where tasks of a lane overlap.
    """

    task: Task
    begin: float
    end: float
    row: int


def timeline_svg(timed: Timed, findings: Sequence[Finding], name: str = "timeline") -> str:
    """Return the outing as the text of an SVG element.

    Parameters
    ----------
    timed : Timed
    findings : sequence of Finding
        All of the run: a step's bar shows the worst verdict about it.
    name : str
        Start of the ids in it.
    """
    drawing = _Drawing(timed, findings)
    return drawing.drawn(range(drawing.n_strips), name)


SHEET_HIGH = 610.0
"""A drawing on a sheet of A4 across may be so high, in its own units, beside heading and words."""


def timeline_sheets(
    timed: Timed, findings: Sequence[Finding], name: str = "timeline"
) -> tuple[str, ...]:
    """Return the outing as several SVG elements, each low enough for a sheet of A4 across."""
    drawing = _Drawing(timed, findings)
    sheets: list[list[int]] = [[]]
    used = 0.0
    for strip in range(drawing.n_strips):
        high = drawing.height_of(strip)
        if sheets[-1] and used + high > SHEET_HIGH:
            sheets.append([])
            used = 0.0
        sheets[-1].append(strip)
        used += high
    return tuple(drawing.drawn(some, f"{name}-{k}") for k, some in enumerate(sheets, 1))


class _Drawing:
    def __init__(self, timed: Timed, findings: Sequence[Finding]) -> None:
        self.timed, self.outing = timed, timed.outing
        self.last = max(self.outing.end, timed.limit.value)
        self.n_strips = max(1, math.ceil(self.last / STRIP_SECONDS - 1e-9))
        self.per_second = (WIDTH - LEFT - RIGHT) / min(STRIP_SECONDS, max(self.last, 600.0))
        self.lanes = list(self.outing.procedure.lanes)
        self.rows = {lane: _rows(self._tasks(lane), self.outing.spans) for lane in self.lanes}
        by_step: dict[str, list[Finding]] = {}
        for finding in findings:
            by_step.setdefault(finding.step, []).append(finding)
        self.worst = {step: worst_of(mine) for step, mine in by_step.items()}
        self.gloves = {lane: glove_moments(self.outing, lane) for lane in self.outing.workers}

    def _tasks(self, lane: str) -> list[Task]:
        return [task for task in self.outing.tasks if lane in task.lanes]

    def _names(self, lane: str, begin: float, end: float) -> list[str]:
        """Return the names of the tasks of a lane in a strip."""
        spans = self.outing.spans
        mine = (task.name for task in self._tasks(lane))
        return [name for name in mine if spans[name].begin < end and spans[name].end >= begin]

    def height_of(self, strip: int) -> float:
        """Return how high a strip is with the room below it."""
        return self._strip(strip, 0.0)[1] + _APART

    def drawn(self, strips: Iterable[int], name: str) -> str:
        """Return some of the strips as an SVG element."""
        parts: list[str] = []
        top = 4.0
        for strip in strips:
            lines, height = self._strip(strip, top)
            parts += lines
            top += height + _APART
        height = top - _APART + 18.0
        words = f"Timeline of {len(self.outing.tasks)} steps in {len(self.lanes)} lanes, "
        words += f"from 00:00 to {hours_text(self.outing.end)}; the limit is "
        words += f"{hours_text(self.timed.limit.value)}. The table below says the same."
        head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="timeline" role="group" '
            f'viewBox="0 0 {WIDTH:g} {height:.0f}" aria-labelledby="{name}-says" '
            f'font-family="{FACE}" font-size="{SIZE:g}" fill="{INK}">'
            f'<title id="{name}-says">{escape(words)}</title>'
        )
        return head + "".join(parts) + "</svg>"

    def _strip(self, strip: int, top: float) -> tuple[list[str], float]:
        begin = strip * STRIP_SECONDS
        end = begin + STRIP_SECONDS
        y = top + _AXIS
        parts: list[str] = []
        bands = [*self._windows(begin, end)]
        phases = [*self._phases(begin, end)]
        n_bands = len(self.outing.procedure.windows) + bool(self.outing.procedure.phases)
        for k, rows in enumerate((bands, phases)):
            for band in rows:
                parts.append(band.replace("@Y", f"{y:.1f}"))
            if k == 0:
                y += _BAND * len(self.outing.procedure.windows)
            elif self.outing.procedure.phases:
                y += _BAND
        lanes_top = y + (4.0 if n_bands else 0.0)
        y = lanes_top
        bars: list[str] = []
        for k, lane in enumerate(self.lanes):
            n_rows = 1 + max(
                (self.rows[lane][name] for name in self._names(lane, begin, end)), default=0
            )
            bars += self._lane(lane, k, y, n_rows, begin, end)
            y += _ROW * n_rows
        parts = self._grid(begin, end, top, lanes_top, y) + parts + bars
        parts += self._moments(begin, end, lanes_top, y)
        return parts, y - top

    def _x(self, moment: float, begin: float) -> float:
        return LEFT + (moment - begin) * self.per_second

    def _grid(self, begin: float, end: float, top: float, high: float, low: float) -> list[str]:
        parts = []
        for k in range(math.ceil(begin / _TICK), math.floor(min(end, self.last) / _TICK) + 1):
            x = self._x(k * _TICK, begin)
            is_hour = k % 6 == 0
            tone = SOFT_INK if is_hour else mixed(SOFT_INK, PAPER, 0.72)
            parts.append(line(x, top + _AXIS - 3.0, x, low, tone, 0.8 if is_hour else 0.6))
            words = hours_text(k * _TICK)
            at = min(max(x, LEFT), WIDTH - RIGHT - 14.0)
            weight = "bold" if is_hour else "normal"
            parts.append(text(at, top + _AXIS - 7.0, words, SMALL, "middle", weight))
        return parts

    def _windows(self, begin: float, end: float) -> Iterator[str]:
        for row, (name, record) in enumerate(self.outing.procedure.windows.items()):
            up = _BAND * row
            label = text(LEFT - 8.0, up + 11.0, name, SMALL, "end")
            yield f'<g transform="translate(0 @Y)">{label}'
            for first, last in record.spans:
                a, b = max(first, begin), min(last, end)
                if b <= a:
                    continue
                yield self._window(name, first, last, record.margin, record.dark, begin, a, b, up)
            yield "</g>"

    def _window(
        self, name: str, first: float, last: float, margin: float, dark: bool,
        begin: float, a: float, b: float, up: float,
    ) -> str:  # fmt: skip
        fill, ink = (DARK, PAPER) if dark else (PAPER, INK)
        x, wide = self._x(a, begin), (b - a) * self.per_second
        words = f"{name} {hours_text(first)} to {hours_text(last)}"
        says = f"{words}, {margin / 60.0:.3g} min kept from both ends" if margin else words
        parts = [f"<g><title>{escape(says)}</title>", rect(x, up + 1, wide, _BAND - 3, fill, INK)]
        for edge, way in ((first, 1.0), (last, -1.0)):
            lo, hi = sorted((edge, edge + way * margin))
            lo, hi = max(lo, a), min(hi, b)
            if hi > lo:
                tone = mixed(fill, PAPER if dark else SOFT_INK, 0.45)
                parts.append(
                    rect(self._x(lo, begin), up + 1, (hi - lo) * self.per_second, _BAND - 3,
                          tone, INK, 0.5)
                )  # fmt: skip
        inner = (min(b, last - margin) - max(a, first + margin)) * self.per_second
        shown = fitted(words, SMALL, inner - 6.0)
        if shown:
            middle = 0.5 * (max(a, first + margin) + min(b, last - margin))
            parts.append(
                text(self._x(middle, begin), up + 10.3, shown, SMALL, "middle", colour=ink)
            )
        return "".join(parts) + "</g>"

    def _phases(self, begin: float, end: float) -> Iterator[str]:
        spans = self.outing.spans
        if not self.outing.procedure.phases:
            return
        yield f'<g transform="translate(0 @Y)">{text(LEFT - 8.0, 10.5, "phase", SMALL, "end")}'
        for name, phase in self.outing.procedure.phases.items():
            if phase.start not in spans or phase.stop_at not in spans:
                continue
            first, last = spans[phase.start].begin, spans[phase.stop_at].end
            a, b = max(first, begin), min(last, end)
            if b <= a:
                continue
            x, wide = self._x(a, begin), (b - a) * self.per_second
            says = f"phase {name}: {hours_text(first)} to {hours_text(last)}"
            shown = fitted(name, SMALL, wide - 8.0)
            yield f"<g><title>{escape(says)}</title>"
            yield line(x + 1, 12.5, x + wide - 1, 12.5, SOFT_INK, 1.2)
            yield "".join(
                line(at, 6.0, at, 12.5, SOFT_INK, 1.2)
                for at, whole in ((x + 1, a == first), (x + wide - 1, b == last))
                if whole
            )
            if shown:
                yield text(x + 6.0, 10.0, shown, SMALL)
            yield "</g>"
        yield "</g>"

    def _lane(
        self, lane: str, number: int, y: float, n_rows: int, begin: float, end: float
    ) -> list[str]:
        kind = self.outing.procedure.lanes[lane]
        fill = SECOND_WORKER if kind == "worker" and number % 2 else FILLS[kind]
        height = _ROW * n_rows
        low = y + height
        parts = [
            text(LEFT - 8.0, y + 0.5 * height + 1.0, lane, SIZE, "end", "bold"),
            text(LEFT - 8.0, y + 0.5 * height + 11.0, kind if kind != lane else "", 7.5, "end",
                  colour=SOFT_INK),
            line(LEFT, low, min(self._x(self.last, begin), WIDTH - RIGHT), low,
                  mixed(SOFT_INK, PAPER, 0.55), 0.6),
        ]  # fmt: skip
        bars = list(self._bars(lane, begin, end))
        for bar in bars:
            beside = [one for one in bars if one.row == bar.row and one is not bar]
            left = max((self._right(one, begin) for one in beside if one.begin <= bar.begin),
                       default=LEFT)  # fmt: skip
            right = min((self._x(one.begin, begin) for one in beside if one.begin > bar.begin),
                        default=WIDTH - RIGHT)  # fmt: skip
            parts.append(self._bar(bar, fill, y + _ROW * bar.row, begin, (left, right)))
        for moment in self.gloves.get(lane, ()):
            if begin <= moment.time < end:
                parts.append(glove(self._x(moment.time, begin), y, moment.time))
        return parts

    def _bars(self, lane: str, begin: float, end: float) -> Iterator[Bar]:
        for task in self._tasks(lane):
            span = self.outing.spans[task.name]
            a, b = max(span.begin, begin), min(span.end, end)
            if b > a or (span.begin == span.end and begin <= span.begin < end):
                yield Bar(task, a, b, self.rows[lane][task.name])

    def _right(self, bar: Bar, begin: float) -> float:
        """Return where a bar ends as drawn."""
        return self._x(bar.begin, begin) + max((bar.end - bar.begin) * self.per_second, _LEAST_WIDE)

    def _bar(self, bar: Bar, fill: str, y: float, begin: float, free: tuple[float, float]) -> str:
        """Return a bar with its words; ``free`` is between what is left and right of it."""
        task, span = bar.task, self.outing.spans[bar.task.name]
        verdict = self.worst.get(task.name, Verdict.NOT_ASKED)
        x = self._x(bar.begin, begin)
        true = (bar.end - bar.begin) * self.per_second
        wide = max(true, min(_LEAST_WIDE, free[1] - x))
        is_critical = task.name in self.timed.table.critical
        says = f"{task.name}: {hours_text(span.begin)} to {hours_text(span.end)}, "
        says += f"{' and '.join(task.lanes)}; {verdict}"
        says += "; sets the end" if is_critical else ""
        top, high = y + 4.0, _ROW - 8.0
        parts = [f'<g class="bar"><title>{escape(says)}</title>']
        parts.append(rect(x + 0.4, top, max(wide - 0.8, 0.6), high, fill, INK, 0.8))
        if is_critical:
            parts.append(rect(x + 0.4, top + high - 3.0, max(wide - 0.8, 0.6), 3.0, INK, INK, 0.0))
        if verdict in (Verdict.FAIL, Verdict.OPEN, Verdict.REVIEW):
            tone = FAIL if verdict is Verdict.FAIL else OPEN
            parts.append(rect(x + 0.4, top, max(wide - 0.8, 0.6), 4.0, tone, INK, 0.6))
        label = f"{SHAPE[verdict]} {task.name}" if verdict is not Verdict.PASS else task.name
        label = label if verdict is not Verdict.NOT_ASKED else task.name
        if wide > true:
            parts.append(line(x + 0.5 * wide, top - _TICKED, x + 0.5 * wide, top, INK, 1.4))
        words = label_of(task.name, label, x, wide, top, high)
        number = task.name.split(" ")[0]
        outside = "" if words else beside(number, x, x + wide, free, top + 0.5 * high + 3.2)
        return "".join(parts) + words + "</g>" + outside

    def _moments(self, begin: float, end: float, high: float, low: float) -> list[str]:
        """Mark when all must be over."""
        moment = self.timed.limit.value
        if not begin < moment <= end:
            return []
        x = self._x(moment, begin)
        words = f"the limit: {hours_text(moment)}"
        at, anchor = x, "middle"
        if at + 0.5 * width_of(words, SMALL) > WIDTH - RIGHT:
            at, anchor = WIDTH - RIGHT, "end"
        return [
            f"<g><title>{escape(words)}</title>",
            line(x, high - 2.0, x, low + 3.0, FAIL, 2.0, "6 4"),
            text(at, low + 13.0, words, SMALL, anchor, "bold", FAIL) + "</g>",
        ]


def _rows(tasks: Iterable[Task], spans: Mapping[str, Span]) -> dict[str, int]:
    """Return the row of each task below the first of its lane: the first one that is free."""
    ends: list[float] = []
    found: dict[str, int] = {}
    timed = sorted(tasks, key=lambda task: spans[task.name].begin)
    for task in timed:
        span = spans[task.name]
        row = next((k for k, end in enumerate(ends) if end <= span.begin + 1e-6), len(ends))
        if row == len(ends):
            ends.append(span.end)
        ends[row] = max(span.end, ends[row])
        found[task.name] = row
    return found
