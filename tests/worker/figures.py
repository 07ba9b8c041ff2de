"""Figures the tests ask: three sizes in the demo suit, and one in working clothes."""

from functools import cache

import numpy as np

from reach.files.people import load_population, load_suits
from reach.worker.body import percentile_body
from reach.worker.figure import Figure, Grip, figure_of

SIZES = {"S": ("female", 5), "M": ("male", 50), "L": ("male", 95)}
DRIVE = Grip(tip=(0.25, 0.0, 0.05))
BARE_HAND = Grip(tip=(0.06, 0.0, 0.0))
BOX = (np.array([-0.6, -1.3, 0.2]), np.array([1.5, 0.9, 2.3]))
"""Where random targets are drawn, m, boot frame: all that an arm may come near."""


@cache
def figure(size: str = "M", suit: str = "halden", tool: str = "drive") -> Figure:
    sex, percentile = SIZES[size]
    body = percentile_body(load_population(sex), percentile)
    grip = {"drive": DRIVE, "hand": BARE_HAND, "angled": ANGLED}[tool]
    return figure_of(body, load_suits()[suit], grip)


ANGLED = Grip(tip=(0.1, -0.02, 0.12), axis=(0.3, 0.1, 1.0), tolerance=0.05)


def random_targets(n: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    directions = rng.normal(size=(n, 3))
    return rng.uniform(*BOX, (n, 3)), directions / np.linalg.norm(directions, axis=1)[:, None]
