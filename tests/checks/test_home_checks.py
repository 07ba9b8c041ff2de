"""What is called, what comes home, what is left for the next outing."""

import pytest
from errands import asked, errand, move, put, step, take, verdicts, yard

from reach.checks import inventory, left_as, left_record, present
from reach.finding import Verdict

BEGIN = {
    "workers": {"W": "lock", "V": "lock"},
    "items": {"FR": "SK1", "B1": "lock", "D1": "B1", "D2": "B1", "lamp": "lock"},
    "lines": {"T1": {"hook": "A0", "reel": "A0"}},
}
END = {"items": {"FR": "SK1"}, "rest": "lock"}
OUT = step("out", {"do": "egress", "from": "lock"}, take("B1", "lamp"))
HOME = (move("home", "lock"), step("in", {"do": "ingress", "to": "lock"}))


def call(*items):
    return step("call", {"do": "confirm", "items": items}, lane="IN")


def found_in(check, *steps, end=END, **changes):
    return asked(check, yard(**changes), *steps, begin=BEGIN, end=end)


# ---- the call at the hatch ---------------------------------------------------------------


def test_all_that_is_called_and_comes_home_passes():
    found = found_in(inventory, OUT, *HOME, call("B1", "lamp"))
    assert [(one.about[-1], str(one.verdict)) for one in found] == [
        ("B1", "pass"),
        ("lamp", "pass"),
    ]
    assert found[0].because == "B1 with D1 and D2 is called and at rest in the end."


def test_a_bag_left_outside_is_one_finding_with_all_that_is_in_it():
    park = step("park", put("RB@1.0", "B1"))
    bag, lamp = found_in(inventory, OUT, move("go", "RB@1.0"), park, *HOME, call("lamp"))
    assert lamp.verdict is Verdict.PASS
    assert bag.verdict is Verdict.FAIL
    assert (bag.step, bag.about) == ("call", ("IN", "B1"))
    assert bag.because == (
        "B1 with D1 and D2 is neither called nor home in the end, but at RB@1.0."
    )
    assert bag.numbers["inside"] == ["D1", "D2"]
    assert bag.fix == "Collect B1 on the way home and call B1 in step 'call'."


def test_it_has_the_cause_that_missing_tools_have():
    steps = (
        OUT,
        move("go", "RB@1.0"),
        step("park", put("RB@1.0", "B1")),
        move("on", "RC@2.0"),
        step("use", {"do": "set", "tool": "D1", "torque": 9.0}),
        *HOME,
        call("lamp"),
    )
    site, outing = errand(yard(), *steps, begin=BEGIN, end=END)
    (missing,) = (one for one in present.find(site, outing) if one.verdict is Verdict.FAIL)
    (bag,) = (one for one in inventory.find(site, outing) if one.verdict is Verdict.FAIL)
    assert missing.numbers["cause"] == bag.numbers["cause"]
    assert bag.numbers["cause"] == "B1 is at RB@1.0 since step 'park'."


def test_what_is_home_but_not_called_fails_without_a_cause():
    bag, lamp = found_in(inventory, OUT, *HOME, call("B1"))
    assert bag.verdict is Verdict.PASS
    assert lamp.because == "lamp is not called."
    assert "cause" not in lamp.numbers


def test_one_thing_of_a_bag_may_be_called_by_itself():
    (bag, _) = found_in(inventory, OUT, *HOME, call("lamp", "B1"))
    assert bag.verdict is Verdict.PASS
    (bag, _) = found_in(inventory, OUT, *HOME, call("lamp", "D1", "D2"))
    assert bag.because == "B1 is not called."
    (bag, _) = found_in(inventory, OUT, *HOME)
    assert bag.because == "B1 with D1 and D2 is not called, for no step calls anything."


def test_without_a_rest_only_the_call_is_asked():
    end = {"items": {"FR": "SK1"}}
    found = found_in(inventory, OUT, call("B1", "lamp"), end=end)
    assert verdicts(found) == ["pass", "pass"]
    assert asked(inventory, yard(), OUT, begin=BEGIN) == []


# ---- for the next outing -----------------------------------------------------------------

MOVE_FR = (
    {"do": "remove", "item": "FR"},
    {"do": "install", "item": "FR", "to": "SK2"},
)


def test_a_restraint_left_in_the_wrong_socket():
    steps = (move("go", "SK2"), step("move", *MOVE_FR), step("leave", {"do": "egress"}), *HOME)
    (found,) = found_in(left_as, *steps)
    assert found.verdict is Verdict.FAIL
    assert found.because == "FR is left at SK2, the next outing expects it at SK1."
    assert found.fix == "Remove FR from SK2 and install it in SK1."
    assert found.step == "leave"  # the last thing that W does at SK2
    (found,) = found_in(left_as, *steps, end={"items": {"FR": "SK2"}})
    assert found.verdict is Verdict.PASS


@pytest.mark.parametrize(
    ("expected", "answers"),
    [
        ({"hook": "A0", "reel": "A0"}, ["pass", "pass"]),
        ({"hook": "A0", "reel": "A1"}, ["pass", "fail"]),
        ({"hook": "A1", "reel": "A0"}, ["fail", "pass"]),
        ({"hook": "A0"}, ["pass", "fail"]),
    ],
)
def test_both_ends_of_a_line(expected, answers):
    found = found_in(left_as, OUT, end={"lines": {"T1": expected}})
    assert verdicts(found) == answers


def test_a_reel_worn_inside_lies_in_the_lock():
    wear = step("wear", {"do": "attach", "what": "T1", "to": "W"})
    end = {"lines": {"T1": {"hook": "A0"}}}
    assert verdicts(found_in(left_as, OUT, wear, *HOME, end=end)) == ["pass", "pass"]
    assert verdicts(found_in(left_as, OUT, wear, end=end)) == ["pass", "fail"]


def test_what_is_left_out_has_a_record():
    end = {
        "items": {"FR": "SK1", "lamp": "RB"},
        "left": {"B2": {"owner": "stowage", "until": "May"}},
    }
    steps = (OUT, move("go", "RB@1.0"), step("park", put("RB@1.0", "lamp")), *HOME)
    (found,) = found_in(left_record, *steps, end=end)
    assert (found.step, str(found.verdict)) == ("park", "fail")
    end["left"]["lamp"] = {"owner": "stowage", "until": "the next outing"}
    (found,) = found_in(left_record, *steps, end=end)
    assert found.verdict is Verdict.PASS
    assert "until the next outing; stowage answers for it" in found.because
    assert found_in(left_record, *steps, end={**end, "left": {}}) == []
