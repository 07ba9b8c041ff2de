"""The outing on the clock: its end, gloves, windows, clocks, cranes, lanes, hands, phases."""

import pytest
from clocking import CHECK, IN, MINUTE, OUT, WORK, asked, findings, only, place, step

from reach.finding import Verdict
from reach.lasting import lasting_of, lasting_words
from reach.timing import closed_up, cuts_of, out_of

PASS, FAIL, NOT_ASKED = Verdict.PASS, Verdict.FAIL, Verdict.NOT_ASKED
NIGHTS = {
    "windows": {
        "night": {
            "spans": [["00:52", "01:27"], ["02:24", "02:59"]], "margin": "5 min", "dark": True
        }
    },
    "guards": {"C1": {"window": "night"}},
}  # fmt: skip


def turn(fastener, do="mate"):
    tool = {"tool": "power-drive", "bit": "S-16"} if do == "drive" else {}
    return {"do": do, "fastener": fastener, **tool}


# ---- the end of the outing ---------------------------------------------------------------


def late(*more, end="01:20"):
    return (
        step("out", "A", "00:00", 10, OUT),
        step("work", "A", "00:10", 30),
        step("photos", "A", "00:40", 20, optional=1),
        step("paint", "A", "01:00", 10, optional=2),
        *more,
        step("in", "A", end, 10, IN),
    )


def test_an_outing_that_ends_on_time_to_the_second_passes():
    found = only("outing", *late(), limits={"outing_time": "90 min"})
    assert (found.low, found.high, found.verdict) == (0.0, 0.0, PASS)
    assert "ends at 01:30 with step 'in'" in found.because


def test_a_late_end_names_what_to_cut_least_important_first_and_the_new_end():
    found = only("outing", *late(), limits={"outing_time": "75 min"})
    assert found.verdict is FAIL
    assert found.low == -15 * MINUTE
    assert found.step == "in"
    # The wait of 10 min before 'in' closes up anyway: 80 min, less 20 of the photos.
    assert found.fix == "Cut 'photos': closed up in the written order it ends at 01:00."
    assert found.numbers["cut"] == ["photos"]


def test_closing_up_alone_may_do():
    found = only("outing", *late(), limits={"outing_time": "80 min"})
    assert found.fix == ("Close up the waits: in the written order of the steps it ends at 01:20.")


def test_what_cannot_be_cut_is_to_be_saved():
    found = only("outing", *late(), limits={"outing_time": "40 min"})
    assert found.fix == "Cut 'photos' and 'paint' and save 10 min more: closed up it ends at 00:50."
    bare = [{key: v for key, v in one.items() if key != "optional"} for one in late()]
    found = only("outing", *bare, limits={"outing_time": "70 min"})
    assert found.fix.startswith("Save 10 min, or make steps optional")


def test_steps_of_one_priority_are_cut_together():
    steps = (*late()[:-1], step("ride", "B", "01:10", 5, optional=1), late()[-1])
    _, outing = asked(place(), *steps)
    assert [cut.option.tasks for cut in cuts_of(outing, 60 * MINUTE).cuts] == [("photos", "ride")]


def test_steps_close_up_in_their_written_order_and_keep_to_their_windows():
    steps = (
        step("a", "A", "00:00", 10),
        step("b", "B", "00:20", 10),
        step("mate", "A", "00:57", 10, turn("C1"), where="S"),
        step("c", "B", "01:30", 5),
    )
    _, outing = asked(place(), *steps, **NIGHTS)
    tasks = {task.name: task for task in closed_up(outing)}
    assert tasks["b"].after == ("a",)
    assert tasks["b"].start is None
    assert tasks["mate"].start == 57 * MINUTE
    told = cuts_of(outing, 0.0)
    assert told.end == (57 + 10 + 5) * MINUTE


def test_a_suit_lasts_from_coming_out_to_going_in():
    steps = (step("out", "A", "00:10", 10, OUT), step("in", "A", "06:00", 20, IN))
    stores = {"A": {"lasts": "7 h", "reserve": 0.1}}
    whole, suit = findings("outing", *steps, stores=stores)
    assert whole.verdict is PASS
    assert suit.low == pytest.approx(7 * 3600 * 0.9 - 370 * MINUTE)
    tight = findings("outing", *steps, stores={"A": {"lasts": "6 h"}})[1]
    assert tight.low == -10 * MINUTE
    assert tight.step == "in"
    assert tight.fix == "Bring A in by 06:10, 10 min sooner."


@pytest.mark.parametrize(
    ("energy", "rate", "hours"),
    # Board report on suit water (2013), page 40: 7 h at 1000 BTU/h; 8 h at 850 BTU/h.
    [("7000 BTU", "1000 BTU/h", 7), ("6800 BTU", "850 BTU/h", 8)],
)
def test_energy_lasts_as_long_as_its_rate_allows(energy, rate, hours):
    steps = (step("out", "A", "00:00", 10, OUT), step("in", "A", "06:00", 20, IN))
    stores = {"A": {"energy": energy, "rate": rate}}
    suit = findings("outing", *steps, stores=stores)[1]
    assert suit.numbers["answer"] == "energy"
    assert suit.low == pytest.approx((hours * 60 - 380) * MINUTE)


def test_who_is_never_outside_is_not_asked():
    found = findings("outing", step("x", "A", "00:00", 5), stores={"A": {"lasts": "7 h"}})
    assert found[1].verdict is NOT_ASKED


def test_a_procedure_that_does_not_begin_is_no_outing():
    assert findings("outing", *late(), begin=False) == []
    for check in ("glove-check", "device", "lanes", "hand-time"):
        assert findings(check, *late(), begin=False) == []


def test_a_worker_who_never_goes_in_is_out_until_the_end():
    _, outing = asked(place(), step("out", "A", "00:05", 5, OUT), step("x", "B", "01:00", 5))
    assert out_of(outing, "A") == (5 * MINUTE, 65 * MINUTE, "out", "out")
    assert out_of(outing, "B") is None
    _, outing = asked(place(), step("x", "B", "01:00", 5), begin={"workers": {"B": "S"}})
    assert out_of(outing, "B") == (0.0, 65 * MINUTE, "x", "x")


# ---- gloves ------------------------------------------------------------------------------


def checked(*moments, end="02:00"):
    """A is out from 00:00 to ten minutes after ``end``; checks are at the end of steps."""
    checks = [step(f"check {at}", "A", at, 5, CHECK) for at in moments]
    return (step("out", "A", "00:00", 5, OUT), *checks, step("in", "A", end, 10, IN))


def test_the_longest_time_between_checks_counts_at_the_end_of_steps():
    # Checks end at 00:30, 01:05, 01:40; the worker is in at 02:10.
    found = only("glove-check", *checked("00:25", "01:00", "01:35"))
    assert found.verdict is PASS
    assert found.low == 0.0
    assert found.numbers["gap"] == 35 * MINUTE


def test_every_gap_that_is_too_long_is_a_finding_at_the_step_that_ends_it():
    found = findings("glove-check", *checked("00:25", "01:30"))
    assert [(one.step, one.low / MINUTE) for one in found] == [("check 01:30", -30.0)]
    assert "65 min" in found[0].because and "(00:30)" in found[0].because
    assert found[0].fix == "Glove check of A at 01:05."
    found = findings("glove-check", *checked(end="01:00"))
    assert [(one.step, one.low / MINUTE) for one in found] == [("in", -35.0)]
    assert "coming out in step 'out'" in found[0].because


def test_a_gap_of_three_limits_asks_for_two_checks():
    found = only("glove-check", *checked("00:10", "01:55", end="02:00"))
    assert found.numbers["missing"] == 2
    assert found.fix == "Glove check of A at 00:50; at 01:25."


def test_the_end_of_a_step_is_the_better_moment_for_a_check():
    steps = (*checked("00:25", "01:20", end="01:30"), step("bolts", "A", "00:35", 25))
    found = only("glove-check", *steps)
    assert found.fix == "Glove check of A at 01:00 (end of 'bolts'), 01:05 at the latest."


def test_a_check_of_both_is_one_of_each():
    both = {"do": "glove check", "of": ["A", "B"]}
    steps = (
        step("out", "A", "00:00", 5, OUT),
        step("out too", "B", "00:05", 5, OUT),
        step("both", "A", "00:30", 4, both),
        step("in", "A", "00:50", 5, IN),
        step("in too", "B", "00:55", 5, IN),
    )
    found = findings("glove-check", *steps)
    assert [(one.about, one.low / MINUTE) for one in found] == [(("A",), 1.0), (("B",), 6.0)]


# ---- windows and clocks ------------------------------------------------------------------


def mate(start, minutes=10, **more):
    return step("mate", "A", start, minutes, turn("C1"), where="S", **more)


@pytest.mark.parametrize(
    ("start", "margin"), [("00:57", 0.0), ("01:00", 3.0), ("01:12", 0.0), ("01:20", -8.0)]
)
def test_work_lies_inside_its_window_less_what_is_kept(start, margin):
    found = only("window", mate(start), **NIGHTS)
    assert found.low == found.high == margin * MINUTE
    assert found.about == ("A", "C1", "night")


def test_work_outside_its_window_is_told_the_last_start_and_the_next_window():
    found = only("window", mate("01:20"), **NIGHTS)
    assert found.fix == "Begin by 01:12 at the latest, or at 02:29 in 02:24 to 02:59, for 10 min."
    found = only("window", mate("01:00", minutes=30), **NIGHTS)
    assert found.fix.startswith("Shorten the step by 5 min")


def test_a_spread_of_durations_gives_a_probability_that_does_not_decide():
    found = only("window", mate("01:05", between=["10 min", "20 min"]), **NIGHTS)
    assert found.verdict is PASS
    # Triangle from 10, likely 10, to 20 min: P(<= 17) = 1 - (3 / 10) ** 2.
    low, high = found.numbers["probability"]
    assert low < 0.91 < high
    assert high - low < 0.02
    assert "with a probability of" in found.because
    assert repr(found) == repr(
        only("window", mate("01:05", between=["10 min", "20 min"]), **NIGHTS)
    )


def powered(limit="205 min", start="00:34", stop="04:01", **more):
    clocks = {"boom": {"from": "C0", "to": "C1", "limit": limit, "title": "Boom unpowered"}}
    steps = (
        step("off", "B", start, 6, turn("C0", "demate"), where="S"),
        step("on", "A", stop, 10, turn("C1"), where="S", **more),
    )
    return findings("unpowered", *steps, clocks=clocks)


def test_a_clock_runs_from_the_end_of_one_step_to_that_of_another():
    (found,) = powered()
    assert found.low == -6 * MINUTE
    assert found.step == "on"
    assert found.because == (
        "Boom unpowered: 211 min from the end of step 'off' (00:40) to that of step 'on' (04:11); "
        "the most is 205 min."
    )
    assert found.fix == (
        "Begin step 'off' at 00:40 at the earliest, or end step 'on' by 04:05: 6 min are to be "
        "saved."
    )
    assert powered(start="00:40")[0].low == 0.0


def test_a_clock_tells_the_probability_of_durations_as_they_may_be():
    (found,) = powered(limit="215 min", between=["8 min", "20 min"])
    low, high = found.numbers["probability"]
    # From 8 over 10 to 20 min: P(<= 14) = 1 - 6 ** 2 / (12 * 10).
    assert low < 0.7 < high


def test_clocks_that_do_not_start_or_stop():
    clocks = {"boom": {"from": "C0", "to": "C1", "limit": "1 h"}}
    start = step("off", "B", "00:00", 6, turn("C0", "demate"), where="S")
    never = only("unpowered", step("x", "A", "00:00", 5), clocks=clocks)
    short = only("unpowered", start, step("x", "A", "00:30", 5), clocks=clocks)
    long = only("unpowered", start, step("x", "A", "02:00", 5), clocks=clocks)
    assert [one.verdict for one in (never, short, long)] == [NOT_ASKED, NOT_ASKED, FAIL]
    assert long.low == (60 - 119) * MINUTE


# ---- cranes and lanes --------------------------------------------------------------------

MOVE = {"do": "move crane", "to": "tip"}


def test_a_crane_in_two_places_at_once():
    steps = (
        step("park", "CO", "05:07", 15, MOVE),
        step("ride", "CO", "05:07", 20, MOVE, **{"with": ["B"]}),
    )
    found = only("device", *steps)
    assert (found.step, found.about, found.low) == ("ride", ("CO", "Arm", "park"), -1.0)
    assert "for 15 min from 05:07" in found.because
    assert found.fix == "Begin step 'ride' at 05:22, after step 'park'."
    # The check on lanes leaves the operator's lane to this one.
    assert all(one.verdict is PASS for one in findings("lanes", *steps))


def test_two_lanes_that_nothing_orders_may_ask_for_a_crane_at_once():
    steps = (
        step("fetch", "CO", "00:00", 10, MOVE),
        step("ride", "B", "00:20", 10, MOVE),
    )
    found = only("device", *steps)
    assert found.numbers["orders"] == "another order"
    assert found.fix == "Let step 'ride' wait: after = ['fetch']."
    linked = (steps[0], {**steps[1], "after": ["fetch"]})
    assert only("device", *linked).verdict is PASS
    joined = (steps[0], {**steps[1], "lane": "CO"})
    assert only("device", *joined).verdict is PASS


def test_nobody_is_asked_for_two_steps_at_once():
    steps = (step("a", "A", "00:00", 10), step("b", "A", "00:08", 5), step("c", "B", "00:00", 5))
    clash, free = findings("lanes", *steps)
    assert (clash.low, clash.step, clash.verdict) == (-2 * MINUTE, "b", FAIL)
    assert "A is asked to do two steps at once" in clash.because
    assert free.verdict is PASS


def test_a_step_written_before_what_it_waits_for():
    steps = (step("a", "A", "00:00", 10), step("b", "B", "00:05", 5, after=["a"]))
    clash = findings("lanes", *steps)[0]
    assert clash.low == -5 * MINUTE
    assert clash.fix == "Begin step 'b' at 00:10, 5 min later."


def test_waits_are_told_and_do_not_decide():
    steps = (
        step("a", "A", "00:00", 10),
        step("b", "B", "00:05", 10),
        step("c", "A", "00:30", 5),
        step("d", "B", "00:32", 5),
    )
    one, other = findings("lanes", *steps)
    assert one.verdict is other.verdict is PASS
    assert "waits are 20 min in all, the longest 20 min from 00:10 before step 'c'" in one.because
    assert "all workers wait 15 min from 00:15" in one.because
    assert one.numbers["together"] == [(15 * MINUTE, 30 * MINUTE)]
    quick = findings("lanes", *steps, limits={"idle_time": "15 min"})
    assert "all workers" not in quick[0].because


# ---- hands -------------------------------------------------------------------------------


def test_hands_get_a_rest():
    bolt = turn("B1", "drive")
    steps = (
        step("one", "A", "00:00", 50, bolt, where="S"),
        step("two", "A", "00:52", 50, bolt, where="S"),
        step("three", "A", "02:00", 10, bolt, where="S"),
    )
    found = only("hand-time", *steps)
    assert found.low == (120 - 102) * MINUTE
    assert found.step == "two"
    assert found.numbers["total"] == 110 * MINUTE
    rested = only("hand-time", *steps, limits={"hand_rest": "2 min"})
    assert rested.numbers["stretch"] == 50 * MINUTE
    tired = only("hand-time", *steps, limits={"hand_stretch": "100 min"})
    assert tired.verdict is FAIL
    assert tired.fix == "Give the hands of A a rest of 3 min by 01:40."


# ---- phases ------------------------------------------------------------------------------


def phased(limits=None, **phase):
    steps = (
        step("out", "A", "00:00", 10, OUT),
        step("turn", "A", "00:10", 20, turn("B1", "drive"), where="S"),
        step("in", "A", "00:30", 10, IN),
    )
    phases = {"all": {"from": "out", "to": "in", "takes": "10 min", **phase}}
    return findings("clean-up", *steps, phases=phases, limits=limits), findings(
        "safe-stop", *steps, phases=phases, limits=limits
    )


def test_a_clean_up_and_the_way_home_fit_the_limit():
    covered, found = phased()[0]
    assert covered.verdict is found.verdict is PASS
    # From the rail at S to the hatch at 0.15 m/s, and 10.5 min of lock.
    home = found.numbers["home"]
    assert 10.5 * MINUTE + 2.5 / 0.15 < home < 10.5 * MINUTE + 6.0 / 0.15
    assert found.low == pytest.approx(60 * MINUTE - 10 * MINUTE - home)
    assert "home from S" in found.because
    tight = phased(limits={"terminate_time": "15 min"})[0][1]
    assert tight.verdict is FAIL


def test_steps_outside_every_phase_are_named():
    covered, _ = phased(to="turn")[0]
    assert covered.verdict is FAIL
    assert covered.step == "in"
    assert covered.numbers["steps"] == ["in"]


def test_a_phase_says_how_long_its_clean_up_takes_and_where_it_stops():
    assert phased(takes=None)[0][1].verdict is FAIL
    (safe,) = phased(stop="boom bolted by two", safe="30 h")[1]
    assert safe.low == 6 * 3600.0
    (short,) = phased(stop="boom bolted by two", safe="20 h")[1]
    assert short.verdict is FAIL
    assert [phased(**one)[1][0].verdict for one in ({}, {"stop": "held"})] == [FAIL, FAIL]


def test_a_phase_that_ends_before_it_begins_is_told():
    later = step("later", "A", None, 5)
    phases = {"work": {"from": "later", "to": "first", "takes": "5 min"}}
    _, found = findings("clean-up", step("first", "A", "00:00", 5), later, phases=phases)
    assert found.verdict is FAIL
    assert "ends before it begins" in found.because


def test_who_only_waits_far_away_is_counted_on_the_way_home():
    go = step("go", "A", "00:00", 20, OUT, {"do": "translate", "to": "RB@2.0"}, route=["RA", "RB"])
    steps = (go, step("wait", "A", "00:20", 30, {"do": "wait"}))
    phases = {"wait": {"from": "wait", "to": "wait", "takes": "10 min"}}
    _, found = findings("clean-up", *steps, phases=phases)
    assert "home from RB@2.0" in found.because
    assert found.numbers["home"] > 10.5 * MINUTE
    still = {"workers": {"A": "RA", "B": "RB"}}
    steps = (go, step("wait", "A", "00:20", 30, {"do": "wait"}))
    _, found = findings("clean-up", *steps, phases=phases, begin=still)
    assert "no way along rails is known from RB;" in found.because  # no step says B's body


def test_nothing_is_asked_of_what_is_not_declared():
    step_ = step("x", "A", "00:00", 5)
    for check in ("window", "unpowered", "clean-up", "safe-stop", "light"):
        assert findings(check, step_) == []


# ---- durations left blank ----------------------------------------------------------------


def blank(*actions, **more):
    site, outing = asked(place(), step("x", "A", "00:00", None, *actions, **more))
    (span,) = outing.spans.values()
    told = lasting_of(site, site.asked, outing.procedure)
    return (span.end - span.begin) / MINUTE, lasting_words(told), site


@pytest.mark.parametrize(
    ("actions", "minutes"),
    [
        ([OUT], 3.0),
        ([IN], 4.0),
        ([{"do": "wait"}], 0.0),
        ([OUT, CHECK, WORK], 5.0),
        ([turn("C0", "demate")], 5.0),
        ([turn("B1", "drive")], 2.0 + 12 * 2.0 / 60.0),
        ([{"do": "drive", "fastener": "B1", "tool": "ratchet", "bit": "S-16"}], 4.0),
        ([turn("B2", "drive")], 0.0),
    ],
)
def test_a_blank_duration_is_the_sum_of_what_actions_take(actions, minutes):
    more = {"where": "S"} if actions[0]["do"] in ("drive", "demate") else {}
    assert blank(*actions, **more)[0] == pytest.approx(minutes)


def test_a_blank_move_takes_its_way_at_the_pace():
    go = {"do": "translate", "from": "hatch", "to": "RB@1.0"}
    minutes, words, site = blank(go)
    from reach.travel.path import path_of

    length = path_of(site, site.asked[0]).route.length
    assert minutes == pytest.approx(length / 0.15 / 60.0)
    assert words == []


def test_what_is_not_known_counts_nothing_and_is_told():
    minutes, words, _ = blank(OUT, turn("B2", "drive"), where="S")
    assert minutes == 3.0
    assert words == [
        "step 'x' gives no duration, and how many turns B2 takes is not known: that is taken to "
        "last 0 min"
    ]
    assert "how long 'move crane' takes is not known" in blank(MOVE)[1][0]


def test_a_blank_duration_between_two_is_worked_out_or_taken_in_the_middle():
    between = {"between": ["4 min", "8 min"]}
    assert blank(OUT, CHECK, WORK, **between)[0] == 5.0
    assert blank(OUT, **between)[0] == 4.0
    assert blank({"do": "wait"}, **between)[:2] == (6.0, [])
