"""Vents, hazards beside a way, what takes a payload in: answers hang on the numbers put there."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest
from bench import bench, drive, step, the
from bench import resolved as resolved_bench
from handing import JOB, crate, resolved
from moves import ALONG, findings_of, move, situation_of, the_move, wall

from reach.checks import approach, exposure, stand_off, two_handed
from reach.finding import Verdict
from reach.geometry import segment_distance
from reach.payload.seating import Capture
from reach.travel.near import Near

FAIL, OPEN, PASS = Verdict.FAIL, Verdict.OPEN, Verdict.PASS
HERE = np.zeros(3)


def hazards(**given):
    """Hazards as `met` yields them: name -> (stand-off, error), the tree is the name."""
    for name, (asked, error) in given.items():
        record = SimpleNamespace(stand_off=asked, control=None, kind="hot")
        yield SimpleNamespace(name=name, tree=name, error=error, record=record, is_late=False)


# ---- vents ---------------------------------------------------------------------------

VENT = {"kind": "vent", "cone": {"base": 0.05, "top": 0.6, "height": 1.5}, "at": [3.5, 3, 0]}


@pytest.mark.parametrize(
    ("low", "high", "verdict"), [(0.31, 0.32, PASS), (0.2, 0.31, OPEN), (0.1, 0.19, FAIL)]
)
def test_a_vent_is_kept_off_by_its_stand_off_and_by_what_its_facets_lack(
    monkeypatch, low, high, verdict
):
    """0.2 m are asked and 0.1 m the facets may lack: the low end counts both, the high end one.

    The other vent is nearer, and asks for nothing.
    """
    gaps = {"near": (low, high), "other": (low - 0.05, high - 0.05)}

    def near(site, situation, corridor, vent):
        return Near(*gaps[vent.name], "helmet", 0, HERE, HERE, 0.2)

    for names in (["near", "other"], ["other", "near"]):
        asked = {name: (0.2, 0.1) if name == "near" else (0.0, 0.0) for name in names}
        monkeypatch.setattr(exposure, "met", lambda *_, asked=asked: hazards(**asked))
        monkeypatch.setattr(exposure, "_near", near)
        found = the_move("exposure", wall(hazards={"vent": VENT}), ALONG)
        assert (found.low, found.high) == pytest.approx((low - 0.3, high - 0.2), abs=1e-8)
        assert (found.verdict, bool(found.fix)) == (verdict, low < 0.3)
        assert [mark.bad for mark in found.marks] == [verdict is FAIL]
        assert "near blows" in found.because
        assert found.because.endswith(" along RA.")


def test_a_vent_is_asked_about_though_other_hazards_are_no_vents():
    lamp = {"kind": "hot", "box": [0.1, 0.1, 0.1], "at": [3.5, 9.0, 0.0]}
    data = wall(hazards={"vent": {**VENT, "at": [3.5, 0.6, -0.5]}, "lamp": lamp})
    assert the_move("exposure", data, ALONG).verdict is FAIL
    assert the_move("exposure", wall(hazards={"lamp": lamp})).verdict is Verdict.NOT_ASKED


def test_who_stays_in_a_place_is_asked_again_while_a_vent_there_blows_only_later():
    """The first step ends before it opens; lamps beside it do not matter."""
    lamp = {"kind": "hot", "box": [0.1, 0.1, 0.1], "at": [3.5, 9.0, 0.0]}
    vent = {**VENT, "at": [3.0, 1.0, 0.0], "active": [["2:00", "3:00"]]}
    station = {"at": [3, 0, 0], "up": [0, 1, 0], "toes": [0, 0, 1], "restraint": "stand"}
    data = wall(hazards={"vent": vent, "lamp": lamp}, stations={"S": station},
                restraints={"stand": {"kind": "foot restraint", "chain": []}})  # fmt: skip
    stay = {"lane": "R", "where": "S", "actions": [{"do": "ingress"}], "duration": "10 min"}
    steps = {**stay, "name": "a", "start": "0:10"}, {**stay, "name": "b", "start": "2:10"}
    found = {one.step: one.verdict for one in findings_of(data, *steps, only=("exposure",))}
    assert found == {"a": Verdict.NOT_ASKED, "b": FAIL}


# ---- beside a way --------------------------------------------------------------------


@pytest.mark.parametrize("first", ["round", "flat"])
def test_of_two_stand_offs_the_least_that_is_left_counts_at_either_end(monkeypatch, first):
    """Facets of the round one lack 0.1 m, so that it may leave less; the flat one surely does."""
    gaps = {"round": 0.50, "flat": 0.45}
    order = [first, *({"round", "flat"} - {first})]
    asked = {"round": (0.2, 0.1), "flat": (0.2, 0.0)}

    def nearest(tree, axis, radius):
        return SimpleNamespace(
            gap=gaps[tree], touches=False, piece=0, face=0, on_axis=HERE, on_mesh=HERE
        )

    monkeypatch.setattr(stand_off, "met", lambda *_: hazards(**{k: asked[k] for k in order}))
    monkeypatch.setattr(stand_off, "Nearest", nearest)
    found = the_move("stand-off", wall(), move(route=["RA", "RB", "RC"]))
    assert (found.low, found.high) == pytest.approx((0.2, 0.25), abs=1e-8)
    assert "round" in found.because


def test_how_far_what_is_carried_sticks_out_must_be_known_to_keep_a_stand_off():
    lamp = {"kind": "hot", "box": [0.1, 0.1, 0.1], "at": [3.5, 4.0, 0.0], "stand_off": 0.2}
    data = wall(hazards={"lamp": lamp}, items={"rod": {}})
    route = ["RA", "RB", "RC"]
    assert the_move("stand-off", data, move(route=route)).verdict is PASS
    found = the_move("stand-off", data, move(route=route, carrying=["rod"]))
    assert (found.verdict, found.low) == (OPEN, -math.inf)
    assert "rod stick out is not known" in found.because


# ---- drifting ------------------------------------------------------------------------


@pytest.mark.parametrize("asked", [0.0, 0.4])
@pytest.mark.parametrize(
    ("share", "ends"), [(-0.1, (-1.0, -1.0)), (0.5, (-1.0, 0.0)), (1.1, (0.0, 0.0))]
)
def test_one_drifts_into_a_round_hazard_for_sure_only_if_its_facets_are_that_near(
    asked, share, ends
):
    """The bar lies along the rails, its six facets lack at most a share of its radius of 1 m."""
    flat = 1.0 - math.cos(math.pi / 6.0)
    body = the_move("swing", wall(hazards={"bar": bar(9.0)}), ALONG).numbers["body"]
    near = bar(9.0)["at"][1] - 0.1 - _gap_of(bar(9.0))  # from its middle to its nearest facet
    assert math.cos(math.pi / 6.0) - 1e-9 <= near <= 1.0 + 1e-9
    y = 0.1 + 1.0 + body + asked + share * flat + near
    found = the_move("swing", wall(hazards={"bar": {**bar(y), "stand_off": asked}}), ALONG)
    assert found.limits[0].value == 1.0  # the slack
    assert (found.low, found.high) == ends


def bar(y):
    turned = [{"axis": [0, 1, 0], "angle": "90 deg"}]
    shape = {"cylinder": {"radius": 1.0, "height": 2.0, "sides": 6}, "turn": turned}
    return {"kind": "no-touch", **shape, "at": [3.5, y, 0.0]}


def _gap_of(hazard):
    """How near the facets of a hazard are to the line along which rails are held, m."""
    _, situation = situation_of(wall(hazards={"bar": hazard}), move())
    ((_, _, tree, _),) = situation.surroundings.hazards
    ends = np.array([[0.0, 0.1, 0.0], [7.0, 0.1, 0.0]])
    return float(segment_distance(tree, ends[:1], ends[1:]).distance[0])


# ---- into a guide --------------------------------------------------------------------


@pytest.fixture(scope="module")
def seating():
    site, _ = resolved(crate(), *JOB)
    return site, next(one for one in site.carriages if one.step == "seat")


@pytest.mark.parametrize(
    ("offset", "angle", "left", "unit", "verdict"),
    [
        (0.010, 0.010, 0.005, "m", PASS),
        (0.020, 0.010, -0.005, "m", FAIL),
        (0.010, 0.050, -0.05 + math.radians(2.0), "rad", FAIL),
        (0.020, 0.050, -0.05 + math.radians(2.0), "rad", FAIL),
    ],
)
def test_what_is_too_askew_is_not_taken_in_however_near_it_comes(
    seating, monkeypatch, offset, angle, left, unit, verdict
):
    """The guide takes in 15 mm and 2 deg."""
    stated = Capture("GU", ("G1",), 0.5, offset, angle, HERE, HERE)
    monkeypatch.setattr(approach, "capture_of", lambda *asked: stated)
    found = approach._capture(*seating, "GU")
    assert (found.low, found.high) == pytest.approx((left, left), abs=1e-8)
    assert (found.unit, found.verdict, bool(found.fix)) == (unit, verdict, left < 0.0)
    assert [mark.bad for mark in found.marks] == [left < 0.0]


@pytest.mark.parametrize("short", [False, True])
@pytest.mark.parametrize("first", ["post", "jamb"])
def test_on_the_last_leg_the_part_that_has_least_room_is_told(seating, monkeypatch, short, first):
    site, carriage = seating
    left = {"post": (0.1, 0.2), "jamb": (-0.2, -0.1) if short else (0.3, 0.4)}
    worst = "jamb" if short else "post"
    gaps = [
        SimpleNamespace(
            part="crate", thing=name, low=0.5 + left[name][0], high=0.5 + left[name][1],
            margin=left[name], is_sure=True, at=0.5, stand_off=0.5, on_part=HERE, on_thing=HERE,
        )
        for name in sorted(left, key=lambda name: name != first)
    ]  # fmt: skip
    for name in ("early_contact", "begins_in_seat"):
        monkeypatch.setattr(approach, name, lambda *asked: None)
    monkeypatch.setattr(approach, "last_gaps", lambda *asked: gaps)
    found = approach._room(site, carriage, "GU")
    assert (found.low, found.high) == pytest.approx(left[worst], abs=1e-8)
    assert found.about[-1] == worst and f" {worst}" in found.because
    assert ("comes within" in found.because) is short is bool(found.fix)
    assert ("of jamb" in found.because) is short
    assert [mark.bad for mark in found.marks] == [short]


# ---- force ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rating", "verdict"),
    [({"force": 1e4, "moment": 1e4}, PASS), ({"force": 1e4, "moment": 1.0}, FAIL),
     ({"force": 1.0, "moment": 1e4}, FAIL), ({"force": 1.0, "moment": 1.0}, FAIL)],
)  # fmt: skip
def test_what_a_socket_does_not_bear_is_told_be_it_force_or_moment(rating, verdict):
    data = bench()
    data["sockets"]["SK1"]["rating"] = rating
    found = the("load", data, step("s", "R", drive("easy")))
    assert found.verdict is verdict
    assert bool(found.fix) is (verdict is FAIL)
    assert [mark.bad for mark in found.marks] == [verdict is FAIL]


# ---- the other hand ------------------------------------------------------------------


def test_without_a_posture_the_other_glove_is_as_far_from_the_head_as_the_tool_is_long():
    data = bench(
        tools={"long": {"kind": "wrench", "tip": [0.2, 0.0, 0.0], "axis": [1, 0, 0],
                        "takes_bits": False, "second_grip": [-0.1, 0.0, 0.0]}}
    )  # fmt: skip
    turn = {"do": "drive", "fastener": "easy", "tool": "long", "hand": "both"}
    _, (situation,) = resolved_bench(data, step("s", "R", turn))
    at, far = two_handed.other_glove(situation, SimpleNamespace(witness=None))
    assert at == pytest.approx([0.7, -0.2, 1.65])
    glove = situation.suit.hand_radius + situation.body.links.grip
    assert far == pytest.approx(0.3 + glove)
    alone = {**turn, "hand": "own"}
    _, (situation,) = resolved_bench(data, step("s", "R", alone))
    assert two_handed.other_glove(situation, SimpleNamespace(witness=None)) is None
