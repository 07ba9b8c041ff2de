"""Whether what is moved keeps a distance everywhere: ends at the first witness that it does not."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.geometry import path_gap
from reach.payload.asked import asked_by, is_meant
from reach.payload.grazing import grazes
from reach.payload.parts import parts_of
from reach.payload.records import Part, Thing
from reach.payload.things import things_of
from reach.payload.track import Run, Track, track_of
from reach.site import Carriage, Site

Array = NDArray[np.float64]

NARROW = 1e-4
"""How narrow a bracket has to be before a distance is left undecided, m."""


@dataclass(frozen=True, eq=False, slots=True)
class Kept:
    """Whether a distance is kept, and a witness where it is not.

    Attributes
    ----------
    answer : bool or None
        None where the facets of round parts do not tell.
    part, thing : str
        The pair that comes nearer, or that is not decided; empty where the distance is kept.
    low, gap : float, m
        Bracket of the gap of true surfaces there: ``gap`` is that of the witness; both nan where
        the distance is kept.
    at : float
        Leg number plus time 0 to 1; nan without a witness.
    on_part, on_thing : ndarray, shape (3,), m, world
        nan without a witness.
    """

    answer: bool | None
    part: str
    thing: str
    low: float
    gap: float
    at: float
    on_part: Array
    on_thing: Array


_NOWHERE = np.full(3, np.nan)


def kept(site: Site, carriage: Carriage, clearance: float) -> Kept:
    """Return whether every part keeps a distance (m) from everything it is not meant to touch.

    The crane's links and whoever stands by are not looked at.  Undecided where the motions are
    not known.
    """
    track = track_of(site, carriage)
    if track is None:
        return _open("", "", 0.0, np.inf)
    undecided: Kept | None = None
    for thing in things_of(site, carriage):
        for part in parts_of(site, carriage):
            for _, legs in asked_by(site, carriage, part, thing):
                asked = [leg for leg in legs if not is_meant(site, carriage, part, thing, leg)]
                for run in track.runs(asked):
                    found = _on(track, run, part, thing, clearance)
                    if found is not None and found.answer is False:
                        return found
                    undecided = undecided or found
    return undecided or Kept(True, "", "", np.nan, np.nan, np.nan, _NOWHERE, _NOWHERE)


def _on(track: Track, run: Run, part: Part, thing: Thing, clearance: float) -> Kept | None:
    """Return None where the distance is kept on a run, else a witness, or that it is open."""
    off = track.off_of(part)
    # True surfaces stand outside the facets by the error, and inside by the excess.
    outside, inside = part.error + thing.error + off, part.excess + thing.excess + off
    sure, proof = clearance + outside, clearance - inside
    beyond = max(sure, NARROW)
    found = None
    for enough in (sure, proof):
        if enough <= 0.0 and found is not None:
            break
        wanted = enough if enough > 0.0 else None
        found = path_gap(thing.tree, part.tree, run.poses, NARROW, beyond, wanted, run.about)
        gap = found.gap
        # Nothing touches what it keeps a distance from, be it none.
        if gap.low >= sure and gap.low > 0.0:
            return None
        is_nearer = gap.high < proof or (gap.high <= 0.0 and inside == 0.0)
        if proof == 0.0 and gap.high <= 0.0 and grazes(track, run, part, thing, found):
            is_nearer = False  # rounding alone tells whether it touches
        if found.piece >= 0 and is_nearer and thing.is_sure:
            at = track.place(run.first + found.piece, gap.time)
            return Kept(
                False, part.name, thing.name, max(gap.low - outside, 0.0), gap.high + inside, at,
                gap.on_payload, gap.on_scene,
            )  # fmt: skip
    assert found is not None
    high = gap.high + inside if found.piece >= 0 else np.inf
    return _open(part.name, thing.name, max(gap.low - outside, 0.0), high)


def _open(part: str, thing: str, low: float, high: float) -> Kept:
    return Kept(None, part, thing, low, high, np.nan, _NOWHERE, _NOWHERE)
