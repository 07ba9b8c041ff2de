"""Who goes away from a payload that stays, and who holds more than one, by ledger and hands."""

import pytest
from chores import FAIL, PASS, about, begun, findings, go, job, resolved, yard

from reach.checks import guard, held
from reach.finding import Verdict
from reach.ledger.facts import facts_at

OPEN = Verdict.OPEN
RIDER = begun(tight=[], workers={"W1": "S2", "W2": "up"})
"""The crate is free from the start; W2 is on the tip of the crane, W1 stands beside it."""

W2_HOLDS = job("W2 holds", "W2", "hold grip", where="up")
W1_HOLDS = job("W1 holds", "W1", "hold grip", where="S2", restraint="FR")
FREE = job("B1", "W1", "drive B1 loosen", where="S2", restraint="FR", start="00:40")
AWAY = job("away", "CO", "move crane to out", start="01:00")


def said(*steps, begin=None, **more):
    """What is said of the crate, which B1 alone fixes."""
    return findings(held, *steps, begin=begin or begun(tight=["B1"], **ON), **more)


ON = {"workers": {"W1": "S2", "W2": "up"}, "items": {"FR": "S2"}}


# ---- who rides --------------------------------------------------------------------------


def test_who_rides_off_lets_go_of_what_stays_behind():
    (found,) = said(W2_HOLDS, FREE, AWAY)
    assert (found.verdict, found.step) == (FAIL, "away")
    assert "crate is free and nobody has hold of it" in found.because
    assert "W2 rides Arm to out without it" in found.because
    assert found.fix == (
        "Name crate in step 'away' if it rides along, else fix it or let somebody who stays "
        "take hold of it before."
    )


def test_what_another_holds_too_is_not_loose_when_one_of_them_rides_off():
    steps = (W2_HOLDS, W1_HOLDS, FREE, {**AWAY, "after": ["W1 holds"]})
    assert [one.verdict for one in said(*steps)] == [PASS]
    gone = (*steps, job("W1 lets go", "W1", "release", start="02:00", after=["away"]))
    (found,) = said(*gone)
    assert (found.verdict, found.step) == (FAIL, "W1 lets go")


def test_what_rides_along_stays_in_the_hands_of_who_rides():
    over = {"do": "move crane", "payload": "crate"}
    with_it = job("over", "CO", over, path="over", start="01:00", after=["B1"])
    (found,) = said(W2_HOLDS, {**FREE, "after": ["W2 holds"]}, with_it)
    assert found.verdict is PASS


def test_a_crane_that_stays_where_it_is_takes_nobody_away():
    stays = job("stays", "CO", "move crane to up", start="01:00")
    (found,) = said(W2_HOLDS, {**FREE, "after": ["W2 holds"]}, stays)
    assert found.verdict is PASS


def test_another_order_in_which_the_holder_rides_off_is_a_fail_and_a_link_mends_it():
    """As written the crane is back before W2 takes hold; nothing makes W2 wait."""
    away = {**AWAY, "start": "00:10", "duration": "5 min"}
    late = {**W2_HOLDS, "start": "00:20", "where": "up"}
    free = {**FREE, "after": ["W2 holds"]}
    (found,) = said(away, late, free)
    assert (found.verdict, found.numbers["orders"]) == (FAIL, "another order")
    order = found.numbers["order"]
    assert order.index("W2 holds: hold grip") < order.index("away: move crane out")
    assert order[-1] == "B1: drive B1"
    assert [one.verdict for one in said(away, {**late, "after": ["away"]}, free)] == [PASS]


def test_a_payload_that_is_placed_elsewhere_as_its_holder_rides_may_ride_along():
    later = job("goes on", "W2", "wait", placed={"crate": "right"}, start="01:30", after=["B1"])
    (found,) = said(W2_HOLDS, FREE, AWAY, later)
    assert found.verdict is OPEN
    assert "step 'goes on' places crate at right" in found.because
    same = {**later, "placed": {"crate": "left"}}
    assert [one.verdict for one in said(W2_HOLDS, FREE, AWAY, same)] == [FAIL]


def test_a_guard_knows_that_the_holder_has_ridden_off():
    turn = job("B2", "W1", "drive B2 loosen", where="S2", restraint="FR", start="02:00")
    waits = {**turn, "after": ["away"]}
    asked = {"guards": {"B2": {"held": "crate"}}, "begin": begun(tight=["B1", "B2"], **ON)}
    (found,) = findings(guard, W2_HOLDS, AWAY, waits, **asked)
    assert found.verdict is FAIL
    stays = {**AWAY, "actions": [{"do": "move crane", "to": "up"}]}
    (found,) = findings(guard, W2_HOLDS, stays, {**waits, "after": ["W2 holds"]}, **asked)
    assert found.verdict is PASS


def test_a_crane_that_may_move_before_its_rider_is_relieved_leaves_the_crate_loose():
    """As written W1 has the crate by then and W2 is off; nothing makes the crane wait."""
    steps = (
        W2_HOLDS,
        {**FREE, "after": ["W2 holds"]},
        {**W1_HOLDS, "start": "00:50", "after": ["B1"]},
        job("off", "W2", "egress", start="00:55", after=["W1 holds"]),
        job("home", "W2", "ingress", where="S1", restraint="FR-2", start="00:56"),
    )
    (found, loose) = said(*steps, AWAY)
    assert found.verdict is PASS
    assert (loose.verdict, loose.about) == (FAIL, ("crate", "W2", "Arm"))
    assert "free and held by nobody else" in loose.because
    assert loose.fix == "Let step 'away' wait: after = ['W1 holds']."
    assert [one.verdict for one in said(*steps, {**AWAY, "after": ["home"]})] == [PASS]


def test_a_crane_that_may_take_a_holder_away_from_what_is_fixed_is_open():
    """As written W2 is off by then; the bolt goes only when W1 holds, but W2 counts as well."""
    steps = (
        W2_HOLDS,
        job("home", "W2", "ingress", where="S1", restraint="FR-2", start="00:30"),
    )
    (found, astray) = said(*steps, AWAY)
    assert (found.verdict, astray.verdict) == (PASS, OPEN)
    assert astray.fix == "Let step 'away' wait: after = ['home']."


def test_hands_that_guard_a_fastener_are_followed_though_nothing_ever_fixes_what_they_hold():
    """Nothing makes the crane wait until W2 is off; `guard` trusts that W2 holds the crate."""
    turn = job("B2", "W1", "drive B2 loosen", where="S2", restraint="FR", after=["W2 holds"])
    home = job("home", "W2", "ingress", where="S1", restraint="FR-2", start="00:30", after=["B2"])
    asked = {
        "scene": yard(payloads={"crate": {"fixed_by": []}}),
        "begin": begun(tight=["B1", "B2"], **ON),
        "guards": {"B2": {"held": "crate"}},
    }
    (found,) = findings(held, W2_HOLDS, turn, home, AWAY, **asked)
    assert (found.verdict, found.step) == (OPEN, "away")
    assert findings(held, W2_HOLDS, turn, home, {**AWAY, "after": ["home"]}, **asked) == []


def test_a_pose_with_the_name_of_a_station_leaves_nobody_there():
    """The crane takes the chest to a pose called as the station at which W2 holds the crate."""
    over = {"do": "move crane", "payload": "chest", "to": "up"}
    chest = {"poses": {k: {"at": [20.0, y, 0.0]} for k, y in (("there", 3.0), ("up", 5.0))}}
    steps = (
        W2_HOLDS,
        job("home", "W2", "ingress", where="S1", restraint="FR-2", start="00:30"),
        job("over", "CO", over, start="01:00"),
    )
    asked = {"scene": yard(payloads={"chest": chest}), "begin": begun(tight=["B1"], **ON)}
    found = findings(held, *steps, **asked)
    assert OPEN in [one.verdict for one in found if set(one.about) == {"crate", "W2", "Arm"}]


# ---- who stays while it goes ------------------------------------------------------------

OVER = job("over", "CO", {"do": "move crane", "payload": "crate"}, path="over", start="01:00",
           after=["B1"])  # fmt: skip
HELD_FREE = {**FREE, "after": ["W1 holds"]}
AWAY_LATER = {**AWAY, "start": "02:00", "after": ["over"]}
GRAPPLED = {"scene": yard(payloads={"crate": {"grapple": {"at": [0.0, 0.0, 0.2]}}})}


def test_who_stays_while_a_crane_takes_away_what_they_hold_may_have_let_go():
    """W1 stands at a socket of the structure; the crate has no grapple: W1 alone holds it."""
    (found, gone) = said(W1_HOLDS, HELD_FREE, OVER)
    assert (found.verdict, gone.verdict, gone.about) == (PASS, OPEN, ("crate",))
    assert "nobody has hold of it but W1, from whom it was moved away" in gone.because
    assert gone.fix == ("Let W1 go along in step 'over', or somebody who does hold crate before.")
    let_go = job("let go", "W1", "release", start="00:50", after=["B1", "W2 holds"])
    waits = {**OVER, "after": ["let go"]}
    assert [one.verdict for one in said(W2_HOLDS, W1_HOLDS, HELD_FREE, let_go, waits)] == [PASS]


def test_what_a_crane_has_taken_needs_no_hold_by_who_stays():
    (found,) = said(W1_HOLDS, HELD_FREE, OVER, **GRAPPLED)
    assert found.verdict is PASS


def test_a_crane_leaves_what_who_stayed_behind_may_hold_no_more():
    (found, left) = said(W1_HOLDS, HELD_FREE, OVER, AWAY_LATER, **GRAPPLED)
    assert (found.verdict, left.verdict, left.step) == (PASS, OPEN, "away")
    assert left.fix == "Let W1 take hold of crate again before step 'away'."
    again = {**W1_HOLDS, "name": "again", "start": "01:30", "after": ["over"]}
    waits = {**AWAY_LATER, "after": ["again"]}
    (found,) = said(W1_HOLDS, HELD_FREE, OVER, again, waits, **GRAPPLED)
    assert found.verdict is PASS


def test_nobody_guards_a_fastener_by_a_hold_from_which_the_payload_was_moved_away():
    turn = job("B2", "W2", "drive B2 loosen", where="up", start="03:00", after=["over"])
    asked = {"guards": {"B2": {"held": "crate"}}, "begin": begun(tight=["B1", "B2"], **ON)}
    (found,) = findings(guard, W1_HOLDS, HELD_FREE, OVER, turn, **asked)
    assert (found.verdict, found.step) == (OPEN, "B2")
    again = {**W1_HOLDS, "name": "again", "start": "02:00", "after": ["over"]}
    waits = {**turn, "after": ["again"]}
    (found,) = findings(guard, W1_HOLDS, HELD_FREE, OVER, again, waits, **asked)
    assert found.verdict is PASS


def test_who_may_have_lost_it_hands_it_over_is_open():
    over = job("gives", "W1", {"do": "hand over", "to": "W2", "grips": ["grip"]}, where="S2",
               restraint="FR", start="02:00", after=["over"])  # fmt: skip
    found = said(W1_HOLDS, HELD_FREE, OVER, over, **GRAPPLED)
    assert [(one.verdict, one.step) for one in found if one.verdict is not PASS] == [
        (OPEN, "gives")
    ]
    assert "whether they still hold it is not said" in found[-1].because


def test_who_rides_along_only_as_written_may_be_left_behind():
    """Nothing makes the crane wait until W2, who holds the crate, is on its tip."""
    holds = {**W2_HOLDS, "where": "S1", "restraint": "FR-2"}
    board = job("board", "W2", "ingress", where="up", start="00:30", after=["B1"])
    again = {**W2_HOLDS, "name": "again", "start": "00:35"}
    steps = (holds, W1_HOLDS, HELD_FREE, board, again, OVER)
    found = said(*steps, **GRAPPLED)
    assert (OPEN, ("crate", "W2")) in [(one.verdict, one.about) for one in found]
    found = said(*steps[:-1], {**OVER, "after": ["again", "B1"]}, **GRAPPLED)
    assert [one.verdict for one in found] == [PASS]


def test_who_stays_while_another_moves_what_both_hold_by_hand_may_have_let_go():
    take = job("W2 holds", "W2", "hold grip", where="S1", restraint="FR-2", after=["W1 holds"])
    shift = job("shift", "W2", {"do": "move", "payload": "crate"}, path="over", start="01:00",
                after=["B1", "W2 holds"])  # fmt: skip
    done = job("W2 lets go", "W2", "release", start="01:30", after=["shift"])
    (found, left) = said(W1_HOLDS, take, HELD_FREE, shift, done)
    assert (found.verdict, left.verdict, left.step) == (PASS, OPEN, "W2 lets go")
    (found,) = said(W1_HOLDS, take, HELD_FREE, shift)
    assert found.verdict is PASS


def test_who_holds_what_a_step_places_elsewhere_may_have_let_go():
    """It passed: who moved it is not written, and W1 stood where they were."""
    later = job("later", "CO", "wait", placed={"crate": "right"}, start="01:30", after=["B1"])
    (found, left) = said(W1_HOLDS, HELD_FREE, later)
    assert (found.verdict, left.verdict, left.step) == (PASS, OPEN, "later")
    (found,) = said(W1_HOLDS, HELD_FREE, {**later, "placed": {"crate": "left"}})
    assert found.verdict is PASS


def test_who_stays_while_another_aligns_what_both_hold_may_have_let_go():
    guide = {"payload": "crate", "pose": "right", "offset": "5 cm", "angle": "5 deg"}
    take = job("W2 holds", "W2", "hold grip", where="S1", restraint="FR-2", after=["B1"])
    align = job("align", "W2", {"do": "align", "guide": "G"}, start="01:00", after=["W2 holds"])
    done = job("W2 lets go", "W2", "release", start="01:30", after=["align"])
    asked = {"scene": yard(guides={"G": guide})}
    (found, left) = said(W1_HOLDS, HELD_FREE, take, align, done, **asked)
    assert (found.verdict, left.verdict, left.step) == (PASS, OPEN, "W2 lets go")
    (found,) = said(W1_HOLDS, HELD_FREE, take, align, **asked)
    assert found.verdict is PASS


def test_a_crane_from_which_it_was_moved_by_hand_may_hold_it_no_more():
    """Nothing says when a crane lets go, so it held for ever what W1 had carried off."""
    crate = {
        **GRAPPLED["scene"]["payloads"]["crate"],
        "poses": {k: {"at": [x, 2.0, 0.0]} for k, x in (("left", 10), ("right", 12), ("off", 14))},
        "paths": {"over": {"through": ["left", "right"]}, "on": {"through": ["right", "off"]}},
    }
    again = {**W1_HOLDS, "name": "again", "start": "01:30", "after": ["over"]}
    shift = job("shift", "W1", {"do": "move", "payload": "crate"}, path="on", start="02:00")
    done = job("W1 lets go", "W1", "release", start="03:00")
    asked = {"scene": yard(payloads={"crate": crate})}
    (found, left) = said(W1_HOLDS, HELD_FREE, OVER, again, shift, done, **asked)
    assert (found.verdict, left.verdict, left.step) == (PASS, OPEN, "W1 lets go")
    assert "nobody has hold of it but Arm" in left.because
    back = job("back", "CO", {"do": "move crane", "payload": "crate", "to": "left"}, start="02:30",
               after=["shift"])  # fmt: skip
    steps = (W1_HOLDS, HELD_FREE, OVER, again, shift, back, {**done, "after": ["back"]})
    assert [one.verdict for one in said(*steps, **asked)] == [PASS]


def test_who_stands_on_a_payload_that_rolls_away_may_have_let_go_of_another():
    """W1 stands on the cart and holds the crate, which stays."""
    cart = {"poses": {k: {"at": [x, 4.0, 0.0]} for k, x in (("here", 10.0), ("there", 14.0))}}
    scene = yard(
        payloads={"cart": cart},
        sockets={"SC": {"in": "cart", "at": [0, 0, 0], "axis": [0, 0, 1], "zero": [1, 0, 0]}},
    )
    begin = begun(tight=["B1"], workers={"W1": "SC", "W2": "up"}, items={"FR": "SC"})
    free = job("B1", "W2", "drive B1 loosen", where="up", start="00:40", after=["W1 holds"])
    roll = job("roll", "CO", {"do": "move crane", "payload": "cart", "to": "there"}, after=["B1"])
    steps = ({**W1_HOLDS, "where": "SC"}, free, roll)
    (found, left) = said(*steps, scene=scene, begin=begin)
    assert (found.verdict, left.verdict, left.step) == (PASS, OPEN, "roll")


def test_a_step_that_is_called_like_an_action_of_another_is_refused():
    twin = job("W2 holds: hold grip", "CO", "wait")
    steps = (W2_HOLDS, twin, {**FREE, "after": [twin["name"]]})
    with pytest.raises(ValueError, match="has the name of step"):
        said(*steps)


# ---- who moves off ----------------------------------------------------------------------


@pytest.mark.parametrize(
    "leaves",
    [
        go("W1", "S2", "near", after=["B1"]),
        job("out", "W1", "egress", after=["B1"]),
        job("S1", "W1", "ingress", where="S1", restraint="FR-2", after=["B1"]),
    ],
    ids=["along rails", "out of the boots", "to another socket"],
)
def test_who_moves_off_lets_go_however_it_is_written(leaves):
    steps = (W1_HOLDS, {**FREE, "lane": "W2", "where": "up", "after": ["W1 holds"]}, leaves)
    del steps[1]["restraint"]
    (found,) = said(*steps)
    assert (found.verdict, found.step) == (FAIL, leaves["name"])
    assert [one.verdict for one in said(W2_HOLDS, *steps)] == [PASS]


def test_a_step_at_the_same_place_changes_nothing():
    again = job("again", "W1", "wait", where="S2", after=["B1"])
    free = job("B1", "W2", "drive B1 loosen", where="up", after=["W1 holds"])
    assert [one.verdict for one in said(W1_HOLDS, free, again)] == [PASS]


# ---- two payloads at once ---------------------------------------------------------------

SECOND = {
    "payloads": {
        name: {"poses": {"there": {"at": [10.0, y, 0.0]}}, "fixed_by": [bolt]}
        for name, y, bolt in (("chest", 3.0, "B3"), ("drum", 4.0, "B4"))
    },
    "handrails": {
        f"{name} {k}": {"in": name, "from": [0.3, 0.1 * k, -0.1], "to": [0.3, 0.1 * k, 0.1]}
        for name in ("chest", "drum")
        for k in (1, 2)
    },
}


def both(*steps):
    begin = begun(tight=["B1", "B3", "B4"], **ON)
    return findings(held, *steps, begin=begin, scene=yard(**SECOND))


def hold(*grips, name=None, **more):
    action = {"do": "hold", "grips": list(grips)}
    return job(name or f"hold {grips[0]}", "W2", action, where="up", **more)


def undone(*bolts):
    """W1 undoes bolts once W2 has taken hold of everything."""
    found, before = [], "last"
    for bolt in bolts:
        found.append(job(bolt, "W1", f"drive {bolt} loosen", where="S2", restraint="FR",
                         after=[before]))  # fmt: skip
        before = bolt
    return found


def test_a_hand_each_holds_two_payloads():
    steps = (hold("grip"), hold("chest 1", name="last"), *undone("B1", "B3"))
    found = both(*steps)
    assert [(one.about[0], one.verdict) for one in found] == [
        ("crate", PASS), ("chest", PASS), ("drum", PASS),
    ]  # fmt: skip


def test_a_hand_stays_where_both_were_on_the_first():
    steps = (hold("chest 1", "chest 2"), hold("grip", name="last"), *undone("B1", "B3"))
    assert {one.verdict for one in both(*steps)} == {PASS}


def test_both_hands_on_the_second_let_go_of_the_first():
    steps = (hold("grip"), hold("chest 1", "chest 2", name="last"), *undone("B1", "B3"))
    found = about(both(*steps), "crate")
    assert (found.verdict, found.step) == (FAIL, "B1")
    assert about(both(*steps), "chest").verdict is PASS


def test_both_hands_on_structure_let_go_of_everything():
    steps = (hold("grip"), hold("near", "far", name="last"), *undone("B1"))
    assert about(both(*steps), "crate").verdict is FAIL
    steps = (hold("grip"), hold("near", name="last"), *undone("B1"))
    assert about(both(*steps), "crate").verdict is PASS


def test_which_of_two_payloads_a_third_takes_the_hand_from_is_open():
    steps = (hold("grip"), hold("chest 1"), hold("drum 1", name="last"), *undone("B1"))
    found = [one for one in both(*steps) if one.verdict is not PASS]
    assert [(one.verdict, one.step) for one in found] == [(OPEN, "last")]
    assert found[0].about == ("W2", "crate", "chest", "drum")
    assert found[0].because == (
        "W2 holds crate and chest with a hand each and takes hold of drum: which of them is let "
        "go is not said."
    )


def test_who_gives_one_of_two_keeps_the_other():
    over = job("last", "W2", {"do": "hand over", "to": "W1", "grips": ["grip"]}, where="up",
               after=["W1 stands"])  # fmt: skip
    stands = job("W1 stands", "W1", "ingress", where="S2", restraint="FR")
    steps = (stands, hold("grip"), hold("chest 1"), over, *undone("B1", "B3"))
    assert {one.verdict for one in both(*steps)} == {PASS}


def test_the_ledger_tells_all_that_is_in_hand():
    steps = (hold("grip"), hold("chest 1"), AWAY)
    _, outing = resolved(*steps, begin=begun(tight=["B1"], **ON), scene=yard(**SECOND))

    def held_after(step):
        k = outing.rank(outing.deeds_in(step)[-1]) + 1
        return [one.value for one in facts_at(outing, k) if one[:3] == ("people", "W2", "holds")]

    assert held_after("hold grip") == ["crate"]
    assert held_after("hold chest 1") == ["crate, chest"]
    assert held_after("away") == ["nothing"]
