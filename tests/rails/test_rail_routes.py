"""Routes against networkx and scipy, as exhaustive lists, as written, and by the laws."""

from functools import cache
from itertools import islice, pairwise

import networkx
import numpy as np
import pytest
from drawing import drawn, edge, moved, only_ends, places
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse.csgraph import bellman_ford

from reach.rails.alternatives import alternatives
from reach.rails.graph import per_kind, rail_graph
from reach.rails.ranked import shortest_paths
from reach.rails.records import Rail, Spot
from reach.rails.route import all_lengths, best_route, followed, route_of
from reach.rails.written import along_rails, written_route

SEEDS = st.integers(0, 10**6)
COSTS = {"along": 4.0, "gap": 9.0, "spot": 30.0}


def world(seed, gap=0.8, **asked):
    rails = drawn(seed)
    return rail_graph(rails, places(seed, rails), gap, **asked)


@pytest.mark.parametrize("seed", range(200))
def test_the_best_route_is_that_of_networkx_and_of_scipy(seed):
    graph = world(seed)
    found = best_route(graph, "P0", "P1")
    nx_graph = only_ends(graph, "P0", "P1")
    at, to = graph.node_of("P0"), graph.node_of("P1")
    theirs = bellman_ford(graph.ways, directed=True, indices=at)
    first, last = graph.csr.indptr[to], graph.csr.indptr[to + 1]
    enters = theirs[graph.csr.indices[first:last]] + graph.csr.data[first:last]
    least = enters.min(initial=np.inf)
    if found is None:
        assert not networkx.has_path(nx_graph, at, to)
        assert np.isinf(least)
        return
    wanted = networkx.shortest_path_length(nx_graph, at, to, weight="length")
    assert found.length == pytest.approx(wanted, abs=1e-9)
    assert found.length == pytest.approx(least, abs=1e-9)
    assert_hangs_together(graph, found)


def assert_hangs_together(graph, route):
    assert sum(leg.length for leg in route.legs) == pytest.approx(route.length, abs=1e-12)
    for leg, following in pairwise(route.legs):
        assert leg.stop == pytest.approx(following.start, abs=1e-8)
        assert not (leg.kind == following.kind == "along" and leg.rail == following.rail)
    steps = np.linalg.norm(np.diff(route.points, axis=0), axis=1)
    assert steps.sum() == pytest.approx(route.length, abs=1e-6)
    assert route.widest <= graph.gap + 1e-9
    assert route.widest == max((g.length for g in route.legs if g.kind == "gap"), default=0.0)
    assert all(a != b for a, b in pairwise(route.rails))
    assert {name for leg in route.legs for name in (leg.rail, leg.to_rail)} - {""} <= set(
        route.rails
    )


def test_random_worlds_have_routes_and_lack_routes():
    found = [best_route(world(seed), "P0", "P1") for seed in range(200)]
    assert 40 < sum(route is None for route in found) < 160


@pytest.mark.parametrize("seed", range(20))
def test_a_cost_by_kind_is_made_least(seed):
    graph = world(seed)
    found = best_route(graph, "P0", "P1", per_kind(**COSTS))
    nx_graph = only_ends(graph, "P0", "P1")
    for *_, data in nx_graph.edges(data=True):
        data["seconds"] = COSTS[data["kind"]] * data["length"]
    at, to = graph.node_of("P0"), graph.node_of("P1")
    if found is None:
        assert not networkx.has_path(nx_graph, at, to)
    else:
        wanted = networkx.shortest_path_length(nx_graph, at, to, weight="seconds")
        assert found.cost == pytest.approx(wanted)
        assert found.cost == pytest.approx(sum(COSTS[g.kind] * g.length for g in found.legs))


@pytest.mark.parametrize("seed", range(20))
def test_lengths_from_everywhere_are_those_one_by_one(seed):
    graph = world(seed)
    lengths, onward = all_lengths(graph, "P1")
    nx_graph = only_ends(graph, "P1")
    theirs = networkx.single_source_dijkstra_path_length(
        nx_graph, graph.node_of("P1"), weight="length"
    )
    for node in range(graph.n_grips):
        assert lengths[node] == pytest.approx(theirs.get(node, np.inf))
        if np.isfinite(lengths[node]):
            way = followed(onward, node)
            assert way[-1] == graph.node_of("P1")
            route = route_of(graph, way)
            assert (route.start, route.stop) == (graph.rails[graph.rail[node]].name, "P1")
            assert route.length == pytest.approx(lengths[node])
            total = sum(edge(graph, i, j)[0] for i, j in pairwise(way))
            assert total == pytest.approx(lengths[node])
    for name in ("P0", "P2", "P3"):
        route = best_route(graph, name, "P1")
        length = lengths[graph.node_of(name)]
        assert length == pytest.approx(route.length if route else np.inf)


def small(seed):
    """A world small enough to list every way through it."""
    rails = drawn(seed, 5, size=1.6, longest=0.9)
    return rail_graph(rails, places(seed, rails), 0.8, spot_span=0.6, pitch=1.0)


def every_way(graph, most=3_000):
    """Length and nodes of every simple path, shortest first; None when there are too many."""
    nx_graph = only_ends(graph, "P0", "P1")
    at, to = graph.node_of("P0"), graph.node_of("P1")
    ways = list(islice(networkx.all_simple_paths(nx_graph, at, to), most + 1))
    if len(ways) > most:
        return None
    return sorted((sum(edge(graph, i, j)[0] for i, j in pairwise(way)), way) for way in ways)


@cache
def listed():
    """Small worlds by seed, with every way through them."""
    found = {seed: every_way(small(seed)) for seed in range(40)}
    return {seed: ways for seed, ways in found.items() if ways is not None}


def test_there_are_lists_long_enough_to_compare_with():
    assert sum(len(ways) >= 20 for ways in listed().values()) >= 10


def test_the_k_shortest_are_the_first_of_an_exhaustive_list():
    for seed, ways in listed().items():
        assert_first_of(small(seed), ways)


def assert_first_of(graph, ways):
    found = shortest_paths(graph, "P0", "P1", 20)
    assert len(found) == min(20, len(ways))
    assert [r.length for r in found] == pytest.approx([length for length, _ in ways[:20]])
    assert len({r.nodes for r in found}) == len(found)
    known = {tuple(way) for _, way in ways}
    assert all(r.nodes in known for r in found)


def test_alternatives_keep_their_promise():
    for seed, ways in listed().items():
        assert_alternatives(small(seed), ways)


def assert_alternatives(graph, ways):
    found = alternatives(graph, "P0", "P1", 5)
    assert_really_differ(graph, found, 0.3)
    wanted = greedy(graph, ways, 5, 0.3)
    assert bool(found) == bool(wanted)
    for ours, (length, _) in zip(found[:1], wanted[:1], strict=True):
        assert ours.length == pytest.approx(length)
    for ours, (length, _) in list(zip(found, wanted, strict=False))[1:2]:
        assert ours.length >= length - 1e-9  # the second can be no better than the best second


def likeness(graph, i, j):
    """What tells one edge from another: the edge itself, or the rails and places it joins."""
    kind = edge(graph, i, j)[1]
    return frozenset((i, j) if kind == "along" else map(named(graph), (i, j)))


def named(graph):
    return lambda node: (
        graph.rails[graph.rail[node]].name if node < graph.n_grips else f"place {node}"
    )


def shared(graph, one, other):
    known = {likeness(graph, *two) for two in pairwise(other)}
    return sum(edge(graph, *two)[0] for two in pairwise(one) if likeness(graph, *two) in known)


def assert_really_differ(graph, routes, apart):
    assert [r.length for r in routes] == sorted(r.length for r in routes)
    for k, route in enumerate(routes):
        assert len(set(route.nodes)) == len(route.nodes)
        for earlier in routes[:k]:
            same = shared(graph, route.nodes, earlier.nodes)
            assert same <= (1.0 - apart) * route.length + 1e-8


def greedy(graph, ways, k, apart):
    """The best of all ways, then the best that differs from it, and so on: by trying all."""
    taken = []
    for length, way in ways:
        if all(shared(graph, way, other) <= (1 - apart) * length + 1e-9 for _, other in taken):
            taken.append((length, way))
        if len(taken) == k:
            break
    return taken


def test_most_second_choices_are_the_best_there_are():
    """The search may miss one; on small worlds it must not do so often."""
    cases = equal = 0
    for seed, ways in listed().items():
        graph = small(seed)
        wanted = greedy(graph, ways, 2, 0.3)
        if len(wanted) == 2:
            cases += 1
            found = alternatives(graph, "P0", "P1", 2)
            equal += len(found) == 2 and found[1].length <= wanted[1][0] + 1e-9
    assert cases >= 20
    assert equal >= 0.8 * cases


@pytest.mark.parametrize("seed", range(30))
def test_alternatives_of_larger_worlds_differ(seed):
    rails = drawn(seed, 60)
    graph = rail_graph(rails, places(seed, rails), 0.8)
    found = alternatives(graph, "P0", "P1", 8)
    best = best_route(graph, "P0", "P1")
    assert bool(found) == (best is not None)
    if best is not None:
        assert found[0].length == pytest.approx(best.length)
        assert_really_differ(graph, found, 0.3)


@pytest.mark.parametrize("seed", range(40))
def test_a_best_route_written_down_is_as_long(seed):
    graph = world(seed)
    best = best_route(graph, "P0", "P1")
    if best is None or not best.rails:
        return
    along = along_rails(graph, "P0", "P1", best.rails)
    assert along.length == pytest.approx(best.length)
    assert along.rails == best.rails
    written = written_route(graph.rails, graph.spots, best.rails, "P0", "P1")
    assert written.length == pytest.approx(best.length, abs=1e-6)
    assert written.rails == best.rails


def test_a_written_route_goes_over_gaps_of_any_width_and_back():
    rails = [Rail("A", (0, 0, 0), (1, 0, 0)), Rail("B", (4, 0, 0), (5, 0, 0), status="blocked")]
    spots = [Spot("s", (0, 0, 0)), Spot("t", (0, 3, 0))]
    route = written_route(rails, spots, ["A", "B", "A"], "s", "t")
    assert route.rails == ("A", "B", "A")
    assert (route.widest, route.at) == (3.0, ("A", "B"))
    assert route.length == pytest.approx(1 + 3 + 3 + 1 + 3)
    assert along_rails(rail_graph(rails, spots, 0.5), "s", "t", ["A", "B"]) is None


def test_a_written_round_trip_comes_back():
    rails = [Rail("A", (0, 0, 0), (1, 0, 0)), Rail("B", (1.5, 0, 0), (2, 0, 0))]
    route = written_route(rails, [Spot("s", (0, 0, 0))], ["A", "B", "A"], "s", "s")
    assert route.length == pytest.approx(3.0)


def test_the_way_is_not_through_another_place():
    rails = [Rail("A", (0, 0, 0), (1, 0, 0)), Rail("B", (2.2, 0, 0), (3, 0, 0))]
    spots = [Spot("s", (0, 0, 0)), Spot("t", (3, 0, 0)), Spot("middle", (1.6, 0.1, 0))]
    graph = rail_graph(rails, spots, 0.9)
    assert best_route(graph, "s", "t") is None
    assert shortest_paths(graph, "s", "t", 3) == alternatives(graph, "s", "t", 3) == []
    assert best_route(graph, "s", "middle").rails == ("A",)


def test_from_a_place_to_itself_there_is_nothing_to_go():
    graph = world(0)
    for route in (
        best_route(graph, "P0", "P0"),
        shortest_paths(graph, "P0", "P0", 3)[0],
        alternatives(graph, "P0", "P0", 3)[0],
    ):
        assert (route.length, route.legs, route.rails, route.widest) == (0.0, (), (), 0.0)
        assert route.points.shape == (1, 3)


@pytest.mark.parametrize(
    "call", [best_route, all_lengths, along_rails, shortest_paths, alternatives]
)
def test_an_unknown_place_is_named_with_the_nearest(call):
    graph = world(0)
    asked = {best_route: (), all_lengths: (), along_rails: (["R0"],)}.get(call, (3,))
    ends = ("P11",) if call is all_lengths else ("P11", "P0")
    with pytest.raises(ValueError, match="unknown place 'P11'; did you mean 'P1'"):
        call(graph, *ends, *asked)


def test_an_unknown_rail_is_named_with_the_nearest():
    graph = world(0)
    with pytest.raises(ValueError, match="unknown rail 'R99'; did you mean"):
        along_rails(graph, "P0", "P1", ["R99"])
    with pytest.raises(ValueError, match="needs at least one rail"):
        written_route(graph.rails, graph.spots, [], "P0", "P1")
    with pytest.raises(ValueError, match="k must be 1 or more"):
        alternatives(graph, "P0", "P1", 0)


def test_route_of_reads_a_route_again():
    graph, route = next(
        (graph, route)
        for graph in map(world, range(99))
        if (route := best_route(graph, "P0", "P1")) is not None
    )
    assert route_of(graph, list(route.nodes)).legs == route.legs


def least(rails, spots, **asked):
    route = best_route(rail_graph(rails, spots, 0.8, **asked), "P0", "P1")
    return route.length if route else np.inf


@settings(max_examples=60, deadline=None, derandomize=True)
@given(SEEDS)
def test_a_rail_more_never_worsens_a_route(seed):
    rails = drawn(seed, 13)
    spots = places(seed, rails[:12])
    assert least(rails, spots) <= least(rails[:12], spots) + 1e-9


@settings(max_examples=60, deadline=None, derandomize=True)
@given(SEEDS, st.integers(0, 11))
def test_a_rail_blocked_never_improves_a_route(seed, which):
    rails = drawn(seed)
    spots = places(seed, rails)
    assert least(rails, spots, avoid=[f"R{which}"]) >= least(rails, spots) - 1e-9


@settings(max_examples=40, deadline=None, derandomize=True)
@given(SEEDS)
def test_a_wider_gap_limit_never_worsens_a_route(seed):
    rails = drawn(seed)
    spots = places(seed, rails)
    ours = least(rails, spots)
    wider = best_route(rail_graph(rails, spots, 1.1), "P0", "P1")
    assert (wider.length if wider else np.inf) <= ours + 1e-9


@settings(max_examples=40, deadline=None, derandomize=True)
@given(SEEDS)
def test_moving_the_world_changes_nothing(seed):
    rails = drawn(seed)
    spots = places(seed, rails)
    assert least(*moved(seed, rails, spots)) == pytest.approx(least(rails, spots), abs=1e-6)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(SEEDS)
def test_there_and_back_are_as_long(seed):
    graph = world(seed)
    ways = [best_route(graph, *ends) for ends in (("P0", "P1"), ("P1", "P0"))]
    lengths = [way.length if way else np.inf for way in ways]
    assert lengths[0] == pytest.approx(lengths[1], abs=1e-9)
