"""Who holds a payload, what guards a fastener, in which order fasteners are turned."""

import pytest
from chores import (
    FAIL,
    PASS,
    about,
    begun,
    findings,
    job,
    out,
    stand,
    undeclared,
    verdicts,
)

from reach.checks import guard, held, receiver, sequence

AT = {"where": "S2", "restraint": "FR"}
UP = {"where": "up"}


def hold(lane, name=None, **more):
    return job(name or f"{lane} holds", lane, "hold grip", **(AT if lane == "W1" else UP), **more)


def let_go(lane, **more):
    return job(f"{lane} lets go", lane, "release", **more)


def turn(fastener, lane="W1", name=None, how="loosen", **more):
    at = {"where": "S2", "restraint": "FR"} if lane == "W1" else {"where": "up"}
    return job(name or fastener, lane, f"drive {fastener} {how}".rstrip(), **at, **more)


# ---- held whenever it is free ----------------------------------------------------------


def test_a_payload_that_is_fixed_or_held_all_the_time_is_kept():
    steps = (turn("B1"), hold("W2"), turn("B2", after=["W2 holds"]))
    (found,) = findings(held, *steps)
    assert (found.verdict, found.about, found.step) == (PASS, ("crate",), "B1")


def test_the_last_bolt_undone_while_nobody_holds_is_a_fail_until_somebody_does():
    steps = (turn("B1"), turn("B2", start="01:00"), hold("W1", start="01:10", duration="3 min"))
    (found,) = findings(held, *steps)
    assert (found.verdict, found.step) == (FAIL, "B2")
    assert "crate is free and nobody has hold of it from 01:00" in found.because
    assert "until 01:13 ('W1 holds: hold grip')" in found.because
    assert found.fix == (
        "Let somebody else take hold of crate first, for example W2, then undo B2 in step 'B2'."
    )
    late = findings(held, turn("B1"), turn("B2"), hold("W2", start="02:00"))
    assert late[0].fix.startswith("Let step 'W2 holds' (W2 takes hold) first, then undo B2")


def given(first, then):
    """W1 has the crate, free of its bolts, and gives it to W2 by two steps."""
    both = {"go": let_go("W1", start="02:04"), "hold": hold("W2", start="02:10")}
    if first == "hold":
        both["hold"]["start"] = "02:00"
        both["go"]["after"] = ["W2 holds"] if then == "linked" else []
    return (hold("W1"), both["hold"], both["go"])


def test_letting_go_before_the_other_has_it_is_a_fail():
    begin = begun(tight=["B1"])
    free = turn("B1", "W2", after=["W1 holds"], start="01:00")
    (found,) = findings(held, free, *given("go", ""), begin=begin)
    assert (found.verdict, found.step) == (FAIL, "W1 lets go")
    assert found.fix == (
        "Let W2 take hold of crate (step 'W2 holds') before W1 lets go (step 'W1 lets go')."
    )


def test_another_order_in_which_nobody_holds_is_a_fail_and_the_link_mends_it():
    begin = begun(tight=["B1"])
    free = turn("B1", "W2", after=["W1 holds"], start="01:00")
    (found,) = findings(held, free, *given("hold", ""), begin=begin)
    assert found.verdict is FAIL
    assert "nothing keeps 'W1 lets go: release' from being done before" in found.because
    assert found.fix == "Let step 'W1 lets go' wait: after = ['W2 holds']."
    assert verdicts(findings(held, free, *given("hold", "linked"), begin=begin)) == [PASS]


def test_a_hand_over_never_leaves_it_alone():
    give = {"do": "hand over", "to": "W2", "grips": ["grip"]}
    over = job("over", "W1", give, **AT, after=["B1"])
    steps = (hold("W1"), turn("B1", "W2", after=["W1 holds"]), over)
    assert verdicts(findings(held, *steps, begin=begun(tight=["B1"]))) == [PASS]


def test_a_payload_that_nothing_fixes_at_the_start_is_told_so():
    (found,) = findings(held, out("W1"), begin=begun(tight=[]))
    assert found.verdict is FAIL
    assert found.fix == "Say in begin.tight what fixes crate at the start."


def test_holds_are_not_asked_of_an_undeclared_procedure():
    assert undeclared(held, turn("B1")) == []
    assert undeclared(receiver, hold("W2")) == []


# ---- boots in before hands on ----------------------------------------------------------


def test_who_takes_hold_with_the_boots_in_is_right():
    (found,) = findings(receiver, out("W2"), stand("W2", "up"), hold("W2"))
    assert (found.verdict, found.about) == (PASS, ("W2", "crate"))


def test_who_takes_hold_with_loose_boots_is_told_to_get_in_first():
    (found,) = findings(receiver, out("W2"), hold("W2"))
    assert (found.verdict, found.step) == (FAIL, "W2 holds")
    assert found.fix == "Let W2 get into a restraint at up before 'W2 holds: hold grip'."


def test_it_is_asked_of_the_one_who_receives():
    def steps(after=()):
        over = {"do": "hand over", "to": "W2", "grips": ["grip"]}
        return (
            stand("W1"),
            hold("W1"),
            out("W2"),
            stand("W2", "up"),
            job("over", "W1", over, after=list(after), **AT),
        )

    found = about(findings(receiver, *steps()), "W2")
    assert found.verdict is FAIL
    assert "nothing keeps 'over: hand over grip, take'" in found.because
    assert found.fix == "Let step 'over' wait: after = ['W2 in']."
    mended = findings(receiver, *steps(["W2 in"]))
    assert verdicts(mended) == [PASS, PASS]


def test_a_hold_on_structure_is_not_asked_about():
    assert findings(receiver, out("W1"), job("hold", "W1", "hold far", **AT)) == []


# ---- what guards a fastener ------------------------------------------------------------


def guarded(*steps, **guards):
    return findings(guard, *steps, guards={"B2": guards}, inhibits={"feed": {}})


def test_a_hold_of_another_guards():
    found = guarded(hold("W2"), turn("B2", after=["W2 holds"]), held="crate")
    assert verdicts(found) == [PASS]
    assert "W2 has hold of crate when B2 is turned" in found[0].because


def test_the_hold_of_who_turns_it_does_not():
    (found,) = guarded(hold("W1"), turn("B2"), held="crate")
    assert (found.verdict, found.about) == (FAIL, ("W1", "B2", "crate"))
    assert "nobody but who turns it" in found.because
    assert found.fix.startswith("Let W2 take hold of crate before step 'B2'")


def test_a_hold_that_may_come_too_late_is_a_fail_and_the_link_mends_it():
    (found,) = guarded(hold("W2"), turn("B2", start="01:00"), held="crate")
    assert (found.verdict, found.step) == (FAIL, "B2")
    assert found.numbers["orders"] == "another order"
    assert found.fix == "Let step 'B2' wait: after = ['W2 holds']."


def test_a_hold_that_may_be_let_go_of_too_soon_is_a_fail_and_the_link_mends_it():
    def steps(after=()):
        return (
            hold("W2"),
            turn("B2", after=["W2 holds"], start="01:00", duration="5 min"),
            let_go("W2", start="02:00", after=list(after)),
        )

    (found,) = guarded(*steps(), held="crate")
    assert found.verdict is FAIL
    assert "nothing keeps 'W2 lets go: release' from being done before" in found.because
    assert found.fix == "Let step 'W2 lets go' wait: after = ['B2']."
    assert verdicts(guarded(*steps(["B2"]), held="crate")) == [PASS]


def test_nobody_ever_holds():
    (found,) = guarded(turn("B2"), held="crate")
    assert found.verdict is FAIL
    assert found.fix == (
        "Let W2 take hold of crate before step 'B2', and keep it until somebody else has it."
    )


def confirm(**more):
    return job("feed", "IN", "confirm feed", **more)


def test_an_inhibit_is_confirmed_before():
    assert verdicts(guarded(confirm(), turn("B2", after=["feed"]), inhibits=["feed"])) == [PASS]
    (late,) = guarded(turn("B2"), confirm(start="01:00"), inhibits=["feed"])
    assert (late.verdict, late.about) == (FAIL, ("W1", "B2", "feed"))
    assert late.fix == "Move step 'feed' before step 'B2'."
    (never,) = guarded(turn("B2"), inhibits=["feed"])
    assert never.fix == "Confirm feed before step 'B2'."


def test_an_inhibit_that_may_be_confirmed_too_late_needs_a_link():
    (found,) = guarded(confirm(), turn("B2", start="01:00"), inhibits=["feed"])
    assert found.verdict is FAIL
    assert found.fix == "Let step 'B2' wait: after = ['feed']."


@pytest.mark.parametrize("how", ["loosen", ""])
def test_fasteners_that_come_before_are_done_before_whichever_way(how):
    before, after = (turn("B1"), turn("B2", how=how)), (turn("B2", how=how), turn("B1"))
    assert verdicts(guarded(*before, after=["B1"])) == [PASS]
    (found,) = guarded(*after, after=["B1"])
    assert found.verdict is FAIL
    assert found.fix == "Move step 'B1' before step 'B2'."


def test_a_fastener_that_was_tight_from_the_start_is_not_done_by_that():
    assert verdicts(guarded(turn("B2", how=""), after=["B1"])) == [FAIL]


def test_fasteners_without_a_guard_are_not_asked_about():
    assert guarded(turn("B1"), held="crate") == []


# ---- one after the other ---------------------------------------------------------------

ORDER = {"bolts": {"fasteners": ["B1", "B4", "B2", "B3"]}}


def ordered(*steps):
    return findings(sequence, *steps, orders=ORDER)


def test_fasteners_turned_in_their_order_are_kept():
    found = ordered(*(turn(name) for name in ORDER["bolts"]["fasteners"]))
    assert verdicts(found) == [PASS, PASS, PASS]
    assert found[0].because == "B1 is undone before B4, as bolts asks, in every order."


def test_one_wrong_pair_is_told_once_with_the_steps_to_swap():
    found = ordered(*(turn(name) for name in ("B1", "B2", "B4", "B3")))
    (wrong,) = [one for one in found if one.verdict is FAIL]
    assert (wrong.about, wrong.step) == (("W1", "B2", "B4"), "B2")
    assert wrong.fix == "Turn B4 before B2: swap steps 'B2' and 'B4'."


def test_two_lanes_need_a_link():
    (found,) = ordered(turn("B1"), turn("B4", "W2", start="01:00"))
    assert (found.verdict, found.step) == (FAIL, "B4")
    assert "nothing keeps 'B4: drive B4' from being done before 'B1: drive B1'" in found.because
    assert found.fix == "Let step 'B4' wait: after = ['B1']."
    assert verdicts(ordered(turn("B1"), turn("B4", "W2", start="01:00", after=["B1"]))) == [PASS]


def test_one_way_says_nothing_of_the_other():
    tight = [turn(name, name=f"{name} home", how="") for name in ("B1", "B4")]
    loose = [turn(name, name=f"{name} out") for name in ("B4", "B1")]
    found = ordered(*tight, *loose)
    assert [(one.verdict, one.step) for one in found] == [(PASS, "B4 home"), (FAIL, "B4 out")]


def test_who_is_never_turned_is_passed_over():
    assert verdicts(ordered(turn("B1"), turn("B3"))) == [PASS]
    assert ordered(turn("B1")) == []


def test_without_orders_nothing_is_asked():
    assert findings(sequence, turn("B1"), turn("B2")) == []
