"""Rails and the places a way begins or ends at, in one world frame."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Vec = tuple[float, float, float]

HANDHOLD = 1e-6
"""A rail shorter than this is a single handhold (m)."""


@dataclass(frozen=True, slots=True)
class Rail:
    """A handrail, or a handhold where both ends coincide.

    Attributes
    ----------
    name : str
    start, stop : tuple of 3 floats, m, world
    out : tuple of 3 floats, world
        Unit vector away from the structure: the side a hand comes from.
    status : {"free", "blocked", "no-touch", "gone"}
    rated : bool
        Whether it may bear a person.
    rating : float or None, N
        What it bears, where that is known.
    stowed : tuple of str
        Names of the items stowed on it.
    """

    name: str
    start: Vec
    stop: Vec
    out: Vec = (0.0, 0.0, 1.0)
    status: Literal["free", "blocked", "no-touch", "gone"] = "free"
    rated: bool = True
    rating: float | None = None
    stowed: tuple[str, ...] = ()

    @property
    def usable(self) -> bool:
        """Whether a hand may hold it without being asked specially."""
        return self.rated and self.status == "free"


@dataclass(frozen=True, slots=True)
class Spot:
    """A place where a way begins or ends: socket, station, anchor, hatch, point on a rail.

    Attributes
    ----------
    name : str
    point : tuple of 3 floats, m, world
    span : float or None, m
        How far from it a rail may be; None takes the graph's ``spot_span``.  A place where the
        worker hangs on by one hand has the span of the gap limit.
    """

    name: str
    point: Vec
    span: float | None = None


def index_of(what: str, name: str, names: Iterable[str]) -> int:
    """Return where ``name`` stands among ``names``.

    Raises
    ------
    ValueError
        If it is not there; the message names the nearest right one.

    Examples
    --------
    >>> index_of("rail", "RL2", ["RL1", "RL2"])
    1
    >>> index_of("spot", "SK33", ["SK3", "AN-01"])
    Traceback (most recent call last):
    ...
    ValueError: unknown spot 'SK33'; did you mean 'SK3'?
    """
    known = list(names)
    if name in known:
        return known.index(name)
    near = difflib.get_close_matches(name, known, n=1, cutoff=0.5)
    hint = f"did you mean {near[0]!r}?" if near else f"there are {', '.join(known[:12]) or 'none'}"
    raise ValueError(f"unknown {what} {name!r}; {hint}")
