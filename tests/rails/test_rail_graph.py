"""The graph of grips: what is joined to what, against brute force and closed forms."""

from itertools import combinations

import numpy as np
import pytest
from drawing import drawn, edge, places
from scipy.optimize import minimize

from reach.rails.closest import closest, near_pairs
from reach.rails.graph import KINDS, rail_graph
from reach.rails.records import Rail, Spot

X = Rail("X", (0, 0, 0), (2, 0, 0))
FAR = Spot("far", (9, 9, 9))


def edges(graph, kind):
    return [
        (i, j, data["length"]) for i, j, data in graph.networkx().edges(data=True)
        if data["kind"] == kind
    ]  # fmt: skip


def test_closest_points_are_those_of_an_optimiser():
    rng = np.random.default_rng(5)
    p, u, q, v = rng.uniform(-1, 1, (4, 40, 3))
    v[:10] = u[:10] * rng.uniform(-2, 2, (10, 1))  # parallel
    u[10:15] = 0.0
    v[12:20] = 0.0
    s, t, distance = closest(p, u, q, v)
    for k in range(40):

        def squared(x, k=k):
            return float(np.sum((p[k] + x[0] * u[k] - q[k] - x[1] * v[k]) ** 2))

        least = min(
            minimize(squared, x0, bounds=[(0, 1), (0, 1)], tol=1e-14).fun
            for x0 in ([0.1, 0.1], [0.9, 0.9])
        )
        assert distance[k] ** 2 == pytest.approx(squared((s[k], t[k])), abs=1e-12)
        assert distance[k] ** 2 <= least + 1e-9


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize("gap", [0.2, 0.6, 1.5])
def test_no_near_pair_is_missed(seed, gap):
    rails = drawn(seed, 30, longest=4.0)
    start, stop = (np.array([getattr(r, end) for r in rails]) for end in ("start", "stop"))
    i, j = np.array(list(combinations(range(30), 2))).T
    near = closest(start[i], (stop - start)[i], start[j], (stop - start)[j])[2] <= gap
    wanted = set(zip(i[near].tolist(), j[near].tolist(), strict=True))
    assert wanted
    assert wanted <= {tuple(two) for two in near_pairs(start, stop, gap).tolist()}


def test_grips_are_a_pitch_apart_at_most_and_include_both_ends():
    graph = rail_graph([X, Rail("H", (9, 0, 0), (9, 0, 0))], [], 0.5, pitch=0.3)
    assert graph.along[graph.rail == 0] == pytest.approx(np.linspace(0, 2, 8))
    assert (graph.rail == 1).sum() == 1
    assert sum(length for *_, length in edges(graph, "along")) == pytest.approx(2.0)


@pytest.mark.parametrize(("gap", "joined"), [(0.5, 1), (0.49, 0)])
def test_two_rails_are_joined_where_they_come_closest(gap, joined):
    across = Rail("Y", (0.77, 0.5, 0), (0.77, 3, 0))
    graph = rail_graph([X, across], [], gap)
    found = edges(graph, "gap")
    assert len(found) == joined
    for i, j, length in found:
        assert length == pytest.approx(0.5)
        assert graph.points[[i, j]] == pytest.approx(np.array([[0.77, 0, 0], [0.77, 0.5, 0]]))


def test_crossing_rails_are_joined_by_an_edge_of_no_length():
    graph = rail_graph([X, Rail("Y", (1, -1, 0), (1, 1, 0))], [], 0.3)
    assert [length for *_, length in edges(graph, "gap")] == [0.0]


def test_rails_side_by_side_are_joined_all_along():
    graph = rail_graph([X, Rail("B", (0.5, 0.3, 0), (3, 0.3, 0))], [], 0.6, pitch=0.5)
    found = edges(graph, "gap")
    assert [length for *_, length in found] == pytest.approx([0.3] * len(found))
    assert sorted({round(float(graph.points[i][0]), 9) for i, *_ in found}) == [0.5, 1, 1.5, 2]


def test_rails_end_to_end_are_joined_at_their_ends_only():
    graph = rail_graph([X, Rail("B", (2.4, 0, 0), (5, 0, 0))], [], 0.6)
    assert [length for *_, length in edges(graph, "gap")] == pytest.approx([0.4])


def test_a_place_holds_what_is_in_its_span():
    graph = rail_graph(
        [Rail("X", (-5, 0, 0), (5, 0, 0))], [Spot("s", (0.07, 1, 0))], 0.5, 1.25, 0.5
    )
    found = edges(graph, "spot")
    xs = sorted(float(graph.points[i][0]) for i, *_ in found)
    assert xs == pytest.approx(sorted([0.07, 0.07 - 0.75, 0.07 + 0.75, -0.5, 0.0, 0.5]))
    assert max(length for *_, length in found) == pytest.approx(1.25)


def test_a_place_on_a_rail_is_joined_to_it_right_there_only():
    graph = rail_graph([X], [Spot("s", (0.77, 0, 0)), Spot("own", (1, 0.5, 0), span=0.4)], 0.5)
    ((i, _, length),) = edges(graph, "spot")
    assert (graph.points[i].tolist(), length) == ([0.77, 0, 0], 0.0)


@pytest.mark.parametrize(
    "change", [{"status": "blocked"}, {"status": "no-touch"}, {"rated": False}]
)
def test_what_is_not_to_be_held_has_no_edges_unless_asked_for(change):
    rails = [X, Rail("B", (0, 0.3, 0), (2, 0.3, 0), **change)]
    spots = [Spot("s", (1, 0.6, 0))]

    def on_b(**asked):
        graph = rail_graph(rails, spots, 0.5, **asked)
        return np.diff(graph.csr.indptr)[graph.rail == 1].sum()

    assert on_b() == 0
    assert on_b(allow=["B"]) > 0
    assert on_b(allow=["B"], avoid=["B"]) == 0


@pytest.mark.parametrize("seed", range(10))
def test_the_matrix_is_the_graph_it_hands_out(seed):
    rails = drawn(seed)
    graph = rail_graph(rails, places(seed, rails), 0.7)
    nx_graph = graph.networkx()
    assert nx_graph.number_of_edges() * 2 == graph.csr.nnz
    assert (abs(graph.csr - graph.csr.T) > 0).nnz == 0
    for i, j, data in nx_graph.edges(data=True):
        assert edge(graph, i, j) == edge(graph, j, i) == (data["length"], data["kind"])
        apart = np.linalg.norm(graph.points[i] - graph.points[j])
        assert data["length"] == pytest.approx(apart, abs=1e-8)
        most = {"along": 0.3, "gap": 0.7, "spot": 1.2}[data["kind"]]
        assert data["length"] <= most + 1e-8
    assert {data["kind"] for *_, data in nx_graph.edges(data=True)} <= set(KINDS)
    assert {nx_graph.nodes[k]["rail"] for k in nx_graph} <= {r.name for r in rails} | {
        s.name for s in graph.spots
    }


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        ({"avoid": ["Y"]}, "unknown rail 'Y'"),
        ({"gap": 0.0}, "gap must be positive and finite"),
        ({"pitch": -1.0}, "pitch must be positive"),
        ({"rails": [X, X]}, "rail 'X' is given 2 times"),
        ({"spots": [FAR, FAR]}, "place 'far' is given 2 times"),
        ({"rails": [Rail("N", (0, 0, np.nan), (1, 0, 0))]}, "rail 'N' is not finite"),
    ],
)
def test_what_cannot_be_is_refused_by_name(asked, message):
    with pytest.raises(ValueError, match=message):
        rail_graph(**({"rails": [X], "spots": [FAR], "gap": 0.5} | asked))


def test_an_empty_world_has_an_empty_graph():
    assert rail_graph([], [], 0.5).networkx().number_of_nodes() == 0
    assert rail_graph([], [FAR], 0.5).n_grips == 0
    assert rail_graph([X], [], 0.5).csr.nnz == 14
