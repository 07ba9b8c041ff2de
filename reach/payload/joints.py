"""Postures of a crane along a motion: followed with a payload, from station to station alone."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from reach.arm import (
    Chain,
    Covers,
    Followed,
    Starts,
    follow,
    follow_all,
    self_clearance,
    shortage,
    solutions,
    structure_clearance,
)
from reach.geometry import Tree, inverse
from reach.payload.track import Run, Track
from reach.site import Carriage

Array = NDArray[np.float64]

MOST_WAYS = 6
"""Branches that are followed all the way and compared, at most."""

MOST_ENDS = 8
"""Branches at each station that are joined with each other, at most."""

N_SAMPLES = 24
"""Postures between two stations by which ways are compared; the best is proved afterwards."""


@dataclass(frozen=True, eq=False, slots=True)
class Joints:
    """Postures of a crane along its way, as `reach.payload.crane_way.CraneWay` has them."""

    q: Array
    at: Array
    off: float
    off_turn: float
    stuck_at: float
    shortage: float
    why: str


@dataclass(frozen=True, eq=False, slots=True)
class JointSearch:
    """An arm on its base among structure and hazards.

    ``obstacles`` are trees in the world with what links keep off them, ``kept_off`` is what they
    keep off each other, m.  ``covers`` holds what rides on the tip too, thicker by what is asked
    more of it.
    """

    chain: Chain
    starts: Starts
    world_from_base: Array
    obstacles: tuple[tuple[Tree, float], ...]
    kept_off: float
    covers: Covers

    def carrying(self, carriage: Carriage, payload_from_tip: Array) -> Joints:
        """Return postures that carry a payload along its path.

        Branches are compared on the first legs that are moved about one point; what follows
        goes on from there.
        """
        about = np.array([leg.about or (0.0, 0.0, 0.0) for leg in carriage.legs], float)
        places = np.arange(len(carriage.poses), dtype=float)
        runs = Track(carriage.poses, about, places).runs(range(len(carriage.legs)))
        first, *rest = runs
        ways = list(islice(self._ways(first, payload_from_tip), MOST_WAYS))
        if not ways[0].found:
            return self._nothing(ways[0])
        best = max(ways, key=lambda way: self._room(way.q))
        parts = [best]
        for run in rest:
            more = follow(
                self.chain, inverse(self.world_from_base) @ run.poses,
                tip_from_body=inverse(payload_from_tip), about=run.about,
                from_posture=parts[-1].q[-1], starts=self.starts,
            )  # fmt: skip
            if not more.found:
                return self._nothing(more, run.first)
            parts.append(more)
        return _joined(parts, [run.first for run in runs])

    def _ways(self, run: Run, payload_from_tip: Array) -> Sequence[Followed]:
        return follow_all(  # type: ignore[return-value]
            self.chain, inverse(self.world_from_base) @ run.poses,
            tip_from_body=inverse(payload_from_tip), about=run.about, starts=self.starts,
        )  # fmt: skip

    def _nothing(self, way: Followed, first: int = 0) -> Joints:
        nothing = np.empty((0, self.chain.n)), np.empty(0)
        if way.shortage > 0.0:
            why = f"the way is out of reach by {way.shortage:.3f} m at its worst, proved"
        else:
            held = f", held up by {way.stuck_by}" if way.stuck_by else ""
            why = f"no postures that go all the way were found{held}"
        return Joints(*nothing, math.nan, math.nan, first + way.stuck_at, way.shortage, why)

    def between(self, world_from_tip: Array) -> Joints:
        """Return one posture at each station, those between which the links keep farthest off."""
        poses = inverse(self.world_from_base) @ world_from_tip
        short = float(shortage(self.chain, poses).max(initial=0.0))
        nothing = np.empty((0, self.chain.n)), np.empty(0)
        if short > 0.0:
            why = f"a station is out of reach by {short:.3f} m, proved"
            return Joints(*nothing, math.nan, math.nan, 0.0, short, why)
        ends = [
            self._clearest([one.q for one in solutions(self.chain, pose, self.starts).postures])
            for pose in poses
        ]
        if any(len(one) == 0 for one in ends):
            why = "no posture was found at a station"
            return Joints(*nothing, math.nan, math.nan, 0.0, 0.0, why)
        rows = [self._first(ends)]
        for more in ends[1:]:
            rooms = [self._room(_line(rows[-1], one)) for one in more]
            rows.append(more[int(np.argmax(rooms))])
        at = np.arange(len(rows), dtype=float)
        return Joints(np.array(rows), at, 0.0, 0.0, math.nan, 0.0, "")

    def _clearest(self, postures: Sequence[Array]) -> Array:
        """Return the postures that keep farthest off, the best first."""
        rooms = [self._room(one[None]) for one in postures]
        order = sorted(range(len(rooms)), key=lambda k: -rooms[k])
        return np.array([postures[k] for k in order[:MOST_ENDS]])

    def _first(self, ends: list[Array]) -> Array:
        if len(ends) == 1:
            rooms = [self._room(one[None]) for one in ends[0]]
        else:
            rooms = [max(self._room(_line(one, other)) for other in ends[1]) for one in ends[0]]
        return np.asarray(ends[0][int(np.argmax(rooms))])

    def _room(self, q: Array) -> float:
        """Return the least that is left, in some postures, of what links keep off (m)."""
        covers, rows = self.covers, q[:: max(1, len(q) // 200)]
        own = self_clearance(self.chain, rows, covers).gap
        rooms = [float(own.min()) - self.kept_off]
        for tree, asked in self.obstacles:
            gaps = structure_clearance(self.chain, rows, tree, covers, self.world_from_base)
            rooms.append(float(gaps.min()) - asked)
        return min(rooms)


def _line(start: Array, stop: Array) -> Array:
    share = np.linspace(0.0, 1.0, N_SAMPLES)[:, None]
    return np.asarray(start + share * (stop - start))


def _joined(parts: list[Followed], firsts: list[int]) -> Joints:
    rows = [parts[0].q] + [one.q[1:] for one in parts[1:]]
    at = [parts[0].at + firsts[0]]
    at += [one.at[1:] + first for one, first in zip(parts[1:], firsts[1:], strict=True)]
    return Joints(
        np.vstack(rows),
        np.concatenate(at),
        max(one.off for one in parts),
        max(one.off_turn for one in parts),
        math.nan,
        0.0,
        "",
    )
