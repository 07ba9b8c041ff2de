"""The clock's checks against a minute-by-minute count, on random small outings."""

import random

import pytest
from clocking import CHECK, IN, MINUTE, OUT, WORK, asked, findings, place, step

from reach.checks import check_named
from reach.clock import clashes, end_of, timetable
from reach.finding import Verdict
from reach.timing import closed_up, glove_moments, out_of

SEEDS = range(12)


def clock(minute):
    return f"{minute // 60:02d}:{minute % 60:02d}"


def outing(seed):
    """Steps of both workers, one after the other in each lane, with checks here and there."""
    rng = random.Random(seed)
    for lane in "AB":
        now = rng.randrange(0, 10)
        yield step(f"{lane} out", lane, clock(now), 5, OUT)
        now += 5
        for k in range(rng.randrange(2, 7)):
            now, took = now + rng.choice([0, 0, 3, 12]), rng.randrange(5, 30)
            act = [CHECK] if rng.random() < 0.4 else [WORK]
            more = {"optional": rng.randrange(3)} if rng.random() < 0.3 else {}
            yield step(f"{lane} {k}", lane, clock(now), took, *act, **more)
            now += took
        yield step(f"{lane} in", lane, clock(now), 5, IN)


def spans_in_minutes(one):
    return {name: tuple(round(t / MINUTE) for t in span) for name, span in one.spans.items()}


@pytest.mark.parametrize("seed", SEEDS)
def test_gloves_by_counting_minutes(seed):
    site, one = asked(place(), *outing(seed))
    found = check_named("glove-check").find(site, one)
    for worker in "AB":
        out, checks = out_of(one, worker), glove_moments(one, worker)
        moments = {round(check.time / MINUTE) for check in checks}
        longest = since = 0
        for minute in range(round(out.begin / MINUTE), round(out.end / MINUTE)):
            since = 0 if minute in moments else since
            since += 1
            longest = max(longest, since)
        mine = [f for f in found if f.about == (worker,)]
        assert max(f.numbers["gap"] for f in mine) == longest * MINUTE
        assert (longest <= 35) == all(f.verdict is Verdict.PASS for f in mine)


@pytest.mark.parametrize("seed", SEEDS)
def test_gloves_are_mended_by_the_checks_asked_for(seed):
    steps = list(outing(seed))
    site, one = asked(place(), *steps)
    more = []
    for found in check_named("glove-check").find(site, one):
        if found.verdict is Verdict.FAIL:
            (worker,) = found.about
            asked_at = found.fix.removeprefix(f"Glove check of {worker} at ").rstrip(".")
            for k, text in enumerate(asked_at.split("; at ")):
                hours, minutes = text[:5].split(":")
                at = int(hours) * 60 + int(minutes)
                extra = {**CHECK, "of": [worker]}
                more.append(step(f"{worker} more {found.step} {k}", "IN", clock(at - 1), 1, extra))
    told = findings("glove-check", *steps, *more)
    assert all(found.verdict is Verdict.PASS for found in told)


@pytest.mark.parametrize("seed", SEEDS)
def test_waits_by_counting_minutes(seed):
    site, one = asked(place(), *outing(seed))
    spans = spans_in_minutes(one)
    for found in check_named("lanes").find(site, one):
        (worker,) = found.about
        mine = [span for name, span in spans.items() if name.startswith(worker)]
        busy = {minute for begin, end in mine for minute in range(begin, end)}
        assert found.verdict is Verdict.PASS
        assert found.numbers["waits"] == (max(busy) + 1 - min(busy) - len(busy)) * MINUTE


@pytest.mark.parametrize("seed", SEEDS)
def test_closing_up_never_ends_later_and_keeps_the_written_order(seed):
    _, one = asked(place(), *outing(seed))
    tasks = closed_up(one)
    assert end_of(tasks) <= one.end
    closed = timetable(tasks).spans
    assert not clashes(one.tasks, closed)
    for first, was in one.spans.items():
        for second, later in one.spans.items():
            if was.end <= later.begin and was != later:
                assert closed[first].end <= closed[second].begin


@pytest.mark.parametrize("seed", SEEDS)
def test_a_later_limit_never_cuts_more(seed):
    site, one = asked(place(), *outing(seed))
    counts = []
    for minutes in (1, 30, 60, 90, 120):
        data = place()
        data["limits"] = {"outing_time": f"{minutes} min"}
        (found,) = check_named("outing").find(*asked(data, *outing(seed)))
        assert found.low == minutes * MINUTE - one.end
        counts.append(len(found.numbers.get("cut", [])))
    assert counts == sorted(counts, reverse=True)
    assert site.limit("outing_time").value == 6.5 * 3600.0
