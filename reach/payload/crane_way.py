"""The way of a crane's joints while it moves, and how near its links come to anything."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.arm import Chain
from reach.site import Carriage, Site

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False, slots=True)
class LinkGap:
    """How near a link of a crane comes to one thing over the whole motion.

    Attributes
    ----------
    link, thing : str
        ``thing`` is a solid, a hazard, a part of what is moved, or another link.
    kind : str
        ``"solid"``, ``"hazard"``, ``"carried"`` or ``"self"``.
    low, high : float, m
        Bracket of the least gap; facet errors are in it.  Links are held by capsules that
        cover them: a link is at least ``low`` away, ``high`` is infinite where only the
        cover is near (no contact of links is proved by it).
    stand_off : float, m
        What is asked of a hazard; 0 else (checks have limits for the rest).
    at : float
        Where the gap of the cover is least: posture number plus time 0 to 1; nan without one.
    on_link, on_thing : ndarray, shape (3,), m, world
        Then; nan without.
    """

    link: str
    thing: str
    kind: str
    low: float
    high: float
    stand_off: float
    at: float
    on_link: Array
    on_thing: Array


@dataclass(frozen=True, eq=False, slots=True)
class CraneWay:
    """How a crane takes its tip along a motion.

    Attributes
    ----------
    chain : Chain
        The arm as flat arrays.
    world_from_base : ndarray, shape (4, 4)
    q : ndarray, shape (k, n_joints), rad or m
        Postures; between two of them all joints move evenly.  Empty where none is known.
    at : ndarray, shape (k,)
        Where on the way each stands: leg number plus time 0 to 1.
    off : float, m
        How far the tip, taken along evenly moving joints, may be off the way that is asked.
    gaps : tuple of LinkGap
        The nearest of each kind and link.
    stuck_at : float
        Where on the way the joints cannot be followed further (leg number plus time);
        nan where they reach the end.
    shortage : float, m
        How far out of reach, for sure, the way is at its worst; 0 where that is not proved.
    why : str
        Why there is no way, or why it ends early; empty otherwise.
    """

    chain: Chain
    world_from_base: Array
    q: Array
    at: Array
    off: float
    gaps: tuple[LinkGap, ...]
    stuck_at: float
    shortage: float
    why: str


def crane_way_of(site: Site, carriage: Carriage) -> CraneWay | None:
    """Return how the crane moves; None where no crane does, or where its tip is not known."""
    raise NotImplementedError("the way of a crane's joints is not computed yet")
