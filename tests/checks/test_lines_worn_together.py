"""Of several lines on one suit each is looked at: the worst answers, and is told by name.

T1 leads from A0, near the hatch; T2 from A4.  Of the two T1 is the one put on last.
"""

from __future__ import annotations

import math

import chores
import pytest
from bench import resolved
from moves import ALONG, findings_of, move, the_move, wall
from test_outing_checks import BURR, TWO, crossed, last, pair

from reach.checks import anchor, edge, hook, line_home, rescue, sag, swing, tether
from reach.finding import Verdict
from reach.kept.noting import altered

PASS, FAIL, OPEN, NOT_ASKED = Verdict.PASS, Verdict.FAIL, Verdict.OPEN, Verdict.NOT_ASKED


def both(second=None, **changes):
    """The wall, with T2 on the suit as well."""
    data = wall(**changes)
    data["tethers"]["T2"] = {**data["tethers"]["T2"], "worker": "R", **(second or {})}
    return data


def far_off(data):
    """T2 leads from an anchor to which no rails lead; its line is long enough straight."""
    data["anchors"]["A9"] = {"at": [9.0, 0.1, 4.0], "rating": "2 kN"}
    data["tethers"]["T2"] |= {"anchor": "A9", "length": 40.0}
    return data


# ---- what is worn ----------------------------------------------------------------------


def test_all_lines_that_the_scene_puts_on_a_suit_are_worn():
    (situation,) = resolved(both(), move())[1]
    assert [one.tether for one in situation.worn] == ["T1", "T2"]
    assert [one.tether for one in situation.worn_by("R")] == ["T1", "T2"]
    assert situation.worn_by("nobody") == ()


def test_a_line_that_somebody_else_takes_is_worn_no_longer():
    data = both(workers=TWO["workers"])
    taken = move("RB@1.0", start="RA@1.0", name="first", lane="L", tether="T2")
    _, situations = resolved(data, taken, move())
    assert [one.tether for one in situations[-1].worn] == ["T1"]
    assert [one.tether for one in situations[-1].worn_by("L")] == ["T2"]


def test_of_two_lines_the_one_put_on_last_is_worn_no_longer_once_somebody_takes_it():
    """It was worn on, and led home."""
    data = both(workers=TWO["workers"])
    taken = move("RB@1.0", start="RA@1.0", name="first", lane="L", tether="T1")
    _, situations = resolved(data, taken, move())
    assert [one.tether for one in situations[-1].worn] == ["T2"]
    lines = {"T2": {"hook": "A0", "reel": "W2"}, "T5": {"hook": "A0", "reel": "W2"}}
    for take in (
        {"do": "attach", "what": "T2", "to": "W1"},
        {"do": "translate", "to": "far", "tether": "T2"},
    ):
        _, outing = chores.resolved(
            chores.job("take", "W1", take), begin=chores.begun(lines=lines, workers={"W1": "S2"})
        )
        worn = [outing.finally_[f"line worn by {one}"] for one in ("W1", "W2")]
        assert worn == ["T2", "T5"]


@pytest.mark.parametrize("is_declared", [True, False])
def test_a_line_on_the_suit_that_a_move_names_takes_none_off(is_declared):
    """The one put on last was lost from sight, and left behind where the move begins."""
    if is_declared:
        steps = (
            chores.out("W2"), chores.go("W2", "lock", "far"),
            chores.job("both", "W2", "attach T5 to W2 checked"),
            chores.job("back", "W2", {"do": "translate", "to": "lock", "tether": "T2"}),
            chores.go("W2", "lock", "far", "again"),
        )  # fmt: skip
        back, again = chores.resolved(*steps)[0].asked[-2:]
    else:
        first = move("RB@1.0", tether="T2", name="back")
        _, (back, again) = resolved(both(), first, move("RA@1.0", "RB@1.0", name="again"))
    other = "T5" if is_declared else "T1"
    assert {one.tether for one in back.worn} == {"T2", other}
    assert {one.tether for one in again.worn} == {"T2", other}
    assert back.trail == again.trail == ()


def worn_in(*actions):
    """W2 comes out on T2, hooks on T5 as well and goes back: the lines of the last move."""
    steps = (
        chores.out("W2"), chores.go("W2", "lock", "far"), chores.job("both", "W2", *actions),
        chores.go("W2", "far", "lock", "back"),
    )  # fmt: skip
    return chores.resolved(*steps)[0].asked[-1].worn


def test_a_line_hooked_on_beside_another_is_worn_with_it():
    assert [one.tether for one in worn_in("attach T5 to W2 checked")] == ["T5", "T2"]


def test_a_line_worn_without_an_anchor_hides_no_other_one():
    """The one put on last is hooked to nothing: the other still runs."""
    loose = ("attach T5 to W2 checked", "release T5 from A5")
    assert [one.tether for one in worn_in(*loose)] == ["T2"]


# ---- long enough -----------------------------------------------------------------------


@pytest.mark.parametrize("short", ["T1", "T2"])
def test_whichever_line_is_too_short_fails_by_name(short):
    data = both()
    data["tethers"][short]["length"] = 2.0
    found = the_move("tether", data)
    # As if it were the only one.
    only = wall(tethers={"T1": {"length": 2.0, "anchor": data["tethers"][short]["anchor"]}})
    alone = the_move("tether", only)
    assert found.verdict is alone.verdict is FAIL
    assert (found.low, found.high) == (alone.low, alone.high)
    assert found.because == alone.because.replace("T1", short)
    assert found.numbers["line"] == short
    assert set(found.numbers["lines"]) == {"T1", "T2"}


def test_two_lines_that_are_long_enough_pass_by_the_one_with_less_left():
    data = both({"length": 9.0})
    found = the_move("tether", data)
    first = the_move("tether", wall())
    anchors = {"A0": data["anchors"]["A4"]}
    second = the_move("tether", wall(tethers={"T1": {"length": 9.0}}, anchors=anchors))
    assert [one.verdict for one in (found, first, second)] == [PASS] * 3
    assert (found.low, found.high) == (min(first.low, second.low), min(first.high, second.high))


def test_of_two_that_are_too_short_both_are_told():
    data = both({"length": 2.0})
    data["tethers"]["T1"]["length"] = 2.0
    found = the_move("tether", data)
    assert found.verdict is FAIL
    assert "T1 from A0" in found.because and "T2 from A4" in found.because


def test_a_line_led_nobody_knows_how_is_open_beside_one_that_is_long_enough():
    found = the_move("tether", far_off(both()))
    assert found.verdict is OPEN
    assert found.low == -math.inf
    assert "Of T2 it is not known. No rails lead all the way from A9." in found.because


def test_a_line_led_nobody_knows_how_takes_no_fail_from_the_other():
    data = far_off(both())
    data["tethers"]["T1"]["length"] = 2.0
    found = the_move("tether", data)
    assert found.verdict is FAIL and "Of T2 it is not known." in found.because
    data["tethers"]["T1"]["length"], data["tethers"]["T2"]["length"] = 12.0, 1.5
    found = the_move("tether", data)  # too short even straight
    assert found.verdict is FAIL and "T2 from A9" in found.because


def test_of_two_lines_led_nobody_knows_how_nothing_is_asked_and_both_are_told():
    data = far_off(both())
    data["tethers"]["T1"] |= {"anchor": "A9", "length": 40.0}
    found = the_move("tether", data)
    assert found.verdict is NOT_ASKED
    assert "Of T1 it" in found.because and "Of T2 it" in found.because


def test_no_line_that_is_worn_is_offered_instead_of_one_that_is_too_short():
    """T2 at A4 is long enough and at hand on the way; worn beside T1 it is no change to make."""
    assert "Change to T2 at A4" in the_move("tether", wall(tethers={"T1": {"length": 6.0}})).fix
    data = both()
    data["tethers"]["T1"]["length"] = 6.0
    found = the_move("tether", data)
    assert found.verdict is FAIL and "T2" not in found.fix


# ---- edges, slack, drift ---------------------------------------------------------------

BY_A7 = {"A4": {"at": [7.8, 0.1, 0.0], "rating": "2 kN"}}
"""T2 leads from beyond the end of the last rail: it runs where no hand goes."""


def burr(at):
    return {"burr": {**BURR, "at": at}}


def test_a_second_line_over_an_edge_fails_by_name():
    at = [7.3, 0.1, 0.02]
    alone = the_move("edge", wall(anchors=BY_A7, hazards=burr(at)))
    assert alone.verdict is PASS
    found = the_move("edge", both(anchors=BY_A7, hazards=burr(at)))
    assert found.verdict is FAIL
    assert found.numbers["what"] == "line T2"
    assert "The line T2 of R" in found.because and "lead the line T2" in found.fix


def test_a_line_that_runs_nobody_knows_where_does_not_pass_an_edge():
    """It passed by the glove alone, even with one line."""
    at = [3.5, 0.1, 0.5]
    one = wall(hazards=burr(at))
    assert the_move("edge", one).verdict is PASS
    found = the_move("edge", far_off(both(hazards=burr(at))))
    assert (found.verdict, found.low) == (OPEN, -math.inf)
    assert found.because.endswith("Where T2 runs is not known.")
    one["anchors"]["A9"] = {"at": [9.0, 0.1, 4.0], "rating": "2 kN"}
    one["tethers"]["T1"] |= {"anchor": "A9", "length": 40.0}
    assert the_move("edge", one).verdict is OPEN
    near = far_off(both(hazards=burr([3.5, 0.1, 0.08])))
    assert the_move("edge", near).verdict is OPEN
    assert the_move("edge", near, ALONG).verdict is FAIL  # the glove, whatever the line does


LAMP = {"lamp": {"kind": "no-touch", "box": [0.1, 0.1, 0.1], "at": [3.5, 1.5, 0.0]}}


@pytest.mark.parametrize("module", [tether, edge, sag, swing, anchor, hook, line_home])
def test_a_line_is_asked_about_where_the_one_put_on_last_is_hooked_to_nothing(module):
    """T9, put on last, has no anchor: nothing was asked of T1, which still runs."""
    data = wall(hazards={**LAMP, **burr([3.5, 0.1, 0.3])})
    site, (situation,) = resolved(data, move())
    beside = altered(situation, lines={}, more={"R": (situation.line,)})
    (wanted,), (found,) = (module.find(site, (one,)) for one in (situation, beside))
    assert found.verdict is not NOT_ASKED
    assert (found.low, found.high, found.because) == (wanted.low, wanted.high, wanted.because)
    bare = altered(situation, lines={}, more={})
    if module is not edge:  # the glove is asked about all the same
        assert module.find(site, (bare,))[0].verdict is NOT_ASKED


def test_the_whole_swing_is_that_of_each_line():
    far = {"kind": "no-touch", "box": [0.1, 0.1, 0.1], "at": [4.0, 14.0, 0.0]}
    short = {"T1": {"length": 9.0}}
    alone = the_move("swing", wall(hazards={"far": far}, tethers=short))
    assert alone.numbers["in the whole swing"] == []
    found = the_move("swing", both({"length": 20.0}, hazards={"far": far}, tethers=short))
    assert found.numbers["in the whole swing"] == ["far"]


# ---- anchors and hooks -----------------------------------------------------------------


@pytest.mark.parametrize("weak", ["A0", "A4"])
def test_the_weakest_anchor_of_all_lines_worn_answers(weak):
    found = the_move("anchor", both(anchors={weak: {"rating": "300 N"}}))
    assert found.verdict is FAIL
    assert found.low == found.high == pytest.approx(300.0 - 75 * 4.4482216152605)
    assert found.because.startswith(f"{weak} holds ")
    assert found.fix.endswith({"A0": "A4.", "A4": "A0."}[weak])


def test_an_anchor_without_a_rating_is_open_beside_one_that_bears():
    found = the_move("anchor", both(anchors={"A4": {"rating": None}}))
    assert found.verdict is OPEN
    assert "A4, which T2 leads from, gives no rating." in found.because


def test_lines_are_asked_about_again_when_another_is_put_on():
    data = wall()
    change = move("RC@1.5", start="RC@1.0", tether="T2", name="change")
    steps = (move(), change, move("RC@1.0", start="RC@1.5", name="on"))
    found = findings_of(data, *steps, only=(anchor.NAME,))
    assert [one.step for one in found] == ["go", "change"]


def test_at_the_first_move_each_hook_at_hand_is_looked_at():
    assert the_move("hook", both()).because.count("hook of T1") == 1  # A4 is far from the hatch
    buried = both(anchors={"A4": {"at": [0.2, -0.2, 0.1]}})
    found = the_move("hook", buried)
    assert found.verdict is FAIL and "the hook of T2 at A4" in found.because
    assert the_move("hook", wall(anchors={"A4": {"at": [0.2, -0.2, 0.1]}})).verdict is PASS


# ---- lines of others -------------------------------------------------------------------


def test_a_second_line_that_crosses_is_told_by_its_own_name():
    """L's line hangs over RB; R goes from RC on, so T1 crosses nothing new and T2 does."""
    data = wall(**TWO, handrails={"RX": {"from": [3.5, 0.1, 0.3], "to": [3.5, 0.1, 1.5]}})
    data["handrails"]["RX"]["out"] = [0, 1, 0]
    data["handrails"]["RY"] = {**data["handrails"]["RX"], "from": [3.5, 0.1, -0.3]}
    data["handrails"]["RY"]["to"] = [3.5, 0.1, -1.5]
    data["anchors"] |= {
        "A4": {"at": [3.5, 0.1, 1.5], "rating": "2 kN"},
        "A7": {"at": [6.9, 0.1, 0.1], "rating": "2 kN"},
    }
    data["tethers"]["T2"] = {"length": 12.0, "anchor": "A7", "worker": "R"}
    first = move("RY@1.0", start="RX@1.0", name="first", lane="L")
    way = move("RA@1.0", start="RC@1.0", route=["RC", "RB", "RA"])
    found = last("crossing", data, first, way)
    assert (found.low, found.high) == (-1.0, -1.0)
    assert found.because.startswith("T2 of R ")
    assert found.because.endswith("comes to cross T3 of L.")
    declared = last("crossing", data, first, {**way, "actions": [{**way["actions"][0], "crosses": [
        "T3"]}]})  # fmt: skip
    assert declared.verdict is PASS
    del data["tethers"]["T2"]
    assert last("crossing", data, first, way).verdict is PASS


def test_two_lines_that_cross_nothing_are_both_told():
    data = both(**{"workers": TWO["workers"]})
    data["tethers"]["T3"] = {**TWO["tethers"]["T3"]}
    found = last("crossing", data, *pair(at="RA@0.5"))
    assert found.verdict is PASS
    assert found.because.startswith("T1 and T2 of R ") and "come to cross none" in found.because


def test_an_own_line_that_runs_nobody_knows_where_may_cross_whatever_is_not_declared():
    data = far_off(both(**{"workers": TWO["workers"]}))
    data["tethers"]["T3"] = {**TWO["tethers"]["T3"]}
    first, on = pair(at="RA@0.5")
    found = last("crossing", data, first, on)
    assert (found.verdict, found.low, found.high) == (OPEN, -1.0, 0.0)
    assert found.because.endswith("Where T2 of R runs is not known.")
    declared = {**on, "actions": [{**on["actions"][0], "crosses": ["T3"]}]}
    assert last("crossing", data, first, declared).verdict is PASS


def test_one_line_still_crosses_as_it_did():
    assert crossed("RY@1.0").because.startswith("T1 of R ")


# ---- the way home ----------------------------------------------------------------------


def test_lines_that_do_not_serve_home_are_a_swap_each_at_most_and_none_at_least():
    """T1 serves to the hatch, T2 does not; L's line does not either."""
    data = both(**{"workers": TWO["workers"]})
    data["tethers"]["T3"] = {**TWO["tethers"]["T3"]}
    one = last(rescue.NAME, wall(**TWO), *pair())
    found = last(rescue.NAME, data, *pair())
    swap = 90.0
    assert found.numbers["swaps"] == one.numbers["swaps"] + 1 == 2
    assert (found.low, found.high) == (pytest.approx(one.low - swap), pytest.approx(one.high))
    assert "1 to 2 swaps" in found.because


def test_where_no_line_serves_one_swap_is_needed_at_least():
    data = both(**{"workers": TWO["workers"]})
    data["tethers"]["T3"] = {**TWO["tethers"]["T3"]}
    data["tethers"]["T1"]["anchor"] = "A4"
    found = last(rescue.NAME, data, *pair())
    assert found.numbers["swaps"] == 3
    assert "2 to 3 swaps" in found.because


def test_who_is_where_they_were_with_another_line_on_is_asked_about_again():
    data = both(**{"workers": TWO["workers"]})
    data["tethers"]["T3"] = {**TWO["tethers"]["T3"]}
    site, situations = resolved(data, *pair())
    beside = altered(situations[-1], more={})
    asked = [rescue._question(site, one) for one in (situations[-1], beside)]
    assert asked[0] != asked[1] == rescue._question(site, altered(beside, more={"R": ()}))
