"""The proof that no route exists: closed forms, and closing what it names makes a route."""

import math
from dataclasses import replace
from functools import cache

import networkx
import numpy as np
import pytest
from drawing import drawn, places

from reach.rails.graph import rail_graph
from reach.rails.proof import why_none
from reach.rails.records import Rail, Spot
from reach.rails.route import best_route

A, B = Rail("A", (0, 0, 0), (1, 0, 0)), Rail("B", (3.5, 0, 0), (5, 0, 0))
BRIDGE = Rail("C", (1.5, 0, 0), (3, 0, 0), status="blocked")
GAP, SPAN = 0.5, 1.2
ENDS = [Spot("s", (0, 0, 0)), Spot("t", (5, 0, 0))]


def test_the_gap_is_named_with_its_width_points_and_handholds():
    proof = why_none([A, B], ENDS, 0.9, "s", "t")
    assert (proof.from_start, proof.from_stop) == (("A",), ("B",))
    assert proof.rails == ("A", "B")
    assert proof.points == ((1, 0, 0), (3.5, 0, 0))
    assert (proof.bottleneck, proof.handholds) == (2.5, 2)  # ceil(2.5 / 0.9) - 1
    (gap,) = proof.gaps
    assert np.array(gap.handholds) == pytest.approx(
        np.array([[1 + 2.5 / 3, 0, 0], [1 + 5 / 3, 0, 0]])
    )


def test_back_to_front_it_is_the_same_gap():
    there, back = (why_none([A, B], ENDS, 0.9, *ends) for ends in (("s", "t"), ("t", "s")))
    assert back.rails == there.rails[::-1]
    assert back.points == there.points[::-1]
    assert back.gaps[0].handholds[0] == pytest.approx(there.gaps[0].handholds[-1])


@pytest.mark.parametrize(
    ("gap", "holds"), [(2.4999, 1), (1.25, 1), (1.2499, 2), (0.5, 4), (0.4999, 5)]
)
def test_the_number_of_handholds_at_whole_shares(gap, holds):
    assert why_none([A, B], ENDS, gap, "s", "t").handholds == holds


def test_where_there_is_a_route_there_is_no_proof():
    assert why_none([A, B], ENDS, 2.5, "s", "t") is None


def test_a_blocked_rail_that_would_do_is_named():
    proof = why_none([A, BRIDGE, B], ENDS, 0.9, "s", "t")
    assert (proof.freed, proof.freed_together) == (("C",), ())
    assert proof.bottleneck == 2.5


def test_rails_that_only_do_together_are_named_together():
    halves = [
        replace(BRIDGE, name="C", stop=(2, 0, 0)),
        replace(BRIDGE, name="D", start=(2.5, 0, 0), rated=False, status="free"),
        replace(BRIDGE, name="E", start=(0, 5, 0), stop=(5, 5, 0)),
    ]
    proof = why_none([A, *halves, B], ENDS, 0.9, "s", "t")
    assert (proof.freed, proof.freed_together) == ((), ("C", "D"))


def test_a_blocked_rail_that_would_not_do_is_not_named():
    proof = why_none([A, replace(BRIDGE, stop=(2, 0, 0)), B], ENDS, 0.9, "s", "t")
    assert (proof.freed, proof.freed_together) == ((), ())


def test_a_rail_that_is_gone_cannot_be_freed():
    proof = why_none([A, replace(BRIDGE, status="gone"), B], ENDS, 0.9, "s", "t")
    assert (proof.freed, proof.freed_together) == ((), ())
    assert proof.bottleneck == 2.5


def test_a_place_far_from_all_rails_is_named():
    far = Spot("far", (0, 3, 0))
    proof = why_none([A], [far, ENDS[0]], 0.9, "far", "s", spot_span=1.2)
    assert proof.from_start == ()
    assert proof.rails == ("far", "A")
    (gap,) = proof.gaps
    assert (gap.width, gap.limit, gap.to_place) == (3.0, 1.2, True)
    assert math.isinf(proof.bottleneck)
    assert proof.handholds == 2  # 1.8 m beyond its span, 0.9 m a step


def test_without_any_rail_to_go_by_no_gap_is_named():
    proof = why_none([BRIDGE], ENDS, 0.9, "s", "t")
    assert math.isnan(proof.bottleneck)
    assert (proof.gaps, proof.points, proof.handholds) == ((), None, 0)


@cache
def without_route():
    """Worlds without a route, whose places hold rails; every other rail is blocked."""
    found = []
    for seed in range(60):
        rails = drawn(seed, 30)
        for k in range(0, 30, 2):
            rails[k] = replace(rails[k], status="blocked")
        spots = places(seed, rails[1::2])
        proof = why_none(rails, spots, GAP, "P0", "P1", SPAN)
        if proof is not None:
            found.append((rails, spots, proof))
    return found


def is_route(rails, spots, gap=GAP, **asked):
    return best_route(rail_graph(rails, spots, gap, SPAN, **asked), "P0", "P1") is not None


def test_closing_the_gaps_makes_a_route_and_freeing_the_rails_too():
    """Handholds where the proof puts them, as rails without length, join start and goal."""
    freed = together = 0
    for rails, spots, proof in without_route():
        holds = [
            Rail(f"H{k}-{n}", point, point)
            for k, gap in enumerate(proof.gaps)
            for n, point in enumerate(gap.handholds)
        ]
        assert len(holds) == proof.handholds > 0
        assert is_route([*rails, *holds], spots)
        for name in {f"R{k}" for k in range(0, 30, 2)}:
            assert is_route(rails, spots, allow=[name]) == (name in proof.freed)
        freed += len(proof.freed)
        if proof.freed_together:
            together += 1
            assert is_route(rails, spots, allow=proof.freed_together)
            assert not is_route(rails, spots, allow=proof.freed_together[1:])
    assert freed >= 5
    assert together >= 2


def test_the_bottleneck_is_the_least_gap_limit_with_a_route():
    """The graph itself, made with limits just below and just above."""
    checked = 0
    for rails, spots, proof in without_route():
        if not any(gap.to_place for gap in proof.gaps):
            checked += 1
            assert not is_route(rails, spots, proof.bottleneck - 1e-6)
            assert is_route(rails, spots, proof.bottleneck + 1e-6)
            assert max(gap.width for gap in proof.gaps) == proof.bottleneck
    assert checked >= 10


def test_what_can_be_got_to_is_the_component():
    for rails, spots, proof in without_route():
        graph = rail_graph(rails, spots, GAP, SPAN)
        nx_graph = graph.networkx()
        for name, held in (("P0", proof.from_start), ("P1", proof.from_stop)):
            others = {graph.node_of(s.name) for s in spots if s.name != name}
            part = networkx.node_connected_component(
                nx_graph.subgraph(set(nx_graph) - others), graph.node_of(name)
            )
            assert {nx_graph.nodes[k]["rail"] for k in part} - {name} == set(held)
        assert not set(proof.from_start) & set(proof.from_stop)
