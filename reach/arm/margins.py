"""How comfortable postures are: away from joint limits and from singular poses at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from reach.arm.bound import full_reach
from reach.arm.chain import Chain, Floats
from reach.arm.forward import piece_poses, postures_of, tip_poses
from reach.arm.solving import Posture, solutions
from reach.arm.starts import Starts

EASY = 0.1
"""A posture this far from singular poses counts as being nowhere near one."""


@dataclass(frozen=True, eq=False, slots=True)
class Tightest:
    """Where a row of postures is nearest to a limit, and where nearest to a singular pose.

    Attributes
    ----------
    from_limit : float, rad or m
        The smallest distance of a joint from a limit; infinite where none has any.
    joint : str
        Its name; empty where none has limits.
    at : int
        Number of that posture.
    share : float
        The smallest distance as a share of half the joint's range, 1 where none has limits;
        it may be another joint's.
    singular : float
        The smallest distance from singular poses, as `Posture` has it.
    singular_at : int
        Number of that posture.
    """

    from_limit: float
    joint: str
    at: int
    share: float
    singular: float
    singular_at: int

    @property
    def worth(self) -> float:
        """Return the smaller of ``share`` and ``singular / EASY``: 0 at a limit or singular."""
        return combined(self.share, self.singular)


def combined(share: float, singular: float) -> float:
    """Return the smaller of a share left of a joint's range and ``singular / EASY``."""
    return min(share, singular / EASY)


def gap_to_limits(posture: Posture) -> float:
    """Return the smallest distance of a joint from a limit (rad or m), infinite without any."""
    return float(posture.from_limits.min())


def best_posture(
    chain: Chain, base_from_tip: ArrayLike, starts: Starts | None = None
) -> Posture | None:
    """Return, of all branches found, the one farthest from limits and singular poses at once.

    `solutions` sorts by limits alone; here the smaller of ``limit_share`` and
    ``singular / EASY`` counts.  None where no posture was found, which is no proof.
    """
    found = solutions(chain, base_from_tip, starts).postures
    return max(found, key=lambda each: combined(each.limit_share, each.singular), default=None)


def tightest(chain: Chain, postures: ArrayLike) -> Tightest:
    """Return where a row of postures is tightest.

    Parameters
    ----------
    chain : Chain
    postures : array_like, shape (m, n), rad or m

    Raises
    ------
    ValueError
        If there is none, or the number of joints is another.
    """
    rows = postures_of(chain, postures)
    if not len(rows):
        raise ValueError("there is no posture")
    from_limits = np.minimum(rows - chain.lower, chain.upper - rows)
    at, joint = np.unravel_index(int(from_limits.argmin()), from_limits.shape)
    half = 0.5 * (chain.upper - chain.lower)
    with np.errstate(invalid="ignore", divide="ignore"):
        shares = np.where(np.isinf(half), 1.0, from_limits / np.where(half > 0.0, half, 1.0))
    from_limit = float(from_limits[at, joint])
    singular = far_from_singular(chain, rows)
    return Tightest(
        from_limit,
        chain.arm.moving[int(joint)].name if np.isfinite(from_limit) else "",
        int(at),
        float(shares.min()),
        float(singular.min()),
        int(singular.argmin()),
    )


def far_from_singular(chain: Chain, postures: ArrayLike) -> Floats:
    """Return the distance of postures from singular poses, shape (m,), as `Posture` has it."""
    rows = postures_of(chain, postures)
    if chain.n < 6:
        return np.zeros(len(rows))
    pieces, tips = piece_poses(chain, rows)[:, 1:], tip_poses(chain, rows)
    axes = pieces[:, :, :3, 2]
    arms = tips[:, None, :3, 3] - pieces[:, :, :3, 3]
    moved = np.where(chain.slides[:, None], axes, np.cross(axes, arms)) / full_reach(chain)
    turned = np.where(chain.slides[:, None], 0.0, axes)
    columns = np.concatenate([moved, turned], axis=2)
    return np.asarray(np.linalg.svd(columns, compute_uv=False)[:, -1])
