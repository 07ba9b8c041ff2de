"""Routed lengths of the demo scene, as its story lists them to 0.1 m."""

import pytest

from reach.files.scene import load_scene
from reach.rails.graph import rail_graph
from reach.rails.proof import why_none
from reach.rails.records import Rail, Spot
from reach.rails.route import best_route
from reach.rails.written import written_route

SPOTS = {
    "hatch": (-1.5, 1.6, -0.6),
    "AN-01": (-0.6, 1.45, -0.3),
    "AN-04": (12.2, 1.27, 0.0),
    "AN-05": (6.3, 1.27, 0.0),
    "SK6": (24.4, 1.25, 0.6),
    "RL09 21.0": (21.0, 1.27, 0.0),
    "RL09 21.7": (21.7, 1.27, 0.0),
    "RL10 26.0": (26.0, 1.27, 0.0),
    "RL10 26.4": (26.4, 1.27, 0.0),
    "RL11 28.5": (28.5, 1.27, 0.0),
}
GAP = 0.92
LISTED = [
    ("AN-05", "RL09 21.0", 17.1),
    ("AN-05", "SK6", 20.7),
    ("AN-05", "RL10 26.0", 22.1),
    ("AN-05", "RL11 28.5", 24.6),
    ("AN-04", "RL09 21.7", 11.9),
    ("AN-01", "RL09 21.7", 24.8),
    ("RL09 21.7", "hatch", 25.7),
    ("SK6", "hatch", 28.6),
    ("RL10 26.4", "hatch", 30.4),
    ("RL11 28.5", "hatch", 32.5),
]


@pytest.fixture(scope="module")
def rails():
    scene = load_scene("brackenfall").scene
    return [Rail(name, rail.start, rail.end) for name, rail in scene.handrails.items()]


@pytest.fixture(scope="module")
def spots():
    return [Spot(name, point) for name, point in SPOTS.items()]


@pytest.mark.parametrize(("start", "stop", "listed"), LISTED)
def test_the_routed_length_is_the_listed_one(rails, spots, start, stop, listed):
    route = best_route(rail_graph(rails, spots, GAP), start, stop)
    assert abs(route.length - listed) <= 0.1
    bypass = {"RL22", "RL23", "RL24"}
    assert bypass <= set(route.rails)
    assert route.widest <= 0.465  # the widest of the gaps that the story calls normal


def test_the_written_way_has_the_gap_that_is_too_wide(rails, spots):
    names = ["RL04", "RL05", "RL06", "RL07", "RL08", "RL09"]
    route = written_route(rails, spots, names, "AN-05", "RL09 21.7")
    assert route.at == ("RL07", "RL08")
    assert route.widest == pytest.approx(1.15)
    assert route.length == pytest.approx(21.7 - 6.3)


def test_without_the_bypass_there_is_no_route_and_one_handhold_makes_one(rails, spots):
    cut = [rail for rail in rails if rail.name != "RL23"]
    assert best_route(rail_graph(cut, spots, GAP), "AN-05", "RL09 21.7") is None
    proof = why_none(cut, spots, GAP, "AN-05", "RL09 21.7")
    assert proof.rails == ("RL07", "RL08")
    assert proof.bottleneck == pytest.approx(1.15)
    assert proof.handholds == 1
    assert proof.gaps[0].handholds[0] == pytest.approx((17.175, 1.27, 0.0))
    assert "RL07" in proof.from_start
    assert "RL08" in proof.from_stop


def test_avoiding_the_bypass_names_it_as_the_remedy(rails, spots):
    proof = why_none(rails, spots, GAP, "AN-05", "RL09 21.7", avoid=["RL23"])
    assert proof.freed == ("RL23",)
