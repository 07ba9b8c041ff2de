"""The clock on an invented outing of 55 steps, as written, with the faults planted in it."""

import pytest

from reach.clock import (
    Booking,
    Gap,
    Moment,
    Option,
    Span,
    Task,
    Use,
    Window,
    bingo,
    conflicts,
    count,
    cut_order,
    edit,
    endurance,
    fit,
    largest_gap,
    moment,
    timetable,
    unwritten,
)

MINUTE = 60.0
# step, written start, minutes, lanes
WRITTEN = """
1 00:00 8 W1;  2 00:08 6 W2;  3 00:14 6 W1;  4 00:14 6 W2;  5 00:20 8 W1;  6 00:20 8 W2
7 00:28 6 W1;  8 00:28 6 W2;  9 00:34 6 W2;  10 00:34 10 CO; 11 00:44 6 W2; 12 00:50 10 W1
13 01:00 6 W1; 14 01:06 8 W2; 15 01:14 8 W2; 16 01:22 3 W2; 17 01:25 6 W1; 18 01:31 6 W1
19 01:37 22 CO W2; 20 01:37 14 W1; 21 01:51 8 W1; 22 01:59 5 CO; 23 02:04 8 W2; 24 02:12 3 W1
25 02:15 9 W1 W2; 26 02:24 6 W1; 27 02:30 6 W1; 28 02:36 6 W1; 29 02:42 6 W1; 30 02:48 6 W1
31 02:54 6 W2; 32 03:00 4 W1 W2; 33 03:04 8 W2; 34 03:12 10 W2; 35 03:22 8 W1; 36 03:30 10 W1
37 03:40 10 W2; 38 04:01 10 W1; 39 04:11 10 W2; 40 04:22 12 W2; 41 04:36 5 IN; 42 04:41 4 W1 W2
43 04:45 12 W1; 44 04:57 10 W2; 45 05:07 15 CO; 46 05:07 20 CO W2; 47 05:27 8 W1; 48 05:35 10 W1
49 05:45 12 W2; 50 05:57 14 W1; 51 06:05 14 W2; 52 06:23 6 W1 W2; 53 06:29 8 W1; 54 06:37 8 W2
55 06:45 5 IN
"""
AFTER = {"2": ("1",), "40": ("41",), "54": ("53",), "55": ("54",)}
CHECKS_OF_W1 = ["8", "17", "21", "25", "29", "32", "35", "37", "39", "42", "44", "47", "48", "50"]


def clock(text):
    hours, minutes = text.split(":")
    return 3600.0 * int(hours) + MINUTE * int(minutes)


def steps():
    found = []
    for part in WRITTEN.replace("\n", ";").split(";"):
        if part.strip():
            name, start, minutes, *lanes = part.split()
            after = AFTER.get(name, ())
            lane = tuple(lanes) if len(lanes) > 1 else lanes[0]
            found.append(Task(name, lane, float(minutes) * MINUTE, after, clock(start)))
    return found


PLAN = timetable(steps())
WHEN = PLAN.written


def test_there_are_55_steps_and_the_clock_reads_as_written():
    assert len(WHEN) == 55
    assert WHEN["46"] == Span(clock("05:07"), clock("05:27"))


def test_the_outing_ends_20_minutes_late():
    end = max(span.end for span in WHEN.values())
    assert end == clock("06:50")
    assert endurance(0.0, end, lasts=clock("06:30")).margin == -20 * MINUTE


def test_unpowered_for_211_minutes():
    off = Gap(
        Moment(moment("9", WHEN), "carrier lead off"), Moment(moment("38", WHEN), "site lead on")
    )
    assert off.length == 211 * MINUTE
    assert off.margin(205 * MINUTE) == -6 * MINUTE


def test_taking_the_lead_off_twelve_minutes_later_mends_it():
    later = [
        Task("9", "W2", 6 * MINUTE, start=clock("00:46")) if task.name == "9" else task
        for task in steps()
    ]
    now = timetable(later).written
    assert now["38"].end - now["9"].end == 199 * MINUTE


def test_gloves_go_unchecked_for_57_minutes():
    checks = [Moment(moment(step, WHEN), step) for step in CHECKS_OF_W1]
    gap = largest_gap(checks, begin=Moment(0.0, "out"))
    assert (gap.first.name, gap.second.name, gap.length) == ("8", "17", 57 * MINUTE)
    assert gap.margin(35 * MINUTE) == -22 * MINUTE
    assert gap.missing(35 * MINUTE) == 1
    mended = largest_gap([*checks, Moment(clock("01:00"), "one more")], Moment(0.0, "out"))
    assert mended.length <= 35 * MINUTE


def test_the_drive_turns_more_than_its_energy_allows():
    turns = {"12": 24, "13": 24, "26": 18, "27": 18, "28": 18, "29": 18, "30": 6, "36": 20}
    told = count([Use(step, float(n)) for step, n in turns.items()], 150.0, reserve=0.2)
    assert (told.total, told.usable, told.runs_out) == (146.0, 120.0, "30")


@pytest.mark.parametrize(("step", "margin"), [("40", -8.0), ("38", 0.0)])
def test_mating_in_the_dark(step, margin):
    begins = ("00:52", "02:24", "03:56", "05:28")
    dark = [Window(clock(t), clock(t) + 35 * MINUTE) for t in begins]
    answer = fit(WHEN[step], dark, 5 * MINUTE, 5 * MINUTE)
    assert answer.margin == margin * MINUTE
    assert answer.window.end == clock("04:31")
    if margin < 0.0:
        assert answer.later.start == clock("05:33")


def test_the_crane_is_asked_to_be_in_two_places():
    crane = [Booking("Crane", t.name, WHEN[t.name]) for t in steps() if "CO" in t.lanes]
    assert [(c.first, c.second, c.span) for c in conflicts(crane)] == [
        ("45", "46", Span(clock("05:07"), clock("05:22")))
    ]


def test_lanes_run_into_each_other_only_at_the_crane():
    told = [(c.kind, c.first, c.second, c.lane, c.by / MINUTE) for c in PLAN.clashes]
    assert told == [("lane", "45", "46", "CO", 15.0), ("after", "41", "40", None, 19.0)]


def test_written_starts_that_cannot_be_kept_are_told_with_what_they_push_back():
    assert [(late.task, late.by / MINUTE) for late in PLAN.late] == LATE


LATE = [("40", 19.0), ("42", 12.0), ("43", 12.0), ("46", 15.0)]


def test_the_optional_ride_is_cut_first():
    loose = unwritten(steps())
    options = [Option(("46", "49"), 1.0), Option(("44",), 2.0)]
    whole = timetable(loose).end
    told = cut_order(loose, options, whole - 5 * MINUTE)
    assert [cut.option.tasks for cut in told.cuts] == [("46", "49")]
    assert 0.0 < told.cuts[0].saved <= 32 * MINUTE


def test_the_latest_start_home():
    told = bingo(clock("06:30"), 30 * MINUTE, reserve=10 * MINUTE)
    assert told.latest == clock("05:50")
    assert told.margin(WHEN["50"].begin) == -7 * MINUTE


def test_an_edit_moves_only_what_waits():
    longer = [
        Task("53", "W1", 10 * MINUTE, start=clock("06:29")) if task.name == "53" else task
        for task in steps()
    ]
    told = edit(steps(), longer)
    assert told.edited == ("53",)
    assert [one.task for one in told.moved] == ["53", "54", "55"]
