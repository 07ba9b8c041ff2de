"""Ways round a rule that are no way round: what is left out, taken apart or done twice."""

import chores
from errands import PACKED, asked, errand, move, put, step, take, turn, verdicts, yard

from reach.checks import (
    custody,
    glove_check,
    held,
    hooked,
    plugged,
    present,
    receiver,
    sockets,
    unpowered,
)
from reach.checks import outing as endurance

ON = {"T1": {"hook": "A0", "reel": "W"}}
AT = {"workers": {"W": "RA", "V": "lock"}, "items": PACKED, "lines": ON}


def about(found, name):
    return [one for one in found if name in one.about]


# ---- coming out ------------------------------------------------------------------------


def test_who_leaves_the_lock_without_an_egress_is_outside_all_the_same():
    go = move("a", "RC", "RA", "RB", "RC")
    begin = {"items": PACKED, "lines": {"T1": {"hook": "A0"}}}
    (loose,) = asked(hooked, yard(), go, begin=begin)
    assert loose.low == -1.0 and loose.fix == "Let W come out of the lock by an egress, on a line."
    stores = {"W": {"lasts": "5 min"}}
    (suit,) = about(asked(endurance, yard(), go, begin=begin, stores=stores), "W")[1:]
    assert suit.low == -300.0
    assert [one.about for one in asked(glove_check, yard(), go, begin=begin)] == [("W",)]


def test_who_works_at_a_place_is_outside_all_the_same():
    _, outing = errand(yard(), step("a", where="SK1", restraint="FR"), begin=AT)
    assert outing.finally_["V is outside"] is False
    assert outing.finally_["W is outside"] is True
    begin = {**AT, "workers": {}}
    (found,) = asked(hooked, yard(), step("a", where="SK1", lane="V", restraint="FR"), begin=begin)
    assert (found.low, found.about) == (-1.0, ("V",))


def test_who_begins_outside_and_has_no_step_is_outside_all_the_same():
    begin = {**AT, "workers": {"W": "RA", "V": "RC"}}
    stores = {"V": {"lasts": "1 min"}}
    (suit,) = about(asked(endurance, yard(), step("a"), begin=begin, stores=stores), "V")
    assert suit.low == -540.0
    assert [one.about for one in asked(glove_check, yard(), step("a"), begin=begin)] == [
        ("W",), ("V",),
    ]  # fmt: skip


def test_what_is_carried_must_be_with_the_worker_who_leaves():
    begin = {**AT, "items": {"B1": "W", "B2": "RC"}}
    go = step("go", {"do": "translate", "to": "RB", "carrying": ["B1"], "in_hand": ["B2"]})
    found = [
        one for one in asked(present, yard(), go, begin=begin) if one.numbers["why"] == "to carry"
    ]
    assert [(one.about[1], one.low) for one in found] == [("B1", 0.0), ("B2", -1.0)]
    assert "B2 (to carry) is not with W at RA: it is at RC." in found[1].because


# ---- lines -----------------------------------------------------------------------------


def over(*actions, lines=ON):
    """What is said of W and the hook of T1."""
    found = asked(hooked, yard(), step("a", *actions), begin={**AT, "lines": lines})
    return [one for one in found if one.about == ("W", "T1", "A1")]


def test_the_hook_of_the_only_line_does_not_go_from_anchor_to_anchor():
    (found,) = over({"do": "attach", "what": "T1", "to": "A1", "checked": True})
    assert found.low == -1.0
    assert found.because == (
        "W is on no other line while the hook of T1 goes from one anchor to A1."
    )
    way = {"do": "translate", "to": "RC", "anchor": "A1"}
    assert verdicts(over(way)) == ["fail"]


def test_on_a_second_line_it_may():
    both = {**ON, "T2": {"hook": "A0", "reel": "W"}}
    assert verdicts(over({"do": "attach", "what": "T1", "to": "A1"}, lines=both)) == ["pass"]
    parked = {**ON, "T2": {"hook": None, "reel": "W"}}
    assert verdicts(over({"do": "attach", "what": "T1", "to": "A1"}, lines=parked)) == ["fail"]


# ---- restraints ------------------------------------------------------------------------


def test_a_restraint_that_is_picked_up_is_in_its_socket_no_more():
    begin = {**AT, "workers": {"W": "SK1"}}
    stand = step("b", {"do": "ingress"}, where="SK1", restraint="FR")
    lost = about(asked(plugged, yard(), step("a", take("FR")), stand, begin=begin), "SK1")
    assert [(one.step, one.low) for one in lost] == [("b", -1.0)]
    under = about(asked(plugged, yard(), stand, step("c", take("FR")), begin=begin), "FR")
    assert [(one.step, one.low) for one in under] == [("b", 0.0), ("c", -1.0)]


# ---- bags ------------------------------------------------------------------------------


def test_bags_in_each_other_hang_on_nothing():
    begin = {**AT, "items": {"B1": "W", "B2": "W", "lamp": "B1"}}
    circle = step("a", put("B1", "B2"), put("B2", "B1"))
    found = asked(custody, yard(), circle, begin=begin)
    assert {one.about[0]: one.low for one in found if one.about[0] in ("B1", "B2", "lamp")} == {
        "B1": -1.0, "B2": -1.0, "lamp": -1.0,
    }  # fmt: skip
    found = asked(custody, yard(), step("a", put("B1", "B2")), begin=begin)
    assert {one.low for one in found} == {0.0}


def test_nobody_goes_away_with_what_is_tied_to_a_rail():
    begin = {**AT, "items": {"D1": "W"}}
    tie = {"do": "attach", "what": "D1", "to": "RB"}
    free = {"do": "release", "what": "D1", "from": "RB"}
    go = move("go", "RC", "RB", "RC")
    found = about(asked(custody, yard(), step("a", tie), go, begin=begin), "D1")
    assert [(one.step, one.low) for one in found] == [("a", 0.0), ("go", -1.0)]
    assert found[1].because == "W goes away with D1, which is tied to RB."
    found = about(asked(custody, yard(), step("a", tie, free), go, begin=begin), "D1")
    assert verdicts(found) == ["pass"]
    found = about(asked(custody, yard(), step("a", tie, put("RB", "D1")), go, begin=begin), "D1")
    assert verdicts(found) == ["pass"]


# ---- payloads --------------------------------------------------------------------------


def on_crate(check, *steps, **more):
    """What a check says of a crate of which both bolts are in, begun out by the crate."""
    people = {"W1": "far", "W2": "far"}
    start = chores.begun(workers=people, tight=["B1", "B2"], **more)
    data = chores.yard(payloads={"crate": {"grapple": {"at": [0.0, 0.0, 0.2]}}})
    return about(chores.findings(check, *steps, scene=data, begin=start), "crate")


UNDO = chores.job(
    "undo",
    "W2",
    *({"do": "drive", "fastener": b, "tool": "PT", "loosen": True} for b in ("B1", "B2")),
)
HOLD = chores.job("hold", "W1", {"do": "hold", "grips": ["grip"]}, start="00:00")


def test_a_crane_that_goes_on_without_a_payload_has_it_no_more():
    carry = {"do": "move crane", "payload": "crate", "to": "right"}
    steps = (
        HOLD,
        {**UNDO, "start": "00:10", "after": ["hold"]},
        chores.job("carry", "CO", carry, start="00:20", after=["undo"]),
        chores.job("let go", "W1", "release", start="00:30", after=["carry"]),
    )
    assert verdicts(on_crate(held, *steps)) == ["pass"]
    away = chores.job("away", "CO", "move crane to up", start="00:40", after=["let go"])
    (found,) = on_crate(held, *steps, away)
    assert (found.low, found.step) == (-1.0, "away")


def test_who_goes_into_the_lock_holds_nothing_any_more():
    undo = {**UNDO, "start": "00:10", "after": ["hold"]}
    home = chores.job("home", "W1", {"do": "ingress", "to": "lock"}, start="00:20", after=["undo"])
    (found,) = on_crate(held, HOLD, undo, home)
    assert (found.low, found.step) == (-1.0, "home")


def test_boots_stay_behind_where_the_next_step_is_elsewhere():
    here = {"where": "S2", "restraint": "FR"}
    there = {"where": "S3", "restraint": "FR-2"}
    items = {"FR": "S2", "FR-2": "S3"}
    take = {"do": "hold", "grips": ["grip"]}
    begin = {"items": items}
    stand = chores.job("stand", "W1", {"do": "ingress"}, **here)
    assert verdicts(on_crate(receiver, stand, chores.job("take", "W1", take, **here), **begin)) == [
        "pass"
    ]
    assert verdicts(
        on_crate(receiver, stand, chores.job("take", "W1", take, **there), **begin)
    ) == ["fail"]


def test_a_payload_is_not_moved_while_bolts_hold_it():
    move = chores.job(
        "move", "W1", {"do": "move", "payload": "crate", "to": "right"}, start="00:20"
    )
    (_, found) = on_crate(held, HOLD, move)
    assert (found.low, found.step) == (-1.0, "move")
    assert found.because == "crate is moved while B1 and B2 still hold it."
    undo = {**UNDO, "start": "00:10", "after": ["hold"]}
    (_, found) = on_crate(held, HOLD, undo, move)
    assert found.low == -1.0 and found.fix == "Let step 'move' wait: after = ['undo']."
    assert verdicts(on_crate(held, HOLD, undo, {**move, "after": ["undo"]})) == ["pass"]


def test_a_payload_that_is_moved_comes_out_of_its_guide():
    data = chores.yard(
        payloads={"crate": {"fixed_by": ["B1", "B2", "GU"]}},
        guides={"GU": {"payload": "crate", "pose": "right", "offset": 0.02, "angle": "2 deg"}},
    )
    steps = (
        HOLD,
        {**UNDO, "start": "00:10", "after": ["hold"]},
        chores.job("seat", "W1", {"do": "align", "guide": "GU"}, start="00:20", after=["undo"]),
    )
    away = chores.job("away", "W1", {"do": "move", "payload": "crate", "to": "left"}, start="00:30")
    leave = chores.job("leave", "W1", "release", start="00:40")
    begin = chores.begun(workers={"W1": "far", "W2": "far"}, tight=["B1", "B2"])
    kept = chores.findings(held, *steps, leave, scene=data, begin=begin)
    lost = chores.findings(held, *steps, away, leave, scene=data, begin=begin)
    assert [(one.step, one.low) for one in kept] == [("hold", 0.0)]
    assert [(one.step, one.low) for one in lost] == [("leave", -1.0)]


def test_nobody_hands_over_what_they_do_not_have():
    give = chores.job(
        "give", "W1", {"do": "hand over", "to": "W2", "grips": ["grip"]}, start="00:20"
    )
    (_, found) = on_crate(held, give)
    assert (found.low, found.step) == (-1.0, "give")
    assert verdicts(on_crate(held, HOLD, give)) == ["pass"]


def test_two_do_not_stand_in_the_restraint_of_one_station():
    first = chores.job("first", "W1", {"do": "ingress"}, where="up", start="00:00")
    then = chores.job("then", "W2", {"do": "ingress"}, where="up", start="00:10")
    (found,) = (one for one in chores.findings(sockets, first, then) if "up" in one.about)
    assert (found.low, found.step) == (-1.0, "then")
    gone = chores.job("gone", "W1", "egress", start="00:05")
    left = chores.findings(sockets, first, gone, {**then, "after": ["gone"]})
    assert [one.low for one in left if "up" in one.about] == [0.0]


# ---- clocks ----------------------------------------------------------------------------


def clocked(*steps, **more):
    clocks = {"off": {"from": "X1", "to": "X2", "limit": "30 min"}}
    return [(one.step, one.low) for one in asked(unpowered, yard(), *steps, clocks=clocks, **more)]


def test_a_clock_that_is_started_again_is_asked_again():
    one = step("a", turn("X1"), start="00:00"), step("b", turn("X2"), start="00:10")
    again = step("c", turn("X1"), start="01:00"), step("d", turn("X2"), start="05:00")
    assert clocked(*one) == [("b", 1200.0)]
    assert clocked(*one, *again) == [("b", 1200.0), ("d", -12600.0)]
    assert clocked(*one, again[0], step("e", start="03:00")) == [("b", 1200.0), ("e", -5400.0)]


def test_a_step_may_start_and_stop_a_clock():
    both = step("a", turn("X1"), turn("X2"), start="00:00")
    late = step("b", start="05:00")
    assert clocked(both, late) == [("a", 1200.0)]
    assert clocked({**both, "duration": "40 min"}, late) == [("a", -600.0)]
    assert clocked(step("a", turn("X2"), turn("X1"), start="00:00"), late)[0][1] < 0.0
