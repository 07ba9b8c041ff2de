"""How long a safety line is once it is pulled tight: at most, and at least.

A line led along rails names a class: all lines between the same ends that it
turns into when moved without crossing structure.  The shortest of the class is
what the reel pays out.  Proved are

* ``high``: `points` is a line of the class, no segment nearer to the surface
  than ``held``.  Every move that made it swept triangles free of structure.
* ``low``: no line of the class that keeps as far off is shorter; the straight line
  between the ends, or a gate that all of them pass (:mod:`reach.lines.gates`).

Not proved: that `points` is the shortest.  It is tight where it lies; where a
corner would slip off sideways, round the end of what it lies on, a shorter line
may exist, and only ``low`` speaks of that.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.geometry import Tree, inside, point_distance, segment_distance
from reach.lines.gates import Passage, gate_bound
from reach.lines.leading import brought_out, led_round, length
from reach.lines.pulling.sweeping import cuts, in_sleeve
from reach.lines.pulling.tightening import tighten

Floats = NDArray[np.float64]

TOUCH = 1e-5
"""A line of no radius is held this far off, m: an exact zero could not be told from crossing."""
STUB = 1e-4
"""An end on the surface is led this far straight off it, m, and kept so."""
SLEEVE = 2.0
"""As many radii round an end nearer than the radius, the line need only not cross structure."""
_FEWEST_OFF = 0.02
"""Least a stretch that cut through structure is led off it, m."""
_MOST_CORNERS = 4000
_MOST_SWEEPS = 300


@dataclass(frozen=True, eq=False, slots=True)
class Taut:
    """A line pulled tight.

    Attributes
    ----------
    low, high : float, m
        The shortest line of the class, held so far off, has a length between them.
    points : ndarray, shape (m, 3), m, world
        The tightened line, from end to end, ``high`` long.
    routed : float, m
        Length of the line as it was led.
    by : str
        What ``low`` is proved by: "straight" line, "gate", or "free" where the
        straight line itself is of the class and free.
    held : float, m
        What the line is held off the surface, ends apart: the radius, or less
        where it was led nearer.
    lifted : tuple of int
        Stretches of the line as led that cut through structure and were led
        round by the nearest way out: the class is that of the line so mended.
    """

    low: float
    high: float
    points: Floats
    routed: float
    by: str
    held: float
    lifted: tuple[int, ...]


def taut(
    tree: Tree,
    points: ArrayLike,
    radius: float = 0.0,
    within: float = 0.005,
    gates: bool = True,
) -> Taut:
    """Return how long the line is when pulled tight round the structure.

    Parameters
    ----------
    tree : Tree
        The structure.
    points : array_like, shape (k, 3), m, world
        The line as it was led, k >= 2.
    radius : float, m
        Held off the surface.  An end nearer than that is exempt, `SLEEVE` radii
        round it.
    within : float, m
        Tightening ends when a sweep over all corners saves less than a fiftieth
        of this.
    gates : bool
        Look for a better ``low`` than the straight line; takes most of the time.

    Returns
    -------
    taut : Taut

    Raises
    ------
    ValueError
        If the line is no polyline, a number is out of range, or the line is led
        through the structure where no way round is near.
    """
    given = _checked(points, radius, within)
    led, ends = _with_stubs(tree, given)
    need = max(radius, TOUCH)
    led, lifted = led_round(tree, led, max(2.0 * need, _FEWEST_OFF))
    near = point_distance(tree, led[[0, -1]], within=need).distance
    sleeve = np.column_stack([led[[0, -1]], np.where(near < need, SLEEVE * need, 0.0)])
    least = 0.5 * min(TOUCH, float(near.min()))
    held = min(need, _off(tree, led, sleeve, need))
    if held < least:
        raise ValueError("the line is led on the surface of the structure")
    line = tighten(
        tree.tri, tree.box, tree.link, led, held, least, sleeve, within / 50.0, *_mosts(led)
    )
    line = _whole(line, given, ends)
    off = _off(tree, line[ends[0] : len(line) - ends[1]], sleeve, need)
    if off < held - 1e-9:
        raise RuntimeError(f"the tightened line is {off} m off the structure, not {held}")
    high = length(line)
    low, by = _low(
        tree, given, _whole(led, given, ends), line, (high, min(radius, held), sleeve), gates
    )
    return Taut(low, high, line, length(given), by, held, lifted)


def _checked(points: ArrayLike, radius: float, within: float) -> Floats:
    given = np.array(points, dtype=np.float64)
    if given.ndim != 2 or given.shape[1:] != (3,) or len(given) < 2:
        raise ValueError(f"a line needs points of shape (k, 3), k >= 2, not {given.shape}")
    if not np.isfinite(given).all():
        raise ValueError("a point of the line is not finite")
    if not (np.isfinite(radius) and radius >= 0.0):
        raise ValueError(f"radius must be 0 or more, not {radius}")
    if not (np.isfinite(within) and within > 0.0):
        raise ValueError(f"within must be more than 0, not {within}")
    moved = np.linalg.norm(np.diff(given, axis=0), axis=1) > 1e-9
    keep = np.concatenate([[True], moved])
    if not moved.any():
        raise ValueError("the line has no length")
    return np.asarray(given[keep])


def _mosts(led: Floats) -> tuple[int, int]:
    return len(led) + _MOST_CORNERS, _MOST_SWEEPS


def _with_stubs(tree: Tree, given: Floats) -> tuple[Floats, tuple[int, int]]:
    """Return the line with ends on or in structure led off it, and how many were (0 or 1 each)."""
    led = given.copy()
    on = (point_distance(tree, given[[0, -1]], within=1.0).distance < TOUCH) | inside(
        tree, given[[0, -1]]
    )
    if on[0]:
        led[0] = brought_out(tree, given[0], STUB, given[1])
    if on[1]:
        led[-1] = brought_out(tree, given[-1], STUB, given[-2])
    return led, (int(on[0]), int(on[1]))


def _whole(line: Floats, given: Floats, ends: tuple[int, int]) -> Floats:
    return np.concatenate([given[: ends[0]], line, given[len(given) - ends[1] :]])


def _off(tree: Tree, line: Floats, sleeve: Floats, within: float) -> float:
    """Return how far the line is off the surface, sleeves apart, `within` (m) at most."""
    starts, stops = [], []
    for p, q in pairwise(line):
        at = np.empty(6)
        n = cuts(p, q, sleeve, at)
        for s, t in pairwise(at[: n + 1]):
            x, y = p + s * (q - p), p + t * (q - p)
            if not in_sleeve(0.5 * (x + y), sleeve):
                starts.append(x)
                stops.append(y)
    if not starts:
        return within
    found = segment_distance(tree, np.array(starts), np.array(stops), within)
    return float(found.distance.min())


def _low(
    tree: Tree,
    given: Floats,
    led: Floats,
    line: Floats,
    known: tuple[float, float, Floats],
    gates: bool,
) -> tuple[float, str]:
    high, off, sleeve = known
    straight = float(np.linalg.norm(given[-1] - given[0]))
    if len(line) == 2:
        return straight, "free"
    if not gates:
        return straight, "straight"
    stubs = [float(np.linalg.norm(s[:3] - e)) for s, e in zip(sleeve, given[[0, -1]], strict=True)]
    exempt = max(float(sleeve[:, 3].max()), 0.0) + max(stubs)
    gate = gate_bound(Passage(tree, led, off, high, exempt), line) - 1e-9
    return (gate, "gate") if gate > straight else (straight, "straight")
