"""Verdicts from stated answers: several hands, speeds, rules and searches that are not settled."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest
from bench import bench, drive, step
from bench import resolved as resolved_bench
from handing import JOB, crate, resolved

from reach.checks import approach, error, kept, reach, ruling, two_handed, wording
from reach.finding import Verdict
from reach.kept.noting import altered

FAIL, OPEN, PASS = Verdict.FAIL, Verdict.OPEN, Verdict.PASS


# ---- reach: hands speak together -----------------------------------------------------


def hand(radius=0.1, within=0.01, ceiling=0.12, short=-1.0, witness=True):
    return SimpleNamespace(
        short=short,
        witness=object() if witness else None,
        margin=SimpleNamespace(radius=radius, within=within, ceiling=ceiling),
    )


@pytest.mark.parametrize(
    ("hands", "low", "high"),
    [
        ([hand()], 0.04, 0.07),  # the ceiling is above what was shown
        ([hand(ceiling=0.0)], 0.04, 0.06),
        ([hand(0.03, ceiling=0.04), hand()], 0.04, 0.07),
        ([hand(0.03, ceiling=0.02), hand(0.02, ceiling=0.02)], -0.03, -0.01),
        ([hand(0.02, ceiling=0.02), hand(0.03, ceiling=0.02)], -0.03, -0.01),
        ([hand(0.03, ceiling=0.02), hand(short=0.2)], -0.03, -0.01),
        ([hand(short=0.2), hand(0.03, ceiling=0.02)], -0.03, -0.01),
        # A hand that was not found may leave any margin: the others prove no fail.
        ([hand(witness=False), hand(0.03, ceiling=0.02)], -0.03, math.inf),
        ([hand(), hand(witness=False)], 0.04, 0.07),  # the first that passes is enough
        ([hand(0.005, ceiling=0.0)], -0.05, -0.035),  # shown to within: never below nothing
    ],
)
def test_the_margin_of_reach_is_that_of_the_better_hand(monkeypatch, hands, low, high):
    monkeypatch.setattr(reach, "ranked_attempts", lambda *asked: hands)
    _, found_low, found_high = reach._best_margin(None, None, 0.05)
    assert (found_low, found_high) == pytest.approx((low, high))


# ---- both hands on a tool ------------------------------------------------------------


@pytest.mark.parametrize(
    ("violations", "reached", "n_asked"),
    [
        ([0.2], False, 1),  # no pair at all: nothing to go on from
        ([0.0, 0.0, 0.0, 0.0], False, two_handed.ROUNDS),
        ([0.0], True, 1),
    ],
)
def test_a_pair_found_is_gone_on_from_and_one_not_found_ends_it(
    monkeypatch, violations, reached, n_asked
):
    asked = []

    def pair(*question):
        asked.append(question)
        k = min(len(asked), len(violations)) - 1
        return SimpleNamespace(violation=[violations[k]], right=[np.full(9, float(len(asked)))])

    def other_hand(figure, posture, at):
        return reached and posture[0] > 0.0

    grip = SimpleNamespace(tolerance=0.1)
    attempt = SimpleNamespace(
        figure=SimpleNamespace(grip=grip, body=None, suit=None), witness=None,
        target=SimpleNamespace(tip=None, direction=None), envelope=(0.0, np.zeros(9)),
    )  # fmt: skip
    tool = SimpleNamespace(record=SimpleNamespace(second_grip=[0, 0, 0.1]))
    monkeypatch.setattr(two_handed, "find_two_handed", pair)
    monkeypatch.setattr(two_handed, "figure_of", lambda *asked: None)
    monkeypatch.setattr(two_handed, "second_grip_of", lambda *asked: np.zeros(3))
    monkeypatch.setattr(two_handed, "_other_hand", other_hand)
    assert two_handed._both(SimpleNamespace(held=tool), attempt) is reached
    assert len(asked) == n_asked


# ---- approach ------------------------------------------------------------------------


@pytest.fixture(scope="module")
def seating():
    site, _ = resolved(crate(), *JOB)
    return site, next(one for one in site.carriages if one.step == "seat")


def test_a_speed_that_is_not_known_is_open_and_a_bracket_across_the_limit_no_pass(
    seating, monkeypatch
):
    site, carriage = seating
    limit = site.limit("approach_speed").value
    for speeds, verdict in (
        (None, OPEN), ((0.5, 0.9), PASS), ((0.9, 1.1), OPEN), ((1.1, 1.2), FAIL),
    ):  # fmt: skip
        speed = speeds and SimpleNamespace(low=speeds[0] * limit, high=speeds[1] * limit)
        monkeypatch.setattr(approach, "last_speed", lambda *asked, speed=speed: speed)
        found = approach._speed(site, altered(carriage, duration=100.0), "GU")
        assert found.verdict is verdict
        if speeds:
            ends = (limit * (1.0 - speeds[1]), limit * (1.0 - speeds[0]))
            assert (found.low, found.high) == pytest.approx(ends)
            assert bool(found.fix) is (found.low < 0.0)
    assert "Take 120 s" in found.fix
    timeless = approach._speed(site, altered(carriage, duration=None), "GU")
    assert "on the path" in timeless.fix


# ---- a distance kept, a rule, words --------------------------------------------------


def test_a_distance_that_rounding_hides_is_neither_kept_nor_broken(seating, monkeypatch):
    site, carriage = seating
    stated = SimpleNamespace(
        answer=None, part="crate", thing="floor", low=0.0999, gap=0.1001, at=0.5,
        on_part=np.zeros(3), on_thing=np.zeros(3),
    )  # fmt: skip
    monkeypatch.setattr(kept, "kept", lambda *asked: stated)
    found = kept.kept_finding("kept", site, carriage, 0.1)
    assert (found.low, found.high) == pytest.approx((-0.0001, 0.0001))
    stated.low, stated.gap = 0.1, 0.1 + 1e-12  # so near that it may be either
    found = kept.kept_finding("kept", site, carriage, 0.1)
    assert found.low < 0.0 <= found.high
    stated.answer, stated.gap = False, 0.1
    assert kept.kept_finding("kept", site, carriage, 0.1).verdict is FAIL


def test_a_rule_that_is_not_settled_in_every_order_is_no_pass():
    outing = SimpleNamespace(steps=[SimpleNamespace(name="first")])
    judged = SimpleNamespace(
        outing=outing, is_broken=False, deed=None, elsewhere=False, fix="", margin=(-1.0, 0.0),
        ruling=SimpleNamespace(answer=SimpleNamespace(name="NOT_SETTLED"), order=()),
    )  # fmt: skip
    found = ruling.ruled("hooked", judged, ("R",), "R is always on a line", "R is on no line")
    assert found.verdict is OPEN
    assert "not every order could be looked at" in found.because
    assert "orders" not in found.numbers


def test_amounts_beyond_all_measure_and_whole_days_are_still_words():
    assert wording.enough(math.inf) == wording.text_of(math.inf, "m")
    assert ruling.minutes_text(6e5).endswith(" h")
    assert ruling.minutes_text(-6e5).startswith("-")
    assert ruling.minutes_text(6e5 - 60.0).endswith(" min")


def test_without_a_place_the_boots_are_nowhere():
    assert wording.blank(SimpleNamespace(place=None)) == "The step names no place to work from."


# ---- position errors ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("radii", "left"), [((0.1,), 0.05), ((0.04, 0.1), 0.05), ((0.1, 0.04), 0.05)]
)
def test_of_the_ball_that_is_proved_the_shift_and_the_limit_come_off(monkeypatch, radii, left):
    data = bench(limits={"worst_error": {"value": 0.02, "source": "these tests"}})
    site, (situation,) = resolved_bench(data, step("s", "R", drive("easy")))
    hands = [SimpleNamespace(short=-1.0, witness=1, hand="right", radius=one) for one in radii]
    worst = SimpleNamespace(shift=0.03, turn=0.01, sure=0.01)

    def proved(site, attempt, worst, wanted):
        assert wanted > worst.shift + 0.02
        return SimpleNamespace(radius=attempt.radius, n_cells=0, blocked=np.full(3, np.nan))

    monkeypatch.setattr(error, "worst_of", lambda *asked: worst)
    monkeypatch.setattr(error, "_proved", proved)
    monkeypatch.setattr(error, "_most_left", lambda tried: 0.3)
    monkeypatch.setattr(error, "_told", lambda cover, low: "so much is proved")
    found = error._worst(site, situation, None, hands)
    assert found.low == pytest.approx(left)
    assert found.high == pytest.approx(0.3 - 0.01 - 0.02)
    assert found.numbers["proved radius"] == max(radii)
