from __future__ import annotations

import numpy as np
import pytest
from slow_twins import random_triangles, ray_hits

from reach.geometry import STACK, any_hit, any_hit_one, build, first_hit, first_hit_one

FLAT = np.array([[[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]]])


def random_rays(n, seed):
    rng = np.random.default_rng(seed)
    return rng.uniform(-3.0, 3.0, (n, 3)), rng.normal(size=(n, 3)) * rng.uniform(0.1, 5.0, (n, 1))


def test_first_hits_agree_with_all_triangles():
    triangles = random_triangles(np.random.default_rng(1), 600)
    tree = build(triangles)
    origins, directions = random_rays(1500, 2)
    hit = first_hit(tree, origins, directions)
    for i in range(len(origins)):
        t = ray_hits(origins[i], directions[i], triangles)
        assert hit.t[i] == pytest.approx(t.min(), abs=1e-9)
        assert hit.face[i] == (t.argmin() if np.isfinite(t.min()) else -1)
    assert 0.2 < np.isfinite(hit.t).mean() < 1.0


def test_any_hit_agrees_with_all_triangles_up_to_far():
    triangles = random_triangles(np.random.default_rng(3), 600)
    tree = build(triangles)
    origins, directions = random_rays(1500, 4)
    far = np.random.default_rng(5).uniform(0.0, 3.0, len(origins))
    blocked = any_hit(tree, origins, directions, far)
    for i in range(len(origins)):
        assert blocked[i] == (ray_hits(origins[i], directions[i], triangles).min() <= far[i])


def test_any_hit_and_first_hit_agree_on_the_large_truss(trusses, queries):
    _, tree = trusses["454k"]
    _, p, q = queries(tree, 20_000, length=1.5)
    blocked = any_hit(tree, p, q - p, 1.0)
    hit = first_hit(tree, p, q - p, 1.0)
    np.testing.assert_array_equal(blocked, hit.face >= 0)
    np.testing.assert_array_equal(blocked, hit.t <= 1.0)
    assert 0.05 < blocked.mean() < 0.9


def test_t_counts_in_lengths_of_the_direction():
    for length in (0.1, 1.0, 7.0):
        hit = first_hit(build(FLAT), [0.2, 0.2, 2.0], [0.0, 0.0, -length])
        assert hit.t[0] * length == pytest.approx(2.0, abs=1e-15)


@pytest.mark.parametrize("axis", [0, 1, 2])
@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize("offset", [0.0, 0.5, 1.0])
def test_rays_along_an_axis_hit_a_cube_even_in_the_plane_of_its_faces(axis, sign, offset, cube):
    """Zero components times infinite inverses must not lose boxes touched at their rim."""
    tree = build(cube)
    origin = np.full(3, offset)
    origin[axis] = -3.0 * sign
    direction = np.zeros(3)
    direction[axis] = sign
    assert any_hit(tree, origin, direction)[0]
    assert first_hit(tree, origin, direction).t[0] == pytest.approx(2.0, abs=1e-15)


def test_no_ray_slips_between_triangles_that_share_an_edge(trusses):
    """Aim from inside closed tubes exactly at edges and corners of their walls."""
    triangles, _ = trusses["5k"]
    tube = triangles[: 2 * 15 * 3 + 2 * 15]
    tree = build(tube)
    middle = tube.reshape(-1, 3).mean(axis=0)
    rng = np.random.default_rng(6)
    corners, weight = tube[:, [0, 1, 2]], rng.uniform(size=(len(tube), 3, 1))
    on_edges = weight * corners + (1.0 - weight) * np.roll(corners, 1, axis=1)
    targets = np.concatenate([corners.reshape(-1, 3), on_edges.reshape(-1, 3)])
    for start in rng.uniform(-0.02, 0.02, (200, 3)) + middle:
        assert any_hit(tree, np.tile(start, (len(targets), 1)), targets - start, 1.5).all()


def test_an_edge_grazing_ray_hits(cube):
    tree = build(cube)
    assert any_hit(tree, [-3.0, 1.0, 1.0], [1.0, 0.0, 0.0])[0]
    assert any_hit(tree, [-3.0, -1.0, 3.0], [1.0, 1.0, -1.0], 10.0)[0]


@pytest.mark.parametrize(
    ("name", "triangles", "origin", "direction", "far", "t"),
    [
        ("through the face", FLAT, [0.2, 0.2, 1.0], [0, 0, -1], np.inf, 1.0),
        ("from behind", FLAT, [0.2, 0.2, -1.0], [0, 0, 1], np.inf, 1.0),
        ("ends on the face", FLAT, [0.2, 0.2, 1.0], [0, 0, -1], 1.0, 1.0),
        ("ends before the face", FLAT, [0.2, 0.2, 1.0], [0, 0, -1], 0.999, np.inf),
        ("starts on the face", FLAT, [0.2, 0.2, 0.0], [0, 0, -1], np.inf, 0.0),
        ("starts beyond the face", FLAT, [0.2, 0.2, -1.0], [0, 0, -1], np.inf, np.inf),
        ("through a corner", FLAT, [1.0, 0.0, 1.0], [0, 0, -1], np.inf, 1.0),
        ("through an edge", FLAT, [0.5, 0.5, 1.0], [0, 0, -1], np.inf, 1.0),
        ("parallel above", FLAT, [-1.0, 0.2, 0.1], [1, 0, 0], np.inf, np.inf),
        ("edge-on", FLAT, [-1.0, 0.2, 0.0], [1, 0, 0], np.inf, np.inf),
        ("zero direction", FLAT, [0.2, 0.2, 0.0], [0, 0, 0], np.inf, np.inf),
        ("zero far", FLAT, [0.2, 0.2, 0.0], [0, 0, 1], 0.0, 0.0),
        ("coincident", np.repeat(FLAT, 9, axis=0), [0.2, 0.2, 1.0], [0, 0, -1], np.inf, 1.0),
        ("triangle is a line", FLAT * [1, 0, 0], [0.5, 0.0, 1.0], [0, 0, -1], np.inf, np.inf),
        ("triangle is a point", FLAT * 0.0, [0.0, 0.0, 1.0], [0, 0, -1], np.inf, np.inf),
    ],
)
def test_edge_cases_by_name(name, triangles, origin, direction, far, t):
    tree = build(triangles)
    assert first_hit(tree, origin, direction, far).t[0] == t
    assert any_hit(tree, origin, direction, far)[0] == np.isfinite(t)


def test_no_ray_gives_no_answer():
    assert any_hit(build(FLAT), np.zeros((0, 3)), np.zeros((0, 3))).shape == (0,)
    assert first_hit(build(FLAT), [], []).t.shape == (0,)


def test_an_unknown_ray_has_an_unknown_hit_and_no_yes_or_no():
    tree, origin = build(FLAT), [[0.2, 0.2, 1.0], [np.nan, 0.0, 0.0]]
    hit = first_hit(tree, origin, [0.0, 0.0, -1.0])
    np.testing.assert_array_equal(np.isnan(hit.t), [False, True])
    np.testing.assert_array_equal(hit.face, [0, -1])
    with pytest.raises(ValueError, match="origins row 1 is not finite"):
        any_hit(tree, origin, [0.0, 0.0, -1.0])
    with pytest.raises(ValueError, match="directions row 0 is not finite"):
        any_hit(tree, origin[0], [0.0, 0.0, np.inf])
    with pytest.raises(ValueError, match="far must not be negative or nan"):
        any_hit(tree, origin[0], [0.0, 0.0, 1.0], np.nan)


def test_the_scalar_routines_give_the_row_of_the_batch(trusses, queries):
    _, tree = trusses["5k"]
    _, p, q = queries(tree, 50, length=2.0)
    blocked, hit = any_hit(tree, p, q - p, 1.0), first_hit(tree, p, q - p)
    arrays, stack, depth = (
        (tree.tri, tree.box, tree.link),
        np.empty(STACK, np.int32),
        np.empty(STACK),
    )
    for i in range(50):
        assert any_hit_one(*arrays, p[i], q[i] - p[i], 1.0, stack) == blocked[i]
        t, k = first_hit_one(*arrays, p[i], q[i] - p[i], np.inf, stack, depth)
        assert t == hit.t[i]
        assert (tree.face[k] if k >= 0 else -1) == hit.face[i]


def test_a_ray_may_be_as_long_and_as_far_as_numbers_go():
    tree = build(FLAT)
    assert any_hit(tree, [0.2, 0.2, 1e6], [0.0, 0.0, -1e200], 1e300)[0]
    assert first_hit(tree, [0.2, 0.2, 1.0], [0.0, 0.0, -1e-200], 1e250).t[0] == pytest.approx(1e200)
    assert not any_hit(tree, [0.2, 0.2, 1.0], [0.0, 0.0, 1e200], 1e300)[0]
