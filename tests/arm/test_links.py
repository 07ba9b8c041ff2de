"""Capsules that cover, gaps at rest and over motions, and the time these take."""

import numpy as np
import pytest
from arms import chain, random_postures

from reach.arm import (
    covers_of,
    duration,
    link_capsules,
    piece_poses,
    posture_at,
    self_clearance,
    self_gap,
    structure_clearance,
    structure_gap,
)
from reach.arm.rates import farthest, steady_and_bend, velocities
from reach.geometry import build, transform_points
from reach.model.shapes import Shaped
from reach.solids import triangles_of


def surface_points(shape, rng, n=400):
    """Points all over a shape, corners and rims included, shape frame."""
    if shape.kind == "sphere":
        away = rng.normal(size=(n, 3))
        return shape.size[0] * away / np.linalg.norm(away, axis=1, keepdims=True)
    if shape.kind == "cylinder":
        angle = rng.uniform(0, 2 * np.pi, n)
        rim = shape.size[0] * np.column_stack([np.cos(angle), np.sin(angle)])
        ends = rng.choice([-0.5, 0.5, 0.2], n) * shape.size[1]
        return np.column_stack([rim, ends])
    if shape.kind == "box":
        return rng.choice([-0.5, 0.5, 0.0, 0.3], (n, 3)) * np.array(shape.size)
    share = rng.dirichlet([1, 1, 1], n)
    return np.einsum(
        "nk,nkc->nc", share, shape.triangles[rng.integers(len(shape.triangles), size=n)]
    )


def to_axes(points, p, q):
    """Distance of each point from each axis, shape (points, axes)."""
    along, away = q - p, points[:, None] - p
    length2 = np.maximum((along**2).sum(-1), 1e-300)
    share = np.clip((away * along).sum(-1) / length2, 0.0, 1.0)
    return np.linalg.norm(away - share[..., None] * along, axis=-1)


@pytest.mark.parametrize("name", ["brackenfall", "mixed"])
def test_the_capsules_cover_every_link(name):
    arm, rng = chain(name), np.random.default_rng(1)
    n_shapes = 0
    for q in random_postures(name, 5, seed=2):
        there = link_capsules(arm, q)
        for n, link in enumerate(arm.arm.links):
            pose = piece_poses(arm, q)[0, arm.piece_of_link[n]] @ arm.piece_from_link[n]
            own = there.link == n
            for shape in link.shapes:
                points = surface_points(shape, rng)
                points = transform_points(pose @ shape.link_from_shape, points)
                room = there.radius[own] - to_axes(points, there.p[0, own], there.q[0, own])
                assert room.max(axis=1).min() >= 0.0
                n_shapes += 1
    assert n_shapes == 5 * {"brackenfall": 8, "mixed": 6}[name]


def test_a_lamp_on_a_fixed_joint_belongs_to_the_link_it_hangs_on():
    arm = chain("mixed")
    names = [arm.arm.links[n].name for n in covers_of(arm).link]
    assert names.count("k") == 1


def test_a_crane_folded_onto_itself_meets_and_laid_out_does_not():
    arm = chain("brackenfall")
    out = np.array([0.0, -1.0, 0.0, -1.4, 0.0, 0.0, 0.0])
    back = np.array([0.0, -1.0, 0.0, -1.4, 2.6, 0.0, 0.0])
    found = self_clearance(arm, [out, back])
    assert found.gap[0] > 0.0
    assert found.gap[1] < 0.0
    names = [arm.arm.links[n].name for n in (found.first[1], found.second[1])]
    assert names[0] == "fore_boom"
    assert names[1] in ("adapter", "boot_plate")


def test_the_gap_to_a_wall_is_what_the_drawing_says():
    """The fore boom, straight up beside a wall at x = 1: 1 - radius, the axis on x = 0."""
    arm = chain("brackenfall")
    wall = triangles_of(Shaped(box=(0.2, 40.0, 40.0))) + np.array([1.1, 0.0, 10.0])
    gaps = structure_clearance(arm, [0.0, -np.pi / 2, 0, 0, 0, 0, 0], build(wall))[0]
    gap = dict(zip([link.name for link in arm.arm.links], gaps, strict=True))
    assert gap["fore_boom"] == pytest.approx(1.0 - 0.15, abs=2e-9)
    assert gap["wrist"] == pytest.approx(1.0 - 0.16, abs=2e-9)
    assert np.isinf(gap["base"])
    assert np.isinf(gap["yoke"])
    moved = np.eye(4)
    moved[0, 3] = 0.3
    nearer = structure_clearance(arm, [0.0, -np.pi / 2, 0, 0, 0, 0, 0], build(wall), None, moved)
    assert np.allclose(nearer[0], gaps - 0.3, equal_nan=True)
    with pytest.raises(ValueError, match="no link 'bas'"):
        structure_clearance(arm, np.zeros(7), build(wall), without=["bas"])


def test_a_motion_takes_the_time_of_its_slowest_joint():
    arm = chain("brackenfall")
    start = np.array([0.0, -1.0, 0.0, -1.4, 0.0, 0.0, 0.0])
    end = start + np.array([0.35, 0.07, 0.0, 0.0, 1.4, 0.0, 0.0])
    assert duration(arm, [start, end, start]) == pytest.approx([20.0, 20.0])
    assert posture_at(arm, [start, end], [0.0, 10.0, 99.0])[1] == pytest.approx(0.5 * (start + end))
    with pytest.raises(ValueError, match=r"elbow_pitch at 1, outside its limits -2\.95 to 0\.05"):
        duration(arm, [start, [0, 0, 0, 1, 0, 0, 0]])
    with pytest.raises(ValueError, match="two postures"):
        duration(arm, [start])
    no_rate = chain("mixed")
    zero, turned = np.zeros(6), np.array([1.0, 0, 0, 0, 0, 0])
    assert np.isnan(duration(no_rate, [zero, turned])).all()


@pytest.mark.parametrize("name", ["brackenfall", "mixed"])
def test_no_sampled_gap_is_below_the_proved_one(name):
    arm, rng = chain(name), np.random.default_rng(3)
    q = random_postures(name, 24, seed=4)
    shares = np.linspace(0.0, 1.0, 801)[:, None]
    for start, end in zip(q[::2], q[1::2], strict=True):
        box = triangles_of(Shaped(box=(1.0, 1.0, 1.0))) + rng.uniform(-1, 1, 3) * [6.0, 6.0, 6.0]
        tree, way = build(box), start + shares * (end - start)
        sampled = structure_clearance(arm, way, tree).min()
        found = structure_gap(arm, start, end, tree, tolerance=0.01)
        assert found.low <= sampled
        assert found.high - found.low <= 0.01
        sampled = self_clearance(arm, way).gap.min()
        found = self_gap(arm, start, end, tolerance=0.01)
        assert found.low <= sampled
        assert found.high - found.low <= 0.01


def test_a_question_with_a_wanted_gap_ends_early():
    arm = chain("brackenfall")
    start = np.array([-1.0, -1.0, 0.0, -1.4, 0.0, 0.0, 0.0])
    end = start + np.array([2.0, 0, 0, 0, 0, 0, 0])
    tree = build(triangles_of(Shaped(box=(0.5, 0.5, 0.5))) + np.array([9.0, 0.0, 0.0]))
    whole = structure_gap(arm, start, end, tree)
    clear = structure_gap(arm, start, end, tree, wanted=whole.low - 0.3)
    missed = structure_gap(arm, start, end, tree, wanted=whole.high + 0.1)
    assert clear.low >= whole.low - 0.3
    assert missed.high < whole.high + 0.1
    assert max(clear.postures, missed.postures) < whole.postures


@pytest.mark.parametrize("name", ["brackenfall", "mixed"])
def test_no_end_of_a_capsule_is_faster_or_bends_more_than_the_bounds(name):
    """Velocities are difference quotients; their bounds hold at every sampled moment."""
    arm = chain(name)
    covers = covers_of(arm)
    far = farthest(arm, covers)
    q = random_postures(name, 40, seed=8)
    step = 1e-4
    for start, end in zip(q[::2], q[1::2], strict=True):
        way = end - start
        speed, bend = steady_and_bend(arm, way, far, np.ones_like(far, bool))
        shares = np.linspace(0.1, 0.9, 9)
        at = start + np.concatenate([shares - step, shares, shares + step])[:, None] * way
        there = link_capsules(arm, at, covers)
        ends = np.stack([there.p, there.q], axis=2).reshape(3, 9, -1, 2, 3)
        slope = (ends[2] - ends[0]) / (2 * step)
        curve = (ends[2] - 2 * ends[1] + ends[0]) / step**2
        told = velocities(arm, at[9:18], way, covers).sum(axis=3)
        assert np.abs(told - slope).max() < 1e-5
        assert (np.linalg.norm(told, axis=-1) <= speed[:, None] + 1e-9).all()
        assert (np.linalg.norm(curve, axis=-1) <= bend[:, None] + 1e-4).all()
