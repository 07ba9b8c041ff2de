"""Drawing by pen at twice the size: text, badges, arrows, broken lines, rings and crosses."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from reach.finding import Verdict
from reach.pictures.palette import FAIL, INK, OPEN, PAPER, VERDICT, rgb
from reach.reports.verdicts import SHAPE

Array = NDArray[np.float64]
Point = tuple[float, float]

SMOOTH = 2
"""What lies over a view is drawn this much larger and then brought down: smooth edges."""

PATTERNS = {"dash": (13.0, 8.0), "dot": (1.5, 6.5)}
"""On and off lengths of broken lines, px."""

HALO = 1.2
_LINE_SPACE = 1.28


@lru_cache(maxsize=64)
def font(size: float, is_bold: bool = False) -> ImageFont.FreeTypeFont:
    """Return the font at a size in pixels."""
    import matplotlib

    name = "DejaVuSans-Bold.ttf" if is_bold else "DejaVuSans.ttf"
    file = Path(matplotlib.get_data_path()) / "fonts" / "ttf" / name
    return ImageFont.truetype(str(file), size)


class Pen:
    """Draws on an image in pixels of the finished picture; the image may be larger by a scale."""

    def __init__(self, image: Image.Image, scale: float = 1.0) -> None:
        self.draw = ImageDraw.Draw(image)
        self.scale = scale

    def box(
        self,
        box: Sequence[float],
        fill: str,
        edge: str | None = None,
        alpha: int = 255,
        round_: float = 4,
    ) -> None:
        """Fill a box with rounded corners."""
        at = [self.scale * v for v in box]
        outline = None if edge is None else rgb(edge)
        width = 0 if edge is None else round(1.4 * self.scale)
        self.draw.rounded_rectangle(at, self.scale * round_, (*rgb(fill), alpha), outline, width)

    def text(
        self, at: Point, text: str, size: float, colour: str = INK, is_bold: bool = False
    ) -> None:
        """Write one line; ``at`` is its left end, half-way up."""
        place = (self.scale * at[0], self.scale * at[1])
        self.draw.text(place, text, rgb(colour), font(self.scale * size, is_bold), anchor="lm")

    def paragraph(
        self,
        at: Point,
        text: str,
        size: float,
        width: float,
        colour: str = INK,
        is_bold: bool = False,
    ) -> float:
        """Write wrapped text from its upper left corner; return where the next line would start."""
        y = at[1]
        for line in wrapped(text, size, width, is_bold):
            self.text((at[0], y + 0.5 * size * _LINE_SPACE), line, size, colour, is_bold)
            y += size * _LINE_SPACE
        return y

    def rule(self, start: Point, end: Point, colour: str, width: float) -> None:
        """Draw a plain straight line."""
        flat = [self.scale * v for v in (*start, *end)]
        self.draw.line(flat, rgb(colour), round(self.scale * width))

    def line(
        self, points: Sequence[Point], colour: str, width: float, pattern: str = "solid"
    ) -> None:
        """Draw a line, broken or not, with a pale edge that lifts it off what is behind."""
        pieces = [list(points)] if pattern == "solid" else broken(points, *PATTERNS[pattern])
        for tone, wide, alpha in ((PAPER, width + 2 * HALO, 170), (colour, width, 255)):
            for piece in pieces:
                flat = [(self.scale * x, self.scale * y) for x, y in piece]
                fill = (*rgb(tone), alpha)
                self.draw.line(flat, fill, round(self.scale * wide), joint="curve")
                if pattern == "dot":
                    self._dot(piece[0], 0.5 * wide, fill)

    def arrow_head(self, tail: Point, tip: Point, colour: str, size: float) -> None:
        """Draw the head of an arrow."""
        length = math.dist(tail, tip)
        if length < 1.0:
            return
        ux, uy = (tip[0] - tail[0]) / length, (tip[1] - tail[1]) / length
        corners = [
            (tip[0] + size * ux, tip[1] + size * uy),
            (tip[0] - 0.55 * size * uy, tip[1] + 0.55 * size * ux),
            (tip[0] + 0.55 * size * uy, tip[1] - 0.55 * size * ux),
        ]
        flat = [(self.scale * x, self.scale * y) for x, y in corners]
        self.draw.polygon(flat, rgb(colour), rgb(INK), round(1.2 * self.scale))

    def ring(self, at: Point, radius: float, colour: str, width: float = 3.0) -> None:
        """Draw a ring with a dark and a pale edge."""
        for tone, r, wide in (
            (PAPER, radius + 2.6, width + 5.2),
            (INK, radius + 1.2, width + 2.4),
            (colour, radius, width),
        ):
            outer = [self.scale * v for v in (at[0] - r, at[1] - r, at[0] + r, at[1] + r)]
            self.draw.ellipse(outer, None, rgb(tone), round(self.scale * wide))

    def cross(self, at: Point, radius: float) -> None:
        """Draw the marker of what fails: a violet disc with a white edge and a white cross."""
        self._dot(at, radius + 3.0, (*rgb(INK), 255))
        self._dot(at, radius + 1.8, (*rgb(PAPER), 255))
        self._dot(at, radius, (*rgb(FAIL), 255))
        arm = 0.5 * radius
        for sign in (-1, 1):
            ends = [(at[0] - arm, at[1] - sign * arm), (at[0] + arm, at[1] + sign * arm)]
            flat = [(self.scale * x, self.scale * y) for x, y in ends]
            self.draw.line(flat, rgb(PAPER), round(self.scale * 0.3 * radius))

    def diamond(self, at: Point, radius: float) -> None:
        """Draw the marker of what is not settled: a pale blue diamond with an ink edge."""
        for tone, r in ((PAPER, radius + 3.0), (INK, radius + 1.6), (OPEN, radius - 1.0)):
            corners = [(0, -r), (r, 0), (0, r), (-r, 0)]
            flat = [(self.scale * (at[0] + x), self.scale * (at[1] + y)) for x, y in corners]
            self.draw.polygon(flat, rgb(tone))

    def dot(self, at: Point, radius: float = 3.0) -> None:
        """Draw a small ink dot with a pale edge."""
        self._dot(at, radius + 1.5, (*rgb(PAPER), 255))
        self._dot(at, radius, (*rgb(INK), 255))

    def badge(self, at: Point, verdict: Verdict, size: float) -> float:
        """Draw a verdict as shape and word in a box from its left end; return its right end."""
        words = f"{SHAPE[verdict]} {verdict.upper()}"
        width = text_width(words, size, True) + 1.1 * size
        fill = VERDICT[verdict]
        box = (at[0], at[1] - 0.82 * size, at[0] + width, at[1] + 0.82 * size)
        self.box(box, fill, INK, round_=0)
        dark = sum(rgb(fill)) < 3 * 128
        self.text((at[0] + 0.55 * size, at[1]), words, size, PAPER if dark else INK, True)
        return at[0] + width

    def _dot(self, at: Point, radius: float, fill: tuple[int, ...]) -> None:
        place = [
            self.scale * v for v in (at[0] - radius, at[1] - radius, at[0] + radius, at[1] + radius)
        ]
        self.draw.ellipse(place, fill)


def new_sheet(width: int, height: int, lettering: float = 1.0) -> tuple[Image.Image, Pen]:
    """Return a transparent sheet for a view of that size (px) and a pen to draw on it.

    With a ``lettering`` of 1.4 letters, lines and spots are so much larger: the pen then draws in
    a window of ``width / 1.4`` by ``height / 1.4``.
    """
    sheet = Image.new("RGBA", (SMOOTH * width, SMOOTH * height), (0, 0, 0, 0))
    return sheet, Pen(sheet, SMOOTH * lettering)


def lay_over(picture: Image.Image, sheet: Image.Image, at: tuple[int, int]) -> None:
    """Lay a sheet over a picture, its upper left corner at a pixel."""
    small = sheet.reduce(SMOOTH)
    picture.paste(small, at, small)


def text_width(text: str, size: float, is_bold: bool = False) -> float:
    """Return how wide a line of text is, px."""
    return float(font(size, is_bold).getlength(text))


def wrapped(text: str, size: float, width: float, is_bold: bool = False) -> list[str]:
    """Return text cut into lines no wider than a width (px); a longer word stands alone."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, size, is_bold) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def shortened(text: str, size: float, width: float, is_bold: bool = False) -> str:
    """Return text that fits a width (px), cut with an ellipsis if need be."""
    if text_width(text, size, is_bold) <= width:
        return text
    while text and text_width(text + "…", size, is_bold) > width:
        text = text[:-1]
    return text.rstrip() + "…"


def broken(points: Sequence[Point], on: float, off: float) -> list[list[Point]]:
    """Return the pieces of a broken line along a path, px.

    Examples
    --------
    >>> broken([(0.0, 0.0), (10.0, 0.0)], 4.0, 2.0)
    [[(0.0, 0.0), (4.0, 0.0)], [(6.0, 0.0), (10.0, 0.0)]]
    """
    path = np.asarray(points, float)
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    pieces = []
    for start in np.arange(0.0, along[-1], on + off):
        stop = min(start + on, along[-1])
        inner = along[(along > start) & (along < stop)]
        where = np.concatenate([[start], inner, [stop]])
        xs, ys = (np.interp(where, along, path[:, i]) for i in range(2))
        pieces.append([(float(x), float(y)) for x, y in zip(xs, ys, strict=True)])
    return pieces
