"""Postures that carry the tip, or what it holds, along a given way, with what is proved of them.

From postures at the corners of the way an arm is walked along it, each next posture the one
nearest to the last (`walking`); one branch goes all the way or none does, for another branch
would be a jump.  What comes out is checked again by bounds (`straying`): they hold however it
was found.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from reach.arm.asked import Way
from reach.arm.bound import shortage
from reach.arm.branches import Asked, filled, rounds, walked
from reach.arm.chain import Chain, Floats
from reach.arm.margins import tightest
from reach.arm.solving import APART, BRANCH_TRIES
from reach.arm.starts import Starts

OFF = 2e-3
OFF_TURN = 2e-3
"""How far the tip may stray from its way (m, rad) before postures are put between."""


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
        The joint that stands at its limit there, to 0.01 rad or m; empty where none does (a
        singular pose, or out of reach) and where one goes all the way.
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
        Postures are put between others until less is proved, or there are 4,000 of them.
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
    asked = Asked.of(chain, base_from_body, tip_from_body, about, starts, tries, reserve)
    return next(_followed(chain, asked, from_posture, off, off_turn))


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
    asked = Asked.of(chain, base_from_body, tip_from_body, about, starts, tries, reserve)
    return _followed(chain, asked, from_posture, off, off_turn)


def _followed(
    chain: Chain, asked: Asked, from_posture: ArrayLike | None, off: float, off_turn: float
) -> Iterator[Followed]:
    # With all of its limits: what is out of reach for the reserve alone is not proved so.
    short, short_at = _out_of_reach(chain, asked.way)
    farthest: tuple[float, str] = (0.0, "")
    known: list[Floats] = []
    for seeds, moments in rounds(asked, from_posture, short > 0.0):
        arrived, come = walked(asked, seeds, moments)
        farthest = max(farthest, come)
        # Nothing follows what is proved out of reach; the walk only says how far it comes.
        ranked = sorted(arrived, key=lambda each: tightest(chain, each[1]).worth, reverse=True)
        for at, q in ranked if short <= 0.0 else ():
            corners = q[at == np.floor(at)]
            if any(np.abs(corners - other).max() <= APART for other in known):
                continue
            full = filled(asked, at, q, off, off_turn)
            if isinstance(full, float):
                farthest = max(farthest, (full, ""))
                continue
            known.append(corners)
            yield Followed(*full, math.nan, "", 0.0, math.nan)
    if not known:
        yield Followed(
            np.empty((0, chain.n)), np.empty(0), math.nan, math.nan, *farthest, short, short_at
        )


def _out_of_reach(chain: Chain, way: Way) -> tuple[float, float]:
    at = way.samples()
    rows = way.targets(at)
    poses = np.tile(np.eye(4), (len(rows), 1, 1))
    poses[:, :3, :3], poses[:, :3, 3] = rows[:, :9].reshape(-1, 3, 3), rows[:, 9:]
    found = shortage(chain, poses)
    n = int(found.argmax())
    return (float(found[n]), float(at[n])) if found[n] > 0.0 else (0.0, math.nan)
