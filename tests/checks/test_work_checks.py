"""Reach, socket, clearance, glove, too-near and sight: pass, fail, open, and what mends a fail."""

from types import SimpleNamespace

import numpy as np
import pytest
from bench import bench, drive, resolved, step, the
from brute import is_inside, segment_distance
from twin import excess, torso_of

from reach.checks import wording
from reach.checks.clearance import closest_of
from reach.finding import Verdict
from reach.geometry import pose_of, transform_points
from reach.plan.settings import distinct_poses, socket_shortage
from reach.work import MIRROR, attempt_of
from reach.worker.cells import Refuted
from reach.worker.figure import TRUNK, mirrored
from reach.worker.posing import capsules_of
from reach.worker.posture import posture_of
from reach.worker.search import find_postures


def world_triangles(situation):
    return np.concatenate([part for part in situation.surroundings.parts])


@pytest.mark.parametrize(
    ("lane", "fastener", "hand"),
    [("R", "easy", "own"), ("L", "easy", "own"), ("R", "top", "left"), ("L", "top", "either")],
)
def test_a_pass_of_reach_holds_in_plain_python(lane, fastener, hand):
    data = bench(fasteners={"top": {"at": [0.45, 0.05, 1.5], "axis": [-0.6, 0.0, 0.8]}})
    turn = step("s", lane, drive(fastener, hand=hand))
    assert the("reach", data, turn).verdict is Verdict.PASS
    site, (situation,) = resolved(data, turn)
    used = {"own": situation.own_hand, "either": situation.own_hand}.get(hand, hand)
    attempt = attempt_of(site, situation, used)
    x = attempt.witness.posture
    suit, body = situation.suit, situation.body.links
    for angle, name in zip(x[:5], TRUNK, strict=True):
        low, high = getattr(suit, name)
        assert low - 1e-12 <= angle <= high + 1e-12
    # Everything below is in the frame of a right-handed question.
    boots = situation.place.world_from_boots @ (MIRROR if used == "left" else np.eye(4))
    back = np.linalg.inv(boots)
    head = (back @ [*situation.head.point, 1.0])[:3]
    into = -(back[:3, :3] @ situation.head.axis)
    marks = posture_of(attempt.figure, x, head, into)
    _, torso, shoulder = torso_of(attempt.figure, x[:5])
    hand_x = marks.hand_rotation
    assert marks.shoulder == pytest.approx(shoulder, abs=1e-9)
    assert np.linalg.norm(marks.elbow - shoulder) == pytest.approx(body.upper_arm, abs=1e-9)
    assert np.linalg.norm(marks.wrist - marks.elbow) == pytest.approx(body.forearm, abs=1e-9)
    grip = marks.wrist + body.grip * hand_x[:, 0]
    tip = grip + hand_x @ situation.held.tip
    assert np.linalg.norm(tip - head) < 1e-6
    off = np.arccos(np.clip((hand_x @ situation.held.axis) @ into, -1, 1))
    assert off <= site.limit("axis_tolerance").value + 1e-6
    assert hand_x.T @ hand_x == pytest.approx(np.eye(3), abs=1e-9)
    assert np.linalg.det(hand_x) == pytest.approx(1.0)
    over = excess(suit, torso, shoulder, marks.elbow, marks.wrist, hand_x)
    assert max(over.values()) < 1e-6, over
    triangles = world_triangles(situation)
    capsules = capsules_of(attempt.figure, attempt.bulk, attempt.target, x)
    for row, need in zip(capsules, attempt.floor, strict=True):
        p, q = transform_points(boots, row[:3]), transform_points(boots, row[3:6])
        assert segment_distance(p, q, triangles) - row[6] >= need - 1e-9
        assert not is_inside(0.5 * (p + q), triangles)
    line = head - (marks.eye)
    assert np.arccos(line @ into / np.linalg.norm(line)) <= site.limit("sight_angle").value
    if used == "left":
        assert mirrored(mirrored(tip)) == pytest.approx(tip)


def test_far_fails_by_the_outer_bound_by_about_what_is_missing():
    near, far = (
        the("reach", bench(fasteners={"t": {"at": [x, -0.2, 1.65], "axis": [-1, 0, 0]}}), s)
        for x, s in ((2.0, step("s", "R", drive("t"))), (2.5, step("s", "R", drive("t"))))
    )
    assert near.verdict is far.verdict is Verdict.FAIL
    assert near.high - far.high == pytest.approx(0.5, abs=0.05)
    assert "outer bound" in far.because
    assert far.numbers["tiers"]["outer bound"] == "out of reach"
    assert {mark.kind for mark in far.marks} == {"point", "sphere"}


def test_a_blank_setting_is_open_and_never_a_pass():
    turn = step("s", "R", drive("easy"), setting=None)
    for check in ("reach", "clearance", "sight", "inner"):
        found = the(check, bench(), turn)
        assert found.verdict is Verdict.OPEN
        assert "blank" in found.because
    socket = the("socket", bench(), turn)
    assert socket.verdict is Verdict.PASS  # some setting is known to do it
    assert the("torque", bench(), turn).verdict is Verdict.PASS
    rest = the("clearance", bench(), step("s", "R", {"do": "ingress"}, setting=None))
    assert rest.verdict is Verdict.OPEN


def test_a_wall_in_the_body_fails_by_proof():
    data = bench(
        solids={"wall": {"box": [0.3, 1.0, 0.3], "at": [0.0, 0.0, 1.4]}},
        restraints={"stand": {"kind": "foot restraint", "chain": [{"shift": [0, 0, 0.35]}]}},
    )
    turn = step("s", "R", drive("easy"), setting={})
    found = the("reach", data, turn)
    assert found.verdict is Verdict.FAIL
    assert "refuted" in found.because
    assert the("clearance", data, turn).verdict is Verdict.FAIL


def test_a_margin_asked_for_makes_a_near_thing_fail_or_review_not_pass():
    turn = step("s", "R", drive("easy"))
    free = the("reach", bench(), turn)
    data = bench(limits={"reach_margin": "5 m"})
    asked = the("reach", data, turn)
    assert asked.low == pytest.approx(free.low - 5.0, abs=1e-9)
    assert asked.high == pytest.approx(free.high - 5.0, abs=1e-9)
    assert asked.verdict is Verdict.FAIL
    assert asked.limits[0].name == "reach_margin"
    assert asked.limits[0].value == 5.0


def test_one_hand_refuted_is_no_proof_for_a_step_that_may_use_either(monkeypatch):
    def hand(short, proved, n):
        return SimpleNamespace(short=short, refuted=lambda _: Refuted(proved, n, (n, 1, 0)))

    for hands, expected in (
        ([hand(0.0, True, 5), hand(0.0, False, 7)], Refuted(False, 12, (12, 2, 0))),
        ([hand(0.0, True, 5), hand(-0.1, True, 7)], Refuted(True, 12, (12, 2, 0))),
        ([hand(0.0, True, 5), hand(0.2, False, 7)], Refuted(True, 5, (5, 1, 0))),
    ):
        monkeypatch.setattr(wording, "attempts", lambda site, s, hands=hands: hands)
        assert wording.refuted_by_all(None, None, 7) == expected


def test_the_hand_that_reaches_decides():
    data = bench(
        fasteners={"side": {"at": [0.15, 1.0, 1.5], "axis": [0, -1, 0]}},
        solids={"panel": {"box": [0.5, 0.05, 0.5], "at": [0.15, 1.035, 1.5]}},
    )
    own = the("reach", data, step("s", "R", drive("side")))
    either = the("reach", data, step("s", "R", drive("side", hand="either")))
    left = the("reach", data, step("s", "R", drive("side", hand="left")))
    assert left.verdict is Verdict.PASS
    assert own.verdict is not Verdict.PASS
    assert either.verdict is Verdict.PASS
    assert (either.low, either.high) == (left.low, left.high)


def test_only_hands_that_the_fastener_allows_are_tried():
    data = bench(fasteners={"t": {"at": [0.7, -0.2, 1.65], "axis": [-1, 0, 0], "hand": "left"}})
    found = the("reach", data, step("s", "R", drive("t", hand="either")))
    assert found.numbers["hand"] == "left"
    assert the("hand", data, step("s", "R", drive("t", hand="either"))).verdict is Verdict.PASS


def test_fixes_work_when_they_are_applied():
    data = bench()
    leaning = {"clocking": "60 deg", "pitch": "30 deg", "yaw": "-60 deg"}
    found = the("reach", data, step("s", "L", drive("easy"), setting=leaning))
    assert found.verdict is Verdict.FAIL
    setting, hand = found.fix.removesuffix(".").split("; or ")[:2]
    words = setting.split(" to ", 1)[1]
    angles = dict(pair.split(" ", 1) for pair in words.split(", "))
    assert sum(angles[name] != f"{leaning[name]:>}" for name in angles) >= 1
    mended = the("reach", data, step("s", "L", drive("easy"), setting=angles))
    assert mended.verdict is Verdict.PASS
    assert hand == "use the right hand"
    other = the("reach", data, step("s", "L", drive("easy", hand="right"), setting=leaning))
    assert other.verdict is Verdict.PASS


def test_an_extension_that_is_named_does_it():
    data = bench(
        fasteners={"t": {"at": [0.95, -0.35, 2.45], "axis": [-0.55, 0.0, -0.84]}},
        restraints={"stand": {"kind": "foot restraint", "chain": [{"shift": [0, 0, 0.35]}]}},
    )
    data["solids"] = {"panel": {"box": [0.02, 0.02, 0.02], "at": [5, 0, 0]}}
    short = step("s", "R", drive("t"), setting={})
    grid = [(x, z) for x in (0.85, 0.95, 1.05, 1.15) for z in (2.45, 2.55, 2.65)]
    for x, z in grid:
        data["fasteners"]["t"]["at"] = [x, -0.35, z]
        found = the("reach", data, short)
        if found.verdict is Verdict.FAIL and "Fit the extension X-150" in found.fix:
            break
    else:
        raise AssertionError("no place was found that only the extension reaches")
    mended = the("reach", data, step("s", "R", drive("t", extension="X-150"), setting={}))
    assert mended.verdict is Verdict.PASS


@pytest.mark.parametrize("lane", ["R", "L"])
def test_no_setting_reaches_what_the_socket_is_excluded_for(lane):
    rng = np.random.default_rng(5)
    n_excluded = n_reached = 0
    for _ in range(14):
        far = rng.uniform(0.3, 3.2)
        way = rng.normal(size=3)
        way[2] = abs(way[2])
        at = [0, 0, 0.9] + far * way / np.linalg.norm(way)
        axis = rng.normal(size=3).tolist()
        data = bench(fasteners={"t": {"at": at.tolist(), "axis": axis}})
        site, (s,) = resolved(data, step("s", lane, drive("t", hand="either")))
        short = socket_shortage(site, s, "SK1", s.place.restraint)
        _, poses = distinct_poses(site, s.place.restraint)
        reached = False
        for hand in ("right", "left"):
            attempt = attempt_of(site, s, hand)
            flip = MIRROR if hand == "left" else np.eye(4)
            back = np.linalg.inv(s.place.world_from_socket @ poses @ flip)
            tips = back[:, :3, :3] @ s.head.point + back[:, :3, 3]
            found = find_postures(attempt.figure, tips, back[:, :3, :3] @ -s.head.axis, "quick")
            reached |= bool((found.violation <= 0.0).any())
        assert not (short > 0.0 and reached)
        n_excluded += short > 0.0
        n_reached += reached
    assert n_excluded >= 3
    assert n_reached >= 1


def test_a_long_swinging_chain_is_not_excluded_by_its_far_ends():
    """The plate may be anywhere between too near and too far: nothing is proved."""
    boom = {
        "kind": "foot restraint",
        "chain": [
            {"name": "swing", "turn": "y", "from": "-90 deg", "to": "90 deg", "step": "10 deg"},
            {"shift": [0, 0, 1.6]},
        ],
    }
    data = bench(
        restraints={"stand": boom},
        fasteners={"t": {"at": [0.0, 0, -0.25], "axis": [0, 0, 1]}},
    )
    site, (s,) = resolved(data, step("s", "R", drive("t"), setting={"swing": 0.0}))
    assert socket_shortage(site, s, "SK1", s.place.restraint) <= 0.0


def test_sockets_ride_on_payloads_that_were_placed():
    data = bench(
        payloads={"boom": {"poses": {"stowed": {"at": [50, 0, 0]}, "here": {"at": [0, 0, 0]}}}},
        sockets={"SK2": {"at": [0, 0, 0], "axis": [0, 0, 1], "zero": [1, 0, 0], "in": "boom"}},
    )
    data["sockets"]["SK1"]["at"] = [90, 0, 0]
    at_boom = {"where": "SK2", "setting": None, "placed": {"boom": "here"}}
    found = the("socket", data, step("s", "R", drive("easy"), **at_boom))
    assert found.verdict is Verdict.PASS
    assert found.numbers["socket"] == "SK2"


def test_too_near_fails_and_own_room_of_one_posture_is_no_proof():
    low = the("inner", bench(), step("s", "R", drive("low")))
    assert low.verdict is Verdict.FAIL
    assert "too near" in low.because
    assert the("inner", bench(), step("s", "R", drive("easy"))).verdict is Verdict.PASS
    data = bench(limits={"inner_margin": "0.2 m"})
    asked = the("inner", data, step("s", "R", drive("easy")))
    assert asked.low < 0.0 <= asked.high


def test_inspecting_needs_sight_and_no_reach():
    look = step("s", "R", {"do": "inspect", "fastener": "t"})
    for axis, at, verdict in (
        ([-1, 0, 0], [2.5, 0, 1.8], Verdict.PASS),
        ([1, 0, 0], [2.5, 0, 1.8], Verdict.FAIL),
    ):
        data = bench(fasteners={"t": {"at": at, "axis": axis}})
        data["solids"]["panel"]["at"] = [2.6, 0.0, 1.65]
        assert the("sight", data, look).verdict is verdict
    data = bench(
        fasteners={"t": {"at": [2.5, 0, 1.8], "axis": [-1, 0, 0]}},
        solids={"screen": {"box": [0.02, 3, 3], "at": [2.2, 0, 1.8]}},
    )
    hidden = the("sight", data, look)
    assert hidden.verdict is Verdict.FAIL
    assert "hidden" in hidden.because
    assert hidden.fix


def test_a_hidden_head_never_fails_twice_as_badly_as_it_can():
    data = bench(
        fasteners={"t": {"at": [2.5, 0, 1.8], "axis": [1, 0, 0]}}, limits={"visible_share": 0.0}
    )
    found = the("sight", data, step("s", "R", {"do": "inspect", "fastener": "t"}))
    assert found.low <= found.high < 0.0


def test_ingress_clear_bent_and_blocked():
    rest = step("s", "R", {"do": "ingress"})
    free = the("clearance", bench(), rest)
    assert free.verdict is Verdict.PASS
    assert "upright" in free.because
    beam = {"beam": {"box": [0.1, 3.0, 0.1], "at": [-0.05, 0.0, 2.29]}}
    bent = the("clearance", bench(solids=beam), rest)
    assert bent.verdict is Verdict.PASS, bent
    assert "bent" in bent.because
    block = {"block": {"box": [0.6, 0.6, 0.6], "at": [0.0, 0.0, 1.2]}}
    blocked = the("clearance", bench(solids=block), rest)
    assert blocked.verdict is Verdict.FAIL
    assert "whatever the trunk does" in blocked.because


@pytest.mark.parametrize("side", [-1, 1])
def test_either_folded_arm_is_in_the_way_at_rest(side):
    box = {"by the arm": {"box": [0.06, 0.06, 0.5], "at": [0.02, side * 0.42, 1.6]}}
    found = the("clearance", bench(solids=box), step("s", "R", {"do": "ingress"}))
    upright = the("clearance", bench(), step("s", "R", {"do": "ingress"}))
    assert found.low < upright.low or "bent" in found.because


def test_a_worker_inside_a_solid_is_not_clear():
    data = bench(solids={"block": {"box": [20, 20, 20], "at": [0.0, 0.0, 1.0]}})
    found = the("reach", data, step("s", "R", drive("easy")))
    assert found.verdict is not Verdict.PASS
    rest = the("clearance", data, step("s", "R", {"do": "ingress"}))
    assert rest.low < 0.0


def test_a_hazard_counts_with_its_stand_off():
    turn = step("s", "R", drive("easy"))
    free = the("clearance", bench(), turn)
    hot = {"hot": {"kind": "hot", "box": [0.05, 0.05, 0.05], "at": [0.5, -0.2, 1.65]}}
    assert the("clearance", bench(hazards=hot), turn).low < free.low
    hot["hot"] |= {"at": [1.2, -0.2, 1.65], "stand_off": 0.9}
    assert the("clearance", bench(hazards=hot), turn).low < 0.0
    hot["hot"]["kind"] = "vent"
    assert the("clearance", bench(hazards=hot), turn).low == free.low


def test_clearance_is_never_more_than_over_all_triangles():
    rng = np.random.default_rng(12)
    n_inside = 0
    for i in range(12):
        boxes = {
            f"b{k}": {
                "box": rng.uniform(0.1, 1.5, 3).tolist(),
                "at": rng.normal(size=3).tolist(),
                "turn": [{"axis": rng.normal(size=3).tolist(), "angle": f"{1.0 + i} rad"}],
            }
            for k in range(3)
        }
        boxes["rod"] = {"cylinder": {"radius": 0.2, "height": 1}, "at": [1.5, 0, 0]}
        data = bench()
        data["solids"], data["hazards"] = boxes, {}
        _, (s,) = resolved(data, step("s", "R", drive("easy")))
        triangles = world_triangles(s)
        capsules = np.concatenate((rng.normal(size=(6, 6)), rng.uniform(0, 0.2, (6, 1))), axis=1)
        capsules[:3, 3:6] = capsules[:3, :3] + 0.05 * rng.normal(size=(3, 3))
        floor = rng.uniform(0, 0.1, 6)
        names = tuple("abcdef")
        pose = pose_of(np.eye(3), [0.3, 0.2, 0.1])
        found = closest_of(s.surroundings, pose, capsules, floor, names)
        slow = []
        for row, need in zip(capsules, floor, strict=True):
            p, q = row[:3] + pose[:3, 3], row[3:6] + pose[:3, 3]
            apart = segment_distance(p, q, triangles)
            inside = apart > 0.0 and is_inside(0.5 * (p + q), triangles)
            n_inside += inside
            slow.append((-apart if inside else apart) - row[6] - need)
        assert found.margin <= min(slow) + 1e-9
        assert found.margin >= min(slow) - s.surroundings.error - 1e-9
        assert found.part == names[int(np.argmin(slow))]
        more = {**boxes, "more": {"box": [0.3] * 3, "at": rng.normal(size=3).tolist()}}
        data["solids"] = more
        _, (t,) = resolved(data, step("s", "R", drive("easy")))
        assert (
            closest_of(t.surroundings, pose, capsules, floor, names).margin <= found.margin + 1e-9
        )
    assert n_inside >= 2


def test_the_true_round_surface_is_what_counts():
    """A sphere before the middle of a facet, and a flat box that hides the rod's larger error."""
    radius, sides, away = 0.5, 8, 0.1
    data = bench()
    half = np.pi / sides
    at = (radius + away) * np.array([np.cos(half), np.sin(half), 0.0])
    data["solids"] = {"rod": {"cylinder": {"radius": radius, "height": 2, "sides": sides}}}
    data["hazards"] = {}
    sphere = np.array([[*at, *at, 0.03]])
    flat = {"box": [0.02, 0.02, 0.02], "at": [at[0], at[1], 0.03 + 0.01 + 0.1]}
    for _ in range(2):
        _, (s,) = resolved(data, step("s", "R", drive("easy")))
        found = closest_of(s.surroundings, np.eye(4), sphere, np.zeros(1), ("ball",))
        assert found.margin <= away - 0.03 + 1e-9
        assert found.margin >= away - 0.03 - s.surroundings.error - 1e-9
        data["solids"]["flat"] = flat
    assert found.solid == "flat"


def test_names_of_legs_are_the_worker_s_own():
    right_side = {"by": {"box": [0.3, 0.02, 0.1], "at": [0.0, -0.36, 0.9]}}
    for lane in ("R", "L"):
        found = the("clearance", bench(solids=right_side), step("s", lane, {"do": "ingress"}))
        assert found.numbers["part"] == "right leg"
