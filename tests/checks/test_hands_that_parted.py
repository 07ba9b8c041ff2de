"""Hands from which a payload was moved away: what rests on them is open, and only that."""

import math

import pytest
from chores import begun
from chores import findings as of_outing
from chores import job as chore
from chores import yard as chores_yard
from clocking import MINUTE
from handing import READY, TAKE, at, crate, hold, of_step

from reach.checks import hand_time
from reach.finding import Verdict

PASS, FAIL, OPEN = Verdict.PASS, Verdict.FAIL, Verdict.OPEN

PATHS = {"down": {"through": ["here", "seat"]}, "up": {"through": ["seat", "here"]}}
SLOW = {"start": 300.0, "duration": 100.0}


def data(mass=100.0, **more):
    return crate(payloads={"crate": {"mass": mass, "paths": PATHS}}, **more)


def moves(name, lane, path="down", **more):
    return at(name, lane, {"do": "move", "payload": "crate"}, path=path, **{**SLOW, **more})


LATER = {"start": 500.0, "duration": 100.0}
NEAR_G1 = {"post": {"box": [0.02, 0.6, 0.02], "at": [0.5, 0.2, 1.27]}}
"""Clear of R's gloves while the crate is up, too near as it comes down."""


# ---- momentum ---------------------------------------------------------------------------


def test_hands_from_which_it_is_moved_away_bring_nothing_to_rest_for_sure():
    """It passed: R holds it, L moves it off; nothing says that R keeps hold."""
    (mine,) = of_step("momentum", "carry", data(), TAKE, moves("carry", "R"))
    assert mine.verdict is PASS
    (found,) = of_step("momentum", "carry", data(), READY, TAKE, moves("carry", "L"))
    assert found.verdict is OPEN
    assert "crate is moved away from R, who holds it: whether the hold lasts is not said" in (
        found.because
    )


def test_hands_that_lost_it_prove_no_blow_either():
    heavy = data(1e9)
    (mine,) = of_step("momentum", "carry", heavy, TAKE, moves("carry", "R"))
    assert mine.verdict is FAIL
    (found,) = of_step("momentum", "carry", heavy, READY, TAKE, moves("carry", "L"))
    assert found.verdict is OPEN


def test_one_hold_that_lasts_is_enough_for_it_to_come_to_rest():
    taken = at("L takes", "L", hold("G3", "G4"), start=200.0, duration=60.0)
    (found,) = of_step("momentum", "carry", data(), READY, TAKE, taken, moves("carry", "L"))
    assert found.verdict is PASS


def test_who_takes_hold_again_holds_surely():
    away = moves("away", "L", start=200.0, duration=50.0)
    back = moves("carry", "R", path="up", **LATER)
    (found,) = of_step("momentum", "carry", data(), READY, TAKE, away, back)
    assert found.verdict is OPEN
    again = {**TAKE, "name": "again", "start": 400.0}
    (found,) = of_step("momentum", "carry", data(), READY, TAKE, away, again, back)
    assert found.verdict is PASS


def test_what_a_step_places_elsewhere_was_moved_away_too():
    there = moves("carry", "R", path="up", placed={"crate": "seat"})
    (found,) = of_step("momentum", "carry", data(), TAKE, there)
    assert found.verdict is PASS
    placed = at("wait", "L", {"do": "ingress"}, placed={"crate": "seat"}, start=200.0, duration=9.0)
    (found,) = of_step("momentum", "carry", data(), TAKE, placed, moves("carry", "R", path="up"))
    assert found.verdict is OPEN


def test_a_way_that_was_chosen_does_not_prove_that_hands_are_too_weak():
    """The way found goes round a wall; the straight one, though it leads through it, bounds all."""
    wall = {"wall": {"box": [0.05, 3.0, 3.0], "at": [2.5, 0.5, 1.0]}}
    record = {"poses": {"here": {"at": [0.75, 0.0, 1.35]}, "seat": {"at": [4.5, 0.0, 1.35]}}}
    took = {**TAKE, "start": 0.0}

    def asked(mass, **more):
        scene = crate(payloads={"crate": {"mass": mass, **record}}, solids=wall)
        step = at("carry", "R", {"do": "move", "payload": "crate", "to": "seat"},
                  **{**SLOW, **more})  # fmt: skip
        (found,) = of_step("momentum", "carry", scene, took, step)
        return found

    (mass,) = [1e3]
    length, limit = 3.75, asked(mass).limits
    force, way = (one.value for one in limit)
    straight = 2.0 * force * way * (100.0 / length) ** 2
    assert asked(0.5 * straight).high >= 0.0
    assert asked(1.1 * straight).verdict is FAIL


def test_where_no_way_was_found_none_is_slow():
    """The box round the seat is closed: the way stays blank, and the straight one passed."""
    walls = {
        f"{axis}{side}": {
            "box": [0.1 if k == axis else 3.0 for k in range(3)],
            "at": [(5.0, 0.0, 1.35)[k] + (side * 1.45 if k == axis else 0.0) for k in range(3)],
        }
        for axis in range(3)
        for side in (-1, 1)
    }
    record = {"poses": {"here": {"at": [0.75, 0.0, 1.35]}, "seat": {"at": [5.0, 0.0, 1.35]}}}
    scene = crate(payloads={"crate": {"mass": 10.0, **record}}, solids=walls)
    step = at("carry", "R", {"do": "move", "payload": "crate", "to": "seat"}, **SLOW)
    (found,) = of_step("momentum", "carry", scene, TAKE, step)
    assert found.verdict is OPEN
    for one in of_step("pinch", "carry", scene, TAKE, step):
        assert one.verdict is not PASS


# ---- pinch ------------------------------------------------------------------------------


def test_a_hand_that_may_have_let_go_is_caught_by_no_proof():
    scene = data(solids=NEAR_G1)
    (mine,) = of_step("pinch", "carry", scene, TAKE, moves("carry", "R"))
    assert (mine.verdict, mine.high < 0.0) == (FAIL, True)
    (found,) = of_step("pinch", "carry", scene, READY, TAKE, moves("carry", "L"))
    assert (found.verdict, found.high) == (OPEN, math.inf)
    assert found.low == pytest.approx(mine.low)
    assert "R stays where they are and may have let go of it by then" in found.because


def test_a_hand_that_holds_as_it_begins_is_caught_then_by_proof():
    """R has the crate at the seat, beside the post; L lifts it off."""
    scene = data(solids={"post": {**NEAR_G1["post"], "at": [0.5, 0.2, 1.2]}})
    scene["payloads"]["crate"]["poses"] = dict(
        reversed(scene["payloads"]["crate"]["poses"].items())
    )
    lifts = moves("carry", "L", path="up")
    (found,) = of_step("pinch", "carry", scene, READY, TAKE, lifts)
    assert found.verdict is FAIL
    before = (moves("up", "L", path="up", start=150.0), moves("down", "L", start=260.0))
    lifts = moves("carry", "L", path="up", start=500.0)
    (found,) = of_step("pinch", "carry", scene, READY, TAKE, *before, lifts)
    assert found.verdict is OPEN


def test_a_hand_that_keeps_clear_passes_whether_or_not_it_lets_go():
    (found,) = of_step("pinch", "carry", data(), READY, TAKE, moves("carry", "L"))
    assert found.verdict is PASS


# ---- hand-time --------------------------------------------------------------------------

HOURS = 60.0 * MINUTE
"""Steps of chores take no time unless they say so: what counts is how long something is held."""

W1 = chore("W1 holds", "W1", "hold grip", where="S2", restraint="FR", start="00:00")
OVER = {"do": "move crane", "payload": "crate"}
ON = begun(tight=[], workers={"W1": "S2", "W2": "up"})


def stretch(*steps, **more):
    """What is said of W1's hands: the least and the longest stretch that they may work, s."""
    (found,) = [one for one in of_outing(hand_time, *steps, begin=ON, **more) if "W1" in one.about]
    limit = found.limits[0].value
    return found.verdict, limit - found.high, limit - found.low


def over(start, hours=1):
    return chore("over", "CO", OVER, path="over", start=start, duration=hours * HOURS)


END = chore("end", "IN", "wait", start="12:00")


def test_hands_from_which_it_is_moved_away_may_be_at_rest_from_when_that_begins():
    """It failed: W1 stands at a socket while the crane takes away what they hold."""
    assert stretch(W1, END) == (FAIL, 12 * HOURS, 12 * HOURS)
    verdict, least, most = stretch(W1, over("00:10"), END)
    assert (verdict, least, most) == (OPEN, 600.0, 12 * HOURS)


def test_a_stretch_that_is_too_long_before_it_is_moved_away_stays_a_fail():
    verdict, least, most = stretch(W1, over("10:00"), END)
    assert (verdict, least, most) == (FAIL, 10 * HOURS, 12 * HOURS)


def test_hands_that_take_hold_again_work_from_then_on():
    again = {**W1, "name": "again", "start": "02:00"}
    verdict, least, most = stretch(W1, over("00:10"), again, END)
    assert (verdict, least, most) == (FAIL, 10 * HOURS, 12 * HOURS)


def test_what_is_placed_elsewhere_may_have_left_hands_at_any_time_before():
    moved = chore("moved", "IN", "wait", placed={"crate": "right"}, start="11:00")
    verdict, least, most = stretch(W1, moved, END)
    assert (verdict, least, most) == (OPEN, 0.0, 12 * HOURS)


def test_who_rides_off_has_let_go_by_the_end_of_the_ride_at_the_latest():
    W2 = chore("W1 holds", "W1", "hold grip", start="00:00")
    away = chore("away", "CO", "move crane to out", start="01:00", duration=11 * HOURS)
    rides = {"scene": chores_yard()}
    (found,) = [
        one
        for one in of_outing(
            hand_time, W2, away, END, begin=begun(tight=[], workers={"W1": "up"}), **rides
        )
        if "W1" in one.about
    ]
    assert found.verdict is OPEN
