"""What is tied, carried, plugged and set over a whole outing."""

import pytest
from chores import (
    FAIL,
    NOT_ASKED,
    OTHER,
    PASS,
    SET,
    about,
    begun,
    findings,
    go,
    job,
    out,
    stand,
    undeclared,
    verdicts,
    yard,
)

from reach.checks import burden, custody, plugged, resetting, sockets

ITEMS = {"FR": "lock", "FR-2": "S1", "BG-1": "lock", "BG-2": "lock", "camera": "BG-1"}


def asked(check, *steps, items=None, **more):
    return findings(check, *steps, begin=begun(items=items or ITEMS), **more)


# ---- tied to something -----------------------------------------------------------------


def test_what_goes_from_hand_to_place_is_always_tied():
    steps = (
        job("take", "W1", "pick up BG-1"),
        out("W1"),
        go("W1", "lock", "far"),
        job("leave", "W1", "stow BG-1 to far"),
    )
    found = asked(custody, *steps, items={"BG-1": "lock"})
    assert about(found, "BG-1").verdict is PASS
    assert about(found, "BG-1").step == "take"
    assert [one.about for one in found if one.about[0].startswith("T")] == [
        ("T1",), ("T2",), ("T5",), ("TC",),
    ]  # fmt: skip


@pytest.mark.parametrize("do", ["pick up", "stow", "pass"])
def test_what_is_let_go_of_before_it_is_tied_anew_is_a_fail(do):
    to = {"pick up": {}, "stow": {"to": "far"}, "pass": {"to": "W2"}}[do]
    loose = {"do": do, "items": ["camera"], "tied": False, **to}
    steps = (out("W1"), go("W1", "lock", "far"), job("loose", "W1", loose))
    found = about(asked(custody, *steps, items={"camera": "W1"}), "camera")
    assert (found.verdict, found.step) == (FAIL, "loose")
    assert "camera is tied to nothing from" in found.because
    assert found.fix.endswith("tied = true.")


def test_a_tether_let_go_of_is_told_with_when_it_is_tied_again():
    steps = (out("W1"), job("swap", "W1", "release camera from W1", "attach camera to near"))
    found = about(asked(custody, *steps, items={"camera": "W1"}), "camera")
    assert found.verdict is FAIL
    assert "until" in found.because and "attach camera" in found.because
    assert found.fix == "Attach camera to its new place before it is released from W1."
    right = job("swap", "W1", "attach camera to near", "release camera from W1")
    assert about(asked(custody, out("W1"), right, items={"camera": "W1"}), "camera").low == 0.0


def test_a_second_tether_is_told_and_no_fail():
    twice = job("tie", "W1", "attach camera to near")
    found = about(asked(custody, out("W1"), twice, items={"camera": "W1"}), "camera")
    assert found.verdict is PASS
    assert "to more than one after 'tie'" in found.because


def test_what_is_loose_at_the_start_is_told_so_and_in_the_lock_it_may_be():
    loose = {"in": "near", "tied": False}
    found = about(asked(custody, out("W1"), items={"camera": loose}), "camera")
    assert found.verdict is FAIL
    assert "from the start on" in found.because
    inside = {"in": "lock", "tied": False}
    assert about(asked(custody, out("W1"), items={"camera": inside}), "camera").verdict is PASS


def untied(after=()):
    """W2 lets go of the first tether of a bag to which W1 ties a second one."""
    return (
        out("W1"),
        job("tie", "W1", "attach camera to near"),
        out("W2"),
        job("untie", "W2", "release camera from S1", after=list(after)),
    )


def test_a_tether_that_another_may_let_go_of_first_is_a_fail_and_the_link_mends_it():
    found = about(asked(custody, *untied(), items={"camera": "S1"}), "camera")
    assert (found.verdict, found.step) == (FAIL, "untie")
    assert found.numbers["orders"] == "another order"
    assert found.fix == "Let step 'untie' wait: after = ['tie']."
    mended = about(asked(custody, *untied(["tie"]), items={"camera": "S1"}), "camera")
    assert mended.verdict is PASS


def test_a_reel_let_go_of_without_a_place_is_adrift():
    steps = (out("W2"), job("drop", "W2", "release T2 from W2", "attach T2 to W2"))
    found = about(asked(custody, *steps), "T2")
    assert found.verdict is FAIL
    assert "The reel of T2 is adrift" in found.because
    parked = (out("W2"), job("drop", "W2", "release T2 from W2 to A2"))
    assert about(asked(custody, *parked), "T2").verdict is PASS


def test_custody_is_not_asked_of_what_is_not_along_or_not_declared():
    assert [one for one in asked(custody, out("W1")) if "PT" in one.about] == []
    assert undeclared(custody, job("take", "W1", "pick up BG-1")) == []


# ---- how much one body carries ---------------------------------------------------------


def load(*bags):
    return out("W1"), job("load", "W1", "pick up " + " ".join(bags))


THREE = {"FR": "lock", "BG-1": "lock", "BG-2": "lock", "BG-3": "lock"}


def test_two_bulky_items_are_as_many_as_one_body_carries():
    found = about(asked(burden, *load("FR", "BG-1"), items=THREE), "bulky items")
    assert found.verdict is PASS
    assert (found.numbers["most_at_once"], found.limits[0].value) == (2, 2.0)


def test_a_third_is_a_fail_and_goes_to_who_has_room():
    steps = (*load("FR", "BG-1", "BG-3"), go("W1", "lock", "far"))
    drop = job("drop", "W1", "stow BG-3 to far")
    found = about(asked(burden, *steps, drop, items=THREE), "bulky items")
    assert (found.verdict, found.step) == (FAIL, "load")
    assert "W1 carries 3 bulky items (FR, BG-1, BG-3) where 2 may be" in found.because
    assert found.fix == "Give BG-3 to W2, who carries 0 of 2."


def test_nobody_with_room_is_told_so():
    full = job("full", "W2", "pick up BG-2 FR-2")
    items = {**THREE, "FR-2": "lock"}
    found = about(
        asked(burden, full, *load("FR", "BG-1", "BG-3"), items=items), "W1", "bulky items"
    )
    assert found.verdict is FAIL
    assert found.fix == "Leave BG-3 behind and fetch it later: nobody else has room for it."


def test_what_is_in_a_bag_counts_as_the_bag():
    items = {"BG-1": "lock", "BG-2": "BG-1", "BG-3": "BG-1"}
    assert about(asked(burden, *load("BG-1"), items=items), "bulky items").verdict is PASS


def given(after=()):
    """W2 gives W1 a bag; W1 has put one down before, as written."""
    return (
        out("W1"),
        job("load", "W1", "pick up FR BG-1"),
        job("put down", "W1", "stow BG-1 to near"),
        job("give", "W2", {"do": "pass", "items": ["BG-2"], "to": "W1"}, after=list(after)),
    )


def test_an_order_in_which_too_much_comes_together_is_a_fail_and_the_link_mends_it():
    items = {**THREE, "BG-2": "W2"}
    found = about(asked(burden, *given(), items=items), "W1", "bulky items")
    assert found.verdict is FAIL
    assert "nothing keeps 'give: pass BG-2'" in found.because
    assert "W1 carries 3 bulky items" in found.because
    assert found.fix == "Let step 'give' wait: after = ['put down']."
    mended = about(asked(burden, *given(["put down"]), items=items), "W1", "bulky items")
    assert mended.verdict is PASS


def test_restraints_have_a_limit_of_their_own():
    scene = yard(items={"FR-3": {"is": "stand"}})
    items = {"FR": "lock", "FR-2": "lock", "FR-3": "lock"}
    found = asked(burden, *load("FR", "FR-2", "FR-3"), items=items, scene=scene)
    assert about(found, "W1", "restraints").verdict is FAIL
    assert about(found, "W1", "bulky items").verdict is PASS


def test_burden_is_not_asked_of_who_carries_nothing():
    assert asked(burden, out("W1")) == []
    assert undeclared(burden, job("load", "W1", "pick up BG-1")) == []


# ---- the restraint is there ------------------------------------------------------------


def plug(*more, first="W1"):
    return (
        job("take", first, "pick up FR"),
        out(first),
        go(first, "lock", "far"),
        job("plug", first, "install FR to S2"),
        *more,
    )


def test_a_restraint_that_is_plugged_in_first_may_be_stood_in():
    (found,) = asked(plugged, *plug(stand("W1")))
    assert (found.verdict, found.about) == (PASS, ("W1", "FR", "S2"))


def test_it_may_be_plugged_in_by_the_same_step():
    both = job("plug in", "W1", "install FR to S2", "ingress", where="S2", restraint="FR")
    found = asked(plugged, job("take", "W1", "pick up FR"), out("W1"), both)
    assert verdicts(found) == [PASS]


def test_a_restraint_that_is_still_elsewhere_is_told_where():
    (found,) = asked(plugged, out("W1"), go("W1", "lock", "far"), stand("W1", restraint="FR-2"))
    assert found.verdict is FAIL
    assert "W1 needs FR-2 in S2, where it is not: it is in S1" in found.because
    assert found.fix == "Install FR-2 in S2 before 'W1 in: ingress'."


def test_another_restraint_in_the_socket_is_named():
    (found,) = asked(plugged, out("W1"), stand("W1", where="S1", restraint="FR"))
    assert found.verdict is FAIL
    assert found.fix == "Stand in FR-2, which is in S1."


def test_a_restraint_set_in_a_socket_where_it_is_not_is_a_fail():
    only = job("set", "W1", where="S1", restraint="FR", setting=SET)
    assert verdicts(asked(plugged, out("W1"), only)) == [FAIL]
    right = job("set", "W1", where="S1", restraint="FR-2", setting=SET)
    assert verdicts(asked(plugged, out("W1"), right)) == [PASS]


def test_a_socket_that_another_may_not_have_filled_yet_is_a_fail_and_the_link_mends_it():
    def steps(after=()):
        return *plug(), out("W2"), go("W2", "lock", "far"), stand("W2", after=list(after))

    (found,) = asked(plugged, *steps())
    assert (found.verdict, found.step) == (FAIL, "W2 in")
    assert "nothing keeps 'W2 in: ingress' from being done before 'plug: install FR'" in (
        found.because
    )
    assert found.fix == "Let step 'W2 in' wait: after = ['plug']."
    assert verdicts(asked(plugged, *steps(["plug"]))) == [PASS]


def test_a_restraint_is_not_taken_from_under_somebody():
    def steps(*off, after=()):
        return (
            out("W1"),
            stand("W1", "S1", "FR-2"),
            *off,
            out("W2"),
            job("take", "W2", "remove FR-2", after=list(after)),
        )

    found = about(asked(plugged, *steps()), "W2")
    assert (found.verdict, found.step) == (FAIL, "take")
    assert "W2 takes FR-2 out of its socket while W1 stands in it" in found.because
    off = job("off", "W1", "egress")
    loose = about(asked(plugged, *steps(off)), "W2")
    assert (loose.verdict, loose.fix) == (FAIL, "Let step 'take' wait: after = ['off'].")
    assert about(asked(plugged, *steps(off, after=["off"])), "W2").verdict is PASS


def test_stations_and_kinds_of_restraints_are_not_asked_about():
    assert asked(plugged, out("W1"), stand("W1", where="up")) == []
    scene = yard()
    del scene["items"]
    kind = stand("W1", restraint="stand")
    assert findings(plugged, out("W1"), kind, scene=scene, begin=begun(lines={})) == []
    assert undeclared(plugged, stand("W1")) == []


# ---- one in a socket, one in a restraint -----------------------------------------------


def test_one_restraint_in_a_good_socket_is_kept():
    found = asked(sockets, *plug(), items={"FR": "lock"})
    assert [(one.verdict, one.about) for one in found] == [
        (PASS, ("S2",)),
        (PASS, ("W1", "FR", "S2")),
    ]


def test_a_second_restraint_in_a_socket_is_a_fail():
    found = asked(sockets, *plug(), items={"FR": "lock", "FR-2": "S2"})
    (crowded,) = [one for one in found if one.about == ("S2",)]
    assert (crowded.verdict, crowded.step) == (FAIL, "plug")
    assert "2 restraints are in S2: FR, FR-2 from" in crowded.because
    assert crowded.fix == "Remove FR-2 first."


def test_a_faulty_socket_is_named_with_free_ones():
    steps = (job("take", "W1", "pick up FR"), out("W1"), job("plug", "W1", "install FR to S3"))
    found = about(asked(sockets, *steps, items={"FR": "lock"}), "FR")
    assert (found.verdict, found.step) == (FAIL, "plug")
    assert "which is faulty" in found.because
    assert found.fix == "Use another socket: S1, S2 would be free."


def moved_over(after=()):
    """W2 takes a restraint out of a socket into which W1 puts another, later as written."""
    return (
        job("take", "W1", "pick up FR"),
        out("W2"),
        go("W2", "lock", "far"),
        job("clear", "W2", "remove FR-2"),
        out("W1"),
        go("W1", "lock", "far"),
        job("plug", "W1", "install FR to S2", after=list(after)),
    )


def test_a_socket_that_may_not_be_cleared_yet_is_a_fail_and_the_link_mends_it():
    items = {"FR": "lock", "FR-2": "S2"}
    (found,) = [one for one in asked(sockets, *moved_over(), items=items) if one.about == ("S2",)]
    assert found.verdict is FAIL
    assert found.fix == "Let step 'plug' wait: after = ['clear']."
    assert set(verdicts(asked(sockets, *moved_over(["clear"]), items=items))) == {PASS}


def both(*between, after=()):
    return (
        out("W1"),
        stand("W1", "S1", "FR-2"),
        *between,
        out("W2"),
        stand("W2", "S1", "FR-2", after=list(after)),
    )


def test_two_workers_in_one_restraint_are_a_fail():
    (found,) = [one for one in asked(sockets, *both()) if len(one.about) == 3]
    assert (found.verdict, found.step) == (FAIL, "W2 in")
    assert "W1 and W2 both stand in FR-2" in found.because
    assert found.fix == "Let W1 get out of FR-2 before W2 gets in."


def test_one_after_the_other_needs_a_link():
    off = job("off", "W1", "egress")
    (found,) = [one for one in asked(sockets, *both(off)) if len(one.about) == 3]
    assert found.verdict is FAIL
    assert found.fix == "Let step 'W2 in' wait: after = ['off']."
    assert set(verdicts(asked(sockets, *both(off, after=["off"])))) == {PASS}


def test_sockets_are_not_asked_about_where_no_restraint_is():
    assert asked(sockets, out("W1"), items={"camera": "W1"}) == []
    assert undeclared(sockets, job("plug", "W1", "install FR to S2")) == []


# ---- time to set it --------------------------------------------------------------------


def setting(*settings, **more):
    return [
        job(f"set {i}", "W1", where="S1", restraint="FR-2", setting=one, **more)
        for i, one in enumerate(settings)
    ]


def test_the_time_that_is_left_after_setting_is_the_margin():
    (found,) = asked(resetting, *setting(SET, duration="3 min"))
    assert (found.verdict, found.low, found.high, found.unit) == (PASS, 120.0, 120.0, "s")


def test_a_step_just_as_long_as_setting_takes_passes_and_a_shorter_one_fails():
    assert verdicts(asked(resetting, *setting(SET, duration="60 s"))) == [PASS]
    (found,) = asked(resetting, *setting(SET, duration="30 s"))
    assert (found.verdict, found.low) == (FAIL, -30.0)
    assert found.fix == "Give step 'set 0' 0.5 min more."


def test_the_same_setting_again_takes_no_time():
    found = asked(resetting, *setting(SET, SET, OTHER, SET, duration="2 min"))
    assert [one.step for one in found] == ["set 0", "set 2", "set 3"]
    assert "from clocking" in found[1].because


def test_how_it_was_left_set_counts():
    left = begun(items=ITEMS, settings={"FR-2": OTHER})
    (found,) = findings(resetting, *setting(OTHER, SET, duration="2 min"), begin=left)
    assert found.step == "set 1"
    part = begun(items=ITEMS, settings={"FR-2": {"pitch": "30 deg"}})
    assert len(findings(resetting, *setting(OTHER, duration="2 min"), begin=part)) == 1


def test_a_duration_between_two_is_open_where_only_the_longer_one_is_enough():
    (found,) = asked(resetting, *setting(SET, between=["30 s", "90 s"]))
    assert (found.low, found.high) == (-30.0, 30.0)


def test_setting_is_not_asked_where_no_duration_or_no_setting_is_known():
    assert verdicts(asked(resetting, *setting(SET, duration=None))) == [NOT_ASKED]
    assert asked(resetting, out("W1"), stand("W1", "S1", "FR-2")) == []
