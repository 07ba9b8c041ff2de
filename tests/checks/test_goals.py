"""What something is put at, and where a worker begins to work, must be at hand."""

from errands import PACKED, asked, put, step, verdicts, yard

from reach.checks import present

AT = {
    "workers": {"W": "RA", "V": "RC"},
    "items": {**PACKED, "D1": "W", "FR": "W"},
    "lines": {"T1": {"hook": "A0", "reel": "W"}, "T2": {"hook": "A1", "reel": "V"}},
}


def wrong(*steps, begin=AT, data=None):
    """Why and to what, for each fail."""
    found = asked(present, data or yard(), *steps, begin=begin)
    return [(one.numbers["why"], one.about[1]) for one in found if one.low < 0.0]


def test_a_thing_is_stowed_tied_and_plugged_in_only_where_the_worker_is():
    assert wrong(step("a", put("RC", "D1"))) == [("stows D1 there", "RC")]
    assert wrong(step("a", {"do": "attach", "what": "D1", "to": "RC"})) == [("ties D1 there", "RC")]
    plug = {"do": "install", "item": "FR"}
    assert wrong(step("a", {**plug, "to": "SK2"})) == [("installs FR there", "SK2")]
    near = ({"do": "attach", "what": "D1", "to": "RB"}, put("RA", "D1"), {**plug, "to": "SK1"})
    assert wrong(step("a", *near)) == []


def test_a_thing_is_passed_between_two_who_both_can_reach_out_to_it():
    give = step("a", {"do": "pass", "items": ["D1"], "to": "V"})
    places = {"RB": [], "SK2": [], "RC": []}  # 0.5 m, 3.5 m and 3.0 m from the end of RA
    for place in places:
        places[place] = wrong(give, begin={**AT, "workers": {"W": "RA", "V": place}})
    assert places["RB"] == places["SK2"] == places["RC"] == []
    far = yard(handrails={"RC": {"from": [6.6, 0.0, 0.0]}})
    assert wrong(give, data=far) == [("passes D1 to them", "V")]


def test_nobody_is_at_the_place_of_a_step_or_at_the_hatch_without_having_gone_there():
    at_sk2 = step("b", where="SK2", restraint="FR")
    assert wrong(step("a"), at_sk2) == [("works there", "SK2")]
    assert wrong(step("a"), step("b", where="SK1", restraint="FR")) == []
    home = step("a", {"do": "ingress", "to": "lock"})
    assert wrong(home) == []
    assert wrong(home, begin={**AT, "workers": {"W": "RC"}}) == [("ingresses there", "lock")]


def test_the_other_may_be_gone_in_another_order():
    give = step("a", {"do": "pass", "items": ["D1"], "to": "V"}, start="00:00")
    gone = step("b", {"do": "translate", "to": "lock"}, lane="V", start="01:00")
    begin = {**AT, "workers": {"W": "RC", "V": "RC"}}
    one, *_ = (
        one
        for one in asked(present, yard(), give, gone, begin=begin)
        if one.numbers["why"] == "passes D1 to them"
    )
    assert verdicts([one]) == ["fail"]
    assert one.fix == "Let step 'b' wait: after = ['a']."
