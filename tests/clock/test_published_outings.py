"""Printed timelines of real outings, run through the clock; minutes as printed.

Each case names where the printed value is from.
"""

import pytest

from reach.clock import Span, Task, count, drawn, lighting, timetable

MINUTE = 60.0
HOUR = 3600.0
TWO_LANES = "NASA US EVA 10 (Alpha) final procedures (MSG 16-0256), summary timeline"
ONE_LANE = "NASA US EVA 23 procedures, 12 Jul 2013, summary timeline"
SET_UP = "NASA 09-0418A EVA 9 final procedures, 22 Jun 2004, timeline"
INTRUSION = "NASA ISS EVA Suit Water Intrusion Mishap Investigation Report (2013)"
LIGHT = "NASA, The International Space Station: Operating an Outpost (2017), p. 289"

FIRST = (5, 35, 20, 40, 45, 45, 30, 50, 40, 60, 20, 5)
SECOND = (5, 35, 20, 60, 70, 30, 50, 50, 25, 25, 20, 5)
SHARED = {1: 1, 2: 2, 7: 6, 10: 10, 11: 11}
"""Which task of the first worker is done together with which of the second."""


def two_lanes():
    mine = [Task(f"a{i}", "W1", n * MINUTE) for i, n in enumerate(FIRST)]
    other = {theirs: (f"a{ours}",) for ours, theirs in SHARED.items()}
    yours = [Task(f"b{i}", "W2", n * MINUTE, with_=other.get(i, ())) for i, n in enumerate(SECOND)]
    return mine, yours


def test_each_lane_alone_takes_as_long_as_printed():
    mine, yours = two_lanes()
    assert timetable(mine).end == 395 * MINUTE == 6 * HOUR + 35 * MINUTE, TWO_LANES
    alone = [Task(task.name, "W2", task.duration) for task in yours]
    assert timetable(alone).end == 395 * MINUTE, TWO_LANES


def test_shared_tasks_begin_together_and_nobody_waits():
    mine, yours = two_lanes()
    plan = timetable([*mine, *yours])
    starts = {name: times.start / MINUTE for name, times in plan.times.items()}
    assert (starts["a1"], starts["a2"], starts["a7"]) == (5, 40, 220), TWO_LANES
    assert (starts["b1"], starts["b2"], starts["b6"]) == (5, 40, 220), TWO_LANES
    assert plan.waits == ()
    assert plan.times["a11"].end == plan.times["b11"].end == plan.end == 395 * MINUTE
    assert len(plan.critical) == 24


def test_both_lanes_wait_for_a_shared_task_if_one_is_late():
    mine, yours = two_lanes()
    late = Task("b4", "W2", 80 * MINUTE)
    plan = timetable([*mine, *(late if task.name == "b4" else task for task in yours)])
    assert plan.times["a7"].start == 230 * MINUTE
    assert [(w.lane, w.next_) for w in plan.waits] == [("W1", "a7")]
    assert plan.times["a5"].slack == 10 * MINUTE


def test_one_lane_adds_up_to_the_printed_time():
    printed = (5, 30, 30, 90, 90, 60, 20, 45, 5)
    tasks = [Task(f"a{i}", "W1", n * MINUTE) for i, n in enumerate(printed)]
    assert timetable(tasks).end == 375 * MINUTE == 6 * HOUR + 15 * MINUTE, ONE_LANE


def test_the_long_task_leaves_half_an_hour_before_clean_up():
    plan = timetable(
        [
            Task("set-up", "W1", 38 * MINUTE, start=52 * MINUTE, fixed=True),
            Task("task", "W1", 150 * MINUTE),
            Task("clean-up", "W1", 45 * MINUTE, start=270 * MINUTE, fixed=True),
        ]
    )
    assert plan.times["set-up"].end == plan.times["task"].start == 90 * MINUTE, SET_UP
    assert plan.times["clean-up"].end == 315 * MINUTE, SET_UP
    assert plan.times["task"].slack == plan.times["task"].free_slack == 30 * MINUTE, SET_UP
    assert plan.late == ()


def test_the_emergency_chain_ends_when_it_did():
    plan = timetable(
        [
            Task("report", "IN", 23 * MINUTE, start=44 * MINUTE),
            Task("terminate", "W1", 5 * MINUTE, after=("report",)),
            Task("second", "W2", 2 * MINUTE, after=("terminate",)),
        ]
    )
    ends = [times.end / MINUTE for times in plan.times.values()]
    assert ends == [67, 72, 74], INTRUSION
    assert plan.paths == (("report", "terminate", "second"),)


BTU = 1055.05585262  # J, international table


@pytest.mark.parametrize(
    ("rate", "hours", "printed"), [(1000.0, 7.0, 7.385e6), (850.0, 8.0, 7.174e6)]
)
def test_the_energy_that_suits_are_made_for(rate, hours, printed):
    told = count([drawn("work", rate * BTU / HOUR, hours * HOUR)], printed)
    assert told.total == pytest.approx(printed, rel=1e-3), INTRUSION
    longer = count([drawn("work", rate * BTU / HOUR, (hours + 0.1) * HOUR)], printed)
    assert longer.runs_out == "work"


@pytest.mark.parametrize(("rate", "printed"), [(1000.0, 293.07), (2000.0, 586.1)])
def test_the_rates_that_suits_are_made_for(rate, printed):
    assert drawn("a second", rate * BTU / HOUR, 1.0).amount == pytest.approx(printed, rel=1e-3)


def test_a_task_across_sunset_is_flagged():
    split = lighting(
        Span(40 * MINUTE, 70 * MINUTE), sunrises=[0.0, 90 * MINUTE], sunsets=[45 * MINUTE]
    )
    assert split.crosses, LIGHT
    assert (split.light, split.dark) == (5 * MINUTE, 25 * MINUTE), LIGHT
