"""Leads: long enough, bent gently, held before their connectors are mated."""

import math

import numpy as np
import pytest
from errands import PACKED, asked, step, verdicts, yard

from reach.checks import lead, strain
from reach.checks.lead import tightest
from reach.finding import Verdict

CORNER = {
    "anchors": {"P": {"at": [0.0, 0.0, 5.0]}, "Q": {"at": [1.0, 0.0, 5.0]}},
    "fasteners": {"C": {"at": [1.0, 2.0, 5.0], "axis": [0, 1, 0], "kind": "connector"}},
    "items": {"L": {"length": 3.5, "diameter": 0.02}, "K1": {}, "K2": {}},
}
"""A lead from P round a square corner at Q to connector C, 3 m in all."""
CARRIED = {**PACKED, "L": "W", "K1": "W", "K2": "W"}
MATE = {"do": "mate", "fastener": "C"}


def lay(*clamps, through=("P", "Q"), to="C", item="L"):
    return {"do": "lay", "item": item, "to": to, "through": through, "clamps": clamps}


def laid(*steps, **items):
    tables = {**CORNER, "items": {**CORNER["items"], **items}}
    return {one.answer or "none": one for one in asked(lead, yard(**tables), *steps, begin=CARRIED)}


@pytest.mark.parametrize(("length", "verdict"), [(3.1, "pass"), (3.0, "review"), (2.9, "fail")])
def test_a_lead_is_as_long_as_its_way(length, verdict):
    found = laid(step("lay", lay()), L={"length": length, "diameter": 0.02})["length"]
    assert (found.low, found.high) == pytest.approx((length - 3.0,) * 2, abs=1e-8)
    assert str(found.verdict) == verdict
    if verdict != "review":
        assert found.fix == (
            "" if verdict == "pass" else "Take a lead of 3.000 m, or 0.100 m of extension."
        )


@pytest.mark.parametrize(
    ("record", "least"),
    [
        ({"length": 9.0, "diameter": 0.02}, 0.2),
        ({"length": 9.0, "diameter": 0.02, "bend": 1.1}, 1.1),
    ],
)
def test_a_corner_is_rounded_with_the_radius_that_fits(record, least):
    # A square corner between legs of 1 m and 2 m: an arc of 1 m reaches the end of the first.
    found = laid(step("lay", lay()), L=record)["bend"]
    assert (found.low, found.high) == pytest.approx((1.0 - least,) * 2, abs=1e-8)
    assert "between P and Q" in found.because


def test_two_corners_share_the_leg_between_them():
    points = np.array([[0, 0, 0], [5, 0, 0], [5, 2, 0], [0, 2, 0]], float)
    assert tightest(points) == (pytest.approx(1.0), 1)
    straight = np.array([[0, 0, 0], [1, 0, 0], [2, 0, 0]], float)
    assert tightest(straight)[0] == math.inf
    back = np.array([[0, 0, 0], [1, 0, 0], [0, 0, 0]], float)
    assert tightest(back)[0] == pytest.approx(0.0, abs=1e-9)


def test_the_rounded_corner_touches_both_legs():
    rng = np.random.default_rng(7)
    for _ in range(20):
        a, b, c = rng.normal(size=(3, 3))
        radius, _ = tightest(np.array([a, b, c]))
        u, v = (a - b) / np.linalg.norm(a - b), (c - b) / np.linalg.norm(c - b)
        short = min(np.linalg.norm(a - b), np.linalg.norm(c - b))
        # The centre lies on the bisector; the shorter leg's end is where the arc touches it.
        half = 0.5 * math.acos(float(u @ v))
        centre = b + (u + v) / np.linalg.norm(u + v) * short / math.cos(half)
        touch = b + u * short
        assert radius == pytest.approx(np.linalg.norm(centre - touch))


def test_a_lead_that_says_little_is_asked_little():
    found = laid(step("lay", lay()), L={"length": None, "diameter": None})["none"]
    assert found.verdict is Verdict.NOT_ASKED
    assert laid(step("lay", lay(through=())))["none"].verdict is Verdict.NOT_ASKED


def test_a_clamp_holds_one_lead():
    other = {"C2": {"at": [1.0, 3.0, 5.0], "axis": [0, 1, 0], "kind": "connector"}}
    data = yard(
        **{**CORNER, "fasteners": {**CORNER["fasteners"], **other}},
    )
    data["items"]["M"] = {}
    steps = step("one", lay("K1")), step("two", lay("K1", "K2", to="C2", item="M"))
    found = asked(lead, data, *steps, begin={**CARRIED, "M": "W"})
    clamps = [one for one in found if one.answer == "clamps"]
    assert verdicts(clamps) == ["pass", "fail"]
    assert clamps[0].numbers["clamps"] == 1
    assert "K1 is to hold M" in clamps[1].because


@pytest.mark.parametrize("order", [("lay", "mate"), ("mate", "lay")])
def test_a_lead_is_held_before_its_connector_is_mated(order):
    steps = {"lay": step("lay", lay("K1")), "mate": step("mate", MATE)}
    (found,) = asked(strain, yard(**CORNER), *(steps[one] for one in order), begin=CARRIED)
    assert str(found.verdict) == ("pass" if order[0] == "lay" else "fail")
    assert found.step == "mate"


def test_in_two_lanes_only_a_link_keeps_the_order():
    steps = (
        step("lay", lay("K1"), start="00:00"),
        step("mate", MATE, lane="V", start="00:30"),
    )
    (found,) = asked(strain, yard(**CORNER), *steps, begin=CARRIED)
    assert str(found.verdict) == "fail"
    assert found.fix == "Let step 'mate' wait: after = ['lay']."
    (found,) = asked(
        strain, yard(**CORNER), steps[0], {**steps[1], "after": ["lay"]}, begin=CARRIED
    )
    assert str(found.verdict) == "pass"


def test_a_connector_without_a_lead_is_not_asked():
    assert asked(strain, yard(**CORNER), step("mate", MATE), begin=CARRIED) == []
