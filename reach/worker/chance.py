"""Random numbers with their state in the caller's hands, so that no thread shares any."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reach.geometry.compiled import compiled

State = NDArray[np.uint64]
"""State of the generator, shape (1,), never zero."""


@compiled
def uniform(state: State) -> float:
    """Return a random number in [0, 1) and move ``state`` (uint64, shape (1,)) on: xorshift64."""
    s = state[0]
    s ^= s << np.uint64(13)
    s ^= s >> np.uint64(7)
    s ^= s << np.uint64(17)
    state[0] = s
    return np.float64(s >> np.uint64(11)) * (1.0 / 9007199254740992.0)


@compiled
def bell(state: State) -> float:
    """Return a random number of mean 0 and SD 1: near normal, never beyond 3.5."""
    total = uniform(state) + uniform(state) + uniform(state) + uniform(state)
    return (total - 2.0) * 1.7320508075688772
