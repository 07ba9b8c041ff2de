"""Times and slack agree with longest paths, closed forms and delaying by hand."""

import random
from dataclasses import replace
from itertools import pairwise

import networkx as nx
import pytest

from reach.clock import Span, Spread, Task, downstream, idle, timetable, unwritten, waits
from reach.clock.timetable import MOST_PATHS

LANES = ("W1", "W2", "CO")


def drawn_tasks(seed, any_way=False):
    """Draw 3 to 11 tasks in up to 3 lanes; links go forward, or any way."""
    dice = random.Random(seed)
    n = dice.randint(3, 11)
    tasks = []
    for i in range(n):
        others = [f"t{j}" for j in range(n if any_way else i) if j != i]
        lanes = dice.sample(LANES, dice.choice([1, 1, 1, 2]))
        start = float(dice.randint(0, 25)) if dice.random() < 0.2 else None
        tasks.append(
            Task(
                f"t{i}",
                tuple(lanes) if len(lanes) > 1 else lanes[0],
                float(dice.randint(0, 6)),
                after=tuple(o for o in others if dice.random() < (0.1 if any_way else 0.15)),
                start=start,
                with_=tuple(o for o in others if dice.random() < 0.06),
                fixed=start is not None and dice.random() < 0.4,
            )
        )
    return tasks


def graph(tasks):
    """Return the knots of tasks that begin together, and a graph of knots with lengths."""
    ties = nx.Graph()
    ties.add_nodes_from(task.name for task in tasks)
    ties.add_edges_from((task.name, other) for task in tasks for other in task.with_)
    knot = {name: min(held) for held in nx.connected_components(ties) for name in held}
    links = nx.DiGraph()
    links.add_nodes_from(knot.values())
    durations = {task.name: task.spread.likely for task in tasks}
    last = {}
    for task in tasks:
        for other in {*task.after, *(last[lane] for lane in task.lanes if lane in last)}:
            ends = (knot[other], knot[task.name])
            known = links.get_edge_data(*ends, default={"took": 0.0})["took"]
            links.add_edge(*ends, took=max(known, durations[other]))
        last.update(dict.fromkeys(task.lanes, task.name))
    return knot, links


def longest(tasks):
    """Return the starts of all tasks by longest paths of networkx."""
    knot, links = graph(tasks)
    whole = nx.DiGraph()
    whole.add_edges_from((a, b, {"less": -data["took"]}) for a, b, data in links.edges(data=True))
    for name in links:
        starts = [task.start or 0.0 for task in tasks if knot[task.name] == name]
        whole.add_edge("", name, less=-max(starts))
    lengths = nx.single_source_bellman_ford_path_length(whole, "", weight="less")
    return {task.name: -lengths[knot[task.name]] for task in tasks}


def sensible(n):
    """Return n drawn networks that have a timetable."""
    found, seed = [], 0
    while len(found) < n:
        tasks = drawn_tasks(seed)
        if nx.is_directed_acyclic_graph(graph(tasks)[1]):
            found.append(tasks)
        seed += 1
    return found


NETWORKS = sensible(300)


def bound(tasks):
    """Return what each task waits for, and what it begins with as it is written."""
    before, ties, last = {}, {task.name: [] for task in tasks}, {}
    for task in tasks:
        before[task.name] = {*task.after, *(last[lane] for lane in task.lanes if lane in last)}
        last.update(dict.fromkeys(task.lanes, task.name))
        for other in task.with_:
            ties[task.name].append(other)
            ties[other].append(task.name)
    return before, ties


def relaxed(tasks, put_off=(None, 0.0), longer=(None, 0.0), links=None):
    """Return starts and the end, by putting off whatever is too early until nothing is."""
    before, ties = links or bound(tasks)
    starts = {task.name: task.start or 0.0 for task in tasks}
    if put_off[0]:
        starts[put_off[0]] = put_off[1]
    took = {task.name: task.spread.likely for task in tasks}
    if longer[0]:
        took[longer[0]] += longer[1]
    moving = True
    while moving:
        moving = False
        for name in starts:
            least = starts[name]
            for other in before[name]:
                least = max(least, starts[other] + took[other])
            for other in ties[name]:
                least = max(least, starts[other])
            if least > starts[name]:
                starts[name] = least
                moving = True
    return starts, max(starts[name] + took[name] for name in starts)


def test_starts_and_end_are_the_longest_paths_of_a_graph_library():
    for tasks in NETWORKS:
        plan, starts = timetable(tasks), longest(tasks)
        assert {name: times.start for name, times in plan.times.items()} == starts
        ends = [starts[task.name] + task.spread.likely for task in tasks]
        assert plan.end == max(ends)
        assert [times.end for times in plan.times.values()] == ends


def holds(tasks, was, now):
    """Say whether a change moved neither the end nor a fixed start."""
    fixed = [task.name for task in tasks if task.fixed]
    return now[1] <= was[1] and all(now[0][name] == was[0][name] for name in fixed)


def count_seconds(good):
    by = 0.0
    while good(by + 1.0):
        by += 1.0
    return by


def test_total_slack_is_how_long_a_task_can_be_put_off_until_the_end_moves():
    n = 0
    for tasks in NETWORKS:
        plan, links, was = timetable(tasks), bound(tasks), relaxed(tasks)
        for name, times in plan.times.items():

            def good(by, tasks=tasks, name=name, was=was, links=links):
                return holds(tasks, was, relaxed(tasks, (name, was[0][name] + by), links=links))

            slack = count_seconds(good)
            assert times.slack == slack
            assert times.latest_start == times.start + slack
            assert (name in plan.critical) == (slack == 0.0)
            n += slack > 0.0
    assert n > 300


def test_free_slack_is_how_long_a_task_can_be_put_off_until_another_one_moves():
    n = 0
    for tasks in NETWORKS:
        plan, links, was = timetable(tasks), bound(tasks), relaxed(tasks)
        knot, _ = graph(tasks)
        for name, times in plan.times.items():
            others = [one for one in knot if knot[one] != knot[name]]

            def good(by, tasks=tasks, name=name, was=was, links=links, others=others):
                now = relaxed(tasks, (name, was[0][name] + by), links=links)
                same = all(now[0][other] == was[0][other] for other in others)
                return same and holds(tasks, was, now)

            assert times.free_slack == count_seconds(good)
            n += times.free_slack < times.slack
    assert n > 100


def test_the_latest_end_is_how_long_a_task_can_take_until_the_end_moves():
    n = 0
    for tasks in NETWORKS:
        plan, links, was = timetable(tasks), bound(tasks), relaxed(tasks)
        for name, times in plan.times.items():

            def good(by, tasks=tasks, name=name, was=was, links=links):
                return holds(tasks, was, relaxed(tasks, longer=(name, by), links=links))

            longer = count_seconds(good)
            assert times.latest_end == times.end + longer
            n += longer > times.slack
    assert n > 10  # of two that begin together, one may end later than it may begin later


def test_critical_paths_add_up_to_the_end():
    n_several = 0
    for tasks in NETWORKS:
        plan = timetable(tasks)
        knot, links = graph(tasks)
        durations = {task.name: task.spread.likely for task in tasks}
        assert plan.paths
        assert not plan.more_paths
        for path in plan.paths:
            first = plan.times[path[0]]
            assert not first.held_by
            assert first.start + sum(durations[name] for name in path) == plan.end
            assert all(links.has_edge(knot[a], knot[b]) for a, b in pairwise(path))
            assert set(path[:-1]) <= set(plan.critical)
        assert len(set(plan.paths)) == len(plan.paths)
        n_several += len(plan.paths) > 1
    assert n_several > 20


def test_all_critical_paths_of_a_graph_library_are_listed():
    for tasks in NETWORKS[:150]:
        plan = timetable(tasks)
        knot, _ = graph(tasks)
        before, _ = bound(tasks)
        tight = nx.DiGraph()
        tight.add_nodes_from(plan.times)
        for name, one in plan.times.items():
            waited = set().union(*(before[other] for other in knot if knot[other] == knot[name]))
            held_by = {other for other in waited if plan.times[other].end == one.start}
            assert set(one.held_by) == held_by
            tight.add_edges_from((other, name) for other in held_by)
        first = [name for name in plan.times if not tight.pred[name]]
        last = [name for name, one in plan.times.items() if one.end == plan.end]
        paths = {(a,) for a in first if a in last}
        for a in first:
            for b in last:
                if a != b:
                    paths |= {tuple(path) for path in nx.all_simple_paths(tight, a, b)}
        assert set(plan.paths) == paths


def test_very_many_paths_are_cut_short_and_said_to_be():
    tasks, gate = [], ()
    for i in range(10):
        pair = (f"a{i}", f"b{i}")
        tasks += [Task(pair[0], "W1", 60.0, after=gate), Task(pair[1], "W2", 60.0, after=gate)]
        gate = pair
    plan = timetable(tasks)  # 2 to the power of 10 ways through, all as long
    assert plan.end == 600.0
    assert len(plan.paths) == MOST_PATHS
    assert plan.more_paths


def test_a_chain_is_a_sum_and_a_join_is_the_larger_sum():
    tasks = [
        Task("a", "W1", 60.0),
        Task("b", "W1", 120.0),
        Task("c", "W2", 90.0),
        Task("d", "W2", 10.0, after=("b",)),
    ]
    plan = timetable(tasks)
    assert plan.end == 190.0
    assert plan.paths == (("a", "b", "d"),)
    assert (plan.times["c"].slack, plan.times["c"].free_slack) == (90.0, 90.0)
    assert plan.waits[0].span == Span(90.0, 180.0)
    assert plan.waits[0].next_ == "d"


def test_the_end_lies_between_the_ends_of_shortest_and_longest_durations():
    tasks = [Task("a", "W1", Spread(1.0, 2.0, 4.0)), Task("b", "W1", Spread(3.0, 3.0, 9.0))]
    assert [timetable(tasks, at).end for at in ("low", "likely", "high")] == [4.0, 5.0, 13.0]


def test_a_task_in_two_lanes_holds_both():
    tasks = [Task("a", "W1", 5.0), Task("b", ("W1", "CO"), 5.0), Task("c", "CO", 5.0)]
    assert timetable(tasks).times["c"].start == 10.0


def test_tasks_that_begin_together_wait_for_the_later_one():
    tasks = [
        Task("a", "W1", 30.0),
        Task("hold", "W1", 10.0),
        Task("release", "W2", 5.0, with_=("hold",)),
    ]
    plan = timetable(tasks)
    assert plan.times["release"].start == plan.times["hold"].start == 30.0
    assert plan.times["release"].slack == 0.0  # it cannot begin later, though it may take longer
    assert plan.times["release"].latest_end == 40.0


def test_circles_and_unknown_names_are_told_all_at_once():
    tasks = [
        Task("a", "W1", 1.0, after=("b",)),
        Task("b", "W1", 1.0),
        Task("c", "W2", 1.0, after=("nobody",)),
        Task("d", "W2", 1.0, with_=("c", "ghost")),
        Task("e", "CO", 1.0, after=("e",)),
        Task("e", "IN", 1.0),
    ]
    with pytest.raises(ValueError, match="wait for each other") as told:
        timetable(tasks)
    for part in (
        "2 tasks are called 'e'",
        "c: there is no task 'nobody'",
        "d: there is no task 'ghost'",
        "a before b, b before a",
        "c before d, d begins with c",
    ):
        assert part in str(told.value)


def test_a_task_that_waits_for_itself_is_a_circle():
    with pytest.raises(ValueError, match="e before e"):
        timetable([Task("e", "CO", 1.0, after=("e",))])


def test_circles_are_found_where_a_graph_library_finds_them():
    n_circular = 0
    for seed in range(300):
        tasks = drawn_tasks(seed, any_way=True)
        _, links = graph(tasks)
        loops = {a for a, b in links.edges if a == b}
        sets = [c for c in nx.strongly_connected_components(links) if len(c) > 1 or c & loops]
        if not sets:
            timetable(tasks)
            continue
        n_circular += 1
        with pytest.raises(ValueError, match="wait for each other") as told:
            timetable(tasks)
        assert str(told.value).count("wait for each other") == len(sets)
    assert 30 < n_circular < 290


def test_a_written_start_that_cannot_be_kept_says_by_how_much():
    tasks = [
        Task("a", "W1", 600.0, start=0.0),
        Task("b", "W1", 600.0, start=480.0),
        Task("c", "W1", 60.0, start=900.0, fixed=True),
    ]
    plan = timetable(tasks)
    assert [(late.task, late.by, late.fixed) for late in plan.late] == [
        ("b", 120.0, False),
        ("c", 300.0, True),
    ]
    assert [(c.first, c.second, c.by, c.lane) for c in plan.overlaps] == [
        ("a", "b", 120.0, "W1"),
        ("b", "c", 180.0, "W1"),
    ]
    assert plan.written["c"] == Span(900.0, 960.0)


def test_a_fixed_start_takes_the_slack_of_what_goes_before():
    tasks = [
        Task("a", "W1", 60.0),
        Task("b", "W1", 60.0, start=100.0, fixed=True),
        Task("long", "W2", 1000.0),
    ]
    plan = timetable(tasks)
    assert (plan.times["a"].slack, plan.times["b"].slack) == (40.0, 0.0)
    loose = timetable([replace(task, fixed=False) for task in tasks])
    assert (loose.times["a"].slack, loose.times["b"].slack) == (880.0, 840.0)
    assert timetable(unwritten(tasks[:1])).end == 60.0


def test_starts_that_go_against_after_and_with_are_told():
    tasks = [
        Task("confirm", "IN", 300.0, start=600.0),
        Task("mate", "W2", 720.0, start=500.0, after=("confirm",)),
        Task("hold", "W1", 60.0, start=530.0, with_=("mate",)),
    ]
    told = {(c.kind, c.first, c.second): c.by for c in timetable(tasks).clashes}
    assert told == {("after", "confirm", "mate"): 400.0, ("with", "hold", "mate"): 30.0}


def test_both_idle_is_when_no_lane_works():
    tasks = [
        Task("a", "W1", 10.0),
        Task("b", "W2", 5.0),
        Task("c", "W1", 10.0, start=30.0),
        Task("d", "W2", 10.0, start=25.0),
        Task("crane", "CO", 100.0),
    ]
    plan = timetable(tasks)
    assert plan.idle(("W1", "W2")) == (Span(10.0, 25.0),)
    assert plan.idle() == ()
    assert [(w.lane, w.last, w.next_, w.span) for w in plan.waits] == [
        ("W1", "a", "c", Span(10.0, 30.0)),
        ("W2", "b", "d", Span(5.0, 25.0)),
    ]


def test_a_task_inside_a_longer_one_ends_no_wait_and_begins_none():
    tasks = [Task("long", "W1", 100.0), Task("inside", "W1", 10.0), Task("next", "W1", 5.0)]
    spans = {"long": Span(0.0, 100.0), "inside": Span(20.0, 30.0), "next": Span(110.0, 115.0)}
    assert idle(tasks, spans) == (Span(100.0, 110.0),)
    assert [(w.last, w.next_, w.span) for w in waits(tasks, spans)] == [
        ("long", "next", Span(100.0, 110.0))
    ]


def test_what_can_move_with_a_task_is_what_moves_when_it_takes_longer():
    for tasks in NETWORKS[:100]:
        starts, _ = relaxed(tasks)
        for task in tasks:
            names = downstream(tasks, task.name)
            now, _ = relaxed(tasks, longer=(task.name, 1000.0))
            assert names[0] == task.name
            moved = {name for name in now if now[name] != starts[name]}
            assert moved <= set(names)


@pytest.mark.parametrize(
    "wrong",
    [
        {"duration": -1.0},
        {"duration": float("nan")},
        {"start": -1.0},
        {"start": float("nan")},
        {"lane": ()},
        {"lane": ("W1", "W1")},
        {"fixed": True},
    ],
)
def test_tasks_that_make_no_sense_are_refused(wrong):
    with pytest.raises(ValueError, match="a"):
        Task(**{"name": "a", "lane": "W1", "duration": 1.0, **wrong})


def test_no_task_is_no_timetable():
    with pytest.raises(ValueError, match="no task"):
        timetable([])
    with pytest.raises(ValueError, match="no task 'b'"):
        downstream([Task("a", "W1", 1.0)], "b")
