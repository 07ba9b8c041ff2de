"""Rails and places drawn at random for tests."""

import numpy as np
from scipy.spatial.transform import Rotation

from reach.rails.graph import KINDS
from reach.rails.records import Rail, Spot


def drawn(seed, n=12, size=3.0, longest=1.5):
    """Rails of all kinds in a cube: askew, along the axes, side by side, and handholds."""
    rng = np.random.default_rng(seed)
    rails = []
    for k in range(n):
        start = rng.uniform(0.0, size, 3)
        kind = rng.integers(4)
        if kind == 0:
            step = rng.uniform(-longest, longest, 3)
        elif kind == 1:
            step = np.eye(3)[rng.integers(3)] * rng.uniform(0.2, longest)
        elif kind == 2 and rails:  # beside another one, shifted
            other = rails[rng.integers(len(rails))]
            step = np.subtract(other.stop, other.start)
            start = np.add(other.start, rng.uniform(-0.4, 0.4, 3))
        else:
            step = np.zeros(3)
        rails.append(Rail(f"R{k}", tuple(start.tolist()), tuple((start + step).tolist())))
    return rails


def places(seed, rails):
    """Four places: two near rails, one on a rail, one anywhere."""
    rng = np.random.default_rng(seed + 10_000)
    points = []
    for offset in (0.5, 0.5, 0.0):
        rail = rails[rng.integers(len(rails))]
        at = np.add(rail.start, rng.uniform() * np.subtract(rail.stop, rail.start))
        points.append(at + offset * rng.uniform(-1.0, 1.0, 3))
    points.append(rng.uniform(0.0, 3.0, 3))
    return [Spot(f"P{k}", tuple(point.tolist())) for k, point in enumerate(points)]


def moved(seed, rails, spots):
    """The same world turned and shifted as a whole."""
    rng = np.random.default_rng(seed)
    turn, shift = Rotation.random(rng=rng), rng.uniform(-50.0, 50.0, 3)

    def to(point):
        return tuple((turn.apply(point) + shift).tolist())

    rails = [
        Rail(r.name, to(r.start), to(r.stop), tuple(turn.apply(r.out).tolist()), r.status, r.rated)
        for r in rails
    ]
    return rails, [Spot(s.name, to(s.point), s.span) for s in spots]


def only_ends(graph, *keep):
    """The networkx graph without all places but those to keep: no way leads through a place."""
    nx_graph = graph.networkx()
    nodes = {graph.node_of(name) for name in keep}
    nx_graph.remove_nodes_from(set(range(graph.n_grips, len(graph.points))) - nodes)
    return nx_graph


def edge(graph, i, j):
    """Length and kind of the edge between two nodes."""
    (at,) = graph.edges_along([i, j])
    assert graph.csr.indices[at] == j
    return graph.csr.data[at], KINDS[graph.kinds[at]]
