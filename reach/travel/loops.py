"""Where a loop of slack comes nearest to a thing, while someone moves along their corridor.

Slack of length s between a grip a and a body b lies in |x - a| + |x - b| <= |a - b| + s.  While
both move by no more than d from am and bm it lies in |x - am| + |x - bm| <= |am - bm| + s + 2 d
(a and b move alike along a rail) or + 4 d at most: one ellipsoid that holds them all.  Pieces of
the way are halved where that is too coarse.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.geometry import Tree, inside, point_distance
from reach.lines import slack_gap
from reach.travel.body_ball import middle_of
from reach.travel.corridor import Corridor
from reach.travel.turn import turned

Array = NDArray[np.float64]

WITHIN = 1e-3
"""How closely the gap of one ellipsoid is found (m)."""

NARROW, ROUGH = 0.01, 0.25
"""How near to each other bound and witness are brought: so far (m), or this share of the gap."""

BEND = 0.001
"""A path of the body is cut up so that it bends by no more than this (m)."""

SURE = 1e-9

MOST = 400
"""Pieces that are looked at for one thing."""


@dataclass(frozen=True, eq=False)
class Loop:
    """Where slack comes nearest to a thing.

    Attributes
    ----------
    low, high : float, m
        Bracket of the gap over the whole way.
    stretch : int
        Of the corridor.
    grip, body, witness : ndarray, shape (3,), m, world
        Where the slack is held, and the nearest point of the thing.
    """

    low: float
    high: float
    stretch: int
    grip: Array
    body: Array
    witness: Array


@dataclass(frozen=True, eq=False)
class _Piece:
    """Straight paths of a grip and of a body, (2, 3) each, m; how far off it they bend (m)."""

    stretch: int
    grip: Array
    body: Array
    bend: float

    @property
    def strays(self) -> float:
        """How much more than the slack an ellipsoid about the middles needs, m."""
        a, b = self.grip[1] - self.grip[0], self.body[1] - self.body[0]
        # Both shift alike along a rail: then their distance stays.
        change = float(np.linalg.norm(a - b)) / 2.0
        far = (float(np.linalg.norm(a)) + float(np.linalg.norm(b))) / 2.0
        return far + change + 2.0 * self.bend

    def halves(self) -> tuple[_Piece, _Piece]:
        a, b = self.grip.mean(axis=0), self.body.mean(axis=0)
        first = _Piece(self.stretch, np.array([self.grip[0], a]), np.array([self.body[0], b]),
                       self.bend)  # fmt: skip
        last = _Piece(self.stretch, np.array([a, self.grip[1]]), np.array([b, self.body[1]]),
                      self.bend)  # fmt: skip
        return first, last


def nearest_loop(corridor: Corridor, tree: Tree, slack: float) -> Loop:
    """Return where slack (m) comes nearest to the surface of a tree along a corridor."""
    todo: list[tuple[float, int, bool, _Piece]] = []
    count = 0

    def push(piece: _Piece, low: float, is_known: bool) -> None:
        nonlocal count
        heapq.heappush(todo, (low, count, is_known, piece))
        count += 1

    for piece in _pieces(corridor):
        push(piece, _coarse(tree, piece, slack), False)
    best: Loop | None = None
    for _ in range(MOST):
        low, _, is_known, piece = heapq.heappop(todo)
        if best is not None and low >= best.high - max(NARROW, ROUGH * best.high):
            push(piece, low, is_known)
            break
        if is_known:
            for half in piece.halves():
                push(half, max(low, _coarse(tree, half, slack)), False)
            continue
        a, b = piece.grip.mean(axis=0), piece.body.mean(axis=0)
        length = float(np.linalg.norm(b - a)) + slack
        low = max(low, slack_gap(tree, a, b, length + piece.strays, WITHIN).low)
        if best is None or low < best.high - max(NARROW, ROUGH * best.high):
            found = slack_gap(tree, a, b, length, WITHIN)
            if best is None or found.high < best.high:
                best = Loop(low, found.high, piece.stretch, a, b, found.witness)
        push(piece, low, True)
    assert best is not None
    if inside(tree, np.array([best.grip, best.body])).any():
        return Loop(-np.inf, -SURE, best.stretch, best.grip, best.body, best.witness)
    low = min(todo[0][0], best.high)
    return Loop(low, best.high, best.stretch, best.grip, best.body, best.witness)


def _coarse(tree: Tree, piece: _Piece, slack: float) -> float:
    """Return a quick bound: slack lies in the ball of half its length round the middle."""
    a, b = piece.grip.mean(axis=0), piece.body.mean(axis=0)
    half = 0.5 * (float(np.linalg.norm(b - a)) + slack + piece.strays)
    return float(point_distance(tree, (0.5 * (a + b))[None]).distance[0]) - half


def _pieces(corridor: Corridor) -> list[_Piece]:
    """Return the pieces of the way: the grip slides along a rail, and between rails is either."""
    (starts, stops), owner = corridor.poses, corridor.pieces[1]
    middle, found = middle_of(corridor.mover), []
    for k, i in enumerate(owner):
        stretch = corridor.stretches[int(i)]
        body, bend = middle_paths(starts[k], stops[k], middle)
        if stretch.is_along and len(body) == 1:
            found.append(_Piece(int(i), np.array([stretch.start, stretch.stop]), body[0], bend))
        else:
            grips = [np.array([grip, grip]) for grip in (stretch.start, stretch.stop)]
            found += [_Piece(int(i), grip, one, bend) for one in body for grip in grips]
    return found


def middle_paths(start: Array, stop: Array, middle: Array) -> tuple[list[Array], float]:
    """Return straight paths along which the middle goes while the body turns, and their bend."""
    angle = turn_angle(start[:3, :3], stop[:3, :3])
    radius = float(np.linalg.norm(middle))
    n = max(1, int(np.ceil(angle / (2.0 * np.arccos(1.0 - BEND / max(radius, BEND))))))
    shares = np.linspace(0.0, 1.0, n + 1)
    turns = turned(start[:3, :3], stop[:3, :3], n)
    at = start[:3, 3] + shares[:, None] * (stop[:3, 3] - start[:3, 3])
    points = at + np.array([turn @ middle for turn in turns])
    bend = radius * (1.0 - float(np.cos(angle / (2.0 * n))))
    return list(np.stack([points[:-1], points[1:]], axis=1)), bend


def turn_angle(start: Array, stop: Array) -> float:
    """Return by how much one pose is turned against another, rad."""
    return float(np.arccos(np.clip((np.trace(start.T @ stop) - 1.0) / 2.0, -1.0, 1.0)))
