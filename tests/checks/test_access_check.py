"""Room for bit, shaft and lever: against dense sampling, closed forms, and with round surfaces."""

import math

import numpy as np
import pytest
from bench import bench, drive, resolved, step, the
from brute import is_inside, segment_distance

from reach.checks.access import OFF_SURFACE, WIDEST, free_radius, free_swing
from reach.finding import Verdict
from reach.geometry import build
from reach.model.hardware import Swing

AROUND = {"panel": {"box": [0.02, 3, 3], "at": [0.71, 0, 1.65]}}


def situation(solids, **more):
    data = bench()
    data["solids"] = solids
    _, (found,) = resolved(data, step("s", "R", drive("easy", **more)))
    return found


def random_boxes(rng, n):
    at = np.array([0.7, -0.2, 1.65])
    return {
        f"b{i}": {
            "box": rng.uniform(0.02, 0.2, 3).tolist(),
            "at": (at + rng.normal(size=3) * [0.1, 0.15, 0.15] - [0.15, 0, 0]).tolist(),
            "turn": [{"axis": rng.normal(size=3).tolist(), "angle": float(rng.uniform(0, 3))}],
        }
        for i in range(n)
    }


@pytest.mark.parametrize("seed", range(8))
def test_the_free_radius_is_that_of_sampled_surface_points(seed):
    rng = np.random.default_rng(seed)
    one = situation(random_boxes(rng, 3))
    tree, head, held = one.surroundings.tree, one.head, one.held
    low, high = free_radius(tree, head, held)
    corners = np.concatenate(one.surroundings.parts)
    weights = rng.dirichlet(np.ones(3), (400, len(corners)))
    points = np.einsum("nkc,kcx->nkx", weights, corners).reshape(-1, 3)
    along = (points - head.point) @ head.axis
    off = np.linalg.norm(points - head.point - along[:, None] * head.axis, axis=1)
    near = off[(along >= OFF_SURFACE) & (along <= held.shaft_length)]
    nearest = near.min(initial=math.inf)
    axis = [head.point + t * head.axis for t in np.linspace(OFF_SURFACE, held.shaft_length, 40)]
    if any(is_inside(p, corners) for p in axis):
        assert low < 1e-6
    assert low <= nearest
    if math.isinf(high):
        assert nearest > WIDEST
    else:
        assert 0.0 <= high - low <= 1e-6
        assert nearest <= high + 0.02


@pytest.mark.parametrize("seed", range(6))
def test_the_free_swing_holds_against_a_dense_look(seed):
    rng = np.random.default_rng(40 + seed)
    one = situation(random_boxes(rng, 2), tool="ratchet", bit="S-11")
    tree, head, held = one.surroundings.tree, one.head, one.held
    swing = Swing(lever=0.2, radius=0.015, least_arc=1.0)
    free, most = free_swing(tree, head, held, swing)
    triangles = np.concatenate(one.surroundings.parts)
    u = np.cross(head.axis, [0.0, 0.0, 1.0])
    v = np.cross(head.axis, u)
    hub = head.point + held.shaft_length * head.axis
    angles = np.linspace(0.0, math.tau, 1440, endpoint=False)
    ends = hub + 0.2 * (np.outer(np.cos(angles), u) + np.outer(np.sin(angles), v))
    gaps = np.array([segment_distance(hub, end, triangles) for end in ends]) - swing.radius
    runs, longest = np.concatenate((gaps, gaps)) > 0.0, 0
    count = 0
    for ok in runs:
        count = count + 1 if ok else 0
        longest = max(longest, count)
    step_size = math.tau / len(angles)
    truth = min(math.tau, longest * step_size)
    assert free <= most + 1e-12
    assert free <= truth + step_size
    assert most >= truth - step_size
    assert free >= truth - 2 * step_size - 1e-5


@pytest.mark.parametrize("gap", [0.05, 0.1, 0.125, 0.1875])
def test_a_wall_beside_the_axis_leaves_just_the_gap(gap):
    wall = {"wall": {"box": [0.2, 0.1, 0.6], "at": [0.6, -0.2 + gap + 0.05, 1.65]}}
    one = situation(wall)
    low, high = free_radius(one.surroundings.tree, one.head, one.held)
    assert low <= gap <= high + 1e-9
    assert high - low <= 1e-6


def test_a_lever_between_two_walls_swings_the_closed_form():
    # The lever is a segment of 0.2 m with radius 0.015 m, walls 0.1 m to each side of its hub.
    walls = {
        f"wall {s}": {"box": [0.4, 0.02, 2.0], "at": [0.6, -0.2 + s * 0.11, 1.65]} for s in (-1, 1)
    }
    one = situation(walls, tool="ratchet", bit="S-11")
    free, most = free_swing(
        one.surroundings.tree, one.head, one.held, Swing(lever=0.2, radius=0.015, least_arc=1)
    )
    arc = 2.0 * math.asin((0.1 - 0.015) / 0.2)
    assert free == pytest.approx(arc, abs=1e-4)
    assert free <= arc <= most
    tighter, _ = free_swing(
        one.surroundings.tree,
        one.head,
        one.held,
        Swing(lever=0.2, radius=0.015, least_arc=1),
        error=0.01,
    )
    assert tighter == pytest.approx(2.0 * math.asin((0.1 - 0.025) / 0.2), abs=1e-4)


def test_a_shaft_buried_in_a_solid_is_not_free():
    one = situation({"block": {"box": [3, 3, 3], "at": [0.7, 0, 1.65]}})
    assert free_radius(one.surroundings.tree, one.head, one.held) == (0.0, math.inf)


def test_pass_fail_and_open_of_the_check():
    data = bench()
    data["solids"] = {"wall": {"box": [0.2, 0.02, 0.2], "at": [0.6, -0.16, 1.65]}}
    turn = step("s", "R", drive("easy"))
    free = the("access", data, turn)
    assert free.verdict is Verdict.PASS
    assert free.low == pytest.approx(0.03 - 0.013 - 0.002, abs=1e-6)
    data["solids"]["wall"]["at"][1] = -0.176
    tight = the("access", data, turn)
    assert tight.verdict is Verdict.FAIL
    assert tight.high == pytest.approx(0.014 - 0.013 - 0.002, abs=1e-6)
    assert tight.fix.endswith(".")
    # A post that may stand outside its facets by more than there is to spare stays undecided.
    data["solids"] = {
        "post": {"cylinder": {"radius": 0.3, "height": 1, "sides": 8}, "at": [0.64, 0.1159, 1.65]}
    }
    unsure = the("access", data, turn)
    assert unsure.low < 0.0 <= unsure.high
    assert (
        the("access", data, step("s", "R", {**drive("easy"), "tool": "glove", "bit": None})).verdict
        is Verdict.NOT_ASKED
    )


def test_the_smaller_of_shaft_and_swing_counts_and_a_proof_is_kept():
    data = bench()
    ratchet = step("s", "R", drive("easy", tool="ratchet", bit="S-11"))
    walls = {
        f"wall {s}": {"box": [0.4, 0.02, 2.0], "at": [0.5, -0.2 + s * 0.06, 1.65]} for s in (-1, 1)
    }
    data["solids"] = walls
    narrow = the("access", data, ratchet)
    arc = 2.0 * math.asin((0.05 - 0.015) / 0.2)
    assert narrow.verdict is Verdict.FAIL
    assert narrow.low == pytest.approx((arc - math.radians(60)) * 0.2, abs=1e-3)
    assert "swings" in narrow.because
    for s in (-1, 1):  # nearer still: the shaft is blocked as well, and both are proved
        walls[f"wall {s}"]["at"][1] = -0.2 + s * 0.018
    assert the("access", data, ratchet).verdict is Verdict.FAIL


def test_a_hole_is_not_narrower_than_it_is():
    """Facets across a round hole stand outside the material: no fail may hang on them."""
    plate = {"size": [1, 1], "thickness": 0.04, "holes": [[0, 0, 0.0153]], "sides": 6}
    turn = [{"axis": [0, 1, 0], "angle": "90 deg"}]
    data = bench()
    data["solids"] = {"plate": {"plate": plate, "at": [0.66, -0.2, 1.65], "turn": turn}}
    found = the("access", data, step("s", "R", drive("easy")))
    assert 0.0153 * math.cos(math.pi / 6) < 0.015
    assert found.verdict is not Verdict.FAIL


@pytest.mark.parametrize("tool", [{}, {"tool": "glove", "bit": None}])
def test_it_answers_once_for_all_bodies_and_names_none(tool):
    turn = step("s", "R", {**drive("easy"), **tool})
    one = the("access", bench(), turn, sizes=["small", "medium", "large"])
    assert one.case == ""
    assert "small" not in one.because


def test_what_the_tree_says_is_what_the_triangles_say():
    triangles = np.concatenate([np.eye(3)[None], 2.0 * np.eye(3)[None]])
    p, q = np.array([0.0, 0.0, 0.0]), np.array([0.1, 0.1, 0.1])
    from reach.geometry import segment_distance as fast

    slow = segment_distance(p, q, triangles)
    assert float(fast(build(triangles), p[None], q[None]).distance[0]) == pytest.approx(slow)
