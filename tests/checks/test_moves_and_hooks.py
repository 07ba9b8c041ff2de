"""A move that names an anchor or a line which another lane hooks on, as written, before it."""

from errands import asked, step, yard

from reach.checks import locked, present
from reach.finding import Verdict

BEGIN = {
    "workers": {"W": "RB", "V": "RB"},
    "items": {},
    "lines": {"T1": {"hook": "A0", "reel": "W"}},
}
HOOK = {"do": "attach", "what": "T1", "to": "A1", "checked": True}


def hook(**more):
    return step("hook", HOOK, lane="V", start=0.0, **more)


def go(**more):
    return step(
        "go", {"do": "translate", "to": "RC", "tether": "T1", "anchor": "A1"}, start="00:20", **more
    )


def of_line(check, *steps):
    return [one for one in asked(check, yard(), *steps, begin=BEGIN) if "T1" in one.about]


def test_whoever_moves_first_hooks_on_what_nobody_checks():
    """As written V checked the hook at A1 before W moves; nothing ties the two together."""
    failed = [one for one in of_line(locked, hook(), go()) if one.verdict is Verdict.FAIL]
    (one,) = failed
    assert (one.step, one.about) == ("go", ("W", "T1", "A1"))
    assert one.numbers["orders"] == "another order"
    assert one.fix == "Let step 'go' wait: after = ['hook']."


def test_what_another_lane_hooks_on_before_in_every_order_is_there():
    assert {str(one.verdict) for one in of_line(locked, hook(), go(after=["hook"]))} == {"pass"}


def test_a_hook_that_a_move_may_have_to_take_along_must_be_at_hand():
    """In the other order the hook is still at A0, five metres from where W moves off."""
    (one,) = [one for one in of_line(present, hook(), go()) if one.step == "go"]
    assert one.verdict is Verdict.FAIL
    assert one.numbers["orders"] == "another order"
    found = of_line(present, hook(), go(after=["hook"]))
    assert [str(one.verdict) for one in found if one.step == "go"] == ["pass"]


def test_of_a_hook_that_no_other_lane_moves_nothing_more_is_asked():
    begin = {**BEGIN, "lines": {"T1": {"hook": "A1", "reel": "W"}}}
    found = asked(locked, yard(), go(), begin=begin)
    assert [one for one in found if one.step == "go"] == []
