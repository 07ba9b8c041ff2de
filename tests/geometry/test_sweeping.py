"""The bracket of a sweep against closed forms, dense samples and a library's single poses.

Samples go along a motion written here on scipy's rotations, apart from the package's.
"""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from scipy.spatial.transform import Rotation

from benchmarks.trusses import vertices_and_faces
from reach.geometry import (
    build,
    capsule_clearance,
    frame_from_axes,
    inside,
    pose_of,
    rotation_about,
    rotation_x,
    rotation_z,
    segment_distance,
    swept_clearance,
    transform_points,
)
from reach.geometry.sweeping import TIE

STILL = np.eye(3)
WALL = np.array([[[2.0, -9.0, -9.0], [2.0, 9.0, -9.0], [2.0, 0.0, 18.0]]])
POINT = ([0.0, 0.0, 0.0], [0.0, 0.0, 0.0])
WITHIN = 1e-3


def at(*place):
    return pose_of(STILL, place)


def poses_between(start, stop, times, about):
    """Poses along one leg: `about` runs straight, the turn is scipy's rotation vector."""
    first, last = Rotation.from_matrix(start[:3, :3]), Rotation.from_matrix(stop[:3, :3])
    turn = (first.inv() * last).as_rotvec()
    rotation = (first * Rotation.from_rotvec(times[:, None] * turn)).as_matrix()
    foot, end = transform_points(start, about), transform_points(stop, about)
    centre = foot + times[:, None] * (end - foot)
    return rotation, centre - rotation @ about


def sampled_gaps(tree, start, stop, p, q, radius, times, about=(0.0, 0.0, 0.0), limit=np.inf):
    """Gap of each capsule at each time, shape (t, m), or some value above `limit`."""
    rotation, origin = poses_between(start, stop, times, np.asarray(about))
    ends = [np.einsum("tij,mj->tmi", rotation, x) + origin[:, None] for x in (p, q)]
    within = np.tile(np.maximum(limit + radius, 0.0), len(times))
    distance = segment_distance(tree, *(x.reshape(-1, 3) for x in ends), within).distance
    return distance.reshape(len(times), len(p)) - radius


def crates(rng, n=8):
    """A closed box of random size and pose for each of `n`, some of them overlapping."""
    parts = []
    for _ in range(n):
        crate = np.asarray(trimesh.creation.box(extents=rng.uniform(0.2, 1.2, 3)).triangles)
        pose = pose_of(Rotation.random(random_state=rng).as_matrix(), rng.uniform(-2, 2, 3))
        parts.append(transform_points(pose, crate))
    return np.concatenate(parts)


def body(rng, m):
    middle, half = rng.uniform(-0.4, 0.4, (m, 3)), rng.normal(scale=0.2, size=(m, 3))
    return middle - half, middle + half, rng.uniform(0.0, 0.15, m)


def legs(rng, n, turn, length=1.5, spread=2.5):
    first = [Rotation.random(random_state=rng) for _ in range(n)]
    vectors = rng.normal(size=(n, 3))
    vectors *= rng.uniform(0.0, turn, (n, 1)) / np.linalg.norm(vectors, axis=1)[:, None]
    place = rng.uniform(-spread, spread, (n, 3))
    start = [pose_of(r.as_matrix(), x) for r, x in zip(first, place, strict=True)]
    place = place + rng.uniform(-length, length, (n, 3))
    last = [r * Rotation.from_rotvec(v) for r, v in zip(first, vectors, strict=True)]
    return np.array(start), np.array(
        [pose_of(r.as_matrix(), x) for r, x in zip(last, place, strict=True)]
    )


@pytest.mark.parametrize(
    ("turn", "n", "about"),
    [(0.0, 150, (0.0, 0.0, 0.0)), (1.6, 250, (0.0, 0.0, 0.0)), (np.pi, 100, (0.5, -0.2, 0.3))],
)
def test_no_sample_lies_below_the_bracket_on_500_random_legs(turn, n, about):
    rng = np.random.default_rng(int(10 * turn) + 3)
    tree = build(crates(rng))
    p, q, radius = body(rng, 3)
    start, stop = legs(rng, n, turn)
    swept = swept_clearance(tree, start, stop, p, q, radius, WITHIN, about=about)
    times = np.linspace(0.0, 1.0, 4000)
    assert (swept.high - swept.low <= WITHIN).all()
    for i in range(n):
        limit = swept.high[i] + 0.1
        gaps = sampled_gaps(tree, start[i], stop[i], p, q, radius, times, about, limit)
        first = transform_points(start[i], p), transform_points(start[i], q)
        begin = capsule_clearance(tree, *first, radius)
        deep = begin < -radius
        gaps[:, deep] = begin[deep]
        assert swept.low[i] <= gaps.min()
        # Between two samples no point of the body moves farther than this.
        moved = np.linalg.norm(stop[i, :3, 3] - start[i, :3, 3]) + 2.0 * turn
        assert swept.high[i] >= gaps.min() - moved / 3999
        now = swept.time[i : i + 1]
        there = sampled_gaps(tree, start[i], stop[i], p, q, radius, now, about)[0]
        there[deep] = begin[deep]
        assert there[swept.capsule[i]] == pytest.approx(swept.high[i], abs=1e-9)
    assert 20 < (swept.high > 0.0).sum() < n - 20


def test_witness_points_lie_on_axis_and_mesh_and_are_that_far_apart():
    rng = np.random.default_rng(5)
    triangles = crates(rng)
    tree = build(triangles)
    p, q, radius = body(rng, 4)
    start, stop = legs(rng, 200, 1.5)
    swept = swept_clearance(tree, start, stop, p, q, radius)
    apart = np.linalg.norm(swept.on_axis - swept.on_mesh, axis=1)
    np.testing.assert_allclose(
        np.minimum(apart, 99.0), np.abs(swept.high + radius[swept.capsule]), atol=1e-9
    )
    for i in range(len(start)):
        pose = pose_of(*(x[0] for x in poses_between(start[i], stop[i], swept.time[[i]], 0 * p[0])))
        j = swept.capsule[i]
        ends = transform_points(pose, p[j]), transform_points(pose, q[j])
        along = sum(np.linalg.norm(swept.on_axis[i] - end) for end in ends)
        assert along == pytest.approx(np.linalg.norm(ends[0] - ends[1]), abs=1e-9)
        own = build(triangles[swept.face[[i]]])
        assert segment_distance(own, swept.on_mesh[i], swept.on_mesh[i]).distance[0] < 1e-9


def test_the_witness_pose_has_that_gap_for_coal_too():
    coal = pytest.importorskip("coal")
    rng = np.random.default_rng(6)
    triangles = crates(rng)
    vertices, faces = vertices_and_faces(triangles)
    model = coal.BVHModelOBBRSS()
    model.beginModel(len(faces), len(vertices))
    model.addVertices(vertices)
    model.addTriangles(faces.astype(np.int32))
    model.endModel()
    p, q, radius = body(rng, 3)
    start, stop = legs(rng, 150, 1.5)
    swept = swept_clearance(build(triangles), start, stop, p, q, radius)
    free = np.flatnonzero(swept.high > 1e-3)
    assert len(free) > 50
    for i in free:
        pose = pose_of(*(x[0] for x in poses_between(start[i], stop[i], swept.time[[i]], 0 * p[0])))
        gaps = []
        for head, tail, r in zip(
            transform_points(pose, p), transform_points(pose, q), radius, strict=True
        ):
            z = tail - head
            turn = frame_from_axes(z, np.eye(3)[np.argmin(np.abs(z))])
            shape, place = coal.Capsule(r, np.linalg.norm(z)), 0.5 * (head + tail)
            gaps.append(
                coal.distance(
                    model,
                    coal.Transform3s(),
                    shape,
                    coal.Transform3s(turn, place),
                    coal.DistanceRequest(),
                    coal.DistanceResult(),
                )
            )
        assert min(gaps) == pytest.approx(swept.high[i], abs=1e-6)


def holds(swept, gap, within=WITHIN):
    """Whether each bracket is narrow and holds the gap known from paper."""
    return (
        (swept.low <= gap) & (gap <= swept.high + 1e-12) & (swept.high - swept.low <= within)
    ).all()


@pytest.mark.parametrize(
    ("name", "start", "stop", "p", "q", "gap"),
    [
        ("ball past an edge", at(-3, 1.5, 0), at(4, 1.5, 0), *POINT, 0.5),
        ("ball past a corner", at(3, 1, 1), at(1, 3, 1), *POINT, np.sqrt(2.0)),
        ("ball slides along a face", at(-0.9, 1.25, 0.3), at(0.9, 1.25, -0.3), *POINT, 0.25),
        ("rod slides lengthwise", at(-4, 0, 1.25), at(4, 0, 1.25), [-1, 0, 0], [1, 0, 0], 0.25),
        ("rod slides sideways", at(0, -4, 1.25), at(0, 4, 1.25), [-1, 0, 0], [1, 0, 0], 0.25),
        ("slanted rod past an edge", at(-5, 0, 2), at(5, 0, 2), [0, 0, 0], [1, 0, 1], 1.0),
        ("comes near and goes", at(0, 9, 0), at(0, 1.5, 0), *POINT, 0.5),
        ("stays", at(0, 3, 0), at(0, 3, 0), [0, 0, -1], [0, 0, 1], 2.0),
    ],
)
def test_translations_past_a_cube_have_the_gap_seen_on_paper(name, start, stop, p, q, gap, cube):
    swept = swept_clearance(build(cube), start, stop, p, q, 0.125, 1e-5)
    assert holds(swept, gap - 0.125, 1e-5)
    assert swept.high[0] == pytest.approx(gap - 0.125, abs=1e-5)


@pytest.mark.parametrize(("first", "last"), [(-30, 75), (-100, 50), (10, 80), (-89, -1)])
def test_an_arm_that_swings_on_a_hinge_by_a_wall_has_the_gap_of_a_circle(first, last):
    start, stop = (pose_of(rotation_z(np.radians(x)), [0, 0, 0]) for x in (first, last))
    swept = swept_clearance(build(WALL), start, stop, [0.25, 0, 0], [1, 0, 0], 0.125)
    nearest = 0.0 if first < 0 < last else min(abs(first), abs(last))
    assert holds(swept, 2.0 - np.cos(np.radians(nearest)) - 0.125)
    if first < 0 < last:
        # Off the middle by the root of what a bracket leaves open: 1 - cos.
        assert swept.time[0] == pytest.approx(-first / (last - first), abs=0.05)


def test_a_hinge_that_moves_or_stands_elsewhere_is_the_point_that_runs_straight():
    hinge = np.array([0.5, 0.0, 0.0])
    start, stop = (
        pose_of(r, x - r @ hinge)
        for r, x in ((rotation_z(-0.5), [0, 0, 0]), (rotation_z(1.0), [0, 3, 0]))
    )
    swept = swept_clearance(build(WALL), start, stop, [0, 0, 0], [1.5, 0, 0], 0.0, about=hinge)
    assert holds(swept, 2.0 - 1.0)
    assert swept.time[0] == pytest.approx(1 / 3, abs=0.05)
    elsewhere = swept_clearance(build(WALL), start, stop, [0, 0, 0], [1.5, 0, 0], 0.0)
    assert abs(elsewhere.high[0] - 1.0) > 0.01


def test_a_ring_that_spins_at_constant_distance_keeps_it():
    angle = np.linspace(0.0, 2.0 * np.pi, 25)
    ring = np.stack([np.cos(angle), np.sin(angle), 0.0 * angle], axis=1)
    start, stop = pose_of(STILL, [0.5, 0, 0]), pose_of(rotation_z(3.0), [0.5, 0, 0])
    swept = swept_clearance(build(WALL), start, stop, ring[:-1], ring[1:], 0.05)
    assert holds(swept, 1.5 - 1.0 - 0.05)


def test_half_a_turn_goes_one_of_the_two_ways_and_ends_where_it_must():
    start, stop = np.eye(4), pose_of(rotation_x(np.pi) @ rotation_z(0.4), [0, 0, 0])
    swept = swept_clearance(build(WALL), start, stop, [0, 0, 0], [1, 0, 0], 0.1)
    assert swept.low[0] <= 0.9 <= swept.high[0] + 1e-9


def test_an_axis_that_meets_the_surface_counts_as_minus_its_radius(cube):
    tree = build(cube)
    swept = swept_clearance(tree, at(-5, 0, 0), at(5, 0.1, 0), [0, 0, -3], [0, 0, 3], 0.25)
    assert swept.high[0] == -0.25
    assert swept.low[0] == pytest.approx(-0.25, abs=2e-9)
    assert np.linalg.norm(swept.on_axis - swept.on_mesh) < 1e-9
    thin = np.array([[[0.0, -1, -1], [0.0, 1, -1], [0.0, 0, 1]]])
    swept = swept_clearance(build(thin), at(-20, 0, 0.01), at(20, 0, 0.02), *POINT, 0.0)
    assert holds(swept, 0.0)


def test_another_capsule_of_larger_radius_is_looked_for_behind_one_that_meets_the_surface(cube):
    p, q = [[0, 0, -3], [0, 0, 0]], [[0, 0, 3], [3, 0, 0]]
    swept = swept_clearance(build(cube), at(-5, 0, 0), at(-1.5, 0, 0), p, q, [0.25, 0.5])
    assert swept.high[0] == -0.5
    assert swept.capsule[0] == 1


@pytest.mark.parametrize("stop", [at(0.1, 0, 0), at(5, 0, 0)])
def test_an_axis_inside_a_solid_at_the_start_is_an_overlap(stop, cube):
    tree = build(cube)
    swept = swept_clearance(tree, np.eye(4), stop, [0, 0, 0], [0.5, 0, 0], 0.0)
    assert swept.high[0] == capsule_clearance(tree, [0, 0, 0], [0.5, 0, 0], 0.0)[0] == -0.5
    assert swept.low[0] == pytest.approx(-0.5, abs=2e-9)
    assert swept.time[0] == 0.0
    assert inside(tree, swept.on_axis)[0]
    asked = swept_clearance(tree, np.eye(4), stop, [0, 0, 0], [0.5, 0, 0], 0.0, enough=0.1)
    assert asked.high[0] == -0.5
    assert asked.low[0] <= -0.5


def test_gaps_beyond_what_is_interesting_count_as_that():
    rng = np.random.default_rng(7)
    tree = build(crates(rng))
    p, q, radius = body(rng, 3)
    start, stop = legs(rng, 200, 1.5, spread=4.0)
    full = swept_clearance(tree, start, stop, p, q, radius)
    cut = swept_clearance(tree, start, stop, p, q, radius, beyond=0.5)
    assert (cut.low <= np.minimum(full.high, 0.5)).all()
    assert (cut.high >= np.minimum(full.low, 0.5)).all()
    assert (cut.high - cut.low <= WITHIN).all()
    far = full.low > 0.5
    assert 20 < far.sum() < 180
    assert (cut.high[far] == 0.5).all()
    assert np.isnan(cut.time[far]).all()
    assert np.isnan(cut.on_axis[far]).all()
    assert (cut.face[far] == -1).all()
    assert (cut.capsule[far] == -1).all()


@pytest.mark.parametrize("turn", [0.0, 1.5])
def test_the_question_whether_it_is_enough_is_answered_as_the_bracket_would(turn):
    rng = np.random.default_rng(8)
    tree = build(crates(rng))
    p, q, radius = body(rng, 3)
    start, stop = legs(rng, 300, turn)
    full = swept_clearance(tree, start, stop, p, q, radius, 1e-5)
    enough = 0.12
    asked = swept_clearance(tree, start, stop, p, q, radius, enough=enough)
    yes, no = asked.low >= enough, asked.high < enough
    assert (yes ^ no).all()
    assert (full.high[yes] >= enough).all()
    assert (full.low[no] < enough).all()
    assert (asked.low <= full.high).all()
    assert (asked.high >= full.low).all()
    assert 50 < yes.sum() < 250
    quick = swept_clearance(tree, start, stop, p, q, radius, beyond=enough, enough=enough)
    np.testing.assert_array_equal(quick.low >= enough, yes)
    np.testing.assert_array_equal(quick.high < enough, no)


@pytest.mark.parametrize("turned", [False, True])
def test_an_exact_tie_is_not_decided_and_a_little_to_either_side_is(turned, cube):
    tree = build(cube if not turned else WALL)
    if turned:
        ends = [pose_of(rotation_z(x), [0, 0, 0]) for x in (-0.5, 0.7)]
        ask = ([0, 0, 0], [1, 0, 0], 0.25)
        gap = 0.75
    else:
        ends = [at(-3, 0, 1.5), at(3, 0, 1.5)]
        ask = ([0, -0.5, 0], [0, 0.5, 0], 0.25)
        gap = 0.25
    tie = swept_clearance(tree, *ends, *ask, enough=gap)
    assert tie.low[0] < gap <= tie.high[0]
    assert tie.high[0] - tie.low[0] <= TIE
    more = swept_clearance(tree, *ends, *ask, enough=gap + 2.0 * TIE)
    assert more.high[0] < gap + 2.0 * TIE
    less = swept_clearance(tree, *ends, *ask, enough=gap - 2.0 * TIE)
    assert less.low[0] >= gap - 2.0 * TIE


def test_moving_world_and_body_together_changes_no_gap():
    rng = np.random.default_rng(9)
    triangles = crates(rng)
    p, q, radius = body(rng, 3)
    start, stop = legs(rng, 200, 2.0)
    here = swept_clearance(build(triangles), start, stop, p, q, radius, 1e-5)
    pose = pose_of(rotation_about([1.0, -2.0, 0.5], 1.1), [12.0, -7.0, 30.0])
    moved = build(transform_points(pose, triangles))
    there = swept_clearance(moved, pose @ start, pose @ stop, p, q, radius, 1e-5)
    assert (there.low <= here.high).all()
    assert (here.low <= there.high).all()


def test_going_the_leg_backwards_changes_no_gap_outside():
    rng = np.random.default_rng(10)
    tree = build(crates(rng))
    p, q, radius = body(rng, 3)
    start, stop = legs(rng, 200, 2.0)
    there = swept_clearance(tree, start, stop, p, q, radius)
    back = swept_clearance(tree, stop, start, p, q, radius)
    out = (there.high > 0.0) & (back.high > 0.0)
    assert out.sum() > 50
    assert (there.low[out] <= back.high[out]).all()
    assert (back.low[out] <= there.high[out]).all()


def test_more_triangles_more_capsules_and_longer_legs_never_raise_the_gap():
    rng = np.random.default_rng(11)
    triangles = crates(rng)
    p, q, radius = body(rng, 6)
    start, stop = legs(rng, 200, 0.0)
    all_ = swept_clearance(build(triangles), start, stop, p, q, radius)
    fewer = swept_clearance(build(triangles), start, stop, p[:3], q[:3], radius[:3])
    assert (all_.low <= fewer.high).all()
    longer = stop.copy()
    longer[:, :3, 3] += stop[:, :3, 3] - start[:, :3, 3]
    far = swept_clearance(build(triangles), start, longer, p, q, radius)
    assert (far.low <= all_.high).all()
    few = swept_clearance(build(triangles[:48]), start, stop, p, q, radius)
    outside = few.high > 0.0
    assert (all_.low[outside] <= few.high[outside]).all()


def test_a_fine_bracket_may_be_asked_for(trusses):
    _, tree = trusses["5k"]
    rng = np.random.default_rng(12)
    p, q, radius = body(rng, 3)
    start, stop = legs(rng, 30, 2.0)
    fine = swept_clearance(tree, start, stop, p, q, radius, TIE)
    coarse = swept_clearance(tree, start, stop, p, q, radius, 5e-3)
    assert (fine.high - fine.low <= TIE).all()
    assert (coarse.high - coarse.low <= 5e-3).all()
    assert (coarse.low <= fine.high).all()
    assert (fine.low <= coarse.high).all()


def test_unknown_poses_are_unknown_and_no_leg_gives_no_answer(cube):
    start = np.array([np.eye(4)] * 3)
    start[:, 0, 3] = 3.0
    start[1, 0, 3] = np.nan
    swept = swept_clearance(build(cube), start, at(3, 1, 0), *POINT, 0.5)
    np.testing.assert_array_equal(np.isnan(swept.low), [False, True, False])
    np.testing.assert_array_equal(np.isnan(swept.high), [False, True, False])
    np.testing.assert_array_equal(swept.capsule, [0, -1, 0])
    assert swept.face[1] == -1
    none = swept_clearance(build(cube), [], [], *POINT, 0.5)
    assert none.low.shape == (0,)
    assert none.on_mesh.shape == (0, 3)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"start": np.eye(3)}, r"start must have shape \(n, 4, 4\) or \(4, 4\), not \(3, 3\)"),
        ({"stop": [np.eye(4)] * 3}, "stop has 3 poses where 1 are asked"),
        ({"stop": 2.0 * np.eye(4)}, "stop row 0 is not a rigid pose"),
        ({"stop": np.diag([1.0, 1.0, -1.0, 1.0])}, "stop row 0 is not a rigid pose"),
        ({"p": np.zeros((0, 3)), "q": np.zeros((0, 3))}, "at least one capsule"),
        ({"p": [0, 0, np.nan]}, "p row 0 is not finite"),
        ({"q": np.zeros((2, 3))}, "q has 2 rows where 1 are asked"),
        ({"radius": -0.1}, "radius must not be negative"),
        ({"radius": np.inf}, "radius must be finite"),
        ({"within": 0.0}, "within must be at least 1e-06 m"),
        ({"beyond": np.nan}, "beyond must not be negative or nan"),
        ({"enough": -0.1}, "enough must not be negative"),
        ({"about": [np.inf, 0, 0]}, "about row 0 is not finite"),
    ],
)
def test_what_does_not_fit_is_refused(change, message, cube):
    asked = {"start": np.eye(4), "stop": np.eye(4), "p": [0, 0, 0], "q": [1, 0, 0], "radius": 0.1}
    with pytest.raises(ValueError, match=message):
        swept_clearance(build(cube), **(asked | change))
