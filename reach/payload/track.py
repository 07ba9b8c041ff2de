"""The way of what is moved as motions for the kernels, with how far it may be off that way."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.geometry.motion_chain import chain_of
from reach.payload.records import Part
from reach.site import Carriage, Site

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False, slots=True)
class Track:
    """Poses of what is moved, with a rigid motion from each to the next.

    Attributes
    ----------
    poses : ndarray, shape (k, 4, 4), world_from_payload
        Of the boots where no payload is moved.
    about : ndarray, shape (k - 1, 3), m, payload
        The point that runs straight on each piece.
    places : ndarray, shape (k,)
        Where on the carriage's way each pose is: leg number plus time 0 to 1.
    off : float, m
    off_turn : float, rad
        A point r from the frame's origin is off these motions by at most ``off + off_turn r``.
    """

    poses: Array
    about: Array
    places: Array
    off: float = 0.0
    off_turn: float = 0.0

    def off_of(self, part: Part) -> float:
        """Return how far any point of a part may be off these motions, m."""
        if self.off == 0.0 and self.off_turn == 0.0:
            return 0.0
        far = float(np.linalg.norm(part.tree.tri.reshape(-1, 3), axis=1).max())
        return self.off + self.off_turn * far

    def leg_of(self, piece: int) -> int:
        """Return the leg of the carriage that a piece is part of."""
        return int(0.5 * (self.places[piece] + self.places[piece + 1]))

    def place(self, piece: int, time: float) -> float:
        """Return where on the carriage's way a moment of a piece is."""
        before, after = self.places[piece], self.places[piece + 1]
        return float(before + time * (after - before))

    def piece_at(self, place: float) -> tuple[int, float]:
        """Return piece and time 0 to 1 of a place of the carriage's way."""
        piece = int(np.searchsorted(self.places, place, side="right")) - 1
        piece = min(max(piece, 0), len(self.about) - 1)
        before, after = self.places[piece], self.places[piece + 1]
        time = (place - before) / (after - before) if after > before else 0.0
        return piece, min(max(float(time), 0.0), 1.0)

    def pose_at(self, place: float) -> Array:
        """Return world_from_payload at a place of the carriage's way, shape (4, 4)."""
        if not len(self.about):
            return np.array(self.poses[0])
        piece, time = self.piece_at(place)
        return self.pose_on(piece, time)

    def poses_at(self, places: Array) -> Array:
        """Return world_from_payload at places of the carriage's way, shape (n, 4, 4)."""
        if not len(self.about):
            return np.repeat(self.poses[:1], len(places), axis=0)
        on = [self.piece_at(float(place)) for place in places]
        pieces, times = np.array([one[0] for one in on]), np.array([one[1] for one in on])
        found = np.empty((len(places), 4, 4))
        for piece in np.unique(pieces):
            here = pieces == piece
            chain = chain_of(self.poses[piece : piece + 2], self.about[piece])
            found[here] = chain.poses_at(0, times[here])
        return found

    def pose_on(self, piece: int, time: float) -> Array:
        """Return world_from_payload at a time 0 to 1 of a piece, shape (4, 4)."""
        chain = chain_of(self.poses[piece : piece + 2], self.about[piece])
        return np.asarray(chain.poses_at(0, np.array([time]))[0])

    def runs(self, legs: Iterable[int]) -> list[Run]:
        """Return some legs as runs: neighbours moved about the same point belong together."""
        # As `leg_of`, of all pieces at once: there may be thousands.
        leg_of = (0.5 * (self.places[:-1] + self.places[1:])).astype(np.int64)
        goes_on = (self.about[1:] == self.about[:-1]).all(axis=1)
        runs: list[list[int]] = []
        for piece in np.flatnonzero(np.isin(leg_of[: len(self.about)], list(legs))).tolist():
            last = runs[-1][-1] if runs else -2
            if last + 1 == piece and goes_on[last]:
                runs[-1].append(piece)
            else:
                runs.append([piece])
        return [Run(run[0], self.poses[run[0] : run[-1] + 2], self.about[run[0]]) for run in runs]


@dataclass(frozen=True, eq=False, slots=True)
class Run:
    """Pieces that follow each other and are moved about the same point.

    Attributes
    ----------
    first : int
        Number of the first piece.
    poses : ndarray, shape (k, 4, 4), world_from_payload
    about : ndarray, shape (3,), m, payload
    """

    first: int
    poses: Array
    about: Array


def track_of(site: Site, carriage: Carriage) -> Track | None:
    """Return the motions of what is moved; None where they are not known.

    A payload runs as its path says.  A crane that moves by itself turns its joints evenly, so
    that its tip does not run straight: its way is cut into many motions, with a bound on how far
    the tip is off them.
    """
    if len(carriage.poses) < 2:
        return None
    if not carriage.payload:
        from reach.payload.swung import swung_track

        return swung_track(site, carriage)
    about = [leg.about or (0.0, 0.0, 0.0) for leg in carriage.legs]
    return Track(
        carriage.poses, np.array(about, float), np.arange(len(carriage.poses), dtype=float)
    )
