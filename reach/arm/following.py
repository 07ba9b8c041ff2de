"""Postures that carry the tip, or what it holds, along a given way, with what is proved of them.

From postures at the corners of the way an arm is walked along it, each next posture the one
nearest to the last (`walking`); one branch goes all the way or none does, for another branch
would be a jump.  What comes out is checked again by bounds (`straying`): they hold however it
was found.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.arm.asked import Way, pose_from, way_of
from reach.arm.bound import shortage
from reach.arm.chain import Chain, Floats
from reach.arm.forward import postures_of, tip_poses
from reach.arm.margins import tightest
from reach.arm.solving import APART, BRANCH_TRIES, solutions
from reach.arm.starts import Starts, starts_of
from reach.arm.straying import strays
from reach.arm.walking import between, walks
from reach.geometry import in_chunks

OFF = 2e-3
OFF_TURN = 2e-3
"""How far the tip may stray from its way (m, rad) before postures are put between."""
MOST_POSTURES = 4_000
_ROOM = 6
"""A walk may take so many times the first samples."""
_NEAR_LIMIT = 1e-6
_AT_START = 1e-6
"""A posture to start from must hold the tip this near to the first pose (m, and of its axes)."""


@dataclass(frozen=True, eq=False, slots=True)
class Followed:
    """A way followed, or how far one comes along it.

    Attributes
    ----------
    q : ndarray, shape (m, n), rad or m
        Postures along the way; ``(0, n)`` where none were found that go all the way, which
        is no proof.
    at : ndarray, shape (m,)
        Where on the way each stands: number of the leg plus its share, 0 to 1.
    off : float, m
        Proved: while all joints move evenly from one posture to the next, the tip's origin
        is never farther from where the way has it at the same share of the piece.
    off_turn : float, rad
        Proved: nor is it turned by more.  A point r from the tip's origin is off by at most
        ``off + off_turn * r``.  Both are nan where nothing was found.
    stuck_at : float
        The farthest moment to which a walk from the start came, nan where one goes all the
        way.
    stuck_by : str
        The joint that stands at its limit there; empty where none does (a singular pose, or
        out of reach) and where one goes all the way.
    shortage : float, m
        By how much the way is out of reach for certain where that is most, as `shortage` says
        of poses; 0 where nothing is proved.
    shortage_at : float
        The moment of that; nan where nothing is proved.
    """

    q: Floats
    at: Floats
    off: float
    off_turn: float
    stuck_at: float
    stuck_by: str
    shortage: float
    shortage_at: float

    @property
    def found(self) -> bool:
        """Whether postures go all the way."""
        return len(self.q) > 0

    @property
    def proved_out_of_reach(self) -> bool:
        """Whether nothing can follow the way."""
        return self.shortage > 0.0


def follow(
    chain: Chain, base_from_body: ArrayLike, *, tip_from_body: ArrayLike | None = None,
    about: ArrayLike = (0.0, 0.0, 0.0), from_posture: ArrayLike | None = None,
    starts: Starts | None = None, off: float = OFF, off_turn: float = OFF_TURN,
    tries: int = BRANCH_TRIES, reserve: float = 0.0,
) -> Followed:  # fmt: skip
    """Return postures that carry the tip, or a body that it holds, from pose to pose.

    Between two poses the body's point ``about`` runs straight and the body turns evenly about
    one axis, the shortest way, as `reach.geometry.motion_chain.chain_of` has it.

    Parameters
    ----------
    chain : Chain
    base_from_body : array_like, shape (k, 4, 4)
        Two poses or more, of the tip itself where no body is given.
    tip_from_body : array_like, shape (4, 4), optional
        How the tip holds the body.
    about : array_like, shape (3,), m, body
    from_posture : array_like, shape (n,), rad or m, optional
        The only posture to start from; all that are found at the corners where not given.
    starts : Starts, optional
        Made with `starts_of` where not given; keep it for many calls.
    off, off_turn : float, m and rad
        Postures are put between others until less is proved.
    tries : int
        Descents at each corner.
    reserve : float, rad or m
        No joint comes nearer to a limit.

    Returns
    -------
    followed : Followed
        Of all walks that arrive, the one whose tightest posture is easiest
        (`margins.Tightest.worth`): clearance has no say, `follow_all` leaves the choice.

    Raises
    ------
    ValueError
        If a pose is not rigid, the start is no posture at the first pose within the limits, or
        the reserve leaves nothing of a joint's range.
    """
    asked = _Asked.of(chain, base_from_body, tip_from_body, about, starts, tries, reserve)
    return next(_followed(asked, from_posture, off, off_turn))


def follow_all(
    chain: Chain, base_from_body: ArrayLike, *, tip_from_body: ArrayLike | None = None,
    about: ArrayLike = (0.0, 0.0, 0.0), from_posture: ArrayLike | None = None,
    starts: Starts | None = None, off: float = OFF, off_turn: float = OFF_TURN,
    tries: int = BRANCH_TRIES, reserve: float = 0.0,
) -> Iterator[Followed]:  # fmt: skip
    """Yield one `Followed` for each branch that goes all the way, as `follow` finds them.

    Those from postures at both ends come first, easiest first, then those from all corners;
    what no way was found for yields one that says so.  Two are the same where no joint differs
    by `solving.APART` at any corner.  For choosing by clearance: take the first that is clear.
    """
    asked = _Asked.of(chain, base_from_body, tip_from_body, about, starts, tries, reserve)
    return _followed(asked, from_posture, off, off_turn)


@dataclass(frozen=True, eq=False, slots=True)
class _Asked:
    """The question: ``chain`` has its limits drawn in by the reserve."""

    chain: Chain
    way: Way
    starts: Starts
    tries: int

    @staticmethod
    def of(
        chain: Chain, base_from_body: ArrayLike, tip_from_body: ArrayLike | None,
        about: ArrayLike, starts: Starts | None, tries: int, reserve: float,
    ) -> _Asked:  # fmt: skip
        way = way_of(chain, base_from_body, tip_from_body, about)
        return _Asked(_narrowed(chain, reserve), way, starts or starts_of(chain), tries)


def _followed(
    asked: _Asked, from_posture: ArrayLike | None, off: float, off_turn: float
) -> Iterator[Followed]:
    chain, way = asked.chain, asked.way
    short, short_at = _out_of_reach(chain, way)
    farthest: tuple[float, str] = (0.0, "")
    known: list[Floats] = []
    for seeds, moments in _rounds(asked, from_posture, short > 0.0):
        arrived, come = _walked(asked, seeds, moments)
        farthest = max(farthest, come)
        # Nothing follows what is proved out of reach; the walk only says how far it comes.
        ranked = sorted(arrived, key=lambda each: tightest(chain, each[1]).worth, reverse=True)
        for at, q in ranked if short <= 0.0 else ():
            corners = q[at == np.floor(at)]
            if any(np.abs(corners - other).max() <= APART for other in known):
                continue
            full = _filled(asked, at, q, off, off_turn)
            if isinstance(full, float):
                farthest = max(farthest, (full, ""))
                continue
            known.append(corners)
            yield Followed(*full, math.nan, "", 0.0, math.nan)
    if not known:
        yield Followed(
            np.empty((0, chain.n)), np.empty(0), math.nan, math.nan, *farthest, short, short_at
        )


def _narrowed(chain: Chain, reserve: float) -> Chain:
    lower, upper = chain.lower + reserve, chain.upper - reserve
    if not reserve >= 0.0 or (lower > upper).any():
        raise ValueError(f"a reserve of {reserve:g} leaves a joint of {chain.arm.name} no range")
    return replace(chain, lower=lower, upper=upper)


def _out_of_reach(chain: Chain, way: Way) -> tuple[float, float]:
    at = way.samples()
    rows = way.targets(at)
    poses = np.tile(np.eye(4), (len(rows), 1, 1))
    poses[:, :3, :3], poses[:, :3, 3] = rows[:, :9].reshape(-1, 3, 3), rows[:, 9:]
    found = shortage(chain, poses)
    n = int(found.argmax())
    return (float(found[n]), float(at[n])) if found[n] > 0.0 else (0.0, math.nan)


def _rounds(
    asked: _Asked, from_posture: ArrayLike | None, start_only: bool
) -> Iterator[tuple[Floats, Floats]]:
    """Yield postures to walk from, with their moments: first few, then more."""
    chain, n_legs = asked.chain, len(asked.way.legs)
    if from_posture is not None:
        q = postures_of(chain, from_posture)[:1].copy()
        _standing(chain, asked.way, q[0])
        yield q, np.zeros(1)
        return
    ends = [0.0, float(n_legs)]
    yield _seeds(asked, ends[:1] if start_only else ends, True)
    if not start_only:
        # Not centred, one branch has many postures: what lies between matters with 7 joints.
        inner = [float(k) for k in range(1, n_legs)]
        yield _seeds(asked, [*ends, *inner], chain.n <= 6)


def _standing(chain: Chain, way: Way, q: Floats) -> None:
    beyond = np.flatnonzero(~((q >= chain.lower) & (q <= chain.upper)))
    if len(beyond):
        name = chain.arm.moving[beyond[0]].name
        raise ValueError(f"the posture to start from has {name} outside its limits")
    apart = np.abs(tip_poses(chain, q)[0] - pose_from(way.targets(0.0)[0])).max()
    if not apart <= _AT_START:
        raise ValueError(f"the posture to start from is not at the first pose, {apart:.2g} off")


def _seeds(asked: _Asked, corners: list[float], centred: bool) -> tuple[Floats, Floats]:
    chain = asked.chain
    found, moments = [], []
    for corner in corners:
        pose = pose_from(asked.way.targets(corner)[0])
        ways = solutions(chain, pose, asked.starts, asked.tries, centred=centred)
        for posture in ways.postures:
            for q in _turned(chain, posture.q):
                found.append(q)
                moments.append(corner)
    return np.array(found).reshape(-1, chain.n), np.array(moments, dtype=np.float64)


def _turned(chain: Chain, q: Floats) -> list[Floats]:
    """Return a posture with all whole turns of its joints that the limits leave room for."""
    rows = [q]
    for k in np.flatnonzero(~chain.slides & np.isfinite(chain.upper - chain.lower)):
        for row in list(rows):
            for turn in (-2.0 * math.pi, 2.0 * math.pi):
                if chain.lower[k] <= row[k] + turn <= chain.upper[k]:
                    other = row.copy()
                    other[k] += turn
                    rows.append(other)
    return rows


def _walked(
    asked: _Asked, seeds: Floats, moments: Floats
) -> tuple[list[tuple[Floats, Floats]], tuple[float, str]]:
    """Return all walks from start to end, how far others came from the start and what held them."""
    chain, way = asked.chain, asked.way
    m, most = len(seeds), _ROOM * int(way.counts.sum()) + 2
    at, q = np.empty((m, 2, most)), np.empty((m, 2, most, chain.n))
    found = np.zeros((m, 2), np.int64)
    in_chunks(
        walks, m, seeds, moments, way.legs, way.counts, *_numbers(asked), at, q, found,
        chunk=1,
    )  # fmt: skip
    arrived: list[tuple[Floats, Floats]] = []
    come: tuple[float, str] = (0.0, "")
    for r in range(m):
        n_back, n_on = found[r]
        if at[r, 0, n_back - 1] > 0.0:
            continue
        last = float(at[r, 1, n_on - 1])
        if last < len(way.legs):
            come = max(come, (last, _at_limit(chain, q[r, 1, n_on - 1])))
            continue
        moved = [x[r, 0, n_back - 1 : 0 : -1] for x in (at, q)]
        arrived.append(
            (
                np.concatenate([moved[0], at[r, 1, :n_on]]),
                np.concatenate([moved[1], q[r, 1, :n_on]]),
            )
        )
    return arrived, come


def _at_limit(chain: Chain, q: Floats) -> str:
    left = np.minimum(q - chain.lower, chain.upper - q)
    k = int(left.argmin())
    return chain.arm.moving[k].name if left[k] < _NEAR_LIMIT else ""


def _numbers(asked: _Asked) -> tuple[Any, ...]:
    chain = asked.chain
    return (
        chain.fixed, chain.slides, chain.end, chain.lower, chain.upper, asked.starts.unit,
    )  # fmt: skip


def _filled(
    asked: _Asked, at: Floats, q: Floats, off: float, off_turn: float
) -> tuple[Floats, Floats, float, float] | float:
    """Return postures, moments and what is proved, with postures put where it is too little.

    Where none can be put, the moment of that.
    """
    way = asked.way
    while True:
        away, turned = strays(asked.chain, way, at, q)
        wide: NDArray[np.int64] = np.flatnonzero((away > off) | (turned > off_turn))
        if not len(wide) or len(q) + len(wide) > MOST_POSTURES:
            return q, at, float(away.max()), float(turned.max())
        moments = 0.5 * (at[wide] + at[wide + 1])
        new, found = np.empty((len(wide), q.shape[1])), np.zeros(len(wide), np.bool_)
        in_chunks(
            between, len(wide), moments, q[wide], q[wide + 1], way.legs, *_numbers(asked), new,
            found,
        )  # fmt: skip
        if not found.all():
            return float(moments[np.argmin(found)])
        at, q = np.insert(at, wide + 1, moments), np.insert(q, wide + 1, new, axis=0)
