"""Torque, hand, sizes and two-handed: exact rules, and both arms on one trunk."""

import numpy as np
import pytest
from bench import bench, drive, findings_of, resolved, scene_of, step, the
from twin import excess, torso_of

from reach.checks import check_named
from reach.checks.two_handed import _other_hand, second_grip_of
from reach.finding import Verdict
from reach.work import attempt_of
from reach.worker.figure import Grip, figure_of, mirrored
from reach.worker.posture import posture_of
from reach.worker.search import find_postures


def torque_of(fastener, holds, **more):
    data = bench(fasteners={"t": {"at": [0.7, -0.2, 1.65], "axis": [-1, 0, 0], **fastener}})
    data["restraints"]["stand"]["holds_torque"] = holds
    return the("torque", data, step("s", "R", drive("t", **more)))


@pytest.mark.parametrize("value", ["1800 in lbf", 203.3, "25 ft lbf"])
def test_equal_torque_passes_exactly(value):
    found = torque_of({"torque": value}, value)
    assert (found.low, found.high) == (0.0, 0.0)
    assert found.verdict is Verdict.PASS


def test_the_largest_torque_asked_counts():
    assert torque_of({"torque": 20.0}, 30.0).low == 10.0
    assert torque_of({"torque": 20.0, "breakaway": 45.0}, 30.0).low == -15.0
    assert torque_of({"torque": 20.0}, 30.0, torque=50.0).low == -20.0
    assert torque_of({"torque": 20.0, "breakaway": 25.0}, 30.0, torque=10.0).low == 5.0
    assert torque_of({}, 30.0).verdict is Verdict.NOT_ASKED
    assert torque_of({"torque": 20.0}, None).verdict is Verdict.NOT_ASKED


def test_the_fix_for_torque_names_a_restraint_that_holds_it():
    data = bench(restraints={"weak": {"kind": "body tether", "holds_torque": 5.0}})
    turn = {"where": "SK1", "restraint": "weak", "setting": {}}
    nothing = the("torque", data, step("s", "R", drive("easy"), **turn))
    assert nothing.fix == "Use a restraint that holds at least 20.0 N m."
    data["items"] = {"FR-1": {"is": "stand"}, "BT-1": {"is": "weak"}}
    found = the("torque", data, step("s", "R", drive("easy"), **turn))
    assert found.verdict is Verdict.FAIL
    assert found.fix.startswith("Hold R by FR-1 in SK1 instead, at clocking ")
    mended = step("s", "R", drive("easy"), restraint="FR-1")
    assert the("torque", data, mended).verdict is Verdict.PASS
    assert found.limits[0].value == 5.0
    assert found.limits[0].source.source


@pytest.mark.parametrize(
    ("lane", "asked", "allowed", "verdict"),
    [
        ("R", "own", "either", Verdict.PASS),
        ("R", "own", "right", Verdict.PASS),
        ("R", "own", "left", Verdict.FAIL),
        ("L", "own", "left", Verdict.PASS),
        ("L", "right", "left", Verdict.FAIL),
        ("L", "either", "right", Verdict.PASS),
        ("R", "both", "left", Verdict.PASS),
    ],
)
def test_the_hand_rule(lane, asked, allowed, verdict):
    fastener = {"at": [0.7, -0.2, 1.65], "axis": [-1, 0, 0], "hand": allowed}
    found = the("hand", bench(fasteners={"t": fastener}), step("s", lane, drive("t", hand=asked)))
    assert found.verdict is verdict
    if verdict is Verdict.FAIL:
        assert allowed in found.fix
        mended = step("s", lane, drive("t", hand=allowed))
        assert the("hand", bench(fasteners={"t": fastener}), mended).verdict is Verdict.PASS


def test_sizes_are_the_worst_of_their_bodies():
    turn = step("s", "R", drive("easy"))
    each = findings_of(bench(), turn, sizes=("small", "medium", "large"), only=("reach",))
    worst = the("sizes", bench(), turn, sizes=("small", "medium", "large"))
    assert worst.low == min(one.low for one in each)
    assert worst.high == min(one.high for one in each)
    assert worst.numbers["worst"] == min(each, key=lambda one: one.low).case
    assert findings_of(bench(), turn, only=("sizes",)) == []


def test_two_actions_on_one_bolt_are_not_two_bodies():
    twice = step("s", "R", drive("easy"), drive("easy", torque=5.0))
    assert findings_of(bench(), twice, only=("sizes",)) == []
    both = findings_of(bench(), twice, only=("sizes",), sizes=("small", "large"))
    assert len(both) == 2


def test_both_hands_pass_fail_and_open():
    assert the("two-handed", bench(), step("s", "R", drive("easy", hand="both"))).verdict is (
        Verdict.PASS
    )
    far = the("two-handed", bench(), step("s", "R", drive("far", hand="both")))
    assert far.verdict is Verdict.FAIL
    assert far.high < -1.0
    ratchet = {"tool": "ratchet", "bit": "S-11", "hand": "both"}
    none = the("two-handed", bench(), step("s", "R", drive("easy", **ratchet)))
    assert none.verdict is Verdict.OPEN
    assert "second grip" in none.because
    blank = the("two-handed", bench(), step("s", "R", drive("easy", hand="both"), setting=None))
    assert blank.verdict is Verdict.OPEN
    assert findings_of(bench(), step("s", "R", drive("easy")), only=("two-handed",)) == []


def test_the_second_grip_turns_with_the_tool():
    site, (s,) = resolved(bench(), step("s", "R", drive("easy", hand="both")))
    attempt = attempt_of(site, s, "right")
    second = np.array(s.held.record.second_grip)
    x = attempt.witness.posture
    marks = posture_of(attempt.figure, x, attempt.target.tip, attempt.target.direction)
    expected = marks.grip + marks.hand_rotation @ second
    assert second_grip_of(attempt, x, second) == pytest.approx(expected, abs=1e-8)
    rolled = x.copy()
    rolled[7] += 1.0
    assert np.linalg.norm(second_grip_of(attempt, rolled, second) - expected) > 0.02


def test_the_other_hand_is_found_only_where_a_legal_arm_is():
    site, (s,) = resolved(bench(), step("s", "R", drive("easy", hand="both")))
    attempt = attempt_of(site, s, "right")
    bare = figure_of(s.body, s.suit, Grip(tolerance=0.05))
    rng = np.random.default_rng(4)
    verdicts = []
    for _ in range(12):
        trunk = np.zeros(9)
        _, torso, shoulder = torso_of(bare, trunk[:5])
        grip = mirrored(shoulder + torso @ (rng.normal(size=3) * 0.35 + [0.25, 0, 0]))
        ok = _other_hand(bare, trunk, grip)
        reach = np.linalg.norm(mirrored(grip) - shoulder)
        longest = s.body.links.upper_arm + s.body.links.forearm + s.body.links.grip
        assert not (ok and reach > longest)
        verdicts.append(ok)
    assert any(verdicts) and not all(verdicts)
    found = find_postures(bare, mirrored([0.4, 0.2, 1.3]), [1.0, 0.0, 0.0])
    marks = posture_of(bare, found.x[0], mirrored([0.4, 0.2, 1.3]), [1.0, 0.0, 0.0])
    over = excess(
        s.suit,
        marks.torso_rotation,
        marks.shoulder,
        marks.elbow,
        marks.wrist,
        marks.hand_rotation,
    )
    assert max(over.values()) < 1e-6
    assert attempt.hand == "right"


def test_checks_are_found_by_name_and_id():
    assert check_named("A1").NAME == check_named("reach").NAME == "reach"
    with pytest.raises(ValueError, match="did you mean 'clearance'"):
        check_named("clearence")


@pytest.mark.parametrize("status", ["faulty", "blocked"])
def test_a_socket_that_is_not_free_fails_whatever_it_would_reach(status):
    changed = {"SK1": {"at": [0, 0, 0], "axis": [0, 0, 1], "zero": [1, 0, 0], "status": status}}
    found = the("socket", bench(sockets=changed), step("s", "R", drive("easy")))
    assert found.verdict is Verdict.FAIL
    assert status in found.because


def test_a_worker_may_stand_on_a_floor():
    floor = {"floor": {"box": [4, 4, 0.1], "at": [0, 0, -0.05]}}
    place = {"P": {"at": [0, 0, 0], "up": [0, 0, 1], "toes": [1, 0, 0], "restraint": "stand"}}
    stand = {"restraint": None, "setting": None, "where": "P"}
    found = the(
        "clearance",
        bench(solids=floor, stations=place),
        step("s", "R", {"do": "ingress"}, **stand),
    )
    assert found.verdict is Verdict.PASS


@pytest.mark.parametrize(
    ("fastener", "action", "word"),
    [
        ({"tools": ["power-drive"], "head": "16 mm", "torque": 20.0}, {}, None),
        ({"head": "11 mm"}, {}, "11 mm head"),
        ({"head": "16 mm"}, {"bit": None}, "no bit"),
        ({"torque": 60.0}, {}, "at most 34.0 N m"),
        ({"most_torque": 5.0}, {}, "at least 6.0 N m"),
    ],
)
def test_the_tool_must_fit(fastener, action, word):
    data = bench(fasteners={"t": {"at": [0.7, -0.2, 1.65], "axis": [-1, 0, 0], **fastener}})
    found = the("fit", data, step("s", "R", drive("t", **action)))
    assert found.verdict is (Verdict.FAIL if word else Verdict.PASS)
    assert (word or "fits") in found.because


@pytest.mark.parametrize(
    ("tools", "verdict", "words"),
    [
        (["power-drive"], Verdict.PASS, "has power-drive"),
        (["ratchet", "power-drive"], Verdict.PASS, "has power-drive"),
        (["ratchet"], Verdict.FAIL, "takes ratchet, by hand only, not power-drive"),
        ([], Verdict.NOT_ASKED, "Nothing says"),
    ],
)
def test_the_tool_must_be_of_an_allowed_class(tools, verdict, words):
    fastener = {"at": [0.7, -0.2, 1.65], "axis": [-1, 0, 0], "tools": tools}
    data = bench(fasteners={"t": fastener}, items={"RW": {"is": "ratchet"}})
    found = the("tool-class", data, step("s", "R", drive("t")))
    assert found.verdict is verdict
    assert words in found.because
    assert found.fix == ("Use RW." if verdict is Verdict.FAIL else "")


@pytest.mark.parametrize("kind", ["no-touch", "keep-out"])
def test_a_posture_inside_a_hazard_is_no_witness(kind):
    wall = {"kind": kind, "box": [2.0, 3.0, 3.0], "at": [0.0, 0.0, 1.2], "stand_off": 0.3}
    asked = step("s", "R", drive("easy"))
    assert the("reach", bench(), asked).verdict is Verdict.PASS
    inside = bench(hazards={"wall": wall})
    for check in ("reach", "clearance"):
        assert the(check, inside, asked).verdict is Verdict.OPEN


def test_nobody_may_stand_in_a_faulty_socket():
    changed = {"SK1": {"at": [0, 0, 0], "axis": [0, 0, 1], "zero": [1, 0, 0], "status": "faulty"}}
    found = the("socket", bench(sockets=changed), step("s", "R", {"do": "ingress"}))
    assert found.verdict is Verdict.FAIL


def test_a_world_without_solids_is_clear():
    data = bench()
    data["solids"], data["hazards"] = {}, {}
    turn = step("s", "R", drive("easy"))
    assert scene_of(data).solids == {}
    for check in ("reach", "access", "clearance", "sight", "glove"):
        assert the(check, data, turn).verdict is Verdict.PASS
