"""Ten kilometres off, turned, a thousand times smaller or larger: the same answers to 1e-9 m.

The kernels round like any float64; whoever needs a bound takes 1e-9 m off.  That this is enough
is shown here: every query about a scene laid elsewhere is compared with the same one at home.
"""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
import trimesh

from reach.geometry import (
    any_hit,
    build,
    capsule_clearance,
    cylinder_overlap,
    first_hit,
    inside,
    path_gap,
    point_distance,
    pose_of,
    rotation_about,
    segment_distance,
    segment_pair_distance,
    swept_clearance,
    transform_directions,
    transform_points,
    tube_clearance,
)

SURE = 1e-9
"""What a guaranteed bound takes off (m)."""

FAR = 1e4
TURN = rotation_about([1.0, 2.0, 3.0], 2.1) @ rotation_about([3.0, -1.0, 0.5], -0.8)
POSES = {
    "far": pose_of(np.eye(3), [FAR, -FAR, 0.7 * FAR]),
    "turned": pose_of(TURN, [0.3, -0.7, 1.1]),
    "far and turned": pose_of(TURN, [-0.9 * FAR, FAR, 3.3]),
    "far and turned back": pose_of(TURN.T, [12.3, FAR, -FAR]),
}
SCALES = (1e-3, 1.0, 1e3)
"""Millimetres or kilometres taken for metres."""

rng = np.random.default_rng(20)


def degenerate(random):
    """Points, collinear corners in either order, needles and triangles written twice."""
    at = random.uniform(-2.0, 2.0, (8, 1, 3))
    way = random.normal(size=(8, 1, 3))
    across = random.normal(size=(8, 1, 3))
    along = np.array([0.0, 1.0, 0.4]).reshape(1, 3, 1)
    points = np.repeat(at, 3, axis=1)
    lines = at + along * way
    doubled = at + np.array([0.0, 0.0, 1.0]).reshape(1, 3, 1) * way
    needles = lines + np.array([0.0, 0.0, 1e-9]).reshape(1, 3, 1) * across
    plain = at + random.normal(size=(8, 3, 3))
    return np.concatenate([points, lines, doubled, needles, plain, plain, plain[:, ::-1]])


BODIES = {
    "cube": np.array(trimesh.creation.box((2.0, 2.0, 2.0)).triangles),
    "ball": np.array(trimesh.creation.icosphere(2, 1.3).triangles),
    "rubbish": degenerate(np.random.default_rng(3)),
}
CENTRES = rng.uniform(-3.0, 3.0, (300, 3))
ENDS = CENTRES + 0.5 * rng.normal(size=(300, 3))


def laid(body, pose, scale):
    triangles = BODIES[body]
    return build(transform_points(pose, scale * triangles.reshape(-1, 3)).reshape(-1, 3, 3))


def elsewhere(pose, scale, points):
    return transform_points(pose, scale * points)


EVERYWHERE = [
    pytest.mark.parametrize("scale", SCALES),
    pytest.mark.parametrize("where", POSES),
    pytest.mark.parametrize("body", BODIES),
]


def everywhere(test):
    for mark in EVERYWHERE:
        test = mark(test)
    return test


@everywhere
def test_distances_are_the_same(body, where, scale):
    home, away = build(BODIES[body]), laid(body, POSES[where], scale)
    p, q = (elsewhere(POSES[where], scale, ends) for ends in (CENTRES, ENDS))
    points = scale * point_distance(home, CENTRES).distance
    lines = scale * segment_distance(home, CENTRES, ENDS).distance
    assert np.abs(point_distance(away, p).distance - points).max() < SURE
    assert np.abs(segment_distance(away, p, q).distance - lines).max() < SURE


@everywhere
def test_room_round_capsules_is_the_same(body, where, scale):
    home, away = build(BODIES[body]), laid(body, POSES[where], scale)
    p, q = (elsewhere(POSES[where], scale, ends) for ends in (CENTRES, ENDS))
    room = scale * capsule_clearance(home, CENTRES, ENDS, 0.2)
    # Where an end lies in the skin itself, rounding alone says on which side.
    clear = np.abs(room + 0.2 * scale) > SURE
    found = capsule_clearance(away, p, q, 0.2 * scale)
    assert np.abs(found - room)[clear].max() < SURE


@everywhere
def test_cylinders_touch_and_are_free_by_a_hair(body, where, scale):
    """A hair less than the widest free cylinder is free, a hair more touches, in any frame."""
    home, away = build(BODIES[body]), laid(body, POSES[where], scale)
    some = slice(0, 60)
    low, high = np.zeros(60), np.full(60, 8.0)
    for _ in range(50):
        middle = 0.5 * (low + high)
        hit = cylinder_overlap(home, CENTRES[some], ENDS[some], middle)
        high, low = np.where(hit, middle, high), np.where(hit, low, middle)
    p, q = (elsewhere(POSES[where], scale, ends[some]) for ends in (CENTRES, ENDS))
    known = (high < 7.9) & (low > 1e-6)
    hair = SURE / scale
    less, more = np.maximum(low - hair, 0.0) * scale, (high + hair) * scale
    assert not cylinder_overlap(away, p, q, less)[known].any()
    assert cylinder_overlap(away, p, q, more)[known].all()


@everywhere
def test_rays_meet_the_same_things(body, where, scale):
    home, away = build(BODIES[body]), laid(body, POSES[where], scale)
    p = elsewhere(POSES[where], scale, CENTRES)
    ways = ENDS - CENTRES
    turned = transform_directions(POSES[where], scale * ways)
    here, there = first_hit(home, CENTRES, ways), first_hit(away, p, turned)
    # A hit or none at the rim of a triangle is rounding's to say: the rest must agree.
    same = np.isfinite(here.t) == np.isfinite(there.t)
    assert same.mean() > 0.99
    both = np.isfinite(here.t) & np.isfinite(there.t)
    length = scale * np.linalg.norm(ways, axis=1)
    apart = np.abs(here.t[both] - there.t[both]) * length[both]
    assert apart.max(initial=0.0) < 1e-7 * max(1.0, scale)
    hit = any_hit(away, p, turned, 1e6)
    assert (hit == np.isfinite(there.t)).all()


@pytest.mark.parametrize("scale", SCALES)
@pytest.mark.parametrize("where", POSES)
@pytest.mark.parametrize("body", ["cube", "ball"])
def test_what_lies_inside_is_the_same(body, where, scale):
    home, away = build(BODIES[body]), laid(body, POSES[where], scale)
    p = elsewhere(POSES[where], scale, CENTRES)
    np.testing.assert_array_equal(inside(away, p), inside(home, CENTRES))


@pytest.mark.parametrize("scale", SCALES)
@pytest.mark.parametrize("where", POSES)
@pytest.mark.parametrize("body", BODIES)
def test_brackets_of_moving_bodies_are_those_of_one_gap(body, where, scale):
    """Each bracket holds the gap, so one at home and one elsewhere overlap, and stay narrow."""
    within = 1e-3 * scale if scale >= 1.0 else 1e-5
    pose, random = POSES[where], np.random.default_rng(4)
    home, away = build(BODIES[body]), laid(body, pose, scale)
    load = np.array(trimesh.creation.box((0.3, 0.5, 0.2)).triangles)
    one, other = build(load), build(scale * load)
    for _ in range(6):
        starts = [
            pose_of(rotation_about(random.normal(size=3), angle), random.uniform(-4.0, 4.0, 3))
            for angle in random.uniform(0.0, 1.5, 2)
        ]
        moved = []
        for start in starts:
            big = start.copy()
            big[:3, 3] *= scale
            moved.append(pose @ big)
        here = path_gap(home, one, np.array(starts), within / scale).gap
        there = path_gap(away, other, np.array(moved), within).gap
        assert there.high - there.low <= within + SURE
        assert scale * here.low <= there.high + SURE
        assert there.low <= scale * here.high + SURE
        ends = np.array([[[0.0, 0.0, -0.3], [0.2, 0.0, 0.0]], [[0.0, 0.0, 0.4], [0.5, 0.1, 0.0]]])
        radii = np.array([0.2, 0.1])
        asked = (*starts, *ends, radii), (*moved, *(scale * ends), scale * radii)
        at_home = swept_clearance(home, *asked[0], within / scale)
        off = swept_clearance(away, *asked[1], within)
        assert (scale * at_home.low <= off.high + SURE).all()
        assert (off.low <= scale * at_home.high + SURE).all()


@pytest.mark.parametrize("where", POSES)
def test_a_tube_has_the_same_room(where):
    home, away = build(BODIES["cube"]), laid("cube", POSES[where], 1.0)
    corners = np.array([[-4.0, 1.5, 0.2], [0.0, 1.7, 0.3], [3.0, 2.5, -0.4]])
    here = tube_clearance(home, corners, 0.3)
    there = tube_clearance(away, elsewhere(POSES[where], 1.0, corners), 0.3)
    assert np.abs(there.gap - here.gap).max() < SURE


# ---- parallel and coincident -----------------------------------------------------------------

X, Y, Z = np.eye(3)
PAIRS = {
    "the same": ((0 * X, X), (0 * X, X), 0.0),
    "the same, turned round": ((0 * X, X), (X, 0 * X), 0.0),
    "one in the other": ((0 * X, X), (0.3 * X, 0.6 * X), 0.0),
    "one behind the other": ((0 * X, X), (1.5 * X, 2 * X), 0.5),
    "end to end": ((0 * X, X), (X, 2 * X), 0.0),
    "beside": ((0 * X, X), (0.25 * Y, X + 0.25 * Y), 0.25),
    "beside, turned round": ((0 * X, X), (X + 0.25 * Y, 0.25 * Y), 0.25),
    "beside and ahead": ((0 * X, X), (1.3 * X + 0.4 * Y, 2 * X + 0.4 * Y), 0.5),
    "crossing": ((-X, X), (-Y, Y), 0.0),
    "square, apart": ((-X, X), (-Y + 0.125 * Z, Y + 0.125 * Z), 0.125),
    "a point on a line": ((0 * X, 0 * X), (-X, X), 0.0),
    "two points": ((0 * X, 0 * X), (3 * X + 4 * Y, 3 * X + 4 * Y), 5.0),
    "nearly parallel": ((0 * X, X), (0.25 * Y, X + (0.25 + 1e-12) * Y), 0.25),
    "crossing at a tiny angle": ((-X, X), (-X - 1e-9 * Y, X + 1e-9 * Y), 0.0),
}


@pytest.mark.parametrize("scale", SCALES)
@pytest.mark.parametrize("where", POSES)
@pytest.mark.parametrize("name", PAIRS)
def test_parallel_and_coincident_segments_have_the_distance_seen_on_paper(name, where, scale):
    one, other, distance = PAIRS[name]
    ends = [elsewhere(POSES[where], scale, np.array(two)) for two in (one, other)]
    for first, then in itertools.product(*(([0, 1], [1, 0]),) * 2):
        p, q = ends[0][first]
        r, s = ends[1][then]
        got = segment_pair_distance(p[None], q[None], r[None], s[None])[0]
        back = segment_pair_distance(r[None], s[None], p[None], q[None])[0]
        assert got == pytest.approx(scale * distance, abs=SURE)
        assert back == pytest.approx(scale * distance, abs=SURE)


@pytest.mark.parametrize("where", POSES)
@pytest.mark.parametrize("radius", [0.0, 0.25])
def test_capsules_along_faces_and_edges_have_the_room_seen_on_paper(where, radius):
    """An axis in the plane of a face beside it, along an edge, over a corner, along a face."""
    cube, pose = laid("cube", POSES[where], 1.0), POSES[where]
    cases = [
        ((1.5 * X + Z, 3 * X + Z), 0.5),
        ((-0.5 * X + Y + 1.5 * Z, 0.5 * X + Y + 1.5 * Z), 0.5),
        ((X + Y + 2 * Z, X + Y + 4 * Z), 1.0),
        ((-2 * X + 1.75 * Y, 2 * X + 1.75 * Y), 0.75),
        ((2 * X + 2 * Y + Z, 3 * X + 3 * Y + Z), math.sqrt(2.0)),
    ]
    for ends, distance in cases:
        p, q = elsewhere(pose, 1.0, np.array(ends))
        room = capsule_clearance(cube, p[None], q[None], radius)[0]
        assert room == pytest.approx(distance - radius, abs=SURE)


@pytest.mark.parametrize("where", POSES)
@pytest.mark.parametrize("hair", [-1e-8, 1e-8])
def test_a_cylinder_a_hair_off_a_face_is_told_from_one_a_hair_in_it(where, hair):
    """Side along a face, side along an edge, cap on a face: never an exact tie, always told."""
    cube, pose = laid("cube", POSES[where], 1.0), POSES[where]
    side = (-2 * X + (1.25 + hair) * Y, 2 * X + (1.25 + hair) * Y)
    cap = ((1.0 + hair) * Z, 3 * Z)
    edge = (-X + (1.0 + 0.15 + hair) * Y + 1.2 * Z, X + (1.0 + 0.15 + hair) * Y + 1.2 * Z)
    for ends in (side, cap, edge):
        p, q = elsewhere(pose, 1.0, np.array(ends))
        assert cylinder_overlap(cube, p[None], q[None], 0.25)[0] == (hair < 0.0)
