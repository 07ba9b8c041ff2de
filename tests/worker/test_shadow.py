"""Shadows: what is said to be hidden is hidden, whatever the solid and the spot."""

import numpy as np
import pytest
from scipy.spatial import ConvexHull

from reach.model.shapes import Shaped
from reach.solids import convex_parts
from reach.worker.shadow import shadow_planes, shadows_of


def hull(rng, n, size):
    """A random closed convex surface, outward facing."""
    points = rng.normal(size=(n, 3)) * size
    found = ConvexHull(points)
    triangles = points[found.simplices]
    normal = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    inward = np.einsum("ij,ij->i", normal, found.equations[:, :3]) < 0.0
    triangles[inward] = triangles[inward][:, ::-1]
    return triangles


def hidden(triangles, spot, points):
    """Whether the line from spot to each point meets the convex solid: clipped by its planes."""
    normal = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    room = np.einsum("ij,ij->i", normal, triangles[:, 0]) - normal @ spot
    speed = (points - spot) @ normal.T
    with np.errstate(divide="ignore", invalid="ignore"):
        cut = room / speed
    enter = np.where(speed < 0.0, cut, 0.0).max(axis=1)
    leave = np.where(speed > 0.0, cut, 1.0).min(axis=1)
    never = ((speed == 0.0) & (room < 0.0)).any(axis=1)
    return ~never & (np.maximum(enter, 0.0) <= np.minimum(leave, 1.0))


def solids():
    rng = np.random.default_rng(5)
    made = {f"hull {n}": hull(rng, n, rng.uniform(0.05, 0.5, 3)) for n in (4, 6, 12, 40)}
    shapes = {
        "box": {"box": [0.3, 0.5, 0.02]},
        "rod": {"cylinder": {"radius": 0.05, "height": 1.4, "sides": 16}},
        "cone": {"cone": {"base": 0.3, "height": 0.5}},
        "plate": {"plate": {"size": [0.6, 0.4], "thickness": 0.01}},
        "tube": {
            "truss": {
                "bays": 1, "bay": 1, "width": 1, "height": 1, "chord": 0.05, "batten": 0.04
            }
        },
    }  # fmt: skip
    return made | {name: convex_parts(Shaped(**shape))[0] for name, shape in shapes.items()}


SOLIDS = solids()


@pytest.mark.parametrize("name", SOLIDS)
def test_points_inside_all_half_spaces_are_hidden(name):
    triangles = SOLIDS[name]
    rng = np.random.default_rng(11)
    low, high = triangles.min(axis=(0, 1)), triangles.max(axis=(0, 1))
    middle, size = 0.5 * (low + high), np.linalg.norm(high - low)
    n_claimed = n_hidden = 0
    for _ in range(60):
        spot = middle + rng.normal(size=3) * size
        points = middle + rng.normal(size=(2000, 3)) * size
        # Points behind the solid, seen from the spot, are the interesting ones.
        points[::2] = spot + (middle + rng.normal(size=(1000, 3)) * 0.3 * size - spot) * 2.0
        truth = hidden(triangles, spot, points)
        planes = shadow_planes(triangles, spot)
        if planes is None:
            continue
        claimed = (points @ planes[:, :3].T <= planes[:, 3]).all(axis=1)
        assert not (claimed & ~truth).any()
        n_claimed += int(claimed.sum())
        n_hidden += int(truth.sum())
    assert n_hidden > 1000
    assert n_claimed > 0.99 * n_hidden


@pytest.mark.parametrize("name", SOLIDS)
def test_a_spot_inside_or_on_the_solid_tells_nothing(name):
    triangles = SOLIDS[name]
    assert shadow_planes(triangles, triangles.mean(axis=(0, 1))) is None
    on_face = triangles[0].mean(axis=0)
    assert shadow_planes(triangles, on_face) is None


def test_an_open_surface_tells_nothing():
    box = SOLIDS["box"]
    spot = np.array([2.0, 0.3, 0.4])
    assert shadow_planes(box, spot) is not None
    for missing in range(len(box)):
        assert shadow_planes(np.delete(box, missing, axis=0), spot) is None


def test_corners_that_differ_by_rounding_are_one_corner():
    rng = np.random.default_rng(2)
    box, spot = SOLIDS["box"], np.array([2.0, 0.3, 0.4])
    noisy = box + rng.uniform(-1e-13, 1e-13, box.shape)
    planes = shadow_planes(noisy, spot)
    assert planes is not None
    behind = np.array([-0.5, -0.05, -0.1])
    assert (planes[:, :3] @ behind <= planes[:, 3]).all()


def test_a_spot_in_the_plane_of_a_face_is_sound():
    box = SOLIDS["box"]
    rng = np.random.default_rng(3)
    for x in (0.15, 0.15 + 1e-10, 0.15 - 1e-10, 0.15 + 1e-8):
        spot = np.array([x, 0.9, 0.004])
        planes = shadow_planes(box, spot)
        points = rng.uniform(-1.0, 1.0, (20_000, 3)) * [0.5, 1.5, 0.2]
        claimed = (points @ planes[:, :3].T <= planes[:, 3] - 1e-9).all(axis=1)
        assert claimed.any()
        assert not (claimed & ~hidden(box, spot, points)).any()


def test_regions_are_sorted_by_spot_and_know_their_planes():
    spots = np.array([[2.0, 0.0, 0.0], [0.0, 0.0, 0.0], [0.0, 2.0, 0.5]])
    found = shadows_of([SOLIDS["box"], SOLIDS["rod"]], spots)
    assert found.spot.tolist() == [0, 0, 2, 2]
    assert (found.stop - found.start >= 4).all()
    assert found.start.tolist() == [0, *found.stop[:-1].tolist()]
    assert found.stop[-1] == len(found.planes)
    assert np.linalg.norm(found.planes[:, :3], axis=1) == pytest.approx(1.0, abs=1e-12)


def test_no_solids_cast_no_shadow():
    found = shadows_of([], np.zeros((3, 3)))
    assert found.planes.shape == (0, 4)
    assert len(found.start) == len(found.stop) == len(found.spot) == 0
