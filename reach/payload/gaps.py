"""How near each part of what is moved comes to each thing on its way, as proved brackets."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from reach.geometry import path_gap
from reach.payload.asked import asked_by, is_meant
from reach.payload.grazing import grazes
from reach.payload.parts import parts_of
from reach.payload.records import TOUCH, Part, PartGap, Thing
from reach.payload.things import things_of
from reach.payload.track import Run, Track, track_of
from reach.site import Carriage, Site

Array = NDArray[np.float64]

WITHIN = 1e-3
"""Bound and witness of a gap are brought this near to each other (m)."""

FAR = 3.0
"""A gap that leaves more than this of its stand-off (m) is known to be at least that, no more."""


def gaps_of(site: Site, carriage: Carriage) -> tuple[PartGap, ...]:
    """Return the least gap of every part to every thing, by what its legs ask (kept on the site).

    Brackets are of true surfaces: the facets' errors widen them.  A ``high`` of infinity without
    a witness says that the gap is at least ``low``.  Empty where the motions are not known.
    """
    key = ("gaps", carriage)
    if key not in site.memo:
        track = track_of(site, carriage)
        site.memo[key] = () if track is None else tuple(_gaps(site, carriage, track))
    gaps: tuple[PartGap, ...] = site.memo[key]
    return gaps


def _gaps(site: Site, carriage: Carriage, track: Track) -> list[PartGap]:
    found = []
    for part in parts_of(site, carriage):
        for thing in things_of(site, carriage):
            for stand_off, legs in asked_by(site, carriage, part, thing):
                meant = [is_meant(site, carriage, part, thing, leg) for leg in legs]
                for is_contact_meant in dict.fromkeys(meant):
                    mine = tuple(
                        leg for leg, one in zip(legs, meant, strict=True) if one == is_contact_meant
                    )
                    gap = gap_on(track, part, thing, stand_off, mine, is_contact_meant)
                    found.append(replace(gap, is_contact_meant=is_contact_meant))
    return found


def gap_on(
    track: Track,
    part: Part,
    thing: Thing,
    stand_off: float,
    legs: tuple[int, ...],
    is_contact_meant: bool = False,
) -> PartGap:
    """Return how near a part comes to a thing on some legs of a track.

    Where it must not touch and no more is asked, what just touches is `TOUCH` off at most.
    """
    must_not_touch = stand_off == 0.0 and not is_contact_meant
    beyond = stand_off + FAR
    low = high = beyond
    witness: tuple[Run, int, float, Array, Array, int] | None = None
    for run in track.runs(legs):
        found = path_gap(thing.tree, part.tree, run.poses, WITHIN, high, None, run.about)
        gap = found.gap
        if must_not_touch and gap.high <= 0.0 and grazes(track, run, part, thing, found):
            gap = replace(gap, high=TOUCH)  # rounding alone tells whether it touches
        low = min(low, gap.low)
        if found.piece >= 0 and (gap.high < high or witness is None):
            high = min(high, gap.high)
            witness = run, found.piece, gap.time, gap.on_payload, gap.on_scene, gap.face_payload
        if high <= 0.0:
            low = 0.0
            break
    return _told(track, part, thing, stand_off, legs, low, high, witness)


def _told(
    track: Track,
    part: Part,
    thing: Thing,
    stand_off: float,
    legs: tuple[int, ...],
    low: float,
    high: float,
    witness: tuple[Run, int, float, Array, Array, int] | None,
) -> PartGap:
    off = track.off_of(part)
    low = max(low - part.error - thing.error - off, 0.0)
    if witness is None:
        nowhere = np.full(3, np.nan)
        none = np.full((4, 4), np.nan)
        return PartGap(
            part.name, thing.name, "", low, math.inf, stand_off, legs, math.nan, none, nowhere,
            nowhere, False, thing.is_sure,
        )  # fmt: skip
    run, piece, time, on_part, on_thing, face = witness
    at = track.place(run.first + piece, time)
    return PartGap(
        part.name,
        thing.name,
        part.names[int(part.name_of[face])],
        low,
        max(high + part.excess + thing.excess + off, low),
        stand_off,
        legs,
        at,
        track.pose_at(at),
        on_part,
        on_thing,
        False,
        thing.is_sure,
    )
