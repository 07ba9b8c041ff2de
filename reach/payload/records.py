"""Records of what is moved, what it must keep off, and how near it comes on its way."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from reach.geometry import Tree

Array = NDArray[np.float64]

PartKind = Literal["payload", "rider", "plate"]


TOUCH = 1e-9
"""What counts as short where something touches that nothing is asked of (m)."""


@dataclass(frozen=True, eq=False, slots=True)
class Part:
    """Something that moves rigidly with what is moved.

    Attributes
    ----------
    name : str
        ``"relay-boom"``, ``"W2"``, ``"boot plate"``.
    kind : str
        ``"payload"``, ``"rider"`` (the body, boots included) or ``"plate"``.
    tree : Tree
        In the frame of what is moved (the payload's, else the boots').
    names : tuple of str
        What each triangle belongs to: solids of the payload, parts of the body.
    name_of : ndarray, shape (n,)
        Index into ``names`` for each triangle the tree was built from.
    error : float, m
        How far the true surface may stand outside the triangles.
    excess : float, m
        How far the triangles may stand outside the true surface.
    """

    name: str
    kind: PartKind
    tree: Tree
    names: tuple[str, ...]
    name_of: NDArray[np.int64]
    error: float
    excess: float


@dataclass(frozen=True, eq=False, slots=True)
class Thing:
    """A solid or hazard that what is moved must keep off.

    Attributes
    ----------
    name : str
    kind : str
        ``"solid"``, or the kind of the hazard.
    tree : Tree
        In the world.
    stand_off : float, m
        What is asked where a leg says nothing else.
    error, excess : float, m
        As of a `Part`.
    is_sure : bool
        False of a hazard that is not known to be active all the while: what comes near it may do
        so when it is not.
    """

    name: str
    kind: str
    tree: Tree
    stand_off: float
    error: float
    excess: float
    is_sure: bool = True

    @property
    def is_hazard(self) -> bool:
        """Whether it is a hazard, not structure."""
        return self.kind != "solid"


@dataclass(frozen=True, eq=False, slots=True)
class PartGap:
    """How near one part comes to one thing on the legs that ask the same of it.

    Attributes
    ----------
    part, thing : str
    piece_of_part : str
        Which solid of the payload, or part of the body, comes nearest.
    low, high : float, m
        Bracket of the least gap, of true surfaces; facet errors are in it.
    stand_off : float, m
        What is asked; 0 where contact is meant.
    legs : tuple of int
        Legs of the carriage that this covers.
    at : float
        Where the gap is ``high``: leg number plus time 0 to 1; nan without a witness.
    pose : ndarray, shape (4, 4), world_from_payload, or nan
        Then.
    on_part, on_thing : ndarray, shape (3,), m, world
        Witness points then; nan without.
    is_contact_meant : bool
        Whether it may touch there (a stand-off of 0 on these legs): nothing is judged.
    is_sure : bool
        As of the `Thing`: where False, ``high`` proves nothing.
    """

    part: str
    thing: str
    piece_of_part: str
    low: float
    high: float
    stand_off: float
    legs: tuple[int, ...]
    at: float
    pose: Array
    on_part: Array
    on_thing: Array
    is_contact_meant: bool
    is_sure: bool = True

    @property
    def margin(self) -> tuple[float, float]:
        """What is left of the stand-off, as an interval, m; never good where contact is not meant.

        Where a stand-off is 0, what touches is short of it by `TOUCH`.
        """
        low, high = self.low - self.stand_off, self.high - self.stand_off
        if self.is_contact_meant:
            return low, high
        return (
            min(low, -TOUCH) if self.low <= 0.0 else low,
            min(high, -TOUCH) if self.high <= 0.0 else high,
        )


@dataclass(frozen=True, eq=False, slots=True)
class Curve:
    """How near a part comes to anything it must keep off, span by span along the way.

    Attributes
    ----------
    part : str
    start, stop : ndarray, shape (n,)
        The span: leg number plus time 0 to 1.
    low, high : ndarray, shape (n,), m
        Bracket of the least gap in the span; ``low`` is a bound, nothing is nearer.
    margin_low, margin_high : ndarray, shape (n,), m
        Bracket of the least of gap less stand-off: what counts where stand-offs differ.
    thing : tuple of str
        What comes nearest to its stand-off in the span.
    """

    part: str
    start: Array
    stop: Array
    low: Array
    high: Array
    margin_low: Array
    margin_high: Array
    thing: tuple[str, ...]
