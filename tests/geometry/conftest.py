"""Meshes that several tests ask about, built once."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from benchmarks.trusses import truss_triangles, tube
from reach.geometry import build


@pytest.fixture(scope="session")
def trusses():
    """Triangles and tree of each truss by name."""
    triangles = {name: truss_triangles(name) for name in ("5k", "52k", "454k")}
    return {name: (given, build(given)) for name, given in triangles.items()}


@pytest.fixture(scope="session")
def cube():
    """A cube from -1 to 1, normals outward."""
    return np.asarray(trimesh.creation.box(extents=(2.0, 2.0, 2.0)).triangles)


@pytest.fixture(scope="session")
def crossed_tubes():
    """Two closed tubes that overlap round the origin, as unmerged exports have them."""
    return np.concatenate(
        [tube([-1, 0, 0], [1, 0, 0], 0.3, 24, 4), tube([0, -1, 0], [0, 1, 0], 0.3, 24, 4)]
    )


@pytest.fixture
def queries():
    """Function that draws points and 0.4 m segments in and round a tree."""

    def draw(tree, n, seed=0, pad=0.5, length=0.4):
        rng = np.random.default_rng(seed)
        low, high = tree.bounds
        middle = rng.uniform(low - pad, high + pad, (n, 3))
        half = rng.normal(size=(n, 3))
        half *= 0.5 * length / np.linalg.norm(half, axis=1)[:, None]
        return middle, middle - half, middle + half

    return draw
