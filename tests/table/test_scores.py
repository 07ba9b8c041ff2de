"""What the table says, against postures that exist, proofs that none does, and its own mirror."""

import itertools
from functools import cache

import numba
import numpy as np
import pytest
from figures import figure, random_targets
from twin import planted

from reach.geometry import pose_of, rotation_about
from reach.table.scores import SLACK, scores
from reach.table.table import build_table
from reach.worker.bound import shortage

STEP, N_DIRECTIONS = 0.25, 42
COARSE = 0.25
"""Slack of this coarse table: one cell; its cells are 2.5 times those that `SLACK` is for."""

HERE = np.eye(4)[None]


@cache
def coarse():
    return build_table(figure("M"), step=STEP, n_directions=N_DIRECTIONS)


def each(tips, directions, poses=HERE, mirrored=False):
    """Scores of one table for tips that each have their own direction, (m, k)."""
    likely, best = scores([coarse()], poses, tips, directions, mirrored)
    return likely[..., 0], best[..., 0]


def some_poses(n, seed):
    rng = np.random.default_rng(seed)
    turns = [rotation_about(rng.normal(size=3), rng.uniform(0, 3)) for _ in range(n)]
    return np.array([pose_of(turn, rng.normal(size=3)) for turn in turns])


def test_planted_postures_are_not_pruned():
    tips, directions = planted(figure("M"), 2000, seed=11)
    _, best = each(tips, directions)
    assert (best >= -COARSE).all()
    assert (best >= 0).mean() > 0.9


def test_what_is_proved_out_of_reach_is_not_deep_inside():
    tips, directions = random_targets(4000, seed=12)
    out = shortage(figure("M"), tips, directions, sharp=False) > 0
    likely, _ = each(tips[out], directions[out])
    assert out.sum() > 1000
    assert (likely <= STEP).all()
    assert (likely < 0).mean() > 0.95


def test_inside_and_outside_are_told_apart():
    tips, directions = random_targets(4000, seed=13)
    likely, best = each(tips, directions)
    assert (likely > 0).any()
    assert (likely < -2 * STEP).any()
    assert (best >= likely - 1e-6).all()


def test_the_middle_of_a_cell_is_what_the_table_holds():
    table = coarse()
    k, *cell = (int(i[0]) for i in np.nonzero(table.depth == table.depth.max()))
    tip = table.low + table.step * (np.array(cell) + 0.5)
    _, best = each(tip, table.directions[k])
    assert best[0, 0] == pytest.approx(table.depth.max(), abs=1e-5)


def test_depth_is_the_distance_to_the_nearest_cell_of_the_other_kind():
    table = coarse()
    for k in (3, 20):
        inside = np.argwhere(table.depth[k] > 0)
        outside = np.argwhere(table.depth[k] < 0)
        for cells, others, sign in ((inside, outside, 1), (outside, inside, -1)):
            gap = np.linalg.norm(cells[:40, None] - others[None], axis=2).min(axis=1) - 0.5
            held = table.depth[k][tuple(cells[:40].T)]
            assert held == pytest.approx(sign * STEP * gap, abs=1e-5)


def test_the_world_may_be_moved_as_a_whole():
    tips, directions = random_targets(200, seed=14)
    plain, _ = each(tips, directions)
    for pose in some_poses(5, 15):
        moved = tips @ pose[:3, :3].T + pose[:3, 3]
        there, _ = each(moved, directions @ pose[:3, :3].T, pose[None])
        assert there == pytest.approx(plain, abs=1e-4)


def test_the_left_hand_is_the_mirrored_question():
    tips, directions = random_targets(300, seed=16)
    flip = np.array([1.0, -1.0, 1.0])
    right, left = each(tips, directions), each(tips * flip, directions * flip, mirrored=True)
    assert np.array_equal(right[0], left[0])
    assert np.array_equal(right[1], left[1])
    poses = some_poses(4, 17)
    mirror = np.diag([1.0, -1.0, 1.0, 1.0])
    twin = each(tips @ mirror[:3, :3], directions @ mirror[:3, :3], mirror @ poses @ mirror)
    here = each(tips, directions, poses, mirrored=True)
    assert here[0] == pytest.approx(twin[0], abs=1e-4)


def test_far_tips_are_refused_by_their_distance_alone():
    table = coarse()
    rays = np.random.default_rng(18).normal(size=(500, 3))
    rays /= np.linalg.norm(rays, axis=1)[:, None]
    far = rays * (table.radius + np.linspace(0.0, 1.5, 500)[:, None])
    likely, best = each(far, rays[::-1])
    lacking = np.linalg.norm(far, axis=1) - table.radius - STEP / 2
    refused = lacking > SLACK
    assert refused.sum() > 300
    assert best[0][refused] == pytest.approx(-lacking[refused], abs=1e-5)
    assert (best <= np.maximum(-lacking, -SLACK) + STEP / 2 + 1e-6)[:, refused].all()
    # No cell that is reached is nearer than that to any of them.
    cells = np.argwhere((table.depth > 0).any(axis=0))
    middles = table.low + STEP * (cells + 0.5)
    gap = np.linalg.norm(far[refused][:, None] - middles[None], axis=2).min(axis=1)
    assert (gap - STEP / 2 >= -best[0][refused] - 1e-5).all()
    assert np.array_equal(likely[0][refused], best[0][refused])


def test_tables_stand_side_by_side():
    tips, directions = random_targets(50, seed=19)
    small = build_table(figure("S"), step=0.4, n_directions=12)
    both = scores([coarse(), small, coarse()], HERE, tips, directions)
    alone = scores([small], HERE, tips, directions)
    assert both[0].shape == (1, 50, 3)
    for a, b in zip(both, alone, strict=True):
        assert np.array_equal(a[..., 1:2], b)
        assert np.array_equal(a[..., 0], a[..., 2])


def test_the_same_table_for_any_number_of_threads():
    tables = []
    before = numba.get_num_threads()
    try:
        for n in (1, before):
            numba.set_num_threads(n)
            tables.append(build_table(figure("M"), step=0.3, n_directions=20))
    finally:
        numba.set_num_threads(before)
    one, two = tables
    assert one.depth.tobytes() == two.depth.tobytes()
    assert one.low.tobytes() == two.low.tobytes()
    assert one.radius == two.radius


@pytest.mark.parametrize(
    ("poses", "tips", "words"),
    [
        (np.eye(4), np.zeros((1, 3)), "poses need the shape"),
        (HERE, np.zeros((1, 2)), "tips need the shape"),
        (HERE, np.full((1, 3), np.nan), "must be finite"),
    ],
)
def test_wrong_shapes_are_refused(poses, tips, words):
    with pytest.raises(ValueError, match=words):
        scores([coarse()], poses, tips, [1.0, 0.0, 0.0])


def test_nothing_asked_nothing_said():
    likely, best = scores([], HERE, np.zeros((2, 3)), [1.0, 0.0, 0.0])
    assert likely.shape == best.shape == (1, 2, 0)
    likely, _ = scores([coarse()], np.zeros((0, 4, 4)), np.zeros((2, 3)), [1.0, 0.0, 0.0])
    assert likely.shape == (0, 2, 1)


def test_a_grid_holds_every_tip():
    table = coarse()
    tips, _ = planted(figure("M"), 3000, seed=20)
    high = table.low + STEP * np.array(table.depth.shape[1:])
    assert (tips >= table.low - STEP / 2).all()
    assert (tips <= high + STEP / 2).all()
    edges = [np.take(table.depth, i, axis) for axis, i in itertools.product((1, 2, 3), (0, -1))]
    assert all((edge < 0).all() for edge in edges)
