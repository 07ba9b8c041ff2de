"""The cut order is the smallest by priority, and what it saves is timed again."""

import random
from itertools import combinations

import pytest

from reach.clock import Option, Task, cut_order, end_of, timetable, unwritten, without
from reach.clock import cuts as cuts_module


def test_a_task_with_slack_saves_nothing():
    tasks = [
        Task("main", "W1", 100.0),
        Task("extra", "W2", 60.0),
        Task("photos", "W1", 20.0),
        Task("in", ("W1", "W2"), 10.0),
    ]
    told = cut_order(tasks, [Option(("photos",), 2.0), Option(("extra",), 1.0)], 115.0)
    assert told.end == 130.0
    assert [(cut.option.tasks, cut.saved) for cut in told.cuts] == [(("photos",), 20.0)]
    assert told.margin == 5.0
    assert told.smallest


def test_less_is_saved_than_the_task_takes_where_another_lane_takes_over():
    tasks = [Task("a", "W1", 50.0), Task("b", "W1", 50.0), Task("c", "W2", 70.0)]
    told = cut_order(tasks, [Option(("b",), 1.0)], 80.0)
    assert [cut.saved for cut in told.cuts] == [30.0]


def test_in_time_already_means_nothing_is_cut():
    told = cut_order([Task("a", "W1", 50.0)], [Option(("a",), 1.0)], 50.0)
    assert (told.cuts, told.margin) == ((), 0.0)


def test_where_nothing_helps_all_is_cut_and_what_is_missing_is_told():
    tasks = [Task("a", "W1", 50.0), Task("b", "W1", 50.0)]
    told = cut_order(tasks, [Option(("b",), 1.0)], 40.0)
    assert len(told.cuts) == 1
    assert told.margin == -10.0


def test_order_is_kept_through_a_task_that_is_cut():
    tasks = [
        Task("hold", "W1", 30.0),
        Task("photo", "IN", 5.0, after=("hold",)),
        Task("label", "IN", 5.0, after=("photo",)),
        Task("release", "W2", 5.0, after=("label",)),
    ]
    rest = without(tasks, ("photo", "label"))
    assert [task.after for task in rest] == [(), ("hold",)]
    assert end_of(rest) == 35.0
    with pytest.raises(ValueError, match="no task 'nobody'"):
        without(tasks, ("nobody",))


def test_written_starts_hold_the_rest_back_unless_let_go():
    tasks = [Task("a", "W1", 50.0, start=0.0), Task("b", "W1", 50.0, start=50.0)]
    options = [Option(("a",), 1.0)]
    assert cut_order(tasks, options, 60.0).margin == -40.0
    assert cut_order(unwritten(tasks), options, 60.0).margin == 10.0


def drawn_case(seed):
    dice = random.Random(seed)
    tasks = []
    for i in range(10):
        tasks.append(
            Task(
                f"t{i}",
                dice.choice(["W1", "W2"]),
                float(dice.randint(1, 9)),
                after=tuple(f"t{j}" for j in range(i) if dice.random() < 0.15),
                with_=tuple(f"t{j}" for j in range(i) if dice.random() < 0.03),
            )
        )
    names = dice.sample([task.name for task in tasks], 7)
    held = [tuple(names[:2]), *((name,) for name in names[2:])]
    options = [Option(one, float(dice.randint(1, 3))) for one in held]
    return tasks, options, dice.uniform(0.4, 1.0)


def sensible_cases(n):
    found, seed = [], 0
    while len(found) < n:
        case = drawn_case(seed)
        seed += 1
        try:
            timetable(case[0])
        except ValueError:
            continue
        found.append(case)
    return found


def test_of_the_most_important_as_few_as_possible_are_cut():
    n_cut = 0
    for tasks, options, share in sensible_cases(40):
        limit = share * end_of(tasks)
        told = cut_order(tasks, options, limit)
        ranks = sorted({option.priority for option in options}, reverse=True)

        def cost(cut, ranks=ranks):
            return [sum(option.priority == rank for option in cut) for rank in ranks]

        good = []
        for n in range(len(options) + 1):
            for cut in combinations(options, n):
                end = end_of(without(tasks, {name for option in cut for name in option.tasks}))
                if end <= limit:
                    good.append((cost(cut), end))
        done = [cut.option for cut in told.cuts]
        if not good:
            assert told.margin < 0.0
            assert len(done) == len(options)
            continue
        assert (cost(done), limit - told.margin) == min(good)
        assert told.smallest
        assert [o.priority for o in done] == sorted(o.priority for o in done)
        assert sum(cut.saved for cut in told.cuts) == pytest.approx(told.end + told.margin - limit)
        n_cut += len(done) > 1
    assert n_cut > 10


def test_leaving_out_more_never_ends_later():
    for tasks, _, _ in sensible_cases(30):
        names = [task.name for task in tasks]
        for i in range(len(names)):
            ends = [end_of(without(tasks, names[j : i + 1])) for j in range(i + 1, -1, -1)]
            assert ends == sorted(ends, reverse=True)


def test_too_many_equals_are_cut_in_the_order_of_the_list_and_told(monkeypatch):
    tasks = [Task(f"t{i}", "W1", 10.0) for i in range(12)]
    options = [Option((task.name,), 1.0) for task in tasks]
    monkeypatch.setattr(cuts_module, "MOST_TRIES", 20)
    told = cut_order(tasks, options, 65.0)
    assert not told.smallest
    assert told.margin >= 0.0
    assert [cut.option.tasks[0] for cut in told.cuts] == [f"t{i}" for i in range(11, 5, -1)]
