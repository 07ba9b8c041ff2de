"""The fix of a step in which several things are turned: one socket and setting for all of them."""

import re

import pytest
from bench import bench, drive, findings_of, resolved, step

from reach.finding import Verdict
from reach.plan.settings import mates_of, next_door, service_of, service_of_step, setting_for

BOTH = step("s", "R", drive("a"), drive("b"))


def world(half, sockets, **own):
    """Bolts a and b to the right and left on a wide panel; SK1 is what the step uses."""
    data = bench(
        fasteners={
            name: {"at": [0.7, y, 1.65], "axis": [-1, 0, 0], "torque": 20.0}
            for name, y in (("a", -half), ("b", half))
        },
        sockets={
            name: {"at": [0, y, 0], "axis": [0, 0, 1], "zero": [1, 0, 0]}
            for name, y in sockets.items()
        },
    )
    data["solids"] = {"panel": {"box": [0.05, 5.0, 1.0], "at": [0.735, 0.0, 1.65]}}
    data["hazards"] = {}
    data["sockets"]["SK1"] |= own
    return data


SPREAD = world(0.5, {"SK2": -0.5, "SK3": 0.5, "SK4": 0.0}, status="faulty")


def fixes(data, check, *steps):
    found = findings_of(data, *(steps or (BOTH,)), only=(check,))
    assert [one.verdict for one in found] == [Verdict.FAIL] * len(found)
    return [one.fix for one in found]


def test_alone_each_would_be_sent_to_a_socket_of_its_own():
    site, (a, b) = resolved(SPREAD, BOTH)
    assert service_of(site, a).setting.socket == "SK2"
    assert service_of(site, b).setting.socket == "SK3"


@pytest.mark.parametrize(
    ("check", "own"),
    [
        ("socket", {"status": "faulty"}),
        ("reach", {"at": [-3.0, 0, 0]}),
    ],
)
def test_a_step_is_sent_to_one_socket_that_serves_everything_turned_in_it(check, own):
    data = world(0.5, {"SK2": -0.5, "SK3": 0.5, "SK4": 0.0}, **own)
    first, second = fixes(data, check)
    assert first == second
    assert "serves a and b of this step" in first
    where, setting = re.search(r"(SK\d) at ([^,]+, [^,]+, [^,]+)", first).groups()
    angles = dict(re.match(r"(\w+) (.*)", part).groups() for part in setting.split(", "))
    mended = {**BOTH, "where": where, "setting": angles}
    for name in ("socket", "reach", "clearance", "sight"):
        found = findings_of(data, mended, only=(name,))
        assert [one.verdict for one in found] == [Verdict.PASS, Verdict.PASS]


def test_getting_in_and_looking_on_are_sent_where_the_rest_of_the_step_is():
    look = {"do": "inspect", "fastener": "a"}
    told = fixes(SPREAD, "socket", step("s", "R", {"do": "ingress"}, drive("a"), drive("b"), look))
    assert len(told) == 4
    assert len(set(told)) == 1


def test_where_no_one_socket_serves_the_step_that_is_said_for_each():
    data = world(1.6, {"SK2": -1.6, "SK3": 1.6}, status="faulty")
    first, second = fixes(data, "socket")
    said = "Split the step, for no one setting was found that serves a and b and no one socket"
    assert first.startswith(f"{said} either: a alone is served by stand in SK2 at ")
    assert second.startswith(f"{said} either: b alone is served by stand in SK3 at ")


def test_where_only_a_setting_for_each_is_found_one_socket_is_named_for_all():
    data = world(1.25, {"SK4": 0.0, "SK2": -1.25, "SK3": 1.25}, status="faulty")
    site, (a, _) = resolved(data, BOTH)
    assert service_of_step(site, a).setting is None
    first, second = fixes(data, "socket")
    assert first == second
    assert "and put stand in SK4 for all of them: a at clocking" in first
    assert "; b at clocking" in first


def test_a_step_with_one_thing_has_the_fix_that_it_had():
    alone = step("s", "R", drive("a"))
    site, (a,) = resolved(SPREAD, alone)
    own = service_of(site, a).setting
    assert fixes(SPREAD, "socket", alone) == [f"Use {own.socket} at {own.words}."]


def test_the_same_bolt_turned_twice_is_one_thing():
    site, (first, _) = resolved(SPREAD, step("s", "R", drive("a"), drive("a", torque=5.0)))
    assert mates_of(site, first) == (first,)


def test_a_setting_next_door_serves_all_of_the_step():
    data = world(0.5, {"SK2": -0.5}, at=[0.0, 0.0, 0.0])
    away = {"clocking": "-60 deg", "pitch": "0 deg", "yaw": "0 deg"}
    site, (a, b) = resolved(data, {**BOTH, "setting": away})
    found = next_door(site, a, b)
    assert found is not None
    mended = {**BOTH, "setting": found.angles}
    verdicts = [one.verdict for one in findings_of(data, mended, only=("reach",))]
    assert verdicts == [Verdict.PASS, Verdict.PASS]


def test_what_serves_all_serves_each():
    site, (a, b) = resolved(SPREAD, BOTH)
    kind = a.place.restraint
    for socket in ("SK2", "SK3", "SK4"):
        found = setting_for(site, (a, b), socket, kind)
        assert found is not None
        for one in ("a", "b"):
            alone = {**step("s", "R", drive(one)), "where": socket, "setting": found.angles}
            (told,) = findings_of(SPREAD, alone, only=("reach",))
            assert told.verdict is Verdict.PASS


def test_the_fix_for_torque_holds_the_whole_step_in_one_place():
    weak = {"weak": {"kind": "body tether", "holds_torque": 5.0}}
    data = world(0.5, {"SK2": -0.5, "SK3": 0.5, "SK4": 0.0})
    data["restraints"] |= weak
    data["fasteners"]["b"]["torque"] = 40.0
    data["items"] = {"good": {"is": "stand"}}
    tethered = {**BOTH, "where": "SK4", "restraint": "weak", "setting": {}}
    first, second = fixes(data, "torque", tethered)
    assert first == second
    assert first.startswith("Hold R by good in SK")
    assert first.endswith("for a and b of this step.")
