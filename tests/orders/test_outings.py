"""What the planner asks of parallel lanes, in the words of the trade."""

import pytest

from reach.orders import (
    Add,
    All,
    Answer,
    At,
    AtEnd,
    AtLeast,
    AtMost,
    Event,
    Has,
    Is,
    Join,
    Leave,
    Link,
    Not,
    Rule,
    Same,
    Some,
    While,
    examine,
    fixes,
    may_overlap,
    n_orders,
    overlaps,
    racing,
)


def names(ruling):
    return [event.name for event in ruling.order]


def on(hook):
    return Event(f"{hook} on", "W1", {"hooks of W1": Join(hook)})


def off(hook):
    return Event(f"{hook} off", "W1", {"hooks of W1": Leave(hook)})


HOOKED = Rule("a hook on structure", AtLeast("hooks of W1", 1))
ON_ST1 = {"hooks of W1": frozenset({"ST-1"})}


def test_a_swap_of_lines_that_makes_before_it_breaks_holds():
    (ruling,) = examine({"W1": [on("ST-3"), off("ST-1")]}, [], ON_ST1, [HOOKED])
    assert ruling.answer is Answer.HOLDS


def test_a_swap_of_lines_that_breaks_first_is_shown_and_mended_by_swapping_the_steps():
    lanes = {"W1": [off("ST-1"), on("ST-3")], "CO": [Event("park", "CO")]}
    (ruling,) = examine(lanes, [], ON_ST1, [HOOKED])
    assert names(ruling) == ["ST-1 off"]
    assert str(ruling) == "a hook on structure: broken by W1: ST-1 off: hooks of W1 = {}"
    found = fixes(lanes, [], ON_ST1, HOOKED)
    assert found.links == () and found.is_proved
    assert [str(swap) for swap in found.swaps] == ["W1: ST-3 on before ST-1 off"]


def test_a_swap_says_which_other_rules_it_breaks():
    lanes = {
        "W1": [
            Event("ST-1 off", "W1", {"hooks of W1": Leave("ST-1")}),
            Event(
                "ST-3 on", "W1", {"hooks of W1": Join("ST-3")}, (Not(Has("hooks of W1", "ST-1")),)
            ),
        ]
    }
    one_line = Rule("never two lines", AtMost("hooks of W1", 1))
    (swap,) = fixes(lanes, [], ON_ST1, HOOKED, [one_line]).swaps
    assert swap.breaks == ("never two lines", "ST-3 on needs not (hooks of W1 has ST-1)")


def handover():
    lanes = {
        "W1": [
            Event("go to Hazel", "W1"),
            Event("take HB1", "W1", {"holders": Join("W1")}),
            Event("I have it", "W1"),
        ],
        "W2": [
            Event("stop", "W2"),
            Event("let go", "W2", {"holders": Leave("W2")}),
            Event("stow", "W2"),
        ],
    }
    return lanes, {"holders": frozenset({"W2"})}


def test_a_giver_who_lets_go_before_the_taker_holds_in_some_orders_is_shown():
    lanes, start = handover()
    (ruling,) = examine(lanes, [], start, [Rule("boom held", AtLeast("holders", 1))])
    assert names(ruling) == ["stop", "let go"]
    assert ruling.values == {"holders": frozenset()}


def test_the_fix_of_a_handover_is_the_weakest_link_that_serves():
    lanes, start = handover()
    held = Rule("boom held", AtLeast("holders", 1))
    found = fixes(lanes, [], start, held)
    assert [str(link) for link in found.links[0]] == ["let go after take HB1"]
    assert len(found.links) == 1
    (ruling,) = examine(lanes, found.links[0], start, [held])
    assert ruling.answer is Answer.HOLDS


def carrying(links=()):
    lanes = {
        "CO": [
            Event("carry", "CO", name="carry begins"),
            Event("carry", "CO", {"boom": "w3"}, name="carry ends"),
        ],
        "W1": [Event("let go", "W1", {"holders": Leave("W1")})],
        "W2": [Event("hold", "W2", {"holders": Join("W2")})],
    }
    start = {"holders": frozenset({"W1", "CO"}), "boom": "w0"}
    rule = Rule("two hold while it is carried", AtLeast("holders", 2), While("carry"))
    return lanes, links, start, rule


def test_two_must_hold_only_while_the_payload_is_carried():
    lanes, links, start, rule = carrying()
    (ruling,) = examine(lanes, links, start, [rule])
    assert sorted(names(ruling)) == ["carry begins", "let go"]
    found = fixes(lanes, links, start, rule)
    assert {tuple(map(str, several)) for several in found.links} == {
        ("let go after hold",),
        ("let go after carry",),
        ("carry after hold",),
    }


def test_a_restraint_that_two_sockets_want_at_once_is_broken_for_one_of_them():
    def put(lane, socket):
        return Event(f"FR-1 to {socket}", lane, {"FR-1": socket})

    def work(lane, socket):
        return Event(f"work at {socket}", lane, needs=(Is("FR-1", socket),))

    lanes = {
        "W1": [put("W1", "SK3"), work("W1", "SK3")],
        "W2": [put("W2", "SK4"), work("W2", "SK4")],
    }
    start = {"FR-1": "SK7"}
    rulings = examine(lanes, [], start)
    assert [one.rule.name for one in rulings] == [
        "work at SK3 needs FR-1 is SK3",
        "work at SK4 needs FR-1 is SK4",
    ]
    assert names(rulings[0]) == ["FR-1 to SK3", "FR-1 to SK4", "work at SK3"]
    assert str(rulings[0]).endswith("FR-1 = SK4 before the last")
    found = fixes(lanes, [], start, rulings[0].rule)
    assert {tuple(map(str, several)) for several in found.links} == {
        ("FR-1 to SK3 after FR-1 to SK4",),
        ("FR-1 to SK4 after work at SK3",),
    }
    both = [Link("work at SK3", "FR-1 to SK4")]
    assert {one.answer for one in examine(lanes, both, start)} == {Answer.HOLDS}


def test_a_socket_takes_one_restraint_at_a_time():
    lanes = {
        "W1": [Event("FR-1 out", "W1", {"SK4": Leave("FR-1")})],
        "W2": [Event("FR-2 in", "W2", {"SK4": Join("FR-2")})],
    }
    start = {"SK4": frozenset({"FR-1"})}
    rule = Rule("one restraint in SK4", AtMost("SK4", 1))
    (ruling,) = examine(lanes, [], start, [rule])
    assert names(ruling) == ["FR-2 in"]
    (links,) = fixes(lanes, [], start, rule).links
    assert [str(link) for link in links] == ["FR-2 in after FR-1 out"]


def test_an_item_is_in_exactly_one_custody():
    rule = Rule("PT-1 in one custody", All((AtLeast("PT-1", 1), AtMost("PT-1", 1))))
    passed = {"PT-1": Join("W2")}, {"PT-1": Leave("W1")}
    lanes = {"W1": [Event("give", "W1", passed[1])], "W2": [Event("take", "W2", passed[0])]}
    start = {"PT-1": frozenset({"W1"})}
    (ruling,) = examine(lanes, [], start, [rule])
    assert ruling.answer is Answer.BROKEN and len(ruling.order) == 1
    assert fixes(lanes, [], start, rule).links == ()  # twice held or not at all, either way round
    at_once = {"W1": [Event("hand over", "W1", {"PT-1": frozenset({"W2"})})]}
    assert examine(at_once, [], start, [rule])[0].answer is Answer.HOLDS


def test_two_in_one_volume_is_a_rule_on_both_places_and_a_pair_that_may_overlap():
    lanes = {
        "W1": [Event("in", "W1", {"W1": "hood"}), Event("out", "W1", {"W1": "rail"})],
        "CO": [Event("sweep", "CO", {"CO": "hood"}), Event("park", "CO", {"CO": "rest"})],
    }
    start = {"W1": "rail", "CO": "rest"}
    apart = Rule("not both at the hood", Not(All((Is("W1", "hood"), Is("CO", "hood")))))
    assert examine(lanes, [], start, [apart])[0].answer is Answer.BROKEN
    assert may_overlap(lanes, [], "in", "sweep")
    ordered = [Link("out", "sweep")]
    assert examine(lanes, ordered, start, [apart])[0].answer is Answer.HOLDS
    assert not may_overlap(lanes, ordered, "in", "sweep")
    assert overlaps(lanes, ordered) == ()
    assert ("in", "park") in overlaps(lanes, [])


def test_worker_and_tool_are_at_the_same_place_and_the_end_is_as_expected():
    lanes = {
        "W1": [Event("go", "W1", {"W1": "SK3"}), Event("drive", "W1", {"turns": Add(18)})],
        "CO": [Event("bring", "CO", {"PT-1": "SK3"})],
    }
    start = {"W1": "SK1", "PT-1": "SK1", "turns": 110}
    rules = [
        Rule("tool at hand", Same("W1", "PT-1"), At("drive")),
        Rule("energy", AtMost("turns", 120)),
        Rule("tool left at SK3", Is("PT-1", "SK3"), AtEnd()),
    ]
    tool, energy, left = examine(lanes, [], start, rules)
    assert names(tool) == ["go", "drive"]
    assert energy.values == {"turns": 128}
    assert left.answer is Answer.HOLDS


def test_too_many_states_is_no_pass():
    lanes = {
        lane: [Event(f"{lane}{n}", lane, {"holders": Join(f"{lane}{n}")}) for n in range(6)]
        for lane in "ABC"
    }
    start = {"holders": frozenset({"W1"})}
    rules = [Rule("held", AtLeast("holders", 1)), Rule("few hold", AtMost("holders", 2))]
    held, few = examine(lanes, [], start, rules, most_states=100)
    assert held.answer is Answer.NOT_SETTLED
    assert few.answer is Answer.BROKEN and few.is_shortest
    assert examine(lanes, [], start, rules[:1])[0].answer is Answer.HOLDS
    assert n_orders(lanes, [], most_states=3) is None


def test_too_many_values_at_few_cuts_is_no_pass_either():
    """Two items race: nine places for each, together more than are numbered beforehand."""
    lanes = {
        lane: [
            Event(f"{lane}{n}", lane, {"PT-1": f"{lane}{n}", "PT-2": f"{lane}{n}"})
            for n in range(4)
        ]
        for lane in "ABC"
    }
    start = {"PT-1": "lock", "PT-2": "lock", "turns": 0}
    (ruling,) = examine(lanes, [], start, [together := Rule("together", Same("PT-1", "PT-2"))], 150)
    assert ruling.answer is Answer.HOLDS  # one goes where the other goes: few pairs of places
    for lane in lanes:
        lanes[lane] = [
            Event(event.name, lane, {**event.writes, "PT-2": f"{lane}{3 - n}"})
            for n, event in enumerate(lanes[lane])
        ]
        lanes[lane].append(Event(f"{lane} counts", lane, {"turns": Add(7)}))
        lanes[lane].append(Event(f"{lane} sets", lane, {"turns": len(lane)}))
    far = Rule("few turns", Not(All((Same("PT-1", "PT-2"), AtLeast("turns", 99)))))
    (ruling,) = examine(lanes, [], start, [far], most_states=500)
    assert ruling.answer is Answer.NOT_SETTLED
    assert "too many states" in str(ruling)
    assert examine(lanes, [], start, [far])[0].answer is Answer.HOLDS
    assert examine(lanes, [], start, [together])[0].answer is Answer.BROKEN


def test_the_shortest_order_counts_what_the_moment_itself_waits_for():
    lanes = {
        "A": [Event("a1", "A"), Event("a2", "A", {"x": 1})],
        "B": [*(Event(f"b{n}", "B") for n in range(1, 5)), Event("e", "B", needs=(Is("x", 0),))],
        "D": [Event("d", "D", {"x": 1})],
    }
    (ruling,) = examine(lanes, [Link("b3", "d")], {"x": 0})
    assert names(ruling) == ["b1", "b2", "b3", "d", "b4", "e"] and ruling.is_shortest


@pytest.mark.parametrize("few", [0, 62])
def test_a_break_of_more_events_that_matter_may_be_the_shorter_order(few, monkeypatch):
    monkeypatch.setattr(racing, "_FEW", few)
    lanes = {
        "A": [*(Event(f"idle {n}", "A") for n in range(5)), Event("a", "A", {"x": "bad"})],
        "B": [Event("b", "B", {"x": "p", "n": Add(1)})],
        "C": [Event("c", "C", {"x": "q"})],
    }
    neither = All((Not(Is("x", "bad")), Not(Is("x", "q"))))
    rule = Rule("x", Some((neither, All((Not(Is("x", "bad")), Is("n", 0))))))
    (ruling,) = examine(lanes, [], {"x": "o", "n": 0}, [rule])
    assert names(ruling) == ["b", "c"] and ruling.is_shortest


def test_sets_of_many_elements_and_far_orders_are_told():
    lanes = {
        "A": [Event(f"a{n}", "A", {"items": Join(f"item {n}")}) for n in range(80)],
        "B": [Event("all out", "B", {"items": frozenset()})],
    }
    rules = [
        Rule("some", AtMost("items", 79)),
        Rule("not the last", Not(Has("items", "item 79"))),
    ]
    for ruling in examine(lanes, [], {"items": frozenset()}, rules):
        assert ruling.answer is Answer.BROKEN and len(ruling.order) == 80


def test_lanes_and_links_that_make_a_circle_are_refused_by_name():
    lanes = {"A": [Event("a", "A"), Event("b", "A")], "B": [Event("c", "B"), Event("d", "B")]}
    with pytest.raises(ValueError, match=r"a circle: .*a waits for d"):
        examine(lanes, [Link("d", "a"), Link("b", "c")], {})


def test_everything_that_is_wrong_is_told_at_once():
    lanes = {
        "A": [
            Event("s", "A", {"n": Join("x")}, name="e"),
            Event("t", "A", name="e"),
            Event("s", "B", name="f"),
        ]
    }
    rules = [
        Rule("1", AtLeast("unknown", 1)),
        Rule("2", AtLeast("n", 1), While("t")),
        Rule("3", Has("word", "x"), At("nobody")),
        Rule("4", All(())),
    ]
    with pytest.raises(ValueError) as caught:
        examine(lanes, [Link("e", "z")], {"n": 0, "word": "w"}, rules)
    for said in (
        "2 events are named 'e'",
        "event 'f' says lane 'B' and stands in 'A'",
        "the events of step 's' do not follow each other",
        "no event or step 'z'",
        "'unknown' has no value at the start",
        "'n' is no set",
        "step 't' is one event and takes no time",
        "'word' is no set",
        "no event or step 'nobody'",
        "a condition made of no conditions",
    ):
        assert said in str(caught.value)
