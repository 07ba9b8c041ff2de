"""What the checks of a crane say of a way that is put before them, with its margins as stated.

The postures are made up, so that each answer hangs on one number alone.
"""

from __future__ import annotations

import copy
import math
from dataclasses import replace
from functools import cache
from types import SimpleNamespace

import numpy as np
import pytest
from bench import scene_of
from test_crane_way import DOCK, crane_step

from reach.arm import duration
from reach.checks import bystander, crane_reach, joints, links, stop, sweep
from reach.checks.braking import weights_of
from reach.checks.craning import Stand
from reach.crane import rig_of
from reach.crane.along import farthest_asked
from reach.crane.nearest import Nearest
from reach.files.people import load_population
from reach.files.urdf import shipped_arm
from reach.finding import Verdict
from reach.geometry import inverse, transform_points
from reach.kept.noting import altered
from reach.model.procedure import Procedure
from reach.payload.crane_way import CraneWay, LinkGap
from reach.situations import resolve

FAIL, OPEN, PASS, NOT_ASKED = Verdict.FAIL, Verdict.OPEN, Verdict.PASS, Verdict.NOT_ASKED
BOARD = {"name": "board", "lane": "R", "where": "P", "actions": [{"do": "ingress"}]}
ALL = (crane_reach, joints, links, stop)


def site_of(*steps, arms=True, **payload):
    data = copy.deepcopy(DOCK)
    data["payloads"]["crate"] |= payload
    procedure = Procedure(format=1, lanes={"R": "worker", "CO": "crane"}, steps=steps)
    known = {"Arm": shipped_arm("brackenfall")} if arms else {}
    site, _ = resolve(scene_of(data), {}, procedure, load_population, arms=known)
    return site, site.carriages[-1]


def alone(**more):
    return site_of(BOARD, crane_step(to="Q", **{"from": "P"}), **more)


def carrying(**more):
    return site_of(crane_step("way", payload="crate"), **more)


@cache
def chain():
    site, carriage = alone()
    rig = rig_of(site, "Arm", carriage.surroundings)
    return rig.chain, rig.world_from_base


def stated(**more):
    """A way of two postures, half-way between the limits of every joint."""
    arm, base = chain()
    middle = 0.5 * (np.maximum(arm.lower, -3.0) + np.minimum(arm.upper, 3.0))
    q = np.stack((middle, middle + 0.1))
    way = CraneWay(arm, base, q, np.array([0.0, 1.0]), 0.0, (), math.nan, 0.0, "")
    return replace(way, **more)


def gap(low, high=math.inf, kind="solid", stand_off=0.0, at=0.5):
    here = np.zeros(3)
    return LinkGap("boom", "bollard", kind, low, high, stand_off, at, here, here)


@pytest.fixture
def say(monkeypatch):
    """Put a way before every check."""

    def put(way):
        for check in ALL:
            monkeypatch.setattr(check, "crane_way_of", lambda site, carriage: way)

    return put


def way_of(check, site, carriage):
    """The answer about the way alone."""
    if check in (crane_reach, joints):
        found = check._way(site, carriage)
        return found[0]
    if check is links:
        return check._way(site, carriage)
    return check._rates(
        site, carriage, rig_of(site, "Arm", carriage.surroundings), stop_way(site, carriage)
    )


def stop_way(site, carriage):
    return stop.crane_way_of(site, carriage)


# ---- what is not known ---------------------------------------------------------------


@pytest.mark.parametrize("check", ALL)
def test_of_a_crane_without_an_arm_nothing_is_asked(check):
    site, carriage = alone(arms=False)
    found = check.find(site, (carriage,)) if check is stop else check.find(site, (), (carriage,))
    assert found
    assert {one.verdict for one in found} == {NOT_ASKED}
    assert all("arm" in one.because for one in found)


@pytest.mark.parametrize("check", ALL)
def test_where_a_crane_holds_its_load_is_not_known_all_is_open(check, say):
    site, carriage = carrying()
    carriage = altered(carriage, payload_from_tip=None)
    say(None)
    found = way_of(check, site, carriage)
    assert (found.verdict, found.low, found.high) == (OPEN, -math.inf, math.inf)
    assert "grapple" in found.fix


@pytest.mark.parametrize("check", [joints, links, stop])
def test_a_way_proved_out_of_reach_is_left_to_crane_reach(check, say):
    site, carriage = carrying()
    say(stated(q=np.empty((0, chain()[0].n)), at=np.empty(0), shortage=0.4))
    found = way_of(check, site, carriage)
    assert found.verdict is NOT_ASKED
    assert "proved" in found.because


def test_a_written_way_that_is_proved_out_of_reach_fails_by_the_metres_missing(say):
    site, carriage = carrying()
    say(stated(q=np.empty((0, chain()[0].n)), at=np.empty(0), shortage=0.4))
    found = way_of(crane_reach, site, carriage)
    assert (found.verdict, found.low, found.high) == (FAIL, -math.inf, -0.4)
    chosen = altered(carriage, is_found=True)
    found = way_of(crane_reach, site, chosen)
    assert found.verdict is OPEN
    assert "another way may be in it" in found.because


@pytest.mark.parametrize("check", [crane_reach, joints, links, stop])
@pytest.mark.parametrize("why", ["", "Joint 3 would pass its limit."])
def test_where_joints_cannot_follow_to_the_end_nothing_is_proved(check, why, say):
    site, carriage = carrying()
    say(stated(stuck_at=0.4, why=why))
    found = way_of(check, site, carriage)
    assert found.verdict is OPEN
    assert found.low == -math.inf
    if check is not stop:
        assert "no proof" in found.because
        assert not why or "oint 3 would pass its limit" in found.because


# ---- crane-reach ---------------------------------------------------------------------


def test_too_far_on_a_written_way_is_a_fail_and_on_a_chosen_one_open(say, monkeypatch):
    site, carriage = carrying()
    rig = rig_of(site, "Arm", carriage.surroundings)
    allowed = 0.9 * rig.full_reach
    far = farthest_asked(carriage, rig.world_from_base[:3, 3])
    say(stated())
    found = way_of(crane_reach, site, carriage)
    assert found.high == pytest.approx(allowed - far.low, abs=1e-6)
    assert found.low == pytest.approx(allowed - far.high, abs=1e-6)
    there = far._replace(low=allowed + 0.5, high=allowed + 0.6)
    monkeypatch.setattr(crane_reach, "farthest_asked", lambda *asked: there)
    found = way_of(crane_reach, site, carriage)
    assert (found.verdict, found.high) == (FAIL, pytest.approx(-0.5, abs=1e-6))
    assert "0.6" in found.fix  # the far end of the bracket mends it for sure
    found = way_of(crane_reach, site, altered(carriage, is_found=True))
    assert found.verdict is OPEN
    assert "another way may stay nearer" in found.because


def test_a_crane_alone_whose_end_is_too_far_is_told_at_that_place_only(say, monkeypatch):
    site, carriage = alone()
    poses = carriage.poses.copy()
    poses[-1, :3, 3] = [40.0, 0.0, 1.0]
    say(None)
    assert crane_reach._way(site, altered(carriage, poses=poses)) == []
    # Too far where it begins: that no other finding tells.
    (found,) = crane_reach._way(site, altered(carriage, poses=poses[::-1].copy()))
    assert found.high < 0.0 or found.verdict is OPEN


# ---- joints --------------------------------------------------------------------------


@pytest.mark.parametrize(("left", "verdict"), [(0.3, PASS), (0.01, OPEN)])
def test_the_joint_nearest_its_limit_is_told_less_the_reserve(left, verdict, say):
    site, carriage = carrying()
    way = stated()
    q = way.q.copy()
    q[1, 2] = way.chain.upper[2] - left
    say(replace(way, q=q))
    found = way_of(joints, site, carriage)
    reserve = site.limit("joint_reserve").value
    assert found.low == pytest.approx(min(left, found.low + reserve) - reserve, abs=1e-8)
    assert found.verdict is verdict
    if verdict is OPEN:
        assert found.high == math.inf
        assert "another way" in found.fix
        assert found.numbers["joint"] == way.chain.arm.moving[2].name


def test_singular_poses_on_a_way_are_bracketed_and_never_a_fail(say, monkeypatch):
    site, carriage = carrying()
    say(stated())
    reserve = site.limit("singular_reserve").value
    least = joints.least_singular(chain()[0], stated().q)
    for low, high, verdict in ((0.2, 0.3, PASS), (-0.05, 0.3, OPEN), (-0.2, -0.1, OPEN)):
        there = least._replace(low=reserve + low, high=reserve + high, at=0.25)
        monkeypatch.setattr(joints, "least_singular", lambda chain, q, there=there: there)
        (found,) = joints._way_singular(site, carriage, stated())
        assert found.verdict is verdict
        assert found.low == pytest.approx(low, abs=1e-8)
        assert found.high == (pytest.approx(high, abs=1e-8) if low >= 0.0 else math.inf)
        assert found.numbers["at"] == pytest.approx(0.25)
    three = stated(q=np.vstack((stated().q, stated().q[:1])), at=np.array([0.0, 0.2, 1.0]))
    there = least._replace(low=reserve, high=reserve, at=1.5)
    monkeypatch.setattr(joints, "least_singular", lambda chain, q: there)
    (found,) = joints._way_singular(site, carriage, three)
    assert found.numbers["at"] == pytest.approx(0.6)
    there = least._replace(low=reserve, high=reserve, at=0.0)
    (found,) = joints._way_singular(site, carriage, stated(q=stated().q[:1], at=np.ones(1)))
    assert found.numbers["at"] == 1.0  # a way of one posture


# ---- links ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("gaps", "low", "high", "verdict"),
    [
        ([gap(0.3, 0.35)], 0.2, 0.25, PASS),
        ([gap(0.3, 0.35, kind="carried")], 0.2, 0.25, PASS),
        ([gap(0.05, 0.06)], -0.05, math.inf, OPEN),  # covers that are near prove no contact
        ([gap(-0.2)], -0.3, math.inf, OPEN),
        ([gap(0.3, 0.4, kind="hazard", stand_off=0.25)], 0.05, 0.15, PASS),
        ([gap(0.3, 0.4, kind="hazard", stand_off=0.5)], -0.2, math.inf, OPEN),
        ([gap(0.01, 0.02, kind="self")], 0.01, 0.02, PASS),
        ([gap(0.30, 0.31), gap(0.02, 0.03, kind="self")], 0.02, 0.03, PASS),
        ([gap(0.11, 0.12), gap(0.02, 0.03, kind="self")], 0.01, 0.02, PASS),
    ],
)
def test_each_kind_of_thing_has_its_own_clearance_and_the_least_left_counts(
    gaps, low, high, verdict, say
):
    site, carriage = carrying()
    assert site.limit("link_clearance").value == pytest.approx(0.1)
    say(stated(gaps=tuple(gaps)))
    found = way_of(links, site, carriage)
    assert found.low == pytest.approx(low, abs=1e-8)
    assert found.high == pytest.approx(high, abs=1e-8)
    assert found.verdict is verdict
    assert bool(found.fix) is (low < 0.0)


def test_a_crane_with_nothing_near_is_not_asked(say):
    site, carriage = carrying()
    say(stated())
    assert way_of(links, site, carriage).verdict is NOT_ASKED


def test_the_moment_of_a_gap_is_told_on_the_way_of_what_is_moved(say):
    way = stated(at=np.array([0.0, 0.5]))
    assert links._moment(way, 0.5) == pytest.approx(0.25)
    three = stated(q=np.vstack((way.q, way.q[:1])), at=np.array([0.0, 0.2, 1.0]))
    assert links._moment(three, 1.5) == pytest.approx(0.6)
    assert links._moment(three, 2.0) == pytest.approx(1.0)
    assert links._moment(stated(q=way.q[:1], at=np.array([0.7])), 0.0) == 0.7


# ---- stop ----------------------------------------------------------------------------


def timed(carriage, duration, shortest=None):
    return altered(carriage, duration=duration, shortest=shortest, longest=duration)


def rates(site, carriage, way):
    return stop._rates(site, carriage, rig_of(site, "Arm", carriage.surroundings), way)


def boots(site, carriage, way):
    return stop._boots(site, carriage, rig_of(site, "Arm", carriage.surroundings), way)


def test_the_time_that_is_left_is_what_the_shortest_leaves():
    site, carriage = alone()
    way = stated()
    needed = float(duration(way.chain, way.q).sum())
    bound = stop.quickest(way.chain, carriage.poses @ carriage.payload_from_tip)
    assert needed > 0.0
    found = rates(site, timed(carriage, max(needed, bound) + 10.0), way)
    assert found.verdict is PASS
    assert found.low == pytest.approx(max(needed, bound) + 10.0 - needed, abs=1e-5)
    assert found.low < found.high == pytest.approx(found.low, abs=1e-5)
    lasts = max(needed, bound) + 10.0
    sooner = rates(site, timed(carriage, lasts, needed - 1.0), way)
    assert sooner.low == pytest.approx(-1.0, abs=1e-5)
    assert sooner.verdict is not PASS
    # Other postures may be as quick as no posture can be beaten to.
    assert sooner.high == pytest.approx(lasts - bound)
    short = rates(site, timed(carriage, 0.5 * bound), way)
    assert (short.verdict, short.high) == (FAIL, pytest.approx(-0.5 * bound))
    assert rates(site, timed(carriage, None), way).verdict is NOT_ASKED


def test_joints_without_a_rate_leave_the_time_open():
    site, carriage = alone()
    way = stated()
    rateless = replace(way.chain, velocity=np.full(way.chain.n, np.nan))
    rig = replace(rig_of(site, "Arm", carriage.surroundings), chain=rateless)
    found = stop._rates(site, timed(carriage, 1e5), rig, replace(way, chain=rateless))
    assert found.verdict is OPEN
    assert "a joint has no rate" in found.because


def test_boots_are_not_asked_of_what_is_not_known():
    site, carriage = alone()
    way = stated()
    assert boots(site, altered(carriage, rider=None), way).verdict is NOT_ASKED
    still = boots(site, carriage, None)
    assert still.verdict is NOT_ASKED and "How fast" in still.because
    never = boots(site, timed(carriage, 60.0, 0.0), way)
    assert never.verdict is OPEN and "no time" in never.because


def test_a_step_that_may_be_over_sooner_moves_so_much_faster():
    site, carriage = alone()
    way = stated()
    even = boots(site, timed(carriage, 60.0), way)
    sooner = boots(site, timed(carriage, 60.0, 30.0), way)
    assert sooner.numbers["speed"] == pytest.approx(2.0 * even.numbers["speed"])
    assert sooner.numbers["force"] == pytest.approx(2.0 * even.numbers["force"])
    assert sooner.low < even.low
    assert sooner.high == pytest.approx(even.high)


def test_without_a_time_joints_go_at_their_rates():
    site, carriage = alone()
    way = stated()
    lasts = float(duration(way.chain, way.q).sum())
    none, same = (boots(site, timed(carriage, t), way).numbers["speed"] for t in (None, lasts))
    assert none == pytest.approx(same)
    held = replace(way, q=np.stack((way.q[0], way.q[0])))
    assert boots(site, timed(carriage, None), held).verdict is NOT_ASKED


def ridden(**more):
    """A rider on the tip who goes along with the crate."""
    site, carriage = carrying(**more)
    _, with_rider = alone()
    return site, altered(
        carriage,
        rider=with_rider.rider,
        payload_from_boots=carriage.payload_from_tip @ np.eye(4),
        duration=60.0,
        shortest=None,
    )


def test_boots_bear_what_is_carried_too_and_of_an_unknown_mass_nothing_is_said():
    site, carriage = ridden(mass=200.0)
    found = boots(site, carriage, stated())
    rider = site.limit("rider_mass").value
    slowing = found.numbers["speed"] / site.limit("stop_time").value
    assert found.numbers["force"] == pytest.approx(slowing * (200.0 + rider))
    assert found.numbers["braking way"] == pytest.approx(
        0.5 * found.numbers["speed"] * site.limit("stop_time").value
    )
    # Its middle is the middle of the box round it: the crate is drawn round its origin.
    weights, _ = weights_of(site, carriage)
    (crate,) = [one for one in weights if one.name == carriage.payload]
    boots_from_world = inverse(carriage.poses[0] @ carriage.payload_from_boots)
    expected = transform_points(boots_from_world, carriage.poses[0][:3, 3][None])[0]
    assert crate.middle == pytest.approx(expected)
    site, carriage = ridden()
    found = boots(site, carriage, stated())
    assert found.verdict is NOT_ASKED and "weighs" in found.because


def test_a_load_without_a_time_goes_as_fast_as_its_path_allows():
    site, carriage = ridden(mass=200.0)
    timeless = altered(carriage, duration=None)
    assert boots(site, timeless, stated()).verdict is NOT_ASKED
    found = boots(site, altered(timeless, speed=0.05), stated())
    assert found.numbers["speed"] == pytest.approx(0.05)
    unheld = altered(carriage, payload_from_tip=None)
    assert boots(site, unheld, stated()).verdict is NOT_ASKED


@pytest.mark.parametrize(("speed", "worst"), [(0.01, PASS), (50.0, FAIL)])
def test_the_boots_margin_is_the_lesser_share_left_of_force_and_moment(speed, worst):
    site, carriage = ridden(mass=200.0)
    found = boots(site, altered(carriage, duration=None, speed=speed), stated())
    force, moment = (
        next(one.value for one in found.limits if one.unit == unit) for unit in ("N", "N m")
    )
    left = [1.0 - found.numbers["force"] / force, 1.0 - found.numbers["moment"] / moment]
    assert found.low == pytest.approx(min(left), abs=1e-6)
    assert found.high >= left[0] - 1e-6  # the force alone is certain
    assert found.verdict is worst
    first = found.limits[0].unit
    assert first == ("N" if left[0] <= left[1] else "N m")
    if worst is FAIL:
        share = min(force / found.numbers["force"], moment / found.numbers["moment"])
        assert f"{math.floor(100.0 * share)} %" in found.fix
        assert all(mark.bad for mark in found.marks)


def test_minutes_are_rounded_up_where_too_little_would_not_do():
    assert stop._minutes(61.0) == "1.0 min"
    assert stop._minutes(61.0, up=True) == "1.1 min"
    assert stop._minutes(66.0, up=True) == "1.1 min"
    assert stop._minutes(math.inf) == "for ever"


@pytest.mark.parametrize(("at", "place"), [(0.5, 0.1), (1.25, 0.4), (2.0, 1.0)])
def test_the_pose_nearest_to_a_singular_one_is_told_by_where_on_the_way_it_is(
    monkeypatch, at, place
):
    """Postures stand at 0, 0.2 and 1 of the way."""
    site, carriage = alone()
    reserve = site.limit("singular_reserve").value
    way = stated(q=np.tile(stated().q[0], (3, 1)), at=np.array([0.0, 0.2, 1.0]))
    for low, verdict in ((0.02, PASS), (-0.02, OPEN)):
        least = SimpleNamespace(low=reserve + low, high=reserve + low + 0.01, at=at)
        monkeypatch.setattr(joints, "least_singular", lambda *asked, least=least: least)
        (found,) = joints._way_singular(site, carriage, way)
        assert found.numbers["at"] == pytest.approx(place)
        assert found.low == pytest.approx(low, abs=1e-8)
        assert found.verdict is verdict


# ---- places --------------------------------------------------------------------------


def stand_at(site, carriage, **answer):
    """A place of the crane whose postures are put before the check."""
    there = Stand("Arm", "Q", carriage.poses[-1], None, carriage, None).answer(site)
    told = replace(there, **answer)

    class Told(Stand):
        def answer(self, site):
            return told

    return Told("Arm", "Q", carriage.poses[-1], None, carriage, None), there


def test_a_place_with_no_posture_is_open_and_one_proved_out_of_reach_is_not_asked_again():
    site, carriage = alone()
    lost, there = stand_at(site, carriage, branches=())
    assert there.branches
    for check in (joints, links):
        found = check._place(site, lost)
        (found,) = found if isinstance(found, list) else (found,)
        assert (found.verdict, found.low) == (OPEN, -math.inf)
    out, _ = stand_at(site, carriage, branches=(), shortage=0.2)
    for check in (joints, links):
        found = check._place(site, out)
        (found,) = found if isinstance(found, list) else (found,)
        assert found.verdict is NOT_ASKED
    found = crane_reach._place(site, out)
    assert (found.verdict, found.high) == (FAIL, -0.2)
    found = crane_reach._place(site, lost)
    assert found.verdict is OPEN and found.high > 0.0


@pytest.mark.parametrize(("margin", "verdict"), [(0.02, PASS), (-0.02, OPEN)])
def test_at_rest_the_best_posture_shows_a_pass_and_never_a_fail(margin, verdict):
    site, carriage = alone()
    _, there = stand_at(site, carriage)
    here = (0.0, 0.0, 0.0)
    nearest = tuple(
        Nearest(kind, "boom", "bollard", 0.1 + more + margin, 0.1, here, here)
        for kind, more in (("structure", 0.0), ("rider", 0.2), ("self", 0.3))
    )
    best = replace(there.best, joint_margin=margin, nearest=nearest, singular_margin=margin)
    told, _ = stand_at(site, carriage, branches=(best,))
    for found in (*joints._place(site, told), links._place(site, told)):
        assert found.verdict is verdict
        assert found.low == pytest.approx(margin, abs=1e-8)
        assert bool(found.fix) is (margin < 0.0)
    bare, _ = stand_at(site, carriage, branches=(replace(best, nearest=()),))
    assert links._place(site, bare).verdict is NOT_ASKED


# ---- what is moved on a way that is not known ----------------------------------------


@pytest.mark.parametrize("check", [sweep, bystander])
def test_a_way_that_is_not_known_is_open_and_one_out_of_reach_not_asked(check, monkeypatch):
    site, carriage = carrying()
    monkeypatch.setattr(check, "track_of", lambda *asked: None)
    monkeypatch.setattr(check, "out_of_reach", lambda *asked: "")
    if check is bystander:
        monkeypatch.setattr(check, "others_of", lambda carriage: ("R",))
    (found,) = check.find(site, (carriage,))
    assert (found.verdict, found.low, found.high) == (OPEN, -math.inf, math.inf)
    monkeypatch.setattr(check, "out_of_reach", lambda *asked: "It is proved not to come there.")
    (found,) = check.find(site, (carriage,))
    assert found.verdict is NOT_ASKED
