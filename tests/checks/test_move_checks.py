"""Checks on moves along rails: gaps, ways, rails, hands, pace, room, and the safety line."""

from __future__ import annotations

import numpy as np
import pytest
from moves import findings_of, move, resolved, situation_of, the_move, wall

from reach.finding import Verdict
from reach.travel.sides import best_corridor, corridor_of
from reach.travel.turn import arcs
from reach.units import quantity

ALONG = ["RA", "RB", "RC"]
FAR = {"from": [5.7, 0.1, 0.0], "to": [7.7, 0.1, 0.0], "out": [0, 1, 0]}
"""RC moved on: 1.2 m from RB."""


def test_a_gap_passes_by_what_is_left_to_the_limit():
    found = the_move("gap", wall(), move(route=ALONG))
    assert found.verdict is Verdict.PASS
    assert (found.low, found.high) == pytest.approx((0.42, 0.42), abs=1e-6)


def test_a_gap_above_the_limit_fails_and_the_way_round_is_its_fix():
    way_round = {
        "UP1": {"from": [4.5, 0.1, 0.6], "to": [5.2, 0.1, 0.6], "out": [0, 1, 0]},
    }
    data = wall(handrails={"RC": FAR, **way_round})
    found = the_move("gap", data, move(route=ALONG))
    assert found.verdict is Verdict.FAIL
    assert found.high == pytest.approx(0.92 - 1.2, abs=1e-6)
    assert "UP1" in found.fix
    assert the_move("gap", data, move(route=["RA", "RB", "UP1", "RC"])).verdict is Verdict.PASS


def test_what_the_arms_span_counts_where_the_limit_asks_for_more():
    data = wall(handrails={"RC": FAR}, limits={"rail_gap": 3.0, "place_span": 1.0})
    small = {"R": {"size": "small"}}
    found = the_move(
        "gap", {**data, "workers": {"R": {**data["workers"]["R"], **small["R"]}}}, move(route=ALONG)
    )
    assert found.numbers["arms span at least"] < found.numbers["at most"] + 1e-9
    wide = wall(
        handrails={"RC": {**FAR, "from": [7.3, 0.1, 0.0], "to": [9.0, 0.1, 0.0]}},
        limits={"rail_gap": 3.0},
    )
    found = the_move("gap", wide, move(to="RC@1.0", route=ALONG))
    assert found.numbers["gap"] == pytest.approx(2.8)
    assert found.verdict is Verdict.FAIL


def test_no_way_is_a_proof_with_the_handhold_that_closes_the_gap():
    found = the_move("route", wall(handrails={"RC": FAR}))
    assert found.verdict is Verdict.FAIL
    assert found.high == pytest.approx(0.92 - 1.2, abs=1e-6)
    assert "RA, RB" in found.because
    assert "(5.10, 0.10, 0.00)" in found.fix
    closed = wall(handrails={"RC": FAR}, handholds={"H": {"at": [5.1, 0.1, 0.0]}})
    assert the_move("route", closed).verdict is Verdict.PASS


def test_a_blocked_rail_is_named_as_what_would_open_the_way():
    found = the_move("route", wall(handrails={"RB": {"condition": "blocked"}}))
    assert found.verdict is Verdict.FAIL
    assert "free RB" in found.fix


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"condition": "blocked"}, "RB is blocked"),
        ({"condition": "no-touch"}, "RB is no-touch"),
        ({"condition": "gone"}, "RB is gone"),
        ({"rated": False}, "RB is not rated"),
        ({"rating": "300 N"}, "RB bears 300.0 N of 556.0 N"),
    ],
)
def test_a_rail_that_may_not_be_held_fails_where_it_is_written(change, says):
    found = the_move("rails", wall(handrails={"RB": change}), move(route=ALONG))
    assert found.verdict is Verdict.FAIL
    assert (found.low, found.high) == (-1.0, -1.0)
    assert says in found.because
    assert the_move("rails", wall(), move(route=ALONG)).verdict is Verdict.PASS


def test_both_hands_are_needed_and_what_is_held_takes_one():
    assert the_move("hands", wall(), move()).verdict is Verdict.PASS
    assert the_move("hands", wall(), move(carrying=["bag"])).verdict is Verdict.PASS
    found = the_move("hands", wall(), move(in_hand=["bag"]))
    assert found.verdict is Verdict.FAIL
    assert found.high == -1.0


def test_time_planned_is_held_against_the_pace_which_a_load_halves():
    # From the hatch over 6 m of rail: 6.4 m or so at 0.15 m/s and 0.075 m/s.
    free = the_move("pace", wall(), move(duration="1 min"))
    loaded = the_move("pace", wall(), move(duration="1 min", carrying=["crate"]))
    assert free.verdict is Verdict.PASS
    assert loaded.verdict is Verdict.FAIL
    assert loaded.numbers["needed"] == pytest.approx(2.0 * free.numbers["needed"])
    assert free.numbers["needed"] == pytest.approx(free.numbers["length"] / 0.15)
    assert the_move("pace", wall(), move(duration=None)).verdict is Verdict.NOT_ASKED


def test_the_tube_along_a_wall_leaves_what_the_rail_stands_off():
    found = the_move("corridor", wall(), move(route=ALONG))
    assert (found.low, found.high) == pytest.approx((0.1, 0.1), abs=1e-6)


def beam(y, z):
    return {"beam": {"box": [8.0, 0.1, 0.1], "at": [3.5, y, z]}}


def test_a_beam_beside_the_way_cuts_into_the_tube_and_the_other_side_is_free():
    # The axis runs at y = 0.65, z = 0; the beam's near edge is 0.31 m above it.
    data = wall(solids=beam(0.65, 0.36))
    found = the_move("corridor", data, move(route=ALONG))
    assert found.verdict is Verdict.FAIL
    assert found.high == pytest.approx(0.31 - 0.55, abs=1e-6)
    assert "m down at RA" in found.fix
    planned = the_move("corridor", data, move())
    assert planned.verdict is Verdict.PASS
    site, situation = situation_of(data, move())
    corridor = corridor_of(site, situation)
    assert all(aside[2] == pytest.approx(-0.25) for aside in corridor.asides.values())


def test_written_sides_are_judged_as_they_are_written():
    data = wall(solids=beam(0.65, 0.35))
    body = {rail: {"by": "0.40 m", "toward": "down"} for rail in ALONG}
    found = the_move("corridor", data, move(route=ALONG, body=body))
    assert found.low == pytest.approx(min(0.1, 0.30 + 0.40 - 0.55), abs=1e-6)
    up = {rail: {"by": "0.40 m", "toward": "up"} for rail in ALONG}
    assert the_move("corridor", data, move(route=ALONG, body=up)).verdict is Verdict.FAIL


def test_the_body_is_held_farther_off_the_rail_where_no_side_passes():
    # A shelf under the rail sticks out by 0.15 m over the whole breadth that hands reach.
    data = wall(solids={"shelf": {"box": [8.0, 0.15, 2.6], "at": [3.5, 0.075, 0.0]}})
    site, situation = situation_of(data, move())
    corridor = corridor_of(site, situation)
    assert all(aside[1] == pytest.approx(0.10) for aside in corridor.asides.values())
    assert the_move("corridor", data, move()).low == pytest.approx(0.05, abs=1e-6)


def test_what_is_carried_is_swept_as_it_hangs():
    # Its capsule reaches 0.42 m about a line 0.65 m off the wall.
    found = the_move("corridor", wall(), move(route=ALONG, carrying=["crate"]))
    assert found.verdict is Verdict.PASS
    wide = wall(items={"crate": {"size": [12.0, 12.0, 12.0], "bulky": True}})
    found = the_move("corridor", wide, move(route=ALONG, carrying=["crate"]))
    assert found.verdict is Verdict.FAIL
    # The wall ends 3 m below the rails; the crate hangs beside the hips, below that.
    assert found.high < -2.0
    assert found.because.startswith("Crate ")
    assert "go another way, or carry less" in found.fix


@pytest.mark.parametrize("check", ["corridor", "passing"])
def test_what_is_carried_without_a_size_leaves_the_room_open(check):
    data = wall(items={"sack": {"bulky": True}})
    found = the_move(check, data, move(route=ALONG, carrying=["sack"]))
    assert found.verdict is Verdict.OPEN
    assert "sack" in found.because
    assert found.fix == "Give the size of what is carried."


def test_a_hazard_keeps_its_stand_off_from_the_tube():
    hazard = {"kind": "no-touch", "box": [0.2, 0.2, 0.2], "at": [3.5, 0.65, 1.0], "stand_off": 0.3}
    found = the_move("stand-off", wall(hazards={"hot": hazard}), move(route=ALONG))
    assert (found.low, found.high) == pytest.approx((0.05, 0.05), abs=1e-6)
    nearer = wall(hazards={"hot": {**hazard, "stand_off": 0.4}})
    assert the_move("stand-off", nearer, move(route=ALONG)).verdict is Verdict.FAIL
    assert the_move("stand-off", wall(), move(route=ALONG)).verdict is Verdict.NOT_ASKED


def test_the_body_swept_along_never_comes_nearer_than_the_bound():
    data = wall(
        solids={"pole": {"cylinder": {"radius": 0.05, "height": 3.0}, "at": [3.6, 1.25, 0.9]}},
        handrails={"RC": {"from": [4.8, 0.1, 0.3], "to": [4.8, 0.1, 2.3]}},
    )
    found = the_move("passing", data, move(to="RC@2.0", route=ALONG))
    site, situation = situation_of(data, move(to="RC@2.0", route=ALONG))
    corridor = corridor_of(site, situation)
    least = np.inf
    for start, stop in zip(*corridor.poses, strict=True):
        least = min(least, _sampled(site, situation, corridor.mover, start, stop))
    asked = site.limit("body_clearance").value + situation.surroundings.error
    assert found.low <= least - asked
    assert least - asked <= found.high + situation.surroundings.error + 0.01


def _sampled(site, situation, mover, start, stop):
    """Least gap over 200 moments of a motion, each measured by itself."""
    from scipy.spatial.transform import Rotation

    from reach.geometry import capsule_clearance

    way = Rotation.from_matrix(start[:3, :3].T @ stop[:3, :3]).as_rotvec()
    least = np.inf
    for t in np.linspace(0.0, 1.0, 200):
        turn = start[:3, :3] @ Rotation.from_rotvec(t * way).as_matrix()
        at = (1.0 - t) * start[:3, 3] + t * stop[:3, 3]
        p, q = mover.p @ turn.T + at, mover.q @ turn.T + at
        tree = situation.surroundings.tree
        least = min(least, capsule_clearance(tree, p, q, mover.radius).min())
    return least


def test_the_body_goes_feet_first_where_its_legs_would_sweep_through_something():
    # Down from a rail in front of a post: head first the legs swing up through it.
    data = wall(
        handrails={"RB": {"from": [2.3, 0.1, -0.3], "to": [2.3, 0.1, -2.0]}, "RC": None},
        solids={"post": {"box": [0.2, 0.2, 0.4], "at": [1.0, 0.75, 1.0]}},
    )
    site, situation = situation_of(data, move(to="RB@1.7", start="RA@0.0", route=["RA", "RB"]))
    corridor = corridor_of(site, situation)
    assert corridor.feet_first
    found = the_move("passing", data, move(to="RB@1.7", start="RA@0.0", route=["RA", "RB"]))
    assert found.verdict is Verdict.PASS
    assert "feet first" in found.because or found.high > 0.0
    assert best_corridor(site, situation) is not None


def test_a_line_is_as_long_as_the_rails_it_is_led_along():
    found = the_move("tether", wall(), move(route=ALONG))
    # A0 to the rail 0.1 m below and on to x = 6.0; the first step may cut the corner.
    assert found.numbers["routed"] == pytest.approx(6.0, abs=0.05)
    assert found.high == pytest.approx(11.0 - found.numbers["routed"], abs=1e-6)
    assert found.numbers["tight at least"] <= found.numbers["tight at most"] + 1e-9
    assert found.numbers["straight"] <= found.numbers["tight at least"] + 1e-9


def test_a_short_line_fails_and_a_longer_one_never_does_worse():
    margins = []
    for length in (5.0, 6.5, 8.0, 20.0):
        data = wall(tethers={"T1": {"length": length}})
        margins.append(the_move("tether", data, move(route=ALONG)).low)
    assert margins == sorted(margins)
    short = the_move("tether", wall(tethers={"T1": {"length": 6.5}}), move(route=ALONG))
    assert short.verdict is Verdict.FAIL
    assert short.fix.startswith("Change to T2 at A4 on the way")


def test_nothing_that_works_from_a_place_is_asked_of_a_move():
    judged = {f.check for f in findings_of(wall(), move()) if f.verdict is not Verdict.NOT_ASKED}
    assert judged <= {
        "route", "gap", "rails", "hands", "pace", "corridor", "stand-off", "passing", "tether",
        "rescue", "companion", "line-home", "anchor", "hook", "kick", "exposure", "edge",
        "crossing", "sag", "swing", "sizes",
    }  # fmt: skip


# ---- what a reading with fresh eyes broke ----------------------------------------------


def test_a_written_way_that_stops_short_of_its_place_fails():
    found = the_move("gap", wall(), move(route=["RC"]))
    assert found.verdict is Verdict.FAIL
    # From the hatch to the nearest end of RC.
    assert found.high == pytest.approx(1.2 - np.linalg.norm([5.4, -0.4, 0.0]), abs=1e-6)
    assert "hatch" in found.because
    assert "RA, RB, RC" in found.fix


def test_the_body_goes_round_where_two_rails_face_opposite_ways():
    # Past the end of a plate: one rail on either side of it.
    plate = {"wall": {"box": [4.0, 0.1, 6.0], "at": [0.0, 0.0, 0.0]}}
    rails = {
        "RA": {"from": [0.0, 0.12, 0.0], "to": [1.9, 0.12, 0.0], "out": [0, 1, 0]},
        "RB": {"from": [1.9, -0.12, 0.0], "to": [0.0, -0.12, 0.0], "out": [0, -1, 0]},
        "RC": None,
    }
    data = wall(solids=plate, handrails=rails)
    there = move(to="RB@1.5", start="RA@0.5", route=["RA", "RB"])
    site, situation = situation_of(data, there)
    corridor = corridor_of(site, situation)
    starts, stops = corridor.poses
    assert np.allclose(stops[:-1, :3, 3], starts[1:, :3, 3], atol=1e-9)
    assert corridor.axis[-1, 1][1] == pytest.approx(-0.12 - 0.55)
    endless = wall(solids={"wall": {"box": [40.0, 0.1, 60.0], "at": [0, 0, 0]}}, handrails=rails)
    found = the_move("corridor", endless, there)
    assert found.verdict is Verdict.FAIL


def test_arcs_end_beside_the_other_rail_whichever_way_it_faces():
    rng = np.random.default_rng(5)
    offs, to_offs = rng.normal(size=(40, 3)), rng.normal(size=(40, 3))
    to_offs[:10] = -offs[:10] * rng.uniform(0.5, 2.0, (10, 1))
    to_offs[10:15] = offs[10:15]
    start, stop = np.array([0.1, 0.2, 0.3]), np.array([0.6, 0.2, 0.1])
    points = arcs(start, stop, offs, to_offs)
    assert np.allclose(points[:, 0], start + offs)
    assert np.allclose(points[:, -1], stop + to_offs)
    share = np.linspace(0.0, 1.0, points.shape[1])[None, :, None]
    away = np.linalg.norm(points - ((1.0 - share) * start + share * stop), axis=2)
    least = np.minimum(np.linalg.norm(offs, axis=1), np.linalg.norm(to_offs, axis=1))
    assert (away >= least[:, None] - 1e-9).all()


DETOUR = {
    "U1": {"from": [2.0, 0.1, 0.5], "to": [2.0, 0.1, 3.0], "out": [0, 1, 0]},
    "U2": {"from": [2.3, 0.1, 3.2], "to": [4.7, 0.1, 3.2], "out": [0, 1, 0]},
    "U3": {"from": [5.0, 0.1, 3.0], "to": [5.0, 0.1, 0.5], "out": [0, 1, 0]},
}


def test_the_line_runs_along_the_way_that_is_taken():
    data = wall(handrails=DETOUR)
    short = the_move("tether", data, move(route=ALONG))
    around = the_move("tether", data, move(route=["RA", "U1", "U2", "U3", "RC"]))
    assert around.numbers["routed"] > short.numbers["routed"] + 4.0
    # Led so it is too short; taken in again, it would do: which of them is not known.
    assert around.verdict is Verdict.OPEN
    assert "loop" in around.because
    assert around.high == pytest.approx(short.high, abs=1e-6)


def test_a_line_is_taken_in_on_the_way_back():
    out_and_back = move(route=["RA", "RB", "RC", "RB", "RA"], to="RA@1.0", start="hatch")
    found = the_move("tether", wall(), out_and_back)
    assert found.numbers["routed"] < 2.0
    assert found.low < found.high


def test_a_line_too_short_even_straight_is_proved_to_be():
    data = wall(
        anchors={"far": {"at": [0.0, 5.0, 0.0]}}, tethers={"T1": {"length": 4.0, "anchor": "far"}}
    )
    found = the_move("tether", data, move(route=ALONG))
    assert found.verdict is Verdict.FAIL
    assert found.high == pytest.approx(3.0 - np.linalg.norm([6.0, -4.9, 0.0]), abs=1e-6)


def test_a_line_led_through_structure_is_no_crash():
    bars = {"bar": {"box": [7.0, 0.04, 0.04], "at": [3.5, 0.1, 0.0]}}
    found = the_move("tether", wall(solids=bars), move(route=ALONG))
    assert found.numbers["routed"] == pytest.approx(6.0, abs=0.05)


def test_a_body_written_farther_off_than_hands_reach_fails():
    body = {"RB": {"by": "2 m", "toward": "out"}}
    found = findings_of(wall(), move(route=ALONG, body=body), only=("gap",))
    assert [one.verdict for one in found] == [Verdict.PASS, Verdict.FAIL]
    assert found[1].high == pytest.approx(1.0 - 2.55, abs=1e-6)


def test_a_rail_inside_structure_cannot_be_held_and_one_close_to_it_is_open():
    inside = wall(handrails={"RB": {"from": [2.5, -0.2, 0.0], "to": [4.5, -0.2, 0.0]}})
    found = the_move("rails", inside, move(route=ALONG))
    assert found.verdict is Verdict.FAIL
    assert "RB lies inside structure" in found.because
    strip = wall(solids={"strip": {"box": [1.0, 0.02, 0.1], "at": [3.5, 0.14, 0.0]}})
    found = the_move("rails", strip, move(route=ALONG))
    assert found.verdict is Verdict.OPEN
    assert "a glove has room along RB" in found.because


def test_a_planned_way_leaves_out_rails_rated_too_low():
    weak = wall(handrails={"RB": {"rating": "100 N"}, **DETOUR})
    found = the_move("rails", weak, move())
    assert found.verdict is Verdict.PASS
    found = the_move("route", wall(handrails={"RB": {"rating": "100 N"}}), move())
    assert found.verdict is Verdict.FAIL
    assert "free RB" in found.fix


@pytest.mark.parametrize("check", ["corridor", "stand-off", "passing"])
def test_of_a_planned_way_no_fail_of_room_is_proved(check):
    shut = {"door": {"kind": "no-touch", "box": [0.2, 6.0, 6.0], "at": [3.5, 3.2, 0.0]}}
    solid = {"door": {"box": [0.2, 6.0, 6.0], "at": [3.5, 3.2, 0.0]}}
    data = wall(hazards=shut) if check == "stand-off" else wall(solids=solid)
    planned, written = the_move(check, data, move()), the_move(check, data, move(route=ALONG))
    assert planned.verdict is Verdict.OPEN
    assert written.verdict is Verdict.FAIL


def test_a_hazard_that_is_not_active_then_asks_for_no_stand_off():
    hazard = {"kind": "pinch", "box": [0.2, 0.2, 0.2], "at": [3.5, 0.65, 0.0], "stand_off": 0.3}
    later = wall(hazards={"jaw": {**hazard, "active": [["10:00", "11:00"]]}})
    go = {**move(route=ALONG), "start": "00:00"}
    assert the_move("stand-off", later, go).verdict is Verdict.NOT_ASKED
    always = wall(hazards={"jaw": hazard})
    assert the_move("stand-off", always, go).verdict is Verdict.FAIL


def test_of_two_hazards_the_one_that_leaves_least_for_sure_counts():
    # Both are as near, but the facets of the coarse round one may stand inside its true surface.
    far = 0.65 + 0.55 + 0.2
    box = {"kind": "no-touch", "box": [0.4, 0.4, 0.4], "at": [3.0, far + 0.2 + 1e-4, 0.0]}
    drum = {
        "kind": "no-touch",
        "cylinder": {"radius": 0.4, "height": 0.4, "sides": 8},
        "at": [4.0, far + 0.4 * np.cos(np.pi / 8) + 2e-4, 0.0],
        "turn": [{"axis": [0, 0, 1], "angle": np.pi / 8}],
    }
    hazards = {"a": {**box, "stand_off": 0.2}, "b": {**drum, "stand_off": 0.2}}
    found = the_move("stand-off", wall(hazards=hazards), move(route=ALONG))
    assert found.low < 0.0 < found.high
    assert "b, stand-off" in found.because


def test_who_works_the_crane_is_no_partner():
    site, situations = resolved(
        wall(sockets={"SK": {"at": [1.0, 0.1, 0.3], "axis": [0, 1, 0], "zero": [1, 0, 0]}}), move()
    )
    del site
    assert all(set(one.others) <= {"R"} for one in situations)


@pytest.mark.parametrize("name", ["rail_gap", "place_span", "pace_free", "casualty_pace"])
def test_limits_that_others_are_divided_by_are_above_zero(name):
    with pytest.raises(ValueError, match="greater than zero"):
        wall_with = wall(limits={name: 0.0})
        situation_of(wall_with)


REELS = "NASA, The International Space Station: Operating an Outpost (2017), page 296: 85-ft reels"
OLD_REELS = "mission-design pages of 1997 on tethers and rails: 50-ft reels that pull 1 to 2 lbf"


@pytest.mark.parametrize(("apart", "out_by"), [(26.0, 0.092), (25.9, None)])
def test_an_anchor_26_m_off_is_out_of_the_sphere_of_a_reel_of_85_ft(apart, out_by):
    assert quantity("85 ft", "length") == pytest.approx(25.908, abs=1e-3), REELS
    far = wall(
        tethers={"T1": {"length": "85 ft"}},
        anchors={"far": {"at": [apart, 0.1, 0.1], "rating": "2 kN"}},
        limits={"tether_slack": {"value": 0.0, "source": REELS, "mark": "published"}},
    )
    found = the_move("tether", far, move(to="far"))
    if out_by is None:
        assert found.verdict is Verdict.NOT_ASKED
    else:
        assert found.verdict is Verdict.FAIL
        assert -found.high == pytest.approx(out_by, abs=1e-3)


def test_a_reel_of_50_ft_that_pulls_1_to_2_lbf():
    assert quantity("50 ft", "length") == pytest.approx(15.24, abs=0.01), OLD_REELS
    pulls = [quantity(text, "force") for text in ("1 lbf", "2 lbf")]
    assert pulls == pytest.approx([4.45, 8.90], abs=0.01), OLD_REELS
