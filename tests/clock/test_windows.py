"""Windows: margins to both ends, the next opening, and what of a task is dark."""

import random

import numpy as np
import pytest

from reach.clock import Span, Window, days, fit, lighting, nights

MINUTE = 60.0


def clock(text):
    hours, minutes = text.split(":")
    return 3600.0 * int(hours) + MINUTE * int(minutes)


NIGHTS = [
    Window(clock(begin), clock(end), begin)
    for begin, end in [
        ("00:52", "01:27"),
        ("02:24", "02:59"),
        ("03:56", "04:31"),
        ("05:28", "06:03"),
    ]
]


def test_a_mating_that_ends_after_its_night_is_short_by_eight_minutes():
    span = Span(clock("04:22"), clock("04:34"))
    answer = fit(span, NIGHTS, 5 * MINUTE, 5 * MINUTE)
    assert answer.window.name == "03:56"
    assert answer.margin == answer.margin_end == clock("04:26") - clock("04:34")
    assert answer.margin_begin == 21 * MINUTE
    assert answer.sooner.start == clock("04:14")  # so 04:11 is early enough
    assert answer.later.start == clock("05:33")
    assert answer.too_long == -13 * MINUTE


def test_a_mating_that_uses_its_night_up_fits_with_the_rest_as_margin():
    answer = fit(Span(clock("04:01"), clock("04:11")), NIGHTS, 5 * MINUTE, 5 * MINUTE)
    assert (answer.margin, answer.margin_begin, answer.margin_end) == (0.0, 0.0, 15 * MINUTE)
    assert answer.sooner.start == answer.later.start == clock("04:01")


def test_a_task_longer_than_any_window_is_impossible_by_so_much():
    answer = fit(Span(0.0, 30 * MINUTE), NIGHTS, 5 * MINUTE, 5 * MINUTE)
    assert answer.too_long == 5 * MINUTE
    assert answer.sooner is answer.later is None
    assert answer.margin < 0.0


def test_without_a_window_nothing_fits():
    answer = fit(Span(0.0, 1.0), [])
    assert (answer.window, answer.margin, answer.too_long) == (None, -np.inf, np.inf)


def test_after_the_last_window_only_sooner_is_left():
    answer = fit(Span(clock("07:00"), clock("07:10")), NIGHTS)
    assert answer.later is None
    assert answer.sooner.start == clock("05:53")


def test_openings_are_those_that_trying_every_second_finds():
    dice = random.Random(5)
    for _ in range(200):
        edges = sorted(dice.sample(range(120), 6))
        windows = [Window(*map(float, edges[i : i + 2])) for i in (0, 2, 4)]
        dice.shuffle(windows)
        before, after, length = (float(dice.randint(0, most)) for most in (4, 4, 15))
        begin = float(dice.randint(-5, 125))

        def inside(start, windows=windows, before=before, after=after, length=length):
            return max(
                min(start - w.begin - before, w.end - after - start - length) for w in windows
            )

        answer = fit(Span(begin, begin + length), windows, before, after)
        assert answer.margin == inside(begin)
        good = [float(start) for start in range(-30, 160) if inside(float(start)) >= 0.0]
        later = [start for start in good if start >= begin]
        sooner = [start for start in good if start <= begin]
        assert (answer.later.start if answer.later else None) == (later[0] if later else None)
        assert (answer.sooner.start if answer.sooner else None) == (sooner[-1] if sooner else None)
        assert (answer.too_long > 0.0) == (not good)


def test_nights_and_days_take_turns():
    assert nights([0.0, 90.0], [45.0, 135.0]) == (Window(45.0, 90.0, "night"),)
    assert days([0.0, 90.0], [45.0, 135.0]) == (
        Window(0.0, 45.0, "day"),
        Window(90.0, 135.0, "day"),
    )


@pytest.mark.parametrize(
    ("sunrises", "sunsets"), [([0.0, 10.0], [45.0]), ([0.0], [45.0, 50.0]), ([0.0], [0.0])]
)
def test_sunrises_and_sunsets_that_do_not_take_turns_are_refused(sunrises, sunsets):
    with pytest.raises(ValueError, match="take turns"):
        nights(sunrises, sunsets)


def test_light_beyond_what_is_listed_is_not_guessed():
    with pytest.raises(ValueError, match="not listed"):
        lighting(Span(50.0, 100.0), [0.0, 90.0], [45.0])
    with pytest.raises(ValueError, match="not listed"):
        lighting(Span(0.0, 1.0), [], [])


def test_light_and_dark_are_what_counting_seconds_gives():
    dice = random.Random(7)
    for _ in range(100):
        turns = np.cumsum([dice.randint(1, 30) for _ in range(8)]).astype(float)
        rises, sets = list(turns[::2]), list(turns[1::2])
        begin, end = sorted(dice.sample(range(int(turns[0]), int(turns[-1]) + 1), 2))
        split = lighting(Span(float(begin), float(end)), rises, sets)
        seconds = np.arange(begin, end) + 0.5
        dark = np.searchsorted(turns, seconds) % 2 == 0
        assert split.dark == np.count_nonzero(dark)
        assert split.light == np.count_nonzero(~dark)
        assert split.crosses == bool(np.any(dark[1:] != dark[:-1]))
        assert split.stretches[0].span.begin == begin
        assert split.stretches[-1].span.end == end


@pytest.mark.parametrize("wrong", [(5.0, 5.0), (5.0, 4.0), (float("nan"), 4.0)])
def test_windows_that_make_no_sense_are_refused(wrong):
    with pytest.raises(ValueError, match="begins before it ends"):
        Window(*wrong)


def test_tasks_and_margins_that_make_no_sense_are_refused():
    for span, before in [(Span(5.0, 4.0), 0.0), (Span(4.0, 5.0), -1.0)]:
        with pytest.raises(ValueError, match="margins >= 0"):
            fit(span, NIGHTS, before)
