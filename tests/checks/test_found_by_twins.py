"""What the slow twins of `benchmarks.twins` caught: each test is named after what broke."""

import numpy as np
import pytest
from bench import bench, drive, the
from bench import step as bench_step
from clocking import findings as clock_findings
from clocking import step as clocked
from errands import asked, put, step, take, yard
from moves import move, the_move, wall
from yard import carry, standing
from yard import findings as payload_findings
from yard import yard as payload_yard
from yard import yard_of as payload_site

from reach.checks import approach, burden, bystander, inventory, loose, plugged, sweep
from reach.checks.lead import tightest
from reach.checks.slots import too_many
from reach.finding import Verdict

BEGIN = {
    "workers": {"W": "SK1", "V": "RB"},
    "items": {"FR": "RB", "lamp": "B1", "B1": "RB"},
}
IN_SK1 = {"where": "SK1", "restraint": "FR"}


def by_words(found):
    """First three words of each finding -> verdict, orders."""
    return {
        " ".join(one.because.split()[:3]): (str(one.verdict), one.numbers["orders"])
        for one in found
    }


def test_a_restraint_that_another_order_takes_out_again_is_not_plugged():
    """V takes FR from the rail as written, but from the socket in another order."""
    other = step("tidy", take("FR"), put("RB", "FR"), lane="V", start=0.0)
    own = step("plug", take("FR"), {"do": "install", "item": "FR", "to": "SK1"}, start="00:20")
    stand = step("stand", {"do": "ingress"}, start="00:30", **IN_SK1)
    found = asked(plugged, yard(), other, own, stand, begin=BEGIN)
    assert by_words(found) == {
        "W needs FR": ("fail", "another order"),
        "V takes FR": ("fail", "another order"),
    }
    linked = {**own, "after": ["tidy"]}
    found = asked(plugged, yard(), other, linked, stand, begin=BEGIN)
    assert by_words(found) == {"FR is in": ("pass", "all")}


def test_a_restraint_is_not_picked_up_from_under_somebody_in_another_order():
    """As written V picks it up where nobody stands in it."""
    other = step("tidy", take("FR"), lane="V", start="01:00")
    own = step("plug", take("FR"), {"do": "install", "item": "FR", "to": "SK1"}, start=0.0)
    stand = step("stand", {"do": "ingress"}, start="00:20", **IN_SK1)
    back = step("off", {"do": "egress"}, take("FR"), put("RB", "FR"), start="00:40")
    found = asked(plugged, yard(), own, stand, back, other, begin=BEGIN)
    assert by_words(found)["V takes FR"] == ("fail", "another order")
    linked = {**other, "after": ["off"]}
    found = asked(plugged, yard(), own, stand, back, linked, begin=BEGIN)
    assert "V takes FR" not in by_words(found)


def test_what_is_called_with_a_bag_must_be_in_it_by_then_in_every_order():
    end = {"rest": "RB"}
    call = step("call", {"do": "confirm", "items": ["B1", "FR"]}, lane="IN", start=0.0)
    out = step("unpack", take("lamp"), put("RB", "lamp"), lane="V", start="00:20")
    found = asked(inventory, yard(), call, out, begin=BEGIN, end=end)
    (lamp,) = [one for one in found if "lamp" in one.about or "lamp" in one.numbers["inside"]]
    assert lamp.verdict is Verdict.FAIL
    assert lamp.numbers["uncalled"] == ["lamp"]
    linked = {**out, "after": ["call"]}
    found = asked(inventory, yard(), call, linked, begin=BEGIN, end=end)
    assert {str(one.verdict) for one in found} == {"pass"}


def test_too_much_is_carried_in_another_order_alone_and_the_fix_is_found():
    """What ends it came before it as written: there was no moment to look at for a fix."""
    items = {name: {"bulky": True} for name in ("K1", "K2", "K3")}
    begin = {"workers": {"W": "RB", "V": "RB"}, "items": dict.fromkeys(items, "RB")}
    give = step("give", {"do": "pass", "items": ["K1"], "to": "W"}, lane="V", start="00:10")
    own = step("two", take("K2", "K3"), start="00:40")
    back = step("back", take("K1"), lane="V", start="00:30")
    found = asked(burden, yard(items=items), give, back, own, begin=begin)
    (broken,) = [one for one in found if one.verdict is Verdict.FAIL]
    assert broken.fix == "Let step 'two' wait: after = ['back']."


def test_a_hazard_counts_that_is_active_when_the_step_lasts_as_long_as_it_may():
    """What a step says of how long it lasts at most was read by the clock alone."""
    vent = {"kind": "keep-out", "box": [0.4, 0.4, 0.4], "at": [3.5, 1.2, 0.0]}
    data = wall(hazards={"vent": {**vent, "active": [["00:12", "00:20"]]}})
    go = {**move(), "start": "00:00", "duration": "10 min"}
    assert the_move("stand-off", data, go).verdict is Verdict.NOT_ASKED
    longer = {**go, "between": ["5 min", "15 min"]}
    assert the_move("stand-off", data, longer).verdict is not Verdict.NOT_ASKED


def test_an_eye_inside_a_solid_sees_nothing():
    """Between two points inside one solid no line meets its skin."""
    data = bench(
        solids={"block": {"box": [1.6, 1.6, 1.6], "at": [0.5, 0.0, 1.75]}},
        fasteners={"inside": {"at": [0.5, -0.2, 1.5], "axis": [-1, 0, 0], "torque": 20.0}},
    )
    turned = bench_step("s", "R", drive("inside"))
    assert the("sight", data, turned).verdict is not Verdict.PASS
    free = the("sight", data | {"solids": {}}, turned)
    assert free.verdict is Verdict.PASS


def test_a_lead_that_turns_back_where_two_places_are_one_is_bent_sharply():
    points = np.array([[0, 0, 0], [2, 0, 0], [2, 0, 0], [0, 0, 0]], float)
    assert tightest(points) == (pytest.approx(0.0, abs=1e-12), 0)
    corner = np.array([[0, 0, 0], [0, 0, 0], [1, 0, 0], [1, 0, 0], [1, 2, 0]], float)
    assert tightest(corner) == (pytest.approx(1.0), 1)
    assert tightest(np.zeros((3, 3)))[0] == np.inf


def test_what_is_tied_and_let_go_again_is_not_caught():
    tie = {"do": "attach", "what": "X1", "to": "W"}
    free = {"do": "release", "what": "X1", "from": "W"}
    out = {"do": "drive", "fastener": "X1", "tool": "D1", "loosen": True}
    data = yard(fasteners={"X1": {"captive": False}}, items={"X1": {}})
    (found,) = asked(loose, data, step("out", tie, out), begin=BEGIN)
    assert found.verdict is Verdict.PASS
    (found,) = asked(loose, data, step("out", tie, free, out), begin=BEGIN)
    assert found.verdict is Verdict.FAIL


def test_masses_that_add_up_to_what_a_bag_bears_fit():
    assert list(too_many({"a": 0.1, "b": 0.2}, 0.3)) == []
    assert list(too_many({"a": 0.1, "b": 0.2}, 0.299)) == [("b", "a")]


def test_a_clock_runs_from_the_first_end_of_what_starts_it():
    """The step that begins first may end last."""
    long = clocked("long", "A", "00:00", 120, {"do": "drive", "fastener": "B1", "tool": "glove"})
    short = clocked("short", "B", "00:10", 10, {"do": "drive", "fastener": "B1", "tool": "glove"})
    stop = clocked("stop", "B", "02:10", 10, {"do": "drive", "fastener": "B2", "tool": "glove"})
    clocks = {"cold": {"from": "B1", "to": "B2", "limit": "60 min"}}
    first, *_ = clock_findings("unpowered", long, short, stop, clocks=clocks)
    assert first.verdict is Verdict.FAIL
    assert first.numbers["elapsed"] == 7200.0


SOCKET = {"at": [0.0, 1.8, -1.5], "axis": [0, 0, 1], "zero": [0, -1, 0]}


def test_who_may_still_stand_near_when_a_motion_begins_does_not_pass():
    """What their step may last at most was read by the clock alone."""
    far = {**SOCKET, "at": [0.0, 9.0, 0.0]}
    data = payload_yard(sockets={"S": SOCKET, "T": far})
    steps = [
        standing("R", "S", "near", start="00:40", duration="15 min"),
        standing("R", "T", "away", start="00:56", duration="30 min"),
    ]
    (found,) = payload_findings(bystander, data, *steps, carry())
    assert found.verdict is Verdict.PASS
    late = {**steps[0], "between": ["10 min", "25 min"]}
    (found,) = payload_findings(bystander, data, late, steps[1], carry())
    assert found.verdict is Verdict.OPEN


def test_a_motion_that_may_be_over_sooner_is_as_fast_as_that():
    guide = {"payload": "crate", "pose": "right", "offset": 0.02, "angle": 0.05}
    data = payload_yard(guides={"G": guide})
    verdicts = {}
    for between in (None, ["1 min", "10 min"]):
        more = {} if between is None else {"between": between}
        found = payload_findings(approach, data, {**carry(), **more})
        verdicts[between is None] = next(o.verdict for o in found if o.answer == "speed")
    # 6 m in 5 min are 0.02 m/s, in 1 min 0.1 m/s; 0.05 m/s are allowed.
    assert verdicts == {True: Verdict.PASS, False: Verdict.OPEN}


def test_two_motions_that_may_be_at_once_are_told():
    """Likely the first is over before the second begins; it may last longer."""
    box = {"in": "pallet", "box": [0.5, 0.5, 0.5]}
    poses = {"low": {"at": [0.0, 20.0, 0.0]}, "high": {"at": [0.0, 20.0, 3.0]}}
    pallet = {"poses": poses, "paths": {"up": {"through": ["low", "high"]}}}
    data = payload_yard(payloads={"pallet": pallet}, solids={"pallet-box": box})
    other = {**carry("up", "raise", start="01:06", payload="pallet"), "lane": "N"}

    def told(first):
        kinds = {"M": "inside lead", "N": "inside lead"}
        site = payload_site(data, first, other, kinds=kinds)
        return [o.answer for o in sweep.find(site, site.carriages) if "beside" in o.answer]

    assert told(carry()) == []
    assert told({**carry(), "between": ["2 min", "9 min"]}) == ["beside raise", "beside carry"]


def test_a_step_that_takes_no_time_lies_in_a_phase_all_the_same():
    work = clocked("work", "A", "00:00", 30, {"do": "wait"})
    moment = clocked("moment", "A", "00:40", 0, {"do": "wait"})
    phases = {"all": {"from": "work", "to": "work", "takes": "1 min"}}
    covered, _ = clock_findings("clean-up", work, moment, phases=phases)
    assert covered.verdict is Verdict.FAIL
    assert covered.numbers["steps"] == ["moment"]
    at_end = {**moment, "start": "00:30"}
    covered, _ = clock_findings("clean-up", work, at_end, phases=phases)
    assert covered.verdict is Verdict.PASS
