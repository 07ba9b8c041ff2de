"""Chances by draws agree with exact convolutions and are the same everywhere."""

import time

import numpy as np
import pytest

from reach.clock import Event, Span, Spread, Task, chance, draw, edit, share_of, timetable
from reach.clock.draws import triangular

A = Spread(300.0, 400.0, 800.0)
B = Spread(100.0, 100.0, 500.0)
C = Spread(200.0, 600.0, 600.0)


def cdf(spread, x):
    """Probability that a triangular duration is at most x, by its closed form."""
    a, c, b = spread.low, spread.likely, spread.high
    x = np.clip(x, a, b)
    rising = (x - a) ** 2 / ((b - a) * (c - a)) if c > a else np.zeros_like(x)
    falling = 1.0 - (b - x) ** 2 / ((b - a) * (b - c)) if b > c else np.ones_like(x)
    return np.where(x < c, rising, falling)


STEP = 1.0
GRID = np.arange(0.0, 3000.0, STEP)


def cells(spread):
    """Probability of each cell of the grid, its mass at the middle of the cell."""
    return np.diff(cdf(spread, np.append(GRID, GRID[-1] + STEP)))


def added(*spreads):
    """Probability that a sum is at most x, x on the grid of middles, by convolution."""
    mass = cells(spreads[0])
    for spread in spreads[1:]:
        mass = np.convolve(mass, cells(spread))[: len(GRID)]
    middles = GRID + 0.5 * STEP * len(spreads)
    return lambda x: float(np.interp(x, middles + 0.5 * STEP, np.cumsum(mass)))


ONE = [Task("a", "W1", A)]
CHAIN = [Task("a", "W1", A), Task("b", "W1", B), Task("c", "W1", C)]
JOIN = [Task("a", "W1", A), Task("b", "W2", B), Task("end", "CO", 50.0, after=("a", "b"))]
BOTH = [*CHAIN, Task("d", "W2", Spread(700.0, 900.0, 1800.0))]
GATE = [Task("a", "W1", A), Task("b", "W1", B, start=600.0)]

SUM = added(A, B, C)
EXACT = [
    (ONE, lambda x: float(cdf(A, np.array(x)))),
    (CHAIN, SUM),
    (JOIN, lambda x: float(cdf(A, np.array(x - 50.0)) * cdf(B, np.array(x - 50.0)))),
    (BOTH, lambda x: SUM(x) * float(cdf(BOTH[3].duration, np.array(x)))),
]


@pytest.mark.parametrize(("tasks", "exact"), EXACT, ids=["one", "chain", "join", "both"])
@pytest.mark.parametrize("wanted", [0.02, 0.3, 0.5, 0.8, 0.99])
def test_chances_agree_with_exact_convolutions_and_products(tasks, exact, wanted):
    moments = np.linspace(100.0, 2500.0, 1200)
    by = float(moments[np.argmin([abs(exact(x) - wanted) for x in moments])])
    told = chance(tasks, None, by, n=40_000, level=0.9999)
    assert told.low <= exact(by) <= told.high
    assert told.high - told.low < 0.02


def test_intervals_hold_the_exact_chance_as_often_as_they_say():
    exact = SUM(1500.0)
    told = [chance(CHAIN, "c", 1500.0, n=400, seed=seed) for seed in range(300)]
    held = sum(one.low <= exact <= one.high for one in told)
    assert held >= 0.95 * 300 - 3.0 * np.sqrt(300 * 0.95 * 0.05)
    assert len({one.share for one in told}) > 20


def test_a_written_start_is_waited_for():
    told = chance(GATE, Event("b", "begin"), 600.0, n=20_000, level=0.9999)
    assert told.low <= float(cdf(A, np.array(600.0))) <= told.high
    assert draw(GATE, 100).at(Event("b", "begin")).min() == 600.0


def test_each_draw_is_a_timetable():
    tasks = [
        Task("a", "W1", A),
        Task("b", "W2", B, start=350.0),
        Task("c", ("W1", "W2"), C),
        Task("d", "CO", A, with_=("c",)),
        Task("e", "CO", B, after=("b",)),
    ]
    drawn = draw(tasks, 50, seed=4)
    for i in range(50):
        took = drawn.ends[:, i] - drawn.starts[:, i]
        plan = timetable(
            [
                Task(t.name, t.lane, float(one), t.after, t.start, t.with_)
                for t, one in zip(tasks, took, strict=True)
            ]
        )
        assert [one.start for one in plan.times.values()] == pytest.approx(drawn.starts[:, i])
        assert plan.end == pytest.approx(drawn.at()[i])
        assert all(t.spread.low <= d <= t.spread.high for t, d in zip(tasks, took, strict=True))


@pytest.mark.parametrize("spread", [A, B, C, Spread(5.0, 5.0, 5.0)])
def test_quantiles_undo_the_distribution(spread):
    u = np.linspace(0.0, 1.0, 1001)
    x = triangular(spread, u)
    assert x[0] == spread.low
    assert x[-1] == spread.high
    assert np.all(np.diff(x) >= 0.0)
    if spread.low < spread.high:
        assert cdf(spread, x) == pytest.approx(u, abs=1e-12)


def test_durations_that_are_certain_are_certain():
    told = chance([Task("a", "W1", 60.0)], "a", 60.0, n=100)
    assert told.share == told.high == 1.0
    assert 0.9 < told.low < 1.0
    assert chance([Task("a", "W1", 60.0)], "a", 59.0, n=100).share == 0.0


def test_draws_are_the_same_everywhere():
    drawn = draw(CHAIN, 3, seed=7)
    assert [value.hex() for value in drawn.at("c").tolist()] == GOLDEN


GOLDEN = ["0x1.29dc377912dbep+10", "0x1.d3ae15155f53ep+9", "0x1.31f816d9e8a4ap+10"]


def test_a_task_keeps_its_draws_when_others_come_and_go():
    alone = draw(CHAIN[:1], 100)
    more = draw([Task("new", "W2", B), *CHAIN], 100)
    assert np.array_equal(alone.at("a"), more.at("a"))
    assert not np.array_equal(alone.at("a"), draw(CHAIN[:1], 100, seed=1).at("a"))


def test_the_chance_of_lying_in_a_window_is_told_draw_by_draw():
    drawn = draw(CHAIN, 10_000)
    inside = (drawn.at(Event("b", "begin")) >= 400.0) & (drawn.at("b") <= 900.0)
    told = share_of(inside)
    assert 0.0 < told.low < told.share < told.high < 1.0
    assert told.share == np.mean(inside)


def test_ten_thousand_timetables_of_sixty_tasks_take_well_under_a_second():
    tasks = [
        Task(f"t{i}", f"W{i % 3}", A, after=(f"t{i - 5}",) if i % 4 == 0 and i > 4 else ())
        for i in range(60)
    ]
    draw(tasks[:2], 10)
    begin = time.process_time()
    told = chance(tasks, None, 11_000.0)
    assert time.process_time() - begin < 0.5
    assert told.n_draws == 10_000


@pytest.mark.parametrize("wrong", [{"tasks": []}, {"n": 0}, {"seed": -1}])
def test_draws_that_make_no_sense_are_refused(wrong):
    with pytest.raises(ValueError, match="needs tasks, draws"):
        draw(**{"tasks": ONE, "n": 1, "seed": 0, **wrong})
    with pytest.raises(ValueError, match="no task 'x'"):
        chance(ONE, "x", 1.0, n=2)


def test_an_edit_moves_what_waits_for_it_and_nothing_else():
    before = [
        Task("a", "W1", 60.0),
        Task("b", "W1", 60.0),
        Task("c", "W2", 90.0),
        Task("d", "W2", 10.0, after=("a",)),
        Task("gone", "CO", 5.0),
    ]
    after = [
        Task("a", "W1", 80.0),
        *before[1:4],
        Task("new", "CO", 5.0),
    ]
    told = edit(before, after)
    assert told.edited == ("a",)
    assert [(m.task, m.was, m.is_) for m in told.moved] == [
        ("a", Span(0.0, 60.0), Span(0.0, 80.0)),
        ("b", Span(60.0, 120.0), Span(80.0, 140.0)),
    ]
    assert (told.added, told.removed) == (("new",), ("gone",))
    assert told.end == (120.0, 140.0)
    assert told.touched == ("a", "b", "new")
    assert set(told.slack) == {"c", "d"}


def test_a_task_that_comes_between_two_others_touches_the_one_behind():
    before = [Task("a", "W1", 60.0), Task("c", "W1", 60.0, start=600.0)]
    after = [before[0], Task("b", "W1", 60.0), before[1]]
    told = edit(before, after)
    assert told.moved == ()
    assert told.edited == ("c",)  # it follows another task now
    assert told.added == ("b",)


def test_the_same_procedure_is_no_edit():
    told = edit(CHAIN, CHAIN)
    assert (told.touched, told.slack, told.removed) == ((), (), ())
