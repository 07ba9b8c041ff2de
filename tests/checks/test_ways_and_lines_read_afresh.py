"""Passes that were wrong on ways, lines and who is near: each test is named after what broke."""

from __future__ import annotations

import bench as bench_module
import chores
import numpy as np
import pytest
from bench import STAND, bench, drive, resolved, scene_of
from errands import errand, step
from errands import move as errand_move
from errands import yard as row_of_rails
from moves import findings_of, move, the_move, wall
from test_found_on_lines_and_cranes import waiting
from test_outing_checks import BURR, TWO, last
from test_payload_checks import POST, SOCKET
from yard import carry, standing
from yard import findings as payload_findings
from yard import yard as payload_yard

from reach.checks import bystander, companion, helmets, hook, line_home, parking, rescue, tether
from reach.files.people import load_population
from reach.finding import Verdict
from reach.model.procedure import Procedure
from reach.situations import resolve
from reach.travel.beside import comes_to_cross

PASS, FAIL, OPEN, NOT_ASKED = Verdict.PASS, Verdict.FAIL, Verdict.OPEN, Verdict.NOT_ASKED


def outing(data, *steps, begin=None):
    """Site and situations of an outing of two workers, an inside lead beside them."""
    lanes = {"W": "worker", "V": "worker", "IN": "inside lead"}
    begun = {"begin": begin} if begin is not None else {}
    procedure = Procedure(format=1, lanes=lanes, steps=steps, **begun)
    return resolve(scene_of(data), {}, procedure, load_population)


def of(check, *asked, **more):
    """What a check says of each step of an outing."""
    return {one.step: one for one in check.find(*outing(*asked, **more))}


# ---- rails that may be held ------------------------------------------------------------


@pytest.mark.parametrize(("y", "verdict"), [(-0.5, FAIL), (0.03, OPEN), (0.2, PASS)])
def test_a_handhold_inside_structure_cannot_be_held(y, verdict):
    """Only stretches along rails were looked at."""
    data = wall(handholds={"HH": {"at": [2.25, y, 0.0], "out": [0, 1, 0]}})
    assert the_move("rails", data, move(route=["RA", "HH", "RB", "RC"])).verdict is verdict


def test_a_rail_that_is_held_at_one_point_alone_may_be_held_where_it_is_free():
    """All of HX lies inside the wall, or its far end comes out of it."""
    for end, verdict in ((-0.3, FAIL), (0.9, OPEN)):
        rail = {"from": [2.25, -0.3, 0.0], "to": [2.25, end, 1.0], "out": [0, 1, 0]}
        data = wall(handrails={"HX": rail})
        found = the_move("rails", data, move(route=["RA", "HX", "RB", "RC"]))
        assert found.verdict is verdict


def test_a_planned_way_by_a_rail_inside_structure_is_no_proof_that_none_is_free():
    inside = wall(handrails={"RB": {"from": [2.5, -0.2, 0.0], "to": [4.5, -0.2, 0.0]}})
    found = the_move("rails", inside)
    assert (found.verdict, found.low, found.high) == (OPEN, -1.0, 0.0)
    assert found.because.endswith("Another way may keep it.")


def test_a_place_on_a_rail_that_moves_is_got_to_over_the_gap_from_a_rail_that_does_not():
    """It met that rail alone, which is no way: no rails led there, for sure."""
    pod = {"pod": {"poses": {"here": {"at": [2.25, 0.3, 0]}}}}
    rail = {"in": "pod", "from": [-0.2, 0, 0], "to": [0.2, 0, 0], "out": [0, 1, 0]}
    data = wall(payloads=pod, handrails={"RP": rail})
    assert the_move("route", data, move(to="RP@0.1")).verdict is PASS
    data["payloads"]["pod"]["poses"]["here"]["at"] = [2.25, 1.3, 0]
    assert the_move("route", data, move(to="RP@0.1")).verdict is FAIL


@pytest.mark.parametrize(("at", "verdict"), [(0.3, PASS), (1.0, FAIL)])
def test_things_parked_beside_a_place_leave_a_grip_in_span_of_it(at, verdict):
    """Between grips there was room; from the socket, 1.15 m off the rail, none is within 1.2 m."""
    data = row_of_rails(
        sockets={"SK1": {"at": [4.0, 1.15, 0.0]}},
        items={"B1": {"size": [1.0, 0.3, 0.2]}},
        handrails={"RC": {"from": [5.2, 0.0, 0.0], "to": [7.5, 0.0, 0.0]}},
    )
    begin = {"workers": {"W": "SK1"}, "items": {"B1": f"RB@{at}"}}
    way = errand_move("go", "RC@1.0", "RB", "RC")
    found = parking.find(*errand(data, way, begin=begin))
    (told,) = [one for one in found if one.answer != "place"]
    assert told.verdict is verdict
    if verdict is FAIL:
        assert told.high == pytest.approx(1.2 - np.hypot(1.15, 0.5))
        assert "the nearest grip to SK1 is 1.254 m off" in told.because


# ---- where a line is hooked ------------------------------------------------------------

TWO_LINES = {"T1": {"hook": "A0", "reel": "W"}, "T2": {"hook": "A1", "reel": "A0"}}


def test_a_line_that_a_move_names_leads_from_where_it_is_hooked_by_then():
    """The anchor of the scene was taken, though the outing begins with it hooked far off."""
    data = row_of_rails(tethers={"T2": {"anchor": "A0"}}, anchors={"A1": {"at": [30.0, 0.0, 0.0]}})
    go = step("go", {"do": "translate", "to": "RC@1.0", "tether": "T2"}, start=0.0)
    begin = {"workers": {"W": "RA@0.1"}, "lines": TWO_LINES}
    site, (situation,) = outing(data, go, begin=begin)
    assert {one.tether: one.anchor for one in situation.worn} == {"T1": "A0", "T2": "A1"}
    (found,) = tether.find(site, (situation,))
    assert found.verdict is FAIL
    assert "T2 from A1" in found.because
    near = {**begin, "lines": {**TWO_LINES, "T2": {"hook": "A0", "reel": "A0"}}}
    assert of(tether, data, go, begin=near)["go"].verdict is PASS


def test_a_line_from_the_tip_of_a_crane_runs_nobody_knows_where():
    """Its anchor was taken to be where the tip is parked."""
    rail = {"from": [10.0, 0.2, 0.9], "to": [14.0, 0.2, 0.9], "out": [0, 0, 1]}
    lines = {**chores.LINES, "TC": {"hook": "AT", "reel": "W2"}, "T2": {"hook": "A2", "reel": "A2"}}
    steps = (
        chores.job("board", "W2", {"do": "ingress"}, where="up"),
        chores.job("away", "CO", "move crane to out", after=["board"], start="00:10"),
        chores.job("walk", "W2", {"do": "translate", "to": "rail@0.5"}, start="00:30"),
    )
    begin = chores.begun(workers={"W2": "up"}, lines=lines)
    site, _ = chores.resolved(*steps, begin=begin, scene=chores.yard(handrails={"rail": rail}))
    walk = site.asked[-1]
    assert [(one.tether, one.anchor) for one in walk.worn] == [("TC", "AT")]
    for check in (tether, hook):
        (found,) = check.find(site, (walk,))
        assert found.verdict is NOT_ASKED
        assert "AT is on the tip of Arm" in found.because


def test_a_line_left_on_the_tip_of_a_crane_that_has_gone_leads_nobody_home():
    """Where it was left was looked for in vain, and the run ended there."""
    lines = {
        **chores.LINES,
        "TC": {"hook": "AT", "reel": "W2"},
        "T2": {"hook": "A2", "reel": "A2"},
    }
    hold = {"do": "hold", "grips": ["grip"]}
    steps = (
        chores.job("board", "W2", {"do": "ingress"}, hold, where="up"),
        chores.job("carry", "CO", {"do": "move crane", "payload": "crate"}, path="over",
                   after=["board"], start="00:10"),
        chores.job("swap", "W2", "attach T5 to W2 checked", "release TC from W2 to A5",
                   start="00:20"),
        chores.job("back", "CO", "move crane to up", start="00:30"),
        chores.job("off", "W2", {"do": "translate", "to": "far"}, start="00:40"),
    )  # fmt: skip
    begin = chores.begun(workers={"W2": "up", "W1": "near"}, lines=lines)
    site, _ = chores.resolved(*steps, begin=begin)
    off = site.asked[-1]
    assert [one.at for one in off.trail] == ["Arm tip"]
    (found,) = line_home.find(site, (off,))
    assert found.verdict is NOT_ASKED


def test_a_line_led_through_structure_does_not_pass_an_edge():
    """Pulled tight it lies nobody knows where; the way it was led was taken."""
    rail = {"from": [-0.5, -0.3, 0.0], "to": [-0.5, -0.3, 2.0], "out": [0, 1, 0]}
    anchor = {"A0": {"at": [-0.5, -0.3, 2.1], "rating": "2 kN"}}
    burr = {"burr": {**BURR, "at": [-0.2, 0.05, 1.2]}}
    way = move(start="RA@0.5", route=["RA", "RB", "RC"])
    found = the_move("edge", wall(handrails={"RZ": rail}, anchors=anchor, hazards=burr), way)
    assert found.verdict is OPEN
    assert found.because.endswith("Where T1 runs is not known.")


def test_a_written_way_that_may_be_spanned_is_the_one_whose_line_is_judged(monkeypatch):
    """Whether stiff arms span 1.4 m is open; the shorter way that is planned was judged instead."""
    suits = bench_module._models()["suits"]
    stiff = suits["halden"].model_copy(update={"arm_cone": 0.4})
    monkeypatch.setitem(suits, "stiff", stiff)
    loop = {
        "RL": {"from": [2.0, 0.1, 1.4], "to": [2.0, 0.1, 9.0], "out": [0, 1, 0]},
        "RM": {"from": [2.2, 0.1, 9.0], "to": [5.9, 0.1, 9.0], "out": [0, 1, 0]},
        "RN": {"from": [6.0, 0.1, 9.0], "to": [6.0, 0.1, 0.5], "out": [0, 1, 0]},
    }
    data = wall(workers={"R": {"suit": "stiff"}}, limits={"rail_gap": 1.5}, handrails=loop)
    way = move(route=["RA", "RL", "RM", "RN", "RC"])
    assert the_move("gap", data, way).verdict is OPEN
    assert the_move("tether", data, way).verdict is OPEN
    assert the_move("tether", data).verdict is PASS


# ---- crossing --------------------------------------------------------------------------

OUT = {"front": [0, 1, 0], "top": [0, 0, 1], "back": [0, -1, 0]}


def beam(**rails):
    """A beam with rails on three of its sides; R's line leads from the front."""
    data = wall(**TWO)
    data["solids"] = {"beam": {"box": [9.0, 1.2, 2.5], "at": [3.0, -0.6, -0.75]}}
    data["handrails"] = {
        name: {"from": start, "to": stop, "out": OUT[side]}
        for name, (side, start, stop) in rails.items()
    }
    data["anchors"] = {
        "A0": {"at": [0.0, 0.1, 0.1], "rating": "2 kN"},
        "A4": {"at": [2.0, -1.3, -1.2], "rating": "2 kN"},
    }
    return data


FRONT = {
    "FA": ("front", [0.0, 0.1, 0.0], [4.0, 0.1, 0.0]),
    "TA": ("top", [4.2, -0.1, 0.6], [4.2, -0.35, 0.6]),
}
ABOVE = {
    **FRONT,
    "TB": ("top", [4.0, -0.35, 0.6], [0.5, -0.35, 0.6]),
    "BA": ("back", [2.0, -1.3, -1.1], [2.0, -1.3, 0.3]),
    "TC": ("top", [2.0, -1.0, 0.65], [2.0, 0.3, 0.65]),
}
"""L's line leads up the back and over the top, where R's comes across it."""


def test_a_line_behind_the_structure_hides_no_crossing_of_the_move():
    """It was seen to cross from one side before the move, from the other no more after it."""
    first = move(to="TC@1.2", start="BA@0.2", name="first", lane="L", route=["BA", "TC"])
    go = move(start="FA@3.9", to="TB@3.4", route=["FA", "TA", "TB"])
    found = last("crossing", beam(**ABOVE), first, go)
    assert (found.verdict, found.low, found.high) == (FAIL, -1.0, -1.0)


def test_a_line_that_goes_out_over_another_and_comes_back_need_not_cross_it():
    """Where they pass within a decimetre either may be outside: it comes back over it."""
    mine = [[0.0, 0.0, 0.0], [0.0, 0.0, 1.0]]
    other = [[-1.0, 0.0, 2.0], [3.0, 0.0, 2.0]]
    loop = [*mine, [0.0, 0.0, 3.0], [2.0, 0.0, 3.0], [2.0, 0.0, 1.0]]
    view = [0.0, 1.0, 0.0]
    once = loop[:-1]

    def more(before, after, off):
        led = np.array(other) + np.array([0.0, off, 0.0])
        return comes_to_cross(np.array(before), np.array(after), led, np.array(view))

    assert more(mine, once, 0.0) == more(mine, once, 0.5) == (1, 1)
    assert more(mine, loop, 0.0) == more(mine, loop, 0.5) == (0, 0)
    # What was so before, and is not touched by the move, is no news.
    assert more(loop, [*loop, [2.5, 0.0, 1.0]], 0.0) == (0, 0)
    assert more(once, [*once, [2.5, 0.0, 3.0]], 0.0) == (0, 0)


def test_a_line_of_somebody_who_is_nobody_knows_where_is_not_passed_as_uncrossed():
    data = wall(**TWO)
    data["workers"]["M"] = {"size": "small", "hand": "left", "suit": "halden"}
    data["tethers"]["T9"] = {"length": 12.0, "anchor": "A4", "worker": "M"}
    known = [move(to="RB@1.0", name="first", lane="L"), move()]
    later = move(to="RA@1.5", start="RA@1.0", name="later", lane="M")
    (found,) = [
        one for one in findings_of(data, *known, later, only=("crossing",)) if one.step == "go"
    ]
    assert (found.verdict, found.low, found.high) == (OPEN, -1.0, 0.0)
    assert found.because.endswith("Where T9 of M runs is not known.")
    assert last("crossing", data, *known).verdict is PASS  # M is not of the outing at all


# ---- who is near -----------------------------------------------------------------------


def test_who_is_in_the_lock_brings_nobody_home():
    data = row_of_rails()
    lines = {"T1": {"hook": "A0", "reel": "W"}, "T2": {"hook": "A0", "reel": "V"}}
    begin = {"workers": {"W": "RA@0.1", "V": "RA@0.3"}, "lines": lines}
    away = {"do": "translate", "to": "lock"}
    go = step("go", {"do": "translate", "to": "RC@1.0"}, start="00:30")
    for last_action, verdict in (({"do": "wait"}, PASS), ({"do": "ingress", "to": "lock"}, None)):
        home = step("home", away, last_action, start=0.0, lane="V")
        for check in (rescue, companion):
            found = of(check, data, home, go, begin=begin)["go"]
            assert found.verdict is (verdict or NOT_ASKED)
            if verdict is None:
                assert found.because == "No other worker is known to be outside."


def test_a_place_on_what_has_moved_is_asked_about_again():
    """Near the lock at first, then with the pod at the far end of the rails."""
    rails = {
        "RM": {"from": [8.2, 0, 0], "to": [38.4, 0, 0]},
        "RF": {"from": [39, 0, 0], "to": [41, 0, 0]},
    }
    poses = {"near": {"at": [3.0, 0.5, 0]}, "far": {"at": [40.0, 0.5, 0]}}
    data = row_of_rails(
        payloads={"pod": {"poses": poses, "paths": {"over": {"through": ["near", "far"]}}}},
        stations={"SP": {"in": "pod", "at": [0.3, 0, -1.1], "up": [0, 0, 1], "toes": [1, 0, 0],
                         "restraint": "plate"}},
        anchors={"AP": {"in": "pod", "at": [-3.0, 0, 0]}},
        tethers={"T1": {"length": 100.0}},
        handrails=rails,
        restraints={"plate": {"kind": "foot restraint", "holds_torque": 100.0}},
    )  # fmt: skip
    lines = {"T1": {"hook": "AP", "reel": "W"}, "T2": {"hook": "A0", "reel": "V"}}
    begin = {"workers": {"W": "SP", "V": "RA@0.3"}, "lines": lines}
    steps = (
        step("in", {"do": "ingress"}, where="SP", start=0.0),
        step("carry", {"do": "move", "payload": "pod"}, path="over", lane="IN", start="00:20"),
        step("again", {"do": "ingress"}, where="SP", start="00:40"),
    )
    for check, then in ((rescue, FAIL), (companion, FAIL), (line_home, NOT_ASKED)):
        found = of(check, data, *steps, begin=begin)
        assert [found[name].verdict for name in ("in", "again")] == [PASS, then]


def test_two_are_asked_about_when_either_has_come_to_rest_beside_the_other():
    """L, who turns something low down, is farther from R behind them than once upright again."""
    flat = {"up": [0, 0, 1], "toes": [1, 0, 0], "restraint": "plate"}
    data = bench(
        stations={"SL": {"at": [0, 0, 0], **flat}, "SB": {"at": [-1.2, 0, 0], **flat}},
        restraints={"plate": {"kind": "foot restraint", "holds_torque": 100.0}, "stand": STAND},
    )
    data["workers"]["L"]["size"] = "medium"
    turn = {"name": "turn", "lane": "L", "where": "SL", "start": 0.0, "duration": "10 min",
            "actions": [drive("low")]}  # fmt: skip
    beside = {"name": "beside", "lane": "R", "where": "SB", "start": "00:05",
              "duration": "30 min", "actions": [{"do": "ingress"}]}  # fmt: skip
    site, situations = resolved(data, turn, beside)
    found = [one for one in helmets.find(site, situations) if one.answer.startswith("helmets")]
    assert [(one.step, one.verdict) for one in found] == [("turn", OPEN), ("beside", PASS)]
    short = {**beside, "duration": "3 min"}
    away = {**beside, "name": "away", "where": "SK1", "restraint": "stand", "start": "00:08",
            "setting": {"clocking": 0.0, "pitch": 0.0, "yaw": 0.0}}  # fmt: skip
    data["sockets"]["SK1"]["at"] = [-9.0, 0.0, 0.0]
    site, situations = resolved(data, turn, short, away)
    found = [one for one in helmets.find(site, situations) if one.answer.startswith("helmets")]
    assert [(one.step, one.verdict) for one in found] == [("beside", PASS)]


# ---- hazards ---------------------------------------------------------------------------

BLAST = {"kind": "hot", "box": [0.3, 0.3, 0.3], "at": [3.0, 0.6, 0.0], "stand_off": 0.1}
LATER = {"blast": {**BLAST, "active": [["02:00", "02:20"]]}}


@pytest.mark.parametrize("check", ["stand-off", "passing", "sag", "swing"])
def test_a_hazard_that_is_active_if_the_step_begins_late_is_not_passed(check):
    """The step before it may last until 02:00, the move was to begin at 01:10."""
    data = wall(hazards={**LATER, "far": {**BLAST, "at": [4.0, 9.0, 0.0]}})
    wait = {"name": "wait", "lane": "R", "start": "00:10", "duration": "50 min", "actions": [
        {"do": "wait"}]}  # fmt: skip
    way = {**move(route=["RA", "RB", "RC"]), "start": "01:10"}
    assert the_move(check, data, wait, way).verdict is PASS
    slow = {**wait, "between": ["30 min", "110 min"]}
    assert the_move(check, data, slow, way).verdict is OPEN
    assert the_move(check, data, wait, {**way, "start": "01:55"}).verdict is FAIL


def lamp(y):
    return {"lamp": {"kind": "no-touch", "box": [0.02, 0.02, 0.02], "at": [2.95, y, 0.0]}}


def test_who_lets_go_between_two_rails_drifts_from_either_of_them():
    """The hand is on the next rail, 0.9 m ahead, while the body is still beside the last one."""
    data = wall(handrails={"RB": {"from": [2.9, 0.1, 0.0]}})
    way = move(route=["RA", "RB"], start="RA@0.5", to="RB@0.6")
    verdicts = {y: the_move("swing", {**data, "hazards": lamp(y)}, way).verdict
                for y in (2.6, 2.9, 3.4, 3.6)}  # fmt: skip
    assert verdicts == {2.6: FAIL, 2.9: OPEN, 3.4: OPEN, 3.6: PASS}
    alone = move(route=["RB"], start="RB@0.1", to="RB@0.6")
    assert the_move("swing", {**data, "hazards": lamp(2.9)}, alone).verdict is PASS


# ---- what is moved ---------------------------------------------------------------------


def test_who_may_have_come_near_when_a_motion_begins_late_is_not_passed():
    """Far off until 01:15; what comes before the motion, at 01:00, may last until 01:30."""
    far, near = ({**SOCKET, "at": [x, y, -1.5]} for x, y in ((6.0, -20.0), (1.5, 0.6)))
    data = payload_yard(solids=POST, sockets={"T": far, "P": near})
    data["solids"]["wall"]["at"] = [0.0, -4.0, 0.0]
    stands = standing("R", "T", duration="25 min")
    then = standing("R", "P", "then", start="01:15")
    late = waiting("M")

    def seen(*steps, **more):
        (found,) = payload_findings(bystander, data, *steps, carry(**more))
        return found.verdict

    assert seen(waiting("M", between=None), stands, then) is PASS
    assert seen(late, stands) is PASS
    assert seen(late, stands, then) is OPEN
    assert seen(late, stands, {**then, "after": ["carry"]}) is PASS
    # R is late for what they wait for, and still near.
    beside = standing("R", "P", duration="1 min", start="00:58")
    away = {**standing("R", "T", "away", start="00:59"), "after": ["L waits"]}
    assert seen(waiting("L", between=None, start="00:20"), beside, away) is PASS
    assert seen(waiting("L", start="00:20"), beside, away) is OPEN


def test_a_line_passes_an_edge_though_its_worker_goes_along_no_rail():
    """Out of the hatch to the end of a rail: nothing was asked of the line that is worn."""
    burr = {"kind": "sharp edge", "box": [0.02, 0.02, 0.02], "at": [0.0, 0.1, 0.05]}
    found = last("edge", wall(hazards={"burr": burr}), move(to="RA@0", route=["RA"]))
    assert found.verdict is FAIL
    assert found.numbers["what"] == "line"
