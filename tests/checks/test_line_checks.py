"""Safety lines over a whole outing: always hooked, to the right anchor, locked, where they are."""

import pytest
from chores import (
    FAIL,
    LINES,
    NOT_ASKED,
    PASS,
    about,
    begun,
    findings,
    go,
    job,
    out,
    undeclared,
    verdicts,
    yard,
)

from reach.checks import anchored, hooked, locked, present, tether_riding

BACK = {"do": "ingress", "to": "lock"}


def swap(*actions, lane="W2", **more):
    """W2 comes out, goes to the far end and changes lines there."""
    return out(lane), go(lane, "lock", "far"), job("swap", lane, *actions, **more)


RIGHT = ("attach T5 to W2 checked", "release T2 from W2 to A5")
WRONG = ("release T2 from W2 to A5", "attach T5 to W2 checked")

# ---- always on a line ------------------------------------------------------------------


def test_a_line_changed_make_before_break_is_kept():
    found = findings(hooked, *swap(*RIGHT))
    assert verdicts(found) == [PASS]
    assert found[0].because.endswith("in every order.")


def test_the_old_line_let_go_first_is_a_fail_with_the_new_one_named():
    (found,) = findings(hooked, *swap(*WRONG, start="03:00", duration="10 min"))
    assert (found.verdict, found.step, found.low, found.high) == (FAIL, "swap", -1.0, -1.0)
    assert found.fix == "Attach T5 and check it locked before T2 is released."
    assert "from 03:05 ('swap: release T2') until 03:10 ('swap: attach T5')" in found.because


def test_each_time_without_a_line_is_told():
    found = findings(
        hooked,
        *swap(*WRONG),
        job("again", "W2", "release T5 from W2 to A5", "attach T2 to W2"),
        job("off", "W2", "release T2 from W2 to A5"),
    )
    assert [one.step for one in found] == ["swap", "again", "off"]
    assert "on." in found[-1].because


def test_who_comes_out_before_a_line_is_on_is_told_so():
    lines = {**LINES, "T2": {"reel": "W2"}}
    egress = job("out", "W2", "egress from lock", "attach T2 to A2 checked")
    (found,) = findings(hooked, egress, begin=begun(lines=lines))
    assert found.verdict is FAIL
    assert found.fix == "Attach T2 to W2 and to an anchor before W2 comes out of the lock."
    mended = job("out", "W2", "attach T2 to A2 checked", "egress from lock")
    assert verdicts(findings(hooked, mended, begin=begun(lines=lines))) == [PASS]


def test_inside_the_lock_no_line_is_needed():
    steps = (out("W2"), job("in", "W2", BACK, "release T2 from W2 to A2"))
    assert verdicts(findings(hooked, *steps)) == [PASS]


def tied_up(after=()):
    """W1 lets go of the hook of the line that W2 still wears, at the lock."""
    return (
        out("W1"),
        *swap(*RIGHT),
        job("tidy", "W1", "release T2 from A2 to A1", "release T2 from A1", after=after),
    )


def test_another_order_that_takes_the_line_away_is_a_fail_and_the_link_mends_it():
    (found,) = [one for one in findings(hooked, *tied_up()) if one.about == ("W2",)]
    assert found.verdict is FAIL
    assert "nothing keeps 'tidy: release T2 (2)'" in found.because
    assert found.fix == "Let step 'tidy' wait: after = ['swap']."
    mended = findings(hooked, *tied_up(after=["swap"]))
    assert verdicts(mended) == [PASS, PASS]


def test_hooks_are_not_asked_about_where_nothing_is_said_of_the_begin():
    assert undeclared(hooked, out("W2")) == []
    assert findings(hooked, out("W2"), begin=begun(lines={})) == []


# ---- the right anchor ------------------------------------------------------------------


def ride(*actions, after=("board",), **more):
    """W2 goes to the far end and gets on to the Arm, which then moves."""
    return (
        out("W2"),
        go("W2", "lock", "far"),
        job("board", "W2", "ingress", *actions, where="up"),
        job("move", "CO", "move crane to out", after=list(after), **more),
    )


CHANGE = ("attach TC to W2 checked", "release T2 from W2 to A5")


def test_a_line_hooked_to_the_tip_may_ride():
    (found,) = findings(anchored, *ride(*CHANGE))
    assert found.verdict is PASS
    assert (found.step, found.about) == ("move", ("W2", "Arm", "TC"))
    assert "W2 rides Arm on TC hooked to AT" in found.because


def test_a_line_hooked_to_the_structure_may_not_and_what_to_change_is_named():
    (found,) = findings(anchored, *ride())
    assert found.verdict is FAIL
    assert (found.step, found.about) == ("move", ("W2", "Arm", "T2"))
    assert found.fix == (
        "In step 'board' attach TC on AT, then release T2 and park its reel at A5."
    )
    assert found.numbers["cause"] == "W2 rides Arm on T2, which is hooked to A2."


def test_both_lines_worn_are_one_too_many():
    (found,) = findings(anchored, *ride("attach TC to W2 checked"))
    assert found.verdict is FAIL


def test_a_ride_is_told_once_however_often_the_crane_moves():
    back = job("back", "CO", "move crane to up")
    (found,) = findings(anchored, *ride(), back)
    assert found.step == "move"
    off = job("off", "W2", "egress", after=["back"])
    walk = go("W2", "up", "far", "walk")
    again = job("board again", "W2", "ingress", where="up")
    more = job("again", "CO", "move crane to out", after=["board again"])
    found = findings(anchored, *ride(), back, off, walk, again, more)
    assert [one.step for one in found if one.verdict is FAIL] == ["move", "again"]


def test_a_crane_that_may_move_before_the_line_is_changed_is_a_fail():
    steps = (
        out("W2"),
        go("W2", "lock", "far"),
        job("board", "W2", "ingress", where="up"),
        job("change", "W2", *CHANGE),
    )
    loose = job("move", "CO", "move crane to out", after=["board"])
    (found,) = findings(anchored, *steps, loose)
    assert found.verdict is FAIL
    assert "W2 rides Arm on T2 hooked to A2" in found.because
    assert "nothing keeps 'move: move crane out'" in found.because
    assert found.fix == "Let step 'move' wait: after = ['change']."
    waits = job("move", "CO", "move crane to out", after=["change"])
    assert verdicts(findings(anchored, *steps, waits)) == [PASS]


def test_off_the_crane_no_line_may_be_hooked_to_it():
    steps = (
        *swap("attach TC to W2 checked", "release T2 from W2 to A5"),
        job("move", "CO", "move crane to out", after=["swap"]),
    )
    (found,) = findings(anchored, *steps)
    assert found.verdict is FAIL
    assert "Arm moves while W2 is on TC hooked to AT" in found.because


def test_an_anchor_on_a_payload_is_wrong_while_it_moves():
    scene = yard(anchors={"AP": {"in": "crate", "at": [0.2, 0.0, 0.0], "rating": "2 kN"}})
    lines = {**LINES, "T2": {"hook": "AP", "reel": "W2"}}
    carry = job("carry", "CO", {"do": "move crane", "payload": "crate", "to": "right"})
    (found,) = findings(anchored, out("W2"), carry, scene=scene, begin=begun(lines=lines))
    assert found.verdict is FAIL
    assert "crate moves while W2 is on T2 hooked to AP" in found.because
    (kept,) = findings(
        anchored,
        out("W2"),
        job("re-hook", "W2", "release T2 from AP to A2"),
        {**carry, "after": ["re-hook"]},
        scene=scene,
        begin=begun(lines=lines),
    )
    assert kept.verdict is PASS


def test_an_anchor_without_a_rating_is_not_known_to_be_one():
    scene = yard()
    del scene["anchors"]["A2"]["rating"]
    found = about(findings(anchored, *ride(*CHANGE), scene=scene), "A2")
    assert found.verdict is NOT_ASKED
    assert "A2 gives no rating" in found.because


def test_anchors_are_not_asked_about_without_rides_or_begin():
    assert findings(anchored, out("W2")) == []
    assert undeclared(anchored, out("W2")) == []


# ---- long enough on the ride -----------------------------------------------------------


def test_a_line_too_short_for_where_the_crane_goes_fails_by_its_straight_length():
    (found,) = findings(tether_riding, *ride())
    assert found.verdict is FAIL
    # From A2 at (0.5, 0.5, 0) to the hips above (13, 1, 0); 11 m of 12 may be used.
    flat = (12.5**2 + 0.5**2) ** 0.5
    assert flat < found.numbers["straight"] < flat + 0.1
    assert found.low == found.high == pytest.approx(11.0 - found.numbers["straight"])
    assert found.numbers["cause"] == findings(anchored, *ride())[0].numbers["cause"]


def test_a_line_that_is_long_enough_straight_proves_nothing():
    (found,) = findings(tether_riding, *ride(), scene=yard(tethers={"T2": {"length": 20.0}}))
    assert found.verdict is NOT_ASKED


def test_a_line_hooked_to_the_tip_is_not_asked_for_its_length():
    assert findings(tether_riding, *ride(*CHANGE)) == []


# ---- locked ----------------------------------------------------------------------------


def test_each_end_that_is_hooked_on_must_be_checked():
    found = findings(locked, *swap("attach T5 to W2", "release T2 from W2 to A5"))
    assert [(one.verdict, one.about) for one in found] == [(FAIL, ("W2", "T5", "W2"))]
    assert found[0].fix.startswith("Check the reel of T5 at W2 closed and locked")
    assert verdicts(findings(locked, *swap(*RIGHT))) == [PASS]


def test_a_line_taken_on_by_a_move_was_checked_by_nobody():
    move = {"do": "translate", "from": "far", "to": "near", "tether": "T5"}
    steps = (out("W2"), go("W2", "lock", "far"), job("home", "W2", move, route=["far", "near"]))
    (found,) = findings(locked, *steps)
    assert found.verdict is FAIL
    assert "by an action of its own" in found.fix


def test_nothing_hooked_on_is_not_asked():
    assert findings(locked, out("W2")) == []
    assert undeclared(locked, job("hook", "W2", "attach T2 to A2")) == []


# ---- ends at hand ----------------------------------------------------------------------


def ends(*steps, **more):
    return [one for one in findings(present, *steps, **more) if "of T" in one.numbers["why"]]


def test_a_reel_is_taken_and_parked_where_the_worker_is():
    assert verdicts(ends(*swap(*RIGHT))) == [PASS, PASS]


def test_a_reel_that_was_parked_elsewhere_is_not_at_hand():
    found = ends(out("W2"), job("take", "W2", "attach T5 to W2 checked"))
    assert verdicts(found) == [FAIL]
    assert "The reel of T5 is not at hand of W2 at lock: it is at A5 from the start" in (
        found[0].because
    )
    assert "at A5" in found[0].fix


def test_a_reel_that_nothing_places_is_said_to_be_in_the_lock_still():
    lines = {line: ends_of for line, ends_of in LINES.items() if line != "T5"}
    take = job("take", "W2", "attach T5 to W2 checked")
    (found,) = ends(take, begin=begun(lines=lines, workers={"W2": "near"}))
    assert found.verdict is FAIL
    assert found.because.endswith("it was not taken out of the lock.")
    assert found.fix.endswith("or say in begin.lines where it is.")


def test_a_hook_is_moved_by_who_stands_at_both_anchors_only():
    near = job("hook", "W1", "release T1 from A1 to A2")
    assert verdicts(ends(out("W1"), near)) == [PASS]
    far = job("hook", "W1", "release T1 from A1 to A5")
    (found,) = ends(out("W1"), far)
    assert found.verdict is FAIL
    assert "takes the hook of T1 to A5, which is not at hand" in found.because
    assert found.fix == "Go to A5 before 'hook: release T1'."


def test_a_line_in_the_lock_is_taken_on_there_only():
    lines = {**LINES, "T2": {}}
    begin = begun(lines=lines)
    both = ("attach T2 to W2 checked", "attach T2 to A2 checked")
    assert verdicts(ends(job("on", "W2", *both), begin=begin)) == [PASS, PASS]
    late = (out("W2"), go("W2", "lock", "near"), job("on", "W2", *both))
    assert verdicts(ends(*late, begin=begin))[0] is FAIL


def test_a_reel_that_another_may_park_later_is_a_fail_and_the_link_mends_it():
    def steps(after=()):
        return (
            out("W1"),
            go("W1", "lock", "far", "W1 there"),
            job("park", "W1", "attach T5 to W1 checked", "release T1 from W1 to A5"),
            out("W2"),
            go("W2", "lock", "far", "W2 there"),
            job("take", "W2", "attach T1 to W2 checked", after=list(after)),
        )

    found = about(ends(*steps()), "W2")
    assert found.verdict is FAIL
    assert "nothing keeps 'take: attach T1' from being done before" in found.because
    # Once W1 is there, W2 can take it from them or from where they parked it.
    assert found.fix == "Let step 'take' wait: after = ['W1 there']."
    assert about(ends(*steps(["W1 there"])), "W2").verdict is PASS


def test_a_reel_taken_from_another_needs_them_near():
    def steps(to):
        return (
            out("W1"),
            go("W1", "lock", to, "W1 there"),
            out("W2"),
            go("W2", "lock", "far", "W2 there"),
            job("take", "W2", "attach T1 to W2 checked", after=["W1 there"]),
        )

    assert verdicts(ends(*steps("far"))) == [PASS]
    assert verdicts(ends(*steps("near"))) == [FAIL]


def test_the_end_missing_after_a_wrong_ride_says_what_it_comes_from():
    steps = (
        *ride(),
        job("back", "CO", "move crane to up"),
        job("off", "W2", "attach T5 to W2 checked", "release T2 from W2 to A5", after=["back"]),
        go("W2", "up", "near", "home"),
        job("last", "W2", "attach T2 to W2 checked"),
    )
    found = [one for one in ends(*steps) if one.step == "last"]
    assert verdicts(found) == [FAIL]
    assert found[0].numbers["cause"] == "W2 rides Arm on T2, which is hooked to A2."
