"""Who rides, what is tied where, who stands in which socket: ways round the ledger's rules."""

import errands
from chores import FAIL, PASS, about, begun, findings, job, out, stand, verdicts, yard
from errands import asked, move, step

from reach.checks import custody, inventory, left_record, present, sockets

FAR = yard(
    anchors={"AX": {"at": [14.0, 1.0, 0.0], "rating": "2 kN"}},
    sockets={"S9": {"at": [16.0, 1.0, 0.0], "axis": [0, 0, 1], "zero": [1, 0, 0]}},
)
RIDE = job("ride", "CO", "move crane to out")
ON_TIP = {"W1": "up", "W2": "S9"}
PACKED = {
    "workers": {"W": "RA", "V": "RC"},
    "lines": {"T1": {"hook": "A0", "reel": "W"}, "T2": {"hook": "A1", "reel": "V"}},
}


# ---- what is at hand of a rider -----------------------------------------------------------


def test_what_a_rider_needs_is_at_hand_in_every_order_or_it_is_not_there():
    """Before the crane has moved W1 is 4 m off the camera and 6 m off W2."""
    begin = begun(workers=ON_TIP, items={"camera": "AX"})
    for text, item in (("pick up camera", "camera"), ("pass camera to W2", "W2")):
        holder = {"camera": "AX" if item == "camera" else "W1"}
        begin = begun(workers=ON_TIP, items=holder)
        action = job("act", "W1", text)
        found = about(findings(present, RIDE, action, begin=begin, scene=FAR), "W1", item)
        assert (found.verdict, found.fix) == (FAIL, "Let step 'act' wait: after = ['ride'].")
        linked = {**action, "after": ["ride"]}
        found = about(findings(present, RIDE, linked, begin=begin, scene=FAR), "W1", item)
        assert found.verdict is PASS


def test_what_is_at_hand_from_both_ends_of_a_ride_may_be_reached_for_before_or_after():
    begin = begun(workers={"W1": "up", "W2": "far"}, items={"camera": "W1"})
    scene = yard(anchors={"AM": {"at": [11.5, 1.0, 0.0], "rating": "2 kN"}})
    found = findings(present, RIDE, job("act", "W1", "stow camera to AM"), begin=begin, scene=scene)
    assert about(found, "W1", "AM").verdict is PASS


# ---- what goes along is tied to nothing that stays -----------------------------------------


def tied_to(to, *steps, items, end=()):
    """What is said of D1, which is tied to something beside what holds it."""
    tie = step("tie", {"do": "attach", "what": "D1", "to": to})
    found = asked(custody, errands.yard(), tie, *steps, begin={**PACKED, "items": items})
    return [one for one in found if "D1" in one.about and one.low < 0.0]


def test_what_lies_in_a_bag_that_is_carried_off_is_tied_to_nothing_else():
    go = move("go", "RB", "RA", "RB")
    (found,) = tied_to("A0", go, items={"B1": "W", "D1": "B1"})
    assert (found.verdict, found.step) == (FAIL, "go")
    assert found.because == "W goes away with D1, which is tied to A0."
    assert tied_to("W", go, items={"B1": "W", "D1": "B1"}) == []


def test_what_is_tied_to_a_bag_that_stays_does_not_go_along():
    go = move("go", "RB", "RA", "RB")
    (found,) = tied_to("B2", go, items={"D1": "W", "B2": "RA"})
    assert found.because == "W goes away with D1, which is tied to B2."
    assert tied_to("B2", go, items={"D1": "W", "B2": "W"}) == []


def test_who_goes_into_the_lock_leaves_nothing_tied_outside():
    home = step("home", {"do": "ingress", "to": "lock"})
    (found,) = tied_to("A0", home, items={"D1": "W"})
    assert found.because == "W goes in with D1, which is tied to A0."
    assert tied_to("lock", home, items={"D1": "W"}) == []


def test_what_rides_along_is_tied_to_nothing_that_stays():
    def said(to, ride=RIDE):
        begin = begun(workers={"W1": "up", "W2": "far"}, items={"camera": "W1"})
        tie = job("tie", "W1", f"attach camera to {to}")
        steps = (tie, {**ride, "after": ["tie"]})
        found = findings(custody, *steps, begin=begin)
        return [one.because for one in found if "camera" in one.about and one.low < 0.0]

    assert said("far") == ["W1 rides Arm with camera, which is tied to far."]
    assert said("AT") == []
    assert said("far", job("ride", "CO", "move crane to up")) == []


# ---- home, and left ------------------------------------------------------------------------


def test_what_is_on_somebody_who_stops_outside_at_the_hatch_is_not_home():
    begin = {"items": {"D1": "W"}}
    call = step("call", {"do": "confirm", "items": ["D1"]})
    steps = (step("out", {"do": "egress", "from": "lock"}), call)
    (found,) = asked(inventory, errands.yard(), *steps, begin=begin, end={"rest": "lock"})
    assert (str(found.verdict), found.numbers["astray"]) == ("fail", ["D1"])
    home = step("in", {"do": "ingress", "to": "lock"})
    (found,) = asked(inventory, errands.yard(), *steps, home, begin=begin, end={"rest": "lock"})
    assert found.verdict is PASS


def test_what_comes_home_in_a_bag_needs_no_record():
    def said(**items):
        end = {"rest": "lock", "items": items, "left": {"lamp": {"owner": "x", "until": "y"}}}
        begin = {"items": {"D1": "lock", "B1": "lock"}}
        found = asked(left_record, errands.yard(), step("a"), begin=begin, end=end)
        return [one.about[1] for one in found]

    assert said(D1="B1") == []
    assert said(D1="B1", B1="RA") == ["D1", "B1"]
    assert said(D1="RA") == ["D1"]


# ---- one restraint, one worker -------------------------------------------------------------

BOTH = {"W1": "far", "W2": "far"}


def test_two_do_not_stand_in_one_socket_by_a_kind_of_restraint_either():
    steps = stand("W1", "S2", "stand"), stand("W2", "S2", "stand")
    (found,) = findings(sockets, *steps, begin=begun(workers=BOTH))
    assert found.verdict is FAIL
    assert "W1 and W2 both stand in the restraint of S2" in found.because


def works(lane, name, **more):
    return job(name, lane, "drive B1", where="S2", restraint="FR", **more)


def test_two_do_not_work_from_one_socket_at_the_same_time():
    begin = begun(workers=BOTH, items={"FR": "S2"})
    (found,) = [
        one
        for one in findings(sockets, works("W1", "a"), works("W2", "b"), begin=begin)
        if one.low < 0.0
    ]
    assert found.fix == "Let step 'b' wait: after = ['a']."
    linked = works("W1", "a"), works("W2", "b", after=["a"])
    assert verdicts(findings(sockets, *linked, begin=begin)) == [PASS]


def test_nobody_works_from_a_socket_in_which_another_stands():
    begin = begun(workers=BOTH, items={"FR": "S2"})
    steps = stand("W1", "S2", "FR"), works("W2", "b", after=["W1 in"])
    found = about(findings(sockets, *steps, begin=begin), "W2", "W1")
    assert found.verdict is FAIL
    assert "while W1 stands in the restraint there" in found.because
    off = job("off", "W1", "egress", after=["W1 in"])
    steps = stand("W1", "S2", "FR"), off, works("W2", "b", after=["off"])
    assert verdicts(findings(sockets, *steps, begin=begin)) == [PASS]


def test_who_comes_out_takes_the_place_of_nobody():
    assert findings(sockets, out("W1"), out("W2")) == []
