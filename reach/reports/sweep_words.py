"""Words of a payload's way: brackets rounded outward, moments, axes, the curve as one line."""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from reach.payload.records import Curve, PartGap

Array = NDArray[np.float64]

_BLOCKS = "▁▂▃▄▅▆▇█"
_SLACK = 1e-4
"""Part of the last digit that is put down to binary fractions."""


def down(value: float, digits: int = 3) -> float:
    """Return a number rounded down, so that no more is promised than was shown.

    Examples
    --------
    >>> down(0.4619), down(-0.1381), down(0.2)
    (0.461, -0.139, 0.2)
    """
    if not math.isfinite(value):
        return value
    scale = 10.0**digits
    return math.floor(value * scale + _SLACK) / scale


def up(value: float, digits: int = 3) -> float:
    """Return a number rounded up.

    Examples
    --------
    >>> up(0.4611), up(-0.1389)
    (0.462, -0.138)
    """
    return -down(-value, digits) + 0.0


def bracket(low: float, high: float) -> str:
    """Return an interval of a gap in metres, rounded outward.

    Examples
    --------
    >>> bracket(0.46182, 0.46256), bracket(0.0, 0.0), bracket(1.5, float("inf"))
    ('0.461 .. 0.463', '0.000', '1.500 or more')
    """
    if math.isinf(high):
        return f"{down(low):.3f} or more"
    first, last = f"{down(low):.3f}", f"{up(high):.3f}"
    return first if first == last else f"{first} .. {last}"


def clock(seconds: float) -> str:
    """Return a moment since the start as hours and minutes.

    Examples
    --------
    >>> clock(5820.0)
    '01:37'
    """
    minutes = int(seconds // 60.0 + 1e-9)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def part_words(gap: PartGap) -> str:
    """Return which part comes near, and which piece of it where that says more."""
    piece = gap.piece_of_part.replace("_", " ")
    return gap.part if piece in ("", gap.part) else f"{gap.part} ({piece})"


def point_words(point: Iterable[float]) -> str:
    """Return a point in metres."""
    return "(" + ", ".join(f"{round(v, 3) + 0.0:.3f}" for v in point) + ")"


def axis_words(axis: Array) -> str:
    """Return an axis of the payload: by its letter where it is one, else by its numbers.

    Examples
    --------
    >>> axis_words(np.array([0.0, 0.0, -1.0])), axis_words(np.array([0.6, 0.8, 0.0]))
    ('its -z', 'its axis [0.60, 0.80, 0.00]')
    """
    k = int(np.argmax(np.abs(axis)))
    if abs(axis[k]) > 1.0 - 1e-6:
        return f"its {'+' if axis[k] > 0.0 else '-'}{'xyz'[k]}"
    return "its axis [" + ", ".join(f"{round(v, 2) + 0.0:.2f}" for v in axis.tolist()) + "]"


def sparkline(curve: Curve, n_legs: int, columns: int, top: float) -> str:
    """Return what is left along the way as blocks, legs apart by bars.

    Parameters
    ----------
    curve : Curve
    n_legs, columns : int
        Columns to a leg; each shows the least of its spans.
    top : float, m
        What a full block stands for, or more.
    """
    legs = []
    middle = 0.5 * (curve.start + curve.stop)
    for leg in range(n_legs):
        edges = leg + np.arange(columns + 1) / columns
        cells = []
        for a, b in pairwise(edges.tolist()):
            # Every span counts that lies in the column even in part.
            mine = (curve.start < b - 1e-9) & (curve.stop > a + 1e-9) & (middle // 1 == leg)
            cells.append(_block(float(np.min(curve.margin_low[mine], initial=math.inf)), top))
        legs.append("".join(cells))
    return "|".join(legs)


def _block(value: float, top: float) -> str:
    if value < 0.0:
        return "×"
    if top <= 0.0:
        return _BLOCKS[0]
    return _BLOCKS[min(int(len(_BLOCKS) * min(value / top, 1.0)), len(_BLOCKS) - 1)]
