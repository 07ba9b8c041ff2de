"""The middle of a body on its way, and the ball round it that holds the body."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reach.travel.stance import Mover

Array = NDArray[np.float64]


def middle_of(mover: Mover) -> Array:
    """Return the middle of the length of a body without what it carries, (3,), m, body frame."""
    n = mover.n_body
    lowest = min(
        (mover.p[:n, 2] - mover.radius[:n]).min(), (mover.q[:n, 2] - mover.radius[:n]).min()
    )
    highest = max(
        (mover.p[:n, 2] + mover.radius[:n]).max(), (mover.q[:n, 2] + mover.radius[:n]).max()
    )
    return np.array([0.0, 0.0, 0.5 * (lowest + highest)])


def ball_of(mover: Mover) -> float:
    """Return the radius of the ball round the middle that holds body and what it carries, m."""
    middle = middle_of(mover)
    ends = [np.linalg.norm(x - middle, axis=1) + mover.radius for x in (mover.p, mover.q)]
    return float(np.max(ends))
