"""The bracket of a carried mesh against closed forms, dense samples and a library's single poses.

Samples go along a motion written here on scipy's rotations, apart from the
package's; the distance at each is coal's.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import trimesh
from scipy.spatial.transform import Rotation
from slow_twins import segment_to_triangle

from benchmarks.trusses import vertices_and_faces
from reach.geometry import (
    build,
    gap_curve,
    path_gap,
    pose_of,
    rotation_z,
    swept_gap,
    transform_points,
)
from reach.geometry.shells import shells_of
from reach.geometry.sweeping import TIE
from reach.geometry.triangle_pair import triangle_triangle

coal = pytest.importorskip("coal")

STILL = np.eye(3)
WITHIN = 1e-3


@pytest.fixture
def rng():
    return np.random.default_rng(5)


def box(extents, middle=(0.0, 0.0, 0.0)):
    return np.asarray(trimesh.creation.box(extents=extents).triangles) + middle


def at(*place):
    return pose_of(STILL, place)


def crates(rng, n, size, spread):
    """A closed box of random size and pose for each of `n`, some of them overlapping."""
    parts = []
    for _ in range(n):
        turn = Rotation.random(random_state=rng).as_matrix()
        pose = pose_of(turn, rng.uniform(-spread, spread, 3))
        parts.append(transform_points(pose, box(rng.uniform(0.3 * size, size, 3))))
    return np.concatenate(parts)


def poses_between(start, stop, times, about):
    first, last = Rotation.from_matrix(start[:3, :3]), Rotation.from_matrix(stop[:3, :3])
    turn = (first.inv() * last).as_rotvec()
    foot, end = transform_points(start, about), transform_points(stop, about)
    for t in times:
        rotation = (first * Rotation.from_rotvec(t * turn)).as_matrix()
        yield pose_of(rotation, foot + t * (end - foot) - rotation @ about)


def coal_model(triangles):
    vertices, faces = vertices_and_faces(triangles)
    model = coal.BVHModelOBBRSS()
    model.beginModel(len(faces), len(vertices))
    model.addVertices(vertices)
    model.addTriangles(faces.astype(np.int32))
    model.endModel()
    return model


def by_coal(scene, payload, poses):
    """Distance of two meshes at each pose, 0 where they meet."""
    models = [coal_model(x) for x in (scene, payload)]
    found = []
    for pose in poses:
        place = coal.Transform3s(pose[:3, :3], pose[:3, 3])
        request, result = coal.DistanceRequest(), coal.DistanceResult()
        found.append(
            coal.distance(models[0], coal.Transform3s(), models[1], place, request, result)
        )
    return np.maximum(found, 0.0)


def holds(gap, truth, within=WITHIN):
    return gap.low <= truth + 1e-12 and truth <= gap.high + 1e-9 and gap.high - gap.low <= within


def test_two_triangles_are_as_far_apart_as_their_edges_say(rng):
    for _ in range(200):
        one, other = rng.normal(size=(2, 3, 3))
        d2, p, q = triangle_triangle(*(tuple(map(tuple, x)) for x in (one, other)))
        edges = [segment_to_triangle(a, b, other) for a, b in zip(one, one[[1, 2, 0]], strict=True)]
        edges += [
            segment_to_triangle(a, b, one) for a, b in zip(other, other[[1, 2, 0]], strict=True)
        ]
        assert np.sqrt(d2) == pytest.approx(min(edges), abs=1e-9)
        assert np.linalg.norm(np.subtract(p, q)) == pytest.approx(np.sqrt(d2), abs=1e-9)


def test_one_corner_stands_for_each_shell():
    three = np.concatenate([box((1, 1, 1), (4.0 * k, 0, 0)) for k in range(3)])
    assert sorted(shells_of(three.reshape(-1, 9))[0][:, 0].round()) == pytest.approx(
        [0, 4, 8], abs=1
    )
    assert len(shells_of(three.reshape(-1, 9))[0]) == 3
    apart = three[:12:5]
    assert len(shells_of(apart.reshape(-1, 9))[0]) <= len(apart)


def test_a_shell_has_a_box_round_it_only_where_it_is_closed():
    whole, open_box = box((1, 1, 1)), box((1, 1, 1), (4.0, 0, 0))[1:]
    turned = box((1, 1, 1), (8.0, 0, 0))
    turned[0] = turned[0][::-1]
    found = shells_of(np.concatenate([whole, open_box, turned]).reshape(-1, 9))[1]
    low, high = whole.reshape(-1, 3).min(axis=0), whole.reshape(-1, 3).max(axis=0)
    assert np.array_equal(found[0], [*low, *high])
    assert np.array_equal(found[1:], [[-np.inf] * 3 + [np.inf] * 3] * 2)


@pytest.mark.parametrize("length", [0.5, 20.0, 200.0])
def test_a_box_passes_the_edge_of_another(length):
    # Edge to edge along z, 0.3 m and 0.4 m away: 3-4-5.
    scene, payload = build(box((2, 2, 2))), build(box((1, 1, 1)))
    x, y = 1.0 + 0.5 + 0.3, 1.0 + 0.5 + 0.4
    gap = swept_gap(scene, payload, at(x, y, -0.5 * length), at(x, y, 0.5 * length), WITHIN)
    assert holds(gap, 0.5)
    assert np.linalg.norm(gap.on_payload - gap.on_scene) == pytest.approx(gap.high, abs=1e-9)
    assert gap.on_scene[:2] == pytest.approx([1.0, 1.0])
    assert gap.on_payload[:2] == pytest.approx([1.3, 1.4])


def test_a_box_goes_straight_past_a_corner():
    # Along x at 0.2 m above; the least gap holds while the boxes overlap in x.
    scene, payload = build(box((2, 2, 2))), build(box((1, 1, 1)))
    gap = swept_gap(scene, payload, at(-20, 0.3, 1.7), at(20, 0.3, 1.7), WITHIN)
    assert holds(gap, 0.2)
    assert abs(-20 + 40 * gap.time) <= 1.5 + 1e-9


@pytest.mark.parametrize("turn", [60.0, 120.0, 179.0])
def test_a_hinged_plate_comes_nearest_to_a_wall_square_to_it(turn):
    # A plate 1 m long turns about z at its end; the wall stands 1.25 m from the hinge.
    # Its far corners are at radius hypot(1, 0.005); they come nearest at the angle of the corner.
    scene = build(box((0.1, 6, 6), (1.30, 0, 0)))
    payload = build(box((1.0, 0.01, 0.4), (2.5, 1.0, 0)))
    hinge = np.array([2.0, 1.0, 0.0])
    half = 0.5 * np.radians(turn)
    start, stop = (
        pose_of(rotation_z(s * half), -rotation_z(s * half) @ hinge) for s in (-1.0, 1.0)
    )
    gap = swept_gap(scene, payload, start, stop, WITHIN, about=hinge)
    assert holds(gap, 1.25 - np.hypot(1.0, 0.005))
    assert gap.on_payload[0] == pytest.approx(1.25 - gap.high, abs=1e-9)


def test_a_spinning_ring_keeps_its_gap():
    ring = np.asarray(
        trimesh.creation.torus(0.5, 0.05, major_sections=96, minor_sections=16).triangles
    )
    scene = build(box((4, 0.2, 2), (0, -0.9, 0)))
    stop = pose_of(rotation_z(np.radians(170)), [0, 0, 0])
    gap = swept_gap(scene, build(ring), np.eye(4), stop, WITHIN)
    # Some corner of 96 comes square to the wall while it turns: the circle's radius counts.
    assert holds(gap, 0.8 - 0.55)


@pytest.mark.parametrize("turning", [0.0, 1.0, 3.0])
def test_no_sample_is_below_the_bracket(rng, turning):
    n_open = 0
    for _ in range(12):
        scene, payload = crates(rng, 12, 1.2, 2.0), crates(rng, 4, 0.6, 0.3)
        first = Rotation.random(random_state=rng)
        vector = rng.normal(size=3)
        last = first * Rotation.from_rotvec(vector * turning / np.linalg.norm(vector))
        start = pose_of(first.as_matrix(), rng.uniform(-3.5, 3.5, 3))
        stop = pose_of(last.as_matrix(), start[:3, 3] + rng.uniform(-1.5, 1.5, 3))
        about = rng.uniform(-0.5, 0.5, 3)
        trees = build(scene), build(payload)
        gap = swept_gap(*trees, start, stop, WITHIN, about=about)
        times = np.linspace(0.0, 1.0, 120)
        seen = by_coal(scene, payload, poses_between(start, stop, times, about))
        assert seen.min() >= gap.low - 1e-12
        assert 0.0 <= gap.high - gap.low <= WITHIN
        if gap.low > 1e-3:
            n_open += 1
            there = by_coal(scene, payload, poses_between(start, stop, [gap.time], about))[0]
            assert there == pytest.approx(gap.high, abs=1e-8)
            assert np.linalg.norm(gap.on_payload - gap.on_scene) == pytest.approx(
                gap.high, abs=1e-9
            )
            for asked in (0.9 * gap.low, 1.1 * gap.high):
                answer = swept_gap(*trees, start, stop, enough=asked, about=about)
                assert (answer.low >= asked) == (asked < gap.low)
                assert (answer.high < asked) == (asked > gap.high)
    assert n_open >= 3


def test_a_thin_plate_on_a_long_path_is_never_missed(rng):
    payload = build(crates(rng, 3, 0.5, 0.2))
    for _ in range(40):
        place = rng.uniform(-9.5, 9.5)
        tilt = Rotation.from_rotvec([0, *rng.uniform(-0.5, 0.5, 2)]).as_matrix()
        plate = transform_points(pose_of(tilt, [place, 0, 0]), box((0.002, 3, 3)))
        scene = build(plate)
        turn = Rotation.from_rotvec(rng.normal(size=3)).as_matrix()
        start, stop = at(-10.5, 0, 0), pose_of(turn, [10.5, 0, 0])
        gap = swept_gap(scene, payload, start, stop, WITHIN)
        assert gap.low == 0.0 and gap.high <= WITHIN
        assert swept_gap(scene, payload, start, stop, enough=TIE).high < TIE


def test_a_tie_is_left_open_and_its_neighbours_are_not():
    scene, payload = build(box((2, 2, 2))), build(box((1, 1, 1)))
    ends = at(1.75, -9, 0), at(1.75, 9, 0)
    assert swept_gap(scene, payload, *ends, enough=0.25 - 2 * TIE).low >= 0.25 - 2 * TIE
    assert swept_gap(scene, payload, *ends, enough=0.25 + 1e-9).high < 0.25 + 1e-9
    tie = swept_gap(scene, payload, *ends, enough=0.25)
    assert tie.low < 0.25 <= tie.high


def test_a_payload_inside_a_solid_is_in_contact_and_so_is_a_solid_inside_it():
    small, large = build(box((0.5, 0.5, 0.5))), build(box((4, 4, 4)))
    ends = at(0, 0, 0), at(0.3, 0.2, 0)
    for scene, payload in ((large, small), (small, large)):
        gap = swept_gap(scene, payload, *ends)
        assert (gap.low, gap.high, gap.time) == (0.0, 0.0, 0.0)
        curve = gap_curve(scene, payload, ends, 4)
        assert not curve.high.any()
    second = build(np.concatenate([box((0.5, 0.5, 0.5), (9, 0, 0)), box((0.5, 0.5, 0.5))]))
    assert swept_gap(large, second, *ends).high == 0.0
    assert swept_gap(large, build(box((0.5, 0.5, 0.5), (9, 0, 0))), *ends).low > 6.0


def test_a_path_is_as_near_as_its_nearest_piece_and_a_curve_lies_below_samples(rng):
    scene, payload = crates(rng, 12, 1.0, 1.5), crates(rng, 3, 0.5, 0.2)
    places = [[-4, 3, 0], [0, 3, 0.5], [2, 3.2, 0], [5, 3, 1]]
    poses = np.array([pose_of(Rotation.from_rotvec([0, 0, 0.4 * k]).as_matrix(), p)
                      for k, p in enumerate(places)])  # fmt: skip
    trees = build(scene), build(payload)
    path = path_gap(*trees, poses, WITHIN)
    alone = [swept_gap(*trees, *ends, WITHIN) for ends in pairwise(poses)]
    assert path.gap.high <= min(x.high for x in alone) + WITHIN
    assert path.gap.low >= min(x.low for x in alone) - WITHIN
    for k, one in enumerate(alone):
        assert path.low[k] <= one.high and one.low <= path.high[k]
    assert path.gap.high == path.high[path.piece]
    curve = gap_curve(*trees, poses, 10, 5e-3)
    assert len(curve.low) == 30 and (curve.high - curve.low <= 5e-3).all()
    assert curve.low.min() <= path.gap.high and path.gap.low <= curve.high.min()
    for k in range(3):
        inner = poses_between(poses[k], poses[k + 1], np.arange(40) / 40 + 1 / 80, np.zeros(3))
        seen = by_coal(scene, payload, inner).reshape(10, 4).min(axis=1)
        assert (seen >= curve.low[10 * k : 10 * k + 10] - 1e-12).all()


def test_what_is_far_counts_as_the_limit():
    scene, payload = build(box((2, 2, 2))), build(box((1, 1, 1)))
    gap = swept_gap(scene, payload, at(9, -9, 0), at(9, 9, 0), beyond=0.5)
    assert (gap.high, gap.face_scene, gap.face_payload) == (0.5, -1, -1)
    assert 0.5 - WITHIN <= gap.low <= 0.5 and np.isnan(gap.time)


def test_what_cannot_be_asked_is_said():
    tree = build(box((1, 1, 1)))
    with pytest.raises(ValueError, match="two poses"):
        path_gap(tree, tree, np.eye(4))
    with pytest.raises(ValueError, match="not finite"):
        path_gap(tree, tree, [np.eye(4), at(np.nan, 0, 0)])
    with pytest.raises(ValueError, match="rigid"):
        swept_gap(tree, tree, np.eye(4), np.diag([2.0, 1.0, 1.0, 1.0]))
    with pytest.raises(ValueError, match="within"):
        swept_gap(tree, tree, np.eye(4), at(0, 0, 9), within=0.0)
    with pytest.raises(ValueError, match="enough"):
        swept_gap(tree, tree, np.eye(4), at(0, 0, 9), enough=-1.0)
    with pytest.raises(ValueError, match="beyond"):
        swept_gap(tree, tree, np.eye(4), at(0, 0, 9), beyond=np.nan)
    with pytest.raises(ValueError, match="spans"):
        gap_curve(tree, tree, [np.eye(4), at(0, 0, 9)], 0)
