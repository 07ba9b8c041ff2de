"""Which of several counts, and what a way that was chosen proves: answers put before the checks."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from bench import bench, drive, step, the
from bench import resolved as resolved_bench
from chores import about, begun, findings, go, out, stand
from cranes import crane_step
from cranes import resolved as resolved_yard
from cranes import yard as crane_yard
from handing import at, crate, of_step
from moves import move, situation_of, the_move, wall
from yard import carry, moved, yard

from reach.checks import effort, error, passing, sag, sockets, stop, watch
from reach.crane import rig_of
from reach.finding import Verdict
from reach.kept.noting import altered
from reach.payload.crane_way import CraneWay
from reach.payload.watching import Watched
from reach.straying import Worst
from reach.travel.loops import Loop
from reach.work import attempt_of
from reach.worker.cover import Cover

FAIL, OPEN, PASS = Verdict.FAIL, Verdict.OPEN, Verdict.PASS
HERE = np.zeros(3)

# ---- a way that was chosen is no proof -----------------------------------------------


@pytest.mark.parametrize("is_found", [False, True])
@pytest.mark.parametrize("unseen", [0.0, 9.0])
def test_what_goes_unseen_on_a_way_that_was_chosen_is_no_fail(monkeypatch, is_found, unseen):
    site, carriage = moved(yard(), carry())
    worst = (0.5, "crate", "wall", HERE, HERE) if unseen else None
    stretches = [(0.0, 1.0, unseen, unseen)] if unseen else []
    seen = Watched(("E",), stretches, unseen, 10.0, worst, {"E": 0.5})
    monkeypatch.setattr(watch, "watched", lambda *asked: seen)
    found = watch._finding(site, altered(carriage, is_found=is_found))
    assert site.limit("unseen_stretch").value < 9.0
    assert found.verdict is (PASS if not unseen else OPEN if is_found else FAIL)
    assert ("Another way" in found.because) is (found.verdict is OPEN)


@pytest.mark.parametrize("route", [None, ["RA", "RB", "RC"]])
@pytest.mark.parametrize(("gap", "short"), [(0.2, False), (-0.2, True)])
def test_a_body_that_hits_on_a_planned_way_is_no_fail(monkeypatch, route, gap, short):
    real = passing.room_of

    def room(*asked):
        swept = real(*asked)
        return replace(swept, low=np.full_like(swept.low, gap), high=np.full_like(swept.low, gap))

    monkeypatch.setattr(passing, "room_of", room)
    site, situation = situation_of(wall(), move(route=route))
    found = passing._finding(site, situation)
    assert found.verdict is (PASS if not short else OPEN if route is None else FAIL)


# ---- who stands where ----------------------------------------------------------------


def test_where_another_stands_is_where_their_last_step_began():
    """L has been at 2.0 m and gone on to 3.0 m when R begins; a later step is not yet."""
    data = crate(
        stations={
            "SL": {"at": [2.0, 0.0, 0.0]},
            "SM": {"at": [3.0, 0.0, 0.0], "up": [0, 0, 1], "toes": [-1, 0, 0],
                   "restraint": "plate"},
            "SN": {"at": [4.0, 0.0, 0.0], "up": [0, 0, 1], "toes": [-1, 0, 0],
                   "restraint": "plate"},
        }
    )  # fmt: skip
    steps = (
        at("first", "L", {"do": "ingress"}, start=0.0, duration=10.0),
        at("then", "L", {"do": "ingress"}, where="SM", start=60.0, duration=10.0),
        at("later", "L", {"do": "ingress"}, where="SN", start=900.0, duration=10.0),
        at("other", "R", {"do": "ingress"}, start=120.0, duration=10.0),
    )
    found = {one.answer: one for one in of_step("helmets", "other", data, *steps)}
    # Helmet balls of radius 0.18 m stand 0.04 m ahead of the hips.
    assert found["helmets, L"].numbers["distance"] == pytest.approx(3.0 - 2 * 0.22, abs=1e-9)


def test_a_station_is_shared_only_by_two_who_both_get_into_a_restraint():
    def asked(*steps):
        found = findings(sockets, *steps, begin=begun())
        return [one for one in found if "up" in one.about]

    come = (out("W1"), go("W1", "lock", "up"), stand("W1", "up"), out("W2"), go("W2", "lock", "up"))
    assert asked(*come) == []
    both = asked(*come, stand("W2", "up"))
    assert about(both, "W1", "W2", "up").verdict is FAIL


# ---- tools ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("allowed", "by_hand"), [(["ratchet"], True), (["ratchet", "power-drive"], False)]
)
def test_by_hand_only_is_said_just_where_no_drive_is_allowed(allowed, by_hand):
    data = bench(fasteners={"easy": {"tools": allowed}}, tools={"own": OWN})
    data["fasteners"]["easy"] |= {"at": [0.7, -0.2, 1.65], "axis": [-1, 0, 0], "torque": 20.0}
    found = the(
        "tool-class", data, step("s", "R", {"do": "drive", "fastener": "easy", "tool": "own"})
    )
    assert found.verdict is FAIL
    assert ("by hand only" in found.because) is by_hand


OWN = {"kind": "drive", "tip": [0.2, 0, 0.05], "axis": [1, 0, 0], "takes_bits": False}


# ---- effort --------------------------------------------------------------------------


def test_an_easier_posture_is_looked_for_by_the_limb_that_has_least_left(monkeypatch):
    left = []

    def easier(attempt, x, wanted, room):
        left.append(room(effort.arm_points(attempt, x)))
        return x

    monkeypatch.setattr(effort, "easier_posture", easier)
    found = the("effort", bench(), step("s", "R", drive("easy")))
    assert [found.low] == left


# ---- slack ---------------------------------------------------------------------------


@pytest.mark.parametrize("order", [1, -1])
def test_of_two_hazards_slack_touches_the_one_whose_true_surface_is_nearer(monkeypatch, order):
    """The facets of the round one are farther off, its surface may be nearer."""
    gaps = {"round": 0.30, "flat": 0.25}
    errors = {"round": 0.10, "flat": 0.0}

    def met(*asked):
        for name in list(gaps)[::order]:
            record = SimpleNamespace(control=None)
            yield SimpleNamespace(
                name=name, tree=name, error=errors[name], record=record, is_sure=True
            )

    def loop(corridor, tree, slack):
        return Loop(gaps[tree], gaps[tree], 0, HERE, HERE, HERE)

    monkeypatch.setattr(sag, "met", met)
    monkeypatch.setattr(sag, "nearest_loop", loop)
    found = the_move("sag", wall())
    assert found.low == pytest.approx(0.20, abs=1e-8)
    assert "round" in found.because


# ---- position errors -----------------------------------------------------------------


@pytest.mark.parametrize(("turn", "n_cuts"), [(0.0, 0), (0.3, 1), (1.2, 3)])
def test_a_turn_of_the_boots_is_taken_off_the_axis_tolerance(monkeypatch, turn, n_cuts):
    """In whole steps of half a degree; what is proved is the least over all of them."""
    site, (situation,) = resolved_bench(bench(), step("s", "R", drive("easy")))
    attempt = attempt_of(site, situation, "right")
    whole, asked = attempt.figure.grip.tolerance, []
    assert whole > 3 * error.RUNG

    def ball(figure, tip, direction, x, wanted):
        asked.append(figure.grip.tolerance)
        return Cover(0.01 * len(asked), 1, HERE)

    monkeypatch.setattr(error, "prove_ball", ball)
    found = error._proved(site, attempt, Worst(0.0, math.radians(turn), 0.0), 0.1)
    assert asked == pytest.approx([whole - k * error.RUNG for k in range(n_cuts + 1)])
    assert found.radius == 0.01


@pytest.mark.parametrize(
    ("reached", "verdict", "n_asked"),
    [((1000, 1000), PASS, 1), ((500, 1000), PASS, 2), ((500, 400), FAIL, 2)],
)
def test_a_hand_that_reaches_too_few_draws_leaves_it_to_the_other(
    monkeypatch, reached, verdict, n_asked
):
    site, (situation,) = resolved_bench(bench(), step("s", "R", drive("easy")))
    hands = [SimpleNamespace(short=-1.0, witness=1, hand=one) for one in ("right", "left")]
    asked = []

    def draws(site, situation, strays, attempt):
        n = reached[len(asked)]
        asked.append(attempt.hand)
        drawn = np.arange(error.N_DRAWS) < n
        return drawn, drawn

    monkeypatch.setattr(error, "_draws", draws)
    found = error._likely(site, situation, None, hands)
    assert (found.verdict, len(asked)) == (verdict, n_asked)
    assert found.numbers["reached"] == max(reached)


# ---- cranes --------------------------------------------------------------------------


def test_how_a_way_is_cut_up_changes_no_speed_of_a_crane_that_moves_by_itself():
    site, _ = resolved_yard(crane_yard(), crane_step("by the mast", start="near", duration="4 min"))
    (carriage,) = site.carriages
    rig = rig_of(site, carriage.crane, carriage.surroundings)
    middle = 0.5 * (np.maximum(rig.chain.lower, -3.0) + np.minimum(rig.chain.upper, 3.0))

    def seconds(*shares):
        q = np.array([middle + 0.4 * one for one in shares])
        way = CraneWay(
            rig.chain, rig.world_from_base, q, np.array(shares), 0.0, (), math.nan, 0.0, ""
        )
        return stop._seconds(site, carriage, way, 90.0)

    assert seconds(0.0, 0.25, 0.5, 0.75, 1.0) == pytest.approx([22.5] * 4)
    assert seconds(0.0, 0.25, 1.0) == pytest.approx([22.5, 67.5])
