"""The way home: lengths and minutes of the demo, counted by hand from its rails."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from reach.files.people import load_population
from reach.files.procedure import load_procedure
from reach.files.scene import load_scene
from reach.passage import Line
from reach.rails.route import best_route
from reach.situations import resolve
from reach.travel.ground import graph_in
from reach.travel.home import Rates, home_map, rates_of, return_of

# Listed with the scenario, to 0.1 m and 0.1 min; the rails they run along were kept.
LENGTHS = [
    ("AN-05", "RL09@0.3", 17.1),
    ("AN-05", "SK6", 20.7),
    ("AN-05", "RL10@2.3", 22.1),
    ("AN-05", "RL11@1.8", 24.6),
    ("AN-04", "RL09@1.0", 11.9),
    ("AN-01", "RL09@1.0", 24.8),
    ("RL09@1.0", "hatch", 25.7),
    ("SK6", "hatch", 28.6),
    ("RL10@2.7", "hatch", 30.4),
    ("RL11@1.8", "hatch", 32.5),
]
RETURNS = [
    # place, partner's place, minutes with 1 swap and with 2
    ("RL09@1.0", "RL09@0.3", 26.8, 28.3),
    ("SK6", "SK4", 28.0, 29.5),
    ("RL10@2.7", "SK4", 29.0, 30.5),
    ("RL11@1.8", "SK4", 30.1, 31.6),
]
ROUNDED = 0.05
"""Half of the last digit listed."""


@cache
def demo():
    loaded = load_scene("brackenfall")
    asked = load_procedure(None, loaded)
    site, situations = resolve(loaded.scene, loaded.meshes, asked.procedure, load_population)
    return site, next(s for s in situations if s.step == "20 to Hazel")


@pytest.mark.parametrize(("start", "stop", "listed"), LENGTHS)
def test_routed_lengths_are_those_listed(start, stop, listed):
    site, situation = demo()
    route = best_route(graph_in(site, situation, (start, stop)), start, stop)
    assert route.length == pytest.approx(listed, abs=0.05 + ROUNDED)


@pytest.mark.parametrize(("place", "partner", "one", "two"), RETURNS)
def test_minutes_home_are_those_listed(place, partner, one, two):
    site, situation = demo()
    there = replace(situation, at=place, others={"W2": partner})
    found = [return_of(site, there, swaps).brought / 60.0 for swaps in (1, 2)]
    # SK4 was moved by 0.1 m since: 0.1 m at 0.15 m/s is 0.01 min.
    assert found == pytest.approx([one, two], abs=0.1 + ROUNDED)


def test_every_minute_of_a_return_is_accounted_for():
    site, situation = demo()
    there = replace(situation, at="SK6", others={"W2": "SK4"})
    found, rates = return_of(site, there, 2), rates_of(site)
    parts = [
        rates.leave, found.to_partner / rates.partner, rates.free, 2 * rates.swap,
        found.way.length / rates.casualty, rates.lock,
    ]  # fmt: skip
    assert found.brought == pytest.approx(sum(parts))
    assert found.alone == pytest.approx(found.way.length / rates.alone + rates.lock)


def test_rates_are_in_seconds():
    rates = Rates(120.0, 120.0, 90.0, 630.0, 0.15, 0.15, 0.04)
    assert float(rates.brought(25.7, 0.7, 1)) / 60 == pytest.approx(26.8, abs=0.05)


def test_swaps_are_counted_from_the_lines_that_do_not_lead_to_the_hatch():
    site, situation = demo()
    there = replace(situation, at="SK6", others={"W2": "SK4"})
    near, far = Line("ST-1", "AN-01", 24.0), Line("ST-3", "AN-04", 24.0)
    for lines, swaps in (
        ({"W1": near, "W2": near}, 0),
        ({"W1": far, "W2": near}, 1),
        ({"W1": far, "W2": far}, 2),
    ):
        found = return_of(site, replace(there, lines=lines))
        assert (found.swaps, found.swaps_known) == (swaps, True)
    unknown = return_of(site, replace(there, lines={}))
    assert (unknown.swaps, unknown.swaps_known) == (round(site.limit("swaps").value), False)


def test_a_partner_where_no_rails_lead_cannot_come():
    site, situation = demo()
    there = replace(situation, at="SK6", others={"W2": "Wc"})
    assert np.isinf(return_of(site, there).brought)
    nearer = replace(situation, at="SK6", others={"W2": "Wc", "W3": "SK4"})
    assert return_of(site, nearer).partner == "W3"


def test_the_map_agrees_with_one_way_at_a_time():
    site, situation = demo()
    found = home_map(site, situation, 2)
    graph = found.graph
    assert np.isfinite(found.length[graph.rail[: graph.n_grips] >= 0]).any()
    for node in range(0, graph.n_grips, 37):
        rail = graph.rails[graph.rail[node]]
        spot = f"{rail.name}@{float(graph.along[node])!r}"
        route = best_route(graph_in(site, situation, (spot, "hatch")), spot, "hatch")
        if route is None:
            assert np.isinf(found.length[node])
        else:
            assert found.length[node] == pytest.approx(route.length, abs=1e-6)
