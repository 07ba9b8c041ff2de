"""Position error: bounds against brute force, draws against the search, and what must only fall."""

import itertools
import math
import re

import numpy as np
import pytest
from bench import bench, drive, findings_of, resolved, step, the

from reach.checks import check_named
from reach.finding import Verdict
from reach.geometry import inverse, rotation_x, rotation_y, rotation_z, transform_points
from reach.model.tolerance import Play, Tolerance
from reach.straying import SEED, STEP, strays_of, ways_of, worst_of
from reach.work import attempt_of
from reach.worker.search import find_postures
from reach.worker.ways import walk_ways

AT = {"at": [0.7, -0.2, 1.65], "axis": [-1, 0, 0]}
SETTING = {"clocking": "60 deg", "pitch": "30 deg", "yaw": "-60 deg"}
ABOUT = {"x": rotation_x, "y": rotation_y, "z": rotation_z}


def world(socket=None, fastener=None, joints=None, at=None):
    """The bench with one bolt, and tolerances only where they are given."""
    data = bench(fasteners={"t": {**AT, **({"at": at} if at else {})}})
    if socket:
        data["sockets"]["SK1"]["tolerance"] = socket
    if fastener:
        data["fasteners"]["t"]["tolerance"] = fastener
    for link in data["restraints"]["stand"]["chain"]:
        link.pop("tolerance", None)
        if joints and "turn" in link:
            link["tolerance"] = joints
    return data


def both(data, **more):
    """The two findings: worst case and probability."""
    found = findings_of(data, step("s", "R", drive("t"), **more), only=("error",))
    assert len(found) == 2
    return found


def test_without_any_error_the_worst_case_is_the_reach_that_is_proved():
    nothing = {"box": 0}
    data = world(nothing, nothing, nothing)
    worst, likely = both(data)
    reach = the("reach", data, step("s", "R", drive("t")))
    assert worst.low == check_named("error").BEYOND < reach.low
    assert worst.high == reach.high
    assert "0.050 m off is proved to be reached" in worst.because
    assert likely.numbers["reached"] == likely.numbers["draws"] == 1000
    assert likely.low == pytest.approx(0.025 ** (1.0 / 1000) - 0.99, abs=1e-12)
    assert likely.high == pytest.approx(0.01)


def test_each_of_its_answers_says_which_it_is():
    worst, likely = both(world({"box": "1 mm"}))
    assert worst.answer == "worst case"
    low = 0.025 ** (1.0 / 1000)
    assert likely.numbers["reached"] == 1000 and low > 0.996
    assert likely.answer == "probability 99.6 % at least"


def scaled(k):
    return world(
        {"box": [0.004 * k, 0.002 * k, 0.001 * k]},
        {"sigma": 0.002 * k},
        {"box": math.radians(0.15 * k)},
    )


def test_a_larger_tolerance_never_raises_worst_case_or_probability():
    found = [both(scaled(k)) for k in (0.0, 0.5, 1.0, 1.7, 5.0, 16.0, 120.0)]
    lows = [worst.low for worst, _ in found]
    highs = [worst.high for worst, _ in found]
    reached = [likely.numbers["reached"] for _, likely in found]
    assert lows == sorted(lows, reverse=True) and lows[0] > lows[-3] > lows[-1]
    assert highs == sorted(highs, reverse=True) and highs[0] > highs[-1]
    assert reached == sorted(reached, reverse=True) and reached[0] == 1000 and reached[-1] < 300
    assert found[0][0].verdict is Verdict.PASS and found[0][1].verdict is Verdict.PASS
    assert found[-1][1].verdict is not Verdict.PASS


@pytest.mark.parametrize("seed", range(4))
def test_random_tolerances_scaled_up_only_lose(seed):
    """Each pair has the same shape and another size; nearer the edge of reach than the bench."""
    rng = np.random.default_rng(seed)
    size = rng.uniform(0.0, 0.02, (2, 3))
    kinds = rng.choice(["box", "sigma"], 3)
    play = float(rng.uniform(0.0, math.radians(0.8)))
    at = [0.7, float(rng.uniform(-0.5, 0.1)), float(rng.uniform(1.3, 1.9))]
    found = []
    for k in (1.0, float(rng.uniform(1.0, 3.0))):
        data = world(
            {kinds[0]: (k * size[0]).tolist()},
            {kinds[1]: (k * size[1]).tolist()},
            {kinds[2]: k * play},
            at,
        )
        found.append(findings_of(data, step("s", "R", drive("t")), only=("error",)))
    small, large = found
    assert len(small) == len(large)
    if len(small) == 2:
        assert large[0].low <= small[0].low and large[0].high <= small[0].high
        assert large[1].numbers["reached"] <= small[1].numbers["reached"]
        assert large[1].low <= small[1].low


def test_a_sigma_counts_as_three_of_itself_in_the_worst_case():
    box = both(world({"box": "6 mm"}, None, {"box": "0.6 deg"}))[0]
    sigma = both(world({"sigma": "2 mm"}, None, {"sigma": "0.2 deg"}))[0]
    assert (sigma.low, sigma.high) == pytest.approx((box.low, box.high), abs=1e-12)
    assert Tolerance(sigma=(0.001, 0.002, 0.003)).worst == pytest.approx((0.003, 0.006, 0.009))
    assert Play(sigma="1 deg").worst == pytest.approx(math.radians(3.0))


def moved_boots(site, s, socket, angles):
    """World from boots with the socket shifted (m, world) and each joint turned on (rad)."""
    pose = np.eye(4)
    pose[:3, 3] = s.place.world_from_socket[:3, 3] + socket
    pose[:3, :3] = s.place.world_from_socket[:3, :3]
    k = 0
    for link in s.place.restraint.chain:
        step_by = np.eye(4)
        if link.shift is not None:
            step_by[:3, 3] = link.shift
        else:
            step_by[:3, :3] = ABOUT[link.turn](s.place.setting[link.name] + angles[k])
            k += 1
        pose = pose @ step_by
    return pose


@pytest.mark.parametrize("setting", [SETTING, {"clocking": 0.0, "pitch": 0.0, "yaw": 0.0}])
def test_the_bound_holds_for_every_corner_and_many_errors_between(setting):
    data = world({"box": ["8 mm", "3 mm", "5 mm"]}, {"box": "4 mm"}, {"box": "2 deg"})
    site, (s,) = resolved(data, step("s", "R", drive("t"), setting=setting))
    worst = worst_of(site, s, strays_of(site, s))
    nominal = s.place.world_from_boots
    there = transform_points(inverse(nominal), s.head.point[None])[0]
    box = np.array([0.008, 0.003, 0.005] + [0.004] * 3 + [math.radians(2.0)] * 3)
    rng = np.random.default_rng(5)
    corners = np.array(list(itertools.product((-1.0, 1.0), repeat=9)))
    largest = turned = 0.0
    for u in np.vstack([corners, rng.uniform(-1.0, 1.0, (500, 9))]):
        e = u * box
        boots = moved_boots(site, s, e[:3], e[6:])
        tip = transform_points(inverse(boots), (s.head.point + e[3:6])[None])[0]
        largest = max(largest, float(np.linalg.norm(tip - there)))
        turn = nominal[:3, :3].T @ boots[:3, :3]
        turned = max(turned, math.acos(min(1.0, (np.trace(turn) - 1.0) / 2.0)))
    assert largest <= worst.shift + 1e-12 and largest > 0.5 * worst.shift
    assert turned <= worst.turn + 1e-9 and worst.turn == pytest.approx(math.radians(6.0))
    assert worst.sure == pytest.approx(0.003 + 0.004)


@pytest.mark.parametrize("hand", ["right", "left"])
def test_drawn_ends_are_where_the_moved_boots_see_the_bolt(hand):
    data = world({"box": "8 mm"}, {"sigma": "4 mm"}, {"box": "2 deg"})
    site, (s,) = resolved(data, step("s", "R", drive("t"), setting=SETTING))
    strays = strays_of(site, s)
    ways = ways_of(site, s, strays, hand, 50)
    u = np.random.default_rng(SEED).random((50, 9))
    from statistics import NormalDist

    for i in range(50):
        socket = (2.0 * u[i, :3] - 1.0) * 0.008
        head = np.array([NormalDist().inv_cdf(v) for v in u[i, 3:6]]) * 0.004
        angles = (2.0 * u[i, 6:] - 1.0) * math.radians(2.0)
        boots = inverse(moved_boots(site, s, socket, angles))
        tip = transform_points(boots, (s.head.point + head)[None])[0]
        way = boots[:3, :3] @ -s.head.axis
        if hand == "left":
            tip, way = tip * [1, -1, 1], way * [1, -1, 1]
        assert ways.end_tips[i] == pytest.approx(tip, abs=1e-9)
        assert ways.end_directions[i] == pytest.approx(way, abs=1e-9)
        steps = ways.tips[i, : ways.counts[i]]
        assert np.linalg.norm(np.diff(steps, axis=0), axis=1).max(initial=0.0) <= STEP + 1e-9
        last = np.linalg.norm(steps[-1] - ways.end_tips[i])
        assert last <= STEP + 1e-9  # the way goes on to the next whole step


def test_draws_counted_as_reached_are_reached_by_the_search_and_others_are_not_near():
    data = world({"box": "0.55 m"}, None, {"box": "1 deg"})
    site, (s,) = resolved(data, step("s", "R", drive("t")))
    attempt = attempt_of(site, s, "right")
    reached, possible = check_named("error")._draws(site, s, strays_of(site, s), attempt)
    ways = ways_of(site, s, strays_of(site, s), "right", len(reached))
    assert (reached <= possible).all() and reached.any()
    for i in np.flatnonzero(reached)[:25]:
        j = ways.counts[i] - 1
        found = find_postures(attempt.figure, ways.tips[i, j], ways.directions[i, j])
        assert found.violation[0] <= 0.0
    for i in np.flatnonzero(~possible)[:25]:
        found = find_postures(
            attempt.figure, ways.end_tips[i], ways.end_directions[i], ask_bound=False
        )
        assert found.violation[0] > 0.0


def test_a_way_cut_short_is_never_answered_worse():
    data = world({"box": "0.5 m"}, None, {"box": "1 deg"})
    site, (s,) = resolved(data, step("s", "R", drive("t")))
    attempt = attempt_of(site, s, "right")
    ways = ways_of(site, s, strays_of(site, s), "right", 300)
    x = attempt.witness.posture
    before = walk_ways(attempt.figure, ways.tips, ways.directions, ways.counts, x)
    assert 0 < before.sum() < 300
    rng = np.random.default_rng(1)
    for _ in range(3):
        counts = (ways.counts * rng.random(300)).astype(np.int64)
        shorter = walk_ways(attempt.figure, ways.tips, ways.directions, counts, x)
        assert (shorter >= before).all() and shorter.sum() > before.sum()


def test_errors_that_cannot_be_borne_fail_by_proof():
    worst, likely = both(world({"box": "2.5 m"}))
    assert worst.verdict is Verdict.FAIL and worst.high < 0.0
    assert likely.verdict is Verdict.FAIL
    assert likely.numbers["proved out of reach"] > 100
    assert worst.fix and likely.fix


@pytest.mark.parametrize("box", ["0.25 m", "0.3 m", "0.35 m", "0.4 m", "0.45 m"])
def test_the_fix_of_a_worst_case_asks_for_no_less_than_is_missing(box):
    worst, _ = both(world({"box": box}))
    assert worst.verdict in (Verdict.OPEN, Verdict.REVIEW)
    said = float(re.search(r"leaves ([0-9.]+) m more", worst.fix).group(1))
    assert -worst.low <= said <= -worst.low + 0.001


def test_what_is_neither_sure_nor_excluded_is_open():
    worst, _ = both(world(None, None, {"box": "2.5 deg"}))
    assert worst.verdict is Verdict.OPEN and worst.low == -math.inf
    assert "axis tolerance" in worst.because
    worst, _ = both(world({"box": "0.25 m"}))
    assert worst.verdict is Verdict.OPEN and math.isfinite(worst.low)
    blank = the("error", world({"box": "1 mm"}), step("s", "R", drive("t"), setting=None))
    assert blank.verdict is Verdict.OPEN


def test_no_tolerance_and_no_reach_are_not_asked():
    assert the("error", world(), step("s", "R", drive("t"))).verdict is Verdict.NOT_ASKED
    far = world({"box": "1 mm"}, at=[2.9, 0.0, 1.65])
    assert the("error", far, step("s", "R", drive("t"))).verdict is Verdict.NOT_ASKED


def test_the_limits_are_those_of_the_scene():
    data = world({"box": "1 mm"})
    base = both(data)
    data["limits"] = {"worst_error": "0.25 m", "reach_probability": "50 %"}
    asked = both(data)
    assert asked[0].high == pytest.approx(base[0].high - 0.25)
    proved, shift = (asked[0].numbers[name] for name in ("proved radius", "largest shift"))
    assert asked[0].low == pytest.approx(proved - shift - 0.25) and asked[0].low < 0.0
    assert base[0].numbers["proved radius"] == pytest.approx(shift + 0.05) and proved > shift + 0.05
    assert asked[1].low == pytest.approx(base[1].low + 0.49)


EDGE = [0.7, -0.2, 1.25]
"""A bolt whose margin in 60 directions is small."""


def test_near_the_edge_of_reach_the_proof_ends_at_a_place_and_what_it_holds_is_reached():
    data = world({"box": "1 mm"}, at=EDGE)
    worst, _ = both(data)
    site, (s,) = resolved(data, step("s", "R", drive("t")))
    attempt = attempt_of(site, s, "right")
    radius = worst.numbers["proved radius"]
    assert worst.verdict is Verdict.PASS
    assert worst.low == pytest.approx(radius - worst.numbers["largest shift"])
    assert radius < attempt.margin.radius + attempt.margin.within
    rng = np.random.default_rng(4)
    ways = rng.normal(size=(300, 3))
    ways *= radius * rng.random((300, 1)) ** (1 / 3) / np.linalg.norm(ways, axis=1)[:, None]
    tips = attempt.target.tip + ways
    directions = np.broadcast_to(attempt.target.direction, tips.shape)
    assert (find_postures(attempt.figure, tips, directions, "full").violation <= 0.0).all()
    wide, _ = both(world({"box": "60 mm"}, at=EDGE))
    assert wide.verdict is Verdict.OPEN and "The proof ends at (" in wide.because
    end = np.array(wide.marks[-1].points[0])
    off = np.linalg.norm(end - EDGE)
    assert wide.numbers["proved radius"] <= off <= wide.numbers["proved radius"] + 0.01


def test_what_ends_one_hand_s_reach_proves_nothing_where_another_may_do_it():
    one, _ = both(world({"box": "2.5 m"}))
    assert one.verdict is Verdict.FAIL
    data = world({"box": "2.5 m"})
    found = findings_of(data, step("s", "R", drive("t", hand="either")), only=("error",))
    assert found[0].verdict is Verdict.OPEN and found[0].high == math.inf


def test_a_hand_proved_short_as_it_is_may_reach_some_of_the_drawn_errors():
    """From here the left hand is short of the bolt; draws toward it are not proved out of reach."""
    data = world({"box": [0.1, 1.6, 0.3]}, at=ASIDE)
    site, (s,) = resolved(data, step("s", "R", drive("t", hand="either")))
    right, left = (attempt_of(site, s, hand) for hand in ("right", "left"))
    assert right.witness is not None and left.short > 0.0
    _, alone = both(data)
    _, either = findings_of(data, step("s", "R", drive("t", hand="either")), only=("error",))
    strays = strays_of(site, s)
    error = check_named("error")
    _, possible = error._draws(site, s, strays, right)
    ends = ways_of(site, s, strays, "left", error.N_DRAWS)
    out = np.flatnonzero(~possible)[:150]
    found = find_postures(left.figure, ends.end_tips[out], ends.end_directions[out])
    possible[out] = found.violation <= 0.0
    by_right = 1000 - alone.numbers["proved out of reach"]
    by_search = int(possible.sum())
    assert by_search > by_right  # the left hand reaches some that the right one does not
    assert 1000 - either.numbers["proved out of reach"] >= by_search


ASIDE = [0.7, -0.55, 1.25]
