"""How near each part comes along the way, span by span: the lower line is a bound."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.geometry import gap_curve
from reach.payload.gaps import FAR, gaps_of
from reach.payload.parts import parts_of
from reach.payload.records import TOUCH, Curve, Part, PartGap, Thing
from reach.payload.things import things_of
from reach.payload.track import Run, Track, track_of
from reach.site import Carriage, Site

Array = NDArray[np.float64]

WITHIN = 5e-3
"""Bound and witness of a span are brought this near to each other (m)."""


def curve_of(site: Site, carriage: Carriage, spans: int = 40) -> tuple[Curve, ...]:
    """Return one curve for each part of what is moved, ``spans`` to a leg (kept on the site).

    Where contact is meant a thing is left out.  ``high`` is infinite where nothing comes nearer
    than some metres.  Empty where the motions are not known.
    """
    key = ("curve", carriage, spans)
    if key not in site.memo:
        track = track_of(site, carriage)
        site.memo[key] = () if track is None else tuple(
            _curve(site, carriage, track, part, spans) for part in parts_of(site, carriage)
        )  # fmt: skip
    curves: tuple[Curve, ...] = site.memo[key]
    return curves


@dataclass(slots=True)
class _Lines:
    """What is known so far of each span; margins are gaps less stand-offs."""

    low: Array
    high: Array
    margin_low: Array
    margin_high: Array
    thing: NDArray[np.int64]

    @staticmethod
    def of(n: int) -> _Lines:
        low, high, margin_low, margin_high = np.full((4, n), np.inf)
        return _Lines(low, high, margin_low, margin_high, np.full(n, -1))

    def take(self, at: slice, low: Array, high: Array, stand_off: float, thing: int) -> None:
        """Take in what is known of one more thing on some spans."""
        nearer = high - stand_off < self.margin_high[at]
        nearer |= np.isinf(self.margin_high[at]) & (low - stand_off < self.margin_low[at])
        self.thing[at] = np.where(nearer, thing, self.thing[at])
        self.low[at] = np.minimum(self.low[at], low)
        self.high[at] = np.minimum(self.high[at], high)
        self.margin_low[at] = np.minimum(self.margin_low[at], _left(low, stand_off))
        self.margin_high[at] = np.minimum(self.margin_high[at], _left(high, stand_off))


def _left(gap: Array, stand_off: float) -> Array:
    """Return what is left of a stand-off; touching is never good."""
    return np.where(gap <= 0.0, np.minimum(gap - stand_off, -TOUCH), gap - stand_off)


def _curve(site: Site, carriage: Carriage, track: Track, part: Part, spans: int) -> Curve:
    things = {thing.name: thing for thing in things_of(site, carriage)}
    names = tuple(things)
    mine = [
        gap for gap in gaps_of(site, carriage) if gap.part == part.name and not gap.is_contact_meant
    ]
    mine.sort(key=lambda gap: gap.margin[0])
    starts, stops, slices = _spans(track, spans)
    lines = _Lines.of(len(starts))
    for gap in mine:
        for run in track.runs(gap.legs):
            for k in range(len(run.poses) - 1):
                piece = Run(run.first + k, run.poses[k : k + 2], run.about)
                _take(lines, slices[run.first + k], track, part, things[gap.thing], piece, gap,
                      names.index(gap.thing))  # fmt: skip
    return Curve(
        part.name, starts, stops, lines.low, lines.high, lines.margin_low, lines.margin_high,
        tuple(names[i] if i >= 0 else "" for i in lines.thing),
    )  # fmt: skip


def _spans(track: Track, spans: int) -> tuple[Array, Array, list[slice]]:
    """Return start and stop of each span (leg number plus time), and those of each piece."""
    starts, stops, slices, first = [], [], [], 0
    for piece in range(len(track.about)):
        before, after = track.places[piece], track.places[piece + 1]
        n = max(1, round(spans * float(after - before)))
        edges = before + (after - before) * np.arange(n + 1) / n
        starts.append(edges[:-1])
        stops.append(edges[1:])
        slices.append(slice(first, first + n))
        first += n
    return np.concatenate(starts), np.concatenate(stops), slices


def _take(
    lines: _Lines, at: slice, track: Track, part: Part, thing: Thing, run: Run, gap: PartGap, i: int
) -> None:
    """Take in one thing on one piece, unless it is too far to matter on any of its spans."""
    cap = float(max(lines.high[at].max(), lines.margin_high[at].max() + gap.stand_off))
    cap = min(cap, gap.stand_off + FAR)
    n = at.stop - at.start
    if gap.low >= cap:
        lines.take(at, np.full(n, gap.low), np.full(n, np.inf), gap.stand_off, i)
        return
    slack = part.error + thing.error + track.off_of(part)
    over = part.excess + thing.excess + track.off_of(part)
    beyond = cap + slack
    found = gap_curve(thing.tree, part.tree, run.poses, n, WITHIN, beyond, run.about)
    low = np.maximum(found.low - slack, 0.0)
    high = np.where(found.high < beyond, found.high + over, np.inf)
    lines.take(at, low, high, gap.stand_off, i)
