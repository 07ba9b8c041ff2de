"""A mesh as programs export it says the same as a clean one: doubled, turned and thin triangles."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from reach.files.facing import faced
from reach.geometry import build, capsule_clearance, inside, path_gap, point_distance, pose_of


def triangles(mesh: trimesh.Trimesh) -> np.ndarray:
    return np.array(mesh.triangles, float)


def box(size=(1.0, 1.0, 1.0), at=(0.0, 0.0, 0.0)) -> np.ndarray:
    return triangles(trimesh.creation.box(size)) + np.array(at)


def ball(radius: float) -> np.ndarray:
    return triangles(trimesh.creation.icosphere(2, radius))


BODIES = {
    "box": box,
    "ball": lambda: ball(0.8),
    "ring": lambda: triangles(trimesh.creation.torus(0.7, 0.25, 24, 16)),
    "hollow": lambda: np.concatenate([ball(1.1), ball(0.7)[:, ::-1]]),
    "two apart": lambda: np.concatenate([box(), box(at=(1.5, 0.0, 0.0))]),
    "crossing": lambda: np.concatenate([box((1.5, 0.4, 0.4)), box((0.4, 1.5, 0.4))]),
}


def turned(clean: np.ndarray, random: np.random.Generator) -> np.ndarray:
    some = random.random(len(clean)) < 0.3
    return np.where(some[:, None, None], clean[:, ::-1], clean)


def doubled(clean: np.ndarray, random: np.random.Generator) -> np.ndarray:
    return np.concatenate([clean, clean[random.random(len(clean)) < 0.5]])


def both(clean: np.ndarray, random: np.random.Generator) -> np.ndarray:
    return turned(doubled(turned(clean, random), random), random)


def thin(clean: np.ndarray, random: np.random.Generator) -> np.ndarray:
    """Slivers along some edges: two corners the same, or a third one hardly off the edge."""
    some = clean[random.random(len(clean)) < 0.3]
    middle = 0.5 * (some[:, 0] + some[:, 1])
    flat = np.stack([some[:, 0], some[:, 1], middle], axis=1)
    point = np.stack([some[:, 2], some[:, 2], some[:, 2]], axis=1)
    return np.concatenate([clean, flat, point])


def backed(clean: np.ndarray, random: np.random.Generator) -> np.ndarray:
    """Every side has a back: each triangle once more, turned."""
    return np.concatenate([clean, clean[:, ::-1]])


SPOILT = {one.__name__: one for one in (turned, doubled, both, thin, backed)}


def asked(random: np.random.Generator) -> np.ndarray:
    return random.uniform(-1.4, 1.4, (400, 3))


@pytest.mark.parametrize("spoilt", SPOILT)
@pytest.mark.parametrize("body", BODIES)
@pytest.mark.parametrize("seed", [1, 2])
def test_what_is_inside_and_how_far_off_are_those_of_the_clean_mesh(body, spoilt, seed):
    random = np.random.default_rng(seed)
    clean = BODIES[body]()
    dirty, _ = faced(SPOILT[spoilt](clean, random))
    one, other = build(clean), build(dirty)
    p, q = asked(random), asked(random)
    np.testing.assert_array_equal(inside(one, p), inside(other, p))
    apart = [point_distance(tree, p).distance for tree in (one, other)]
    np.testing.assert_allclose(*apart, atol=1e-12)
    room = [capsule_clearance(tree, p, p + 0.1 * (q - p), 0.05) for tree in (one, other)]
    np.testing.assert_allclose(*room, atol=1e-12)


@pytest.mark.parametrize("spoilt", SPOILT)
def test_a_payload_on_its_way_is_as_far_off(spoilt):
    random = np.random.default_rng(3)
    clean, load = BODIES["crossing"](), build(box((0.2, 0.3, 0.1)))
    dirty, _ = faced(SPOILT[spoilt](clean, random))
    for _ in range(10):
        poses = np.array([pose_of(np.eye(3), random.uniform(-1.2, 1.2, 3)) for _ in range(2)])
        gaps = [path_gap(build(one), load, poses, within=1e-4).gap for one in (clean, dirty)]
        assert gaps[0].low <= gaps[1].high + 1e-9
        assert gaps[1].low <= gaps[0].high + 1e-9


@pytest.mark.parametrize("body", BODIES)
def test_a_clean_mesh_is_left_as_it_is_whichever_way_it_faces(body):
    clean = BODIES[body]()
    same, notes = faced(clean)
    assert notes == []
    np.testing.assert_array_equal(same, clean)
    same, notes = faced(clean[:, ::-1])
    assert notes == ["has faces that point inward: it is turned inside out"]
    np.testing.assert_array_equal(same, clean[:, ::-1])


def test_an_open_mesh_is_pointed_out():
    (note,) = faced(box()[1:])[1]
    assert "not a closed surface" in note


def test_a_wall_between_two_rooms_stays_with_both_its_sides():
    """One side of the wall gone would leave the other room open there."""
    rooms = np.concatenate([box(), box(at=(1.0, 0.0, 0.0))])
    wall = np.isclose(rooms[:, :, 0], 0.5).all(axis=1)
    assert wall.sum() == 4
    matched = rooms.copy()
    mine = np.flatnonzero(wall)
    matched[mine[2:]] = matched[mine[:2]][:, ::-1]
    same, notes = faced(matched)
    assert notes == []
    p = np.random.default_rng(5).uniform([-0.5, -0.5, -0.5], [1.5, 0.5, 0.5], (500, 3))
    assert inside(build(same), p).all()


def test_where_as_many_face_either_way_a_hollow_counts_as_solid_rather_than_the_solid_as_hollow():
    for k in range(64):
        outer, hollow = box((2.0,) * 3), box((1.2,) * 3)[:, ::-1]
        some = np.random.default_rng(k).permutation(12) < 6 + k % 2
        hollow[some] = hollow[some][:, ::-1]
        tree = build(faced(np.concatenate([outer, hollow]))[0])
        assert inside(tree, [0.8, 0.0, 0.0]).all()
        assert not inside(tree, [1.2, 0.0, 0.0]).any()


def test_a_sheet_with_a_back_encloses_nothing():
    sheet = np.array([[[0, 0, 0], [1, 0, 0], [0, 1, 0]]], float)
    same, _ = faced(np.concatenate([sheet, sheet[:, ::-1]]))
    assert len(same) == 2
    np.testing.assert_array_equal(inside(build(same), [[0.2, 0.2, 1e-6]]), [False])


def test_what_was_done_is_told():
    random = np.random.default_rng(1)
    _, notes = faced(doubled(turned(box(), random), random))
    assert len(notes) == 2
    assert "more than once: each counts once" in notes[0]
    assert "face against their neighbours: taken as if they did not" in notes[1]


def test_a_band_that_is_its_own_back_is_left_and_told():
    n = 12
    turn = np.linspace(0.0, 2.0 * np.pi, n, endpoint=False)
    along = np.stack([np.cos(turn), np.sin(turn), 0.0 * turn], axis=1)
    across = np.cos(turn / 2)[:, None] * along + np.sin(turn / 2)[:, None] * [0, 0, 1]
    one, other = along - 0.3 * across, along + 0.3 * across
    sides = []
    for i in range(n):
        k = (i + 1) % n
        c, d = (one[k], other[k]) if k else (other[0], one[0])
        sides += [[one[i], other[i], d], [one[i], d, c]]
    same, notes = faced(np.array(sides))
    np.testing.assert_array_equal(same, np.array(sides))
    assert "not a closed surface" in notes[0]


def test_a_closed_surface_that_is_its_own_back_is_told():
    """The projective plane on six corners, which no way of facing fits (Moebius, 1886)."""
    named = ["125", "126", "134", "136", "145", "234", "235", "246", "356", "456"]
    corners = np.random.default_rng(7).random((7, 3))
    sides = np.array([[corners[int(one)] for one in side] for side in named])
    same, notes = faced(sides)
    np.testing.assert_array_equal(same, sides)
    assert notes == ["has a side that is its own back: inside and outside cannot be told apart"]
