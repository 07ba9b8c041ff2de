"""What a step, a stay or another's going adds to what is asked once."""

import bench
import moves
from bench import STAND, drive, findings_of, scene_of, step
from clocking import WORK, findings
from clocking import step as timed

from reach.checks import effort, torque
from reach.files.people import load_population
from reach.model.procedure import Procedure
from reach.situations import resolve


def verdicts(found):
    return [str(one.verdict) for one in found]


# ---- what a tool was set to before ---------------------------------------------------------

WEAK = {"weak": {**STAND, "holds_torque": 60.0}}
BEARS = {"easy": {**bench.BENCH["fasteners"]["easy"], "most_torque": 120.0}}


def asked(check, *actions, begin=None):
    data = bench.bench(items={"PT": {"is": "power-drive"}}, restraints=WEAK, fasteners=BEARS)
    steps = (step("a", "R", *actions, restraint="weak"),)
    start = {"items": {"PT": "R"}, **(begin or {})}
    procedure = Procedure(format=1, lanes={"R": "worker"}, steps=steps, begin=start)
    site, situations = resolve(scene_of(data), {}, procedure, load_population)
    (found,) = check.find(site, situations)
    return found


def test_what_a_tool_was_set_to_before_is_what_restraint_and_arm_must_bear():
    turn = drive("easy", tool="PT")
    for check in (torque, effort):
        assert asked(check, {"do": "set", "tool": "PT", "torque": 100.0}, turn).verdict == "fail"
        assert asked(check, {"do": "set", "tool": "PT", "torque": 30.0}, turn).verdict == "pass"
        assert asked(check, turn).verdict == "pass"
    found = asked(torque, turn, begin={"tools": {"PT": {"torque": 100.0}}})
    assert "easy is turned with up to 100.0 N m" in found.because
    assert found.high == -40.0


def test_a_tool_that_was_set_high_and_is_set_anew_or_turns_out_asks_for_no_more():
    high = {"do": "set", "tool": "PT", "torque": 100.0}
    assert asked(torque, high, drive("easy", tool="PT", torque=30.0)).high == 30.0
    assert asked(torque, high, drive("easy", tool="PT", loosen=True)).high == 40.0


# ---- several moves, several tasks ----------------------------------------------------------


def test_the_moves_of_a_step_have_its_time_together():
    def said(duration):
        there = {"do": "translate", "from": "hatch", "to": "RC@1.0"}
        back = {"do": "translate", "to": "RA@0.5"}
        both = {**moves.move(duration=duration), "actions": [there, back]}
        return findings_of(moves.wall(), both, only=("pace",))

    assert verdicts(said("60 s")) == ["fail", "fail"]
    assert {one.fix for one in said("60 s")} == {"Plan 1.33 min at least."}
    assert verdicts(said("80 s")) == ["pass", "pass"]


def test_work_near_hot_structure_from_one_place_is_one_stay():
    plate = {"box": [0.05, 0.05, 0.05], "at": [0.7, 0.2, 1.65], "temperature": [273.15, 450.0]}
    data = bench.bench(solids={"plate": plate})
    a = step("a", "R", drive("easy"), duration="10 min", start="00:00")
    b = step("b", "R", drive("easy"), duration="10 min", start="00:10")
    found = findings_of(data, a, b, only=("touch",))
    assert verdicts(found) == ["fail", "fail"]
    assert "for 20 min in 'a' and 'b'" in found[0].because
    assert verdicts(findings_of(data, a, only=("touch",))) == ["pass"]
    away = {**moves.move(to="bar@0.1", start="SK1", name="away"), "start": "00:10"}
    again = {**b, "start": "00:30"}
    assert verdicts(findings_of(data, a, away, again, only=("touch",))) == ["pass", "pass"]


def test_work_near_hot_structure_with_other_work_between_is_open():
    plate = {"box": [0.05, 0.05, 0.05], "at": [0.7, 0.2, 1.65], "temperature": [273.15, 450.0]}
    data = bench.bench(solids={"plate": plate})
    steps = [
        step("a", "R", drive("easy"), duration="10 min", start="00:00"),
        step("b", "R", drive("low"), duration="10 min", start="00:10"),
        step("c", "R", drive("easy"), duration="10 min", start="00:20"),
    ]
    found = [one for one in findings_of(data, *steps, only=("touch",)) if one.unit == "s"]
    assert verdicts(found) == ["open", "open"]


def test_all_that_another_does_in_a_step_is_asked_about_beside_it():
    """L turns two bolts: the first leans over to R, the second away."""
    data = bench.bench(
        sockets={"SK2": {"at": [0, 1.35, 0], "axis": [0, 0, 1], "zero": [1, 0, 0]}},
        fasteners={
            "near": {"at": [0.7, 0.7, 1.4], "axis": [-1, 0, 0], "torque": 20.0},
            "away": {"at": [0.7, 1.55, 1.65], "axis": [-1, 0, 0], "torque": 20.0},
        },
        limits={"helmet_distance": {"value": "0.85 m"}},
    )
    data["workers"]["L"]["size"] = "medium"
    del data["solids"]["hood"]

    def said(*actions):
        theirs = step("a", "L", *actions, where="SK2", start="00:00", duration="30 min")
        mine = step("b", "R", drive("easy"), start="00:10", duration="10 min")
        found = findings_of(data, theirs, mine, only=("helmets",))
        return [str(one.verdict) for one in found if one.answer == "helmets, L"]

    near, away = drive("near", hand="right"), drive("away")
    assert said(away) == ["pass"]
    assert said(near, away) == said(away, near) == said(near) == ["open"]


def test_a_payload_that_closes_in_the_step_is_in_the_way_of_what_is_turned_after_it():
    data = bench.bench(
        payloads={
            "lid": {
                "poses": {"open": {"at": [0, 5, 0]}, "shut": {"at": [0, 0, 0]}},
                "paths": {"close": {"through": ["open", "shut"]}},
            }
        },
        solids={"lid-box": {"in": "lid", "box": [0.02, 0.3, 0.3], "at": [0.62, -0.2, 1.65]}},
    )
    close = {"do": "move", "payload": "lid"}
    twice = step("a", "R", drive("easy"), close, drive("easy"), path="close")
    assert verdicts(findings_of(data, twice, only=("access",))) == ["pass", "fail"]


# ---- who stays while others go -------------------------------------------------------------


def test_who_stays_is_asked_about_again_when_a_partner_goes_farther_off():
    data = moves.wall(
        workers={"L": {"size": "small", "hand": "left", "suit": "halden"}},
        limits={"return_time": {"value": "18.5 min"}},
    )
    steps = [
        moves.move(to="RA@1.6", name="L out", lane="L", route=["RA"]),
        moves.move(to="RA@1.5", name="R out", route=["RA"]),
        moves.move(to="RC@1.9", name="L away", lane="L", start="RA@1.6", route=["RA", "RB", "RC"]),
    ]
    steps = [{**one, "start": f"00:{10 * k:02d}"} for k, one in enumerate(steps)]
    found = [one for one in findings_of(data, *steps, only=("rescue",)) if one.about[0] == "R"]
    assert [(one.step, str(one.verdict)) for one in found] == [
        ("R out", "pass"),
        ("L away", "open"),
    ]
    assert found[1].because.startswith("L at RC@1.9 has R (medium, male P50) at RA@1.5 in the lock")


# ---- a clock that its own step stops -------------------------------------------------------


def test_a_clock_may_be_stopped_by_the_end_of_the_step_that_starts_it():
    steps = (
        timed("x", "A", "00:00", 10, {"do": "demate", "fastener": "C0"}),
        timed("y", "A", "00:20", 60, WORK),
    )
    clock = {"from": "C0", "to": "x", "limit": "15 min"}
    (found,) = findings("unpowered", *steps, clocks={"c": clock})
    assert (str(found.verdict), found.numbers["elapsed"]) == ("pass", 600.0)


# ---- a step that others make late ----------------------------------------------------------


def test_a_vent_that_blows_when_a_step_may_be_late_leaves_it_open():
    vent = {
        "kind": "vent", "box": [0.4, 0.4, 0.4], "at": [0.35, 0.0, 1.2], "stand_off": 0.05,
        "active": [["00:40", "00:50"]],
    }  # fmt: skip
    data = bench.bench(hazards={"vent": vent})
    turned = {"clocking": 0.0, "pitch": 0.0, "yaw": "60 deg"}
    late = step("b", "R", drive("low"), start="00:10", duration="10 min", setting=turned)

    def said(**before):
        first = step("a", "R", {"do": "wait"}, start="00:00", duration="10 min", **before)
        found = findings_of(data, first, late, only=("exposure",))[-1]
        return str(found.verdict), found.because

    verdict, because = said(between=["5 min", "60 min"])
    assert verdict == "open"
    assert "active only if the step is late" in because
    assert said()[0] == "not asked"
