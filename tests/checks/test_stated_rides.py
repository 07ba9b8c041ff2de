"""Lines that ride, boots on a tip, places on a way: which of several counts, and which way."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest
from chores import FAIL, LINES, NOT_ASKED, about, begun, findings, go, job, out
from chores import yard as yard_of_chores
from cranes import crane_step, resolved, stand, yard
from moves import move, the_move, wall

from reach.arm import tip_poses
from reach.checks import anchored, carrying, crane_reach, held, hooked, tether_riding, wording
from reach.checks.braking import rating_of, weights_of
from reach.crane import rig_of
from reach.finding import Verdict
from reach.geometry import rotation_z
from reach.payload.crane_way import CraneWay

# ---- lines ---------------------------------------------------------------------------

CARRY = job("carry", "CO", {"do": "move crane", "payload": "crate", "to": "right"})
AP = {"AP": {"in": "crate", "at": [0.2, 0.0, 0.0], "rating": "2 kN"}}


def test_one_line_of_several_that_is_hooked_to_what_moves_is_wrong():
    lines = {**LINES, "T2": {"hook": "AP", "reel": "W2"}, "T5": {"hook": "A2", "reel": "W2"}}
    found = findings(
        anchored, out("W2"), CARRY, scene=yard_of_chores(anchors=AP), begin=begun(lines=lines)
    )
    (mine,) = [one for one in found if "crate" in one.about]
    assert mine.verdict is FAIL
    assert "T2 hooked to AP" in mine.because


def test_of_several_motions_one_that_is_not_settled_is_no_pass():
    kept = SimpleNamespace(is_broken=False, elsewhere=False, margin=(0.0, 0.0))
    doubtful = SimpleNamespace(is_broken=False, elsewhere=False, margin=(-1.0, 0.0))
    broken = SimpleNamespace(is_broken=True, elsewhere=True, margin=(-1.0, -1.0))
    assert anchored._worst([kept, doubtful]) is doubtful
    assert anchored._worst([kept, doubtful, broken]) is broken
    assert anchored._worst([kept, kept]) is kept


def test_a_hook_that_may_be_moved_while_its_line_is_the_only_one_is_a_fail():
    """As written W1 moves the hook of T5 before W2 takes that line; nothing keeps it so."""
    swap = job("swap", "W2", "attach T5 to W2 checked", "release T2 from W2 to A5")
    tidy = job("tidy", "W1", "attach T5 to A1 checked")
    steps = (out("W1"), tidy, out("W2"), go("W2", "lock", "far"))
    found = about(findings(hooked, *steps, swap), "W2", "T5", "A1")
    assert (found.verdict, found.step) == (FAIL, "tidy")
    assert found.numbers["orders"] == "another order"
    linked = findings(hooked, *steps, {**swap, "after": ["tidy"]})
    assert [one for one in linked if "T5" in one.about] == []


@pytest.mark.parametrize(
    ("lengths", "words"),
    [((10.0, 10.5), "runs 10.500 m at least"), ((10.5, 10.0), "runs 10.500 m at least"),
     ((10.0, None), "not known to the line T2"), ((None, 10.0), "not known to the line T2")],
)  # fmt: skip
def test_of_the_motions_of_a_ride_the_farthest_is_told(monkeypatch, lengths, words):
    steps = (
        out("W2"), go("W2", "lock", "far"), job("board", "W2", "ingress", where="up"),
        job("move", "CO", "move crane to out", after=["board"]),
        job("back", "CO", "move crane to up"),
    )  # fmt: skip
    left = iter(lengths)

    def farthest(*asked):
        length = next(left)
        return None if length is None else (length, "there")

    monkeypatch.setattr(tether_riding, "_farthest", farthest)
    (found,) = findings(tether_riding, *steps)
    assert found.verdict is NOT_ASKED
    assert words in found.because


def test_the_pose_that_is_farthest_is_named():
    steps = (
        out("W2"), go("W2", "lock", "far"), job("board", "W2", "ingress", where="up"),
        job("move", "CO", "move crane to out", after=["board"]),
    )  # fmt: skip
    (found,) = findings(tether_riding, *steps)
    assert "to out it is" in found.because


def test_a_payload_is_told_of_in_the_step_that_first_changes_who_or_what_has_it():
    steps = (
        job("take", "W2", "hold grip", where="up"),
        job("undo", "W1", "drive B1 loosen", where="S2", restraint="FR"),
    )
    for some in (steps, steps[::-1]):
        (found,) = findings(held, out("W1"), *some)
        assert found.step == some[0]["name"]


# ---- the hook of a move --------------------------------------------------------------


def test_the_margin_of_a_hook_is_the_share_seen_less_the_share_asked():
    found = the_move("hook", wall())
    limit = found.limits[0].value
    assert limit > 0.0
    assert found.low == found.high == pytest.approx(found.numbers["share"] - limit)


def test_how_far_a_move_begins_from_the_hook_does_not_hang_on_where_the_world_begins():
    found = the_move("hook", wall(), move(start="RB@1.5", tether="T2"))
    assert found.verdict is not Verdict.NOT_ASKED
    assert "A4" in found.because


@pytest.mark.parametrize("n_held", [0, 1, 2])
def test_a_hand_too_few_is_mended_by_putting_down_what_it_holds(n_held):
    limits = {"hands_free": {"value": 1, "source": "these tests"}}
    in_hand = ["bag", "crate"][:n_held]
    found = the_move("hands", wall(limits=limits), move(in_hand=in_hand))
    assert found.low == found.high == 2 - n_held - 1
    assert (found.verdict is FAIL, bool(found.fix)) == (n_held == 2, n_held == 2)


@pytest.mark.parametrize(("duration", "is_short"), [("10 s", True), ("1 h", False)])
def test_a_move_gets_more_time_just_where_it_has_too_little(duration, is_short):
    found = the_move("pace", wall(), move(duration=duration))
    assert (found.verdict is FAIL, bool(found.fix)) == (is_short, is_short)


# ---- boots on a tip ------------------------------------------------------------------


def ridden(**stations):
    data = yard(stations=stations)
    step = crane_step("near", start="by the mast", duration="4 min")
    site, _ = resolved(data, stand("by the mast"), step)
    return site, site.carriages[-1]


def test_a_rider_has_their_middle_between_hips_and_shoulders_over_the_soles():
    site, carriage = ridden()
    ((rider,), unknown) = weights_of(site, carriage)
    links, suit = carriage.rider.body.links, carriage.rider.suit
    assert unknown == ""
    assert links.hip + suit.sole < rider.middle[2] < links.shoulder + suit.sole
    assert rider.middle == pytest.approx([0.0, 0.0, suit.sole + (links.hip + links.shoulder) / 2])


def test_on_a_tip_the_least_that_any_station_of_the_crane_bears_counts():
    rated = {"near": {"rating": {"force": 300.0, "moment": 40.0}},
             "too far": {"rating": {"force": 200.0, "moment": 90.0}},
             "ground": {"rating": {"force": 1.0, "moment": 1.0}}}  # fmt: skip
    site, _ = ridden(**rated)
    assert [one.value for one in rating_of(site, "near")] == [300.0, 40.0]
    assert [one.value for one in rating_of(site, "Arm tip")] == [200.0, 40.0]
    known = [site.limit("socket_force").value, site.limit("socket_moment").value]
    assert [one.value for one in rating_of(site, "")] == known
    assert min(known) > 40.0


# ---- how far a crane reaches ---------------------------------------------------------


def alone(data=None):
    """A crane that moves by itself, and the middle between the limits of its joints."""
    step = crane_step("near", start="by the mast", duration="4 min")
    site, _ = resolved(data or yard(), step)
    (carriage,) = site.carriages
    rig = rig_of(site, carriage.crane, carriage.surroundings)
    lower, upper = np.maximum(rig.chain.lower, -2.0), np.minimum(rig.chain.upper, 2.0)
    return site, carriage, rig, 0.5 * (lower + upper)


def test_a_crane_is_farthest_where_its_joints_bring_its_tip_not_at_its_two_ends():
    """Out and back again, by uneven pieces: compared with many postures in between."""
    _, carriage, rig, middle = alone()
    bent = middle + 0.9 * np.where(np.arange(len(middle)) % 2, 1.0, -1.0)
    q = np.array([bent, bent + 0.1, bent - 0.1, bent, 1.9 * middle - 0.9 * bent])
    way = CraneWay(
        rig.chain,
        rig.world_from_base,
        q,
        np.array([0.0, 0.3, 0.4, 0.6, 1.0]),
        0.0,
        (),
        math.nan,
        0.0,
        "",
    )
    far, at = crane_reach._farthest(carriage, rig, way)
    shares = np.linspace(0.0, 1.0, 4001)
    between = np.array([np.interp(shares, way.at, one) for one in q.T]).T
    tips = (rig.world_from_base @ tip_poses(rig.chain, between))[:, :3, 3]
    away = np.linalg.norm(tips - rig.world_from_base[:3, 3], axis=1)
    assert far.low <= away.max() + 1e-6
    assert far.high >= away.max() - 1e-6
    assert far.high > away[[0, 1200, 1600, 2400, 4000]].max() + 0.1
    assert away[round(at * 4000)] == pytest.approx(far.low, abs=2e-3)
    tip = crane_reach._tip_at(carriage, rig, way, far, at)
    assert np.linalg.norm(tip - rig.world_from_base[:3, 3]) == pytest.approx(far.low, abs=1e-6)


def test_without_postures_a_crane_is_farthest_at_the_place_that_is_from_its_base():
    base = np.array([-3.0, 2.0, 0.5])
    _, carriage, rig, _ = alone(yard(cranes={"Arm": {"at": base.tolist()}}))
    assert rig.world_from_base[:3, 3] == pytest.approx(base)
    far, at = crane_reach._farthest(carriage, rig, None)
    tips = (carriage.poses @ carriage.payload_from_tip)[:, :3, 3]
    away = np.linalg.norm(tips - base, axis=1)
    assert far.low == far.high == pytest.approx(away.max())
    assert at == away.argmax()
    assert crane_reach._tip_at(carriage, rig, None, far, at) == pytest.approx(tips[int(at)])


# ---- where on a way ------------------------------------------------------------------


def turned(angle):
    pose = np.eye(4)
    pose[:3, :3] = rotation_z(angle)
    return pose


def test_poses_without_a_name_are_passed_over_and_turns_counted_from_the_last_that_has_one():
    """A longer way round is cut into parts: from a over an unnamed pose to b, then to c."""
    turns = np.cumsum([0.0, 0.2, 0.3, 0.4])
    carriage = SimpleNamespace(
        names=("a", "", "b", "c"), legs=(0, 1, 2), poses=np.array([turned(t) for t in turns])
    )
    assert [carrying.leg_ends(carriage, k) for k in range(3)] == [
        ("a", "b"), ("a", "b"), ("b", "c"),
    ]  # fmt: skip
    for at, angle in ((0.5, 0.1), (1.5, 0.35), (1.75, 0.425), (2.0, 0.0), (2.5, 0.2), (3.0, 0.4)):
        assert carrying.turned_so_far(carriage, at) == pytest.approx(angle)


@pytest.mark.parametrize(("shortage", "is_told"), [(0.4, True), (0.0, False), (None, False)])
def test_out_of_reach_is_told_just_where_it_is_proved(monkeypatch, shortage, is_told):
    way = None if shortage is None else SimpleNamespace(shortage=shortage)
    monkeypatch.setattr(carrying, "crane_way_of", lambda *asked: way)
    words = carrying.out_of_reach(None, SimpleNamespace(crane="Arm", payload="crate"))
    assert bool(words) is is_told


# ---- hands ---------------------------------------------------------------------------


def test_a_hand_proved_short_comes_behind_every_other(monkeypatch):
    def hand(short=-0.1, witness=None, in_envelope=False, off=0.2):
        return SimpleNamespace(
            short=short, witness=witness, in_envelope=in_envelope, envelope=(off,)
        )

    there, within = hand(witness=1), hand(in_envelope=True)
    near, far = hand(off=0.1), hand(off=0.3)
    short, shorter = hand(short=0.1), hand(short=0.4)
    ranked = [there, within, near, far, short, shorter]
    for some in (ranked, ranked[::-1]):
        monkeypatch.setattr(wording, "attempts", lambda *asked, some=some: some)
        assert wording.ranked_attempts(None, None) == ranked
        assert wording.best_attempt(None, None) is there
