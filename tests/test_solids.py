import math

import numpy as np
import pytest
import trimesh

from reach.model.shapes import Shaped
from reach.solids import LONGEST_EDGE, convex_parts, tessellation_error, triangles_of

TRUSS = {"bays": 3, "bay": 3, "width": 2.4, "height": 2, "chord": 0.04, "batten": 0.03}
SHAPES = {
    "box": ({"box": (1, 2, 3)}, 6.0),
    "rod": ({"cylinder": {"radius": 0.1, "height": 3}}, math.pi * 0.01 * 3),
    "ring": ({"cylinder": {"radius": 1, "height": 3, "bore": 0.5}}, math.pi * 0.75 * 3),
    "cone": ({"cone": {"base": 1, "height": 2}}, math.pi * 2 / 3),
    "cone on its tip": ({"cone": {"base": 0, "top": 1, "height": 2}}, math.pi * 2 / 3),
    "frustum": ({"cone": {"base": 1, "top": 0.5, "height": 2}}, math.pi * 2 / 3 * 1.75),
    "plate": ({"plate": {"size": (1, 2), "thickness": 0.1}}, 0.2),
    "holes": (
        {
            "plate": {
                "size": (1, 2),
                "thickness": 0.1,
                "holes": [(0, 0, 0.2), (0.3, 0.5, 0.1), (0, -0.6, 0.3)],
            }
        },
        0.2 - 0.1 * math.pi * (0.04 + 0.01 + 0.09),
    ),
}


def surface(triangles: np.ndarray) -> trimesh.Trimesh:
    return trimesh.Trimesh(triangles.reshape(-1, 3), np.arange(3 * len(triangles)).reshape(-1, 3))


@pytest.mark.parametrize("name", SHAPES)
def test_each_shape_is_closed_outward_and_of_its_volume(name):
    data, volume = SHAPES[name]
    made = surface(triangles_of(Shaped(**data)))
    assert made.is_watertight
    assert made.is_winding_consistent
    assert made.volume == pytest.approx(volume, rel=0.02)


@pytest.mark.parametrize("name", SHAPES)
def test_convex_pieces_are_convex_and_make_the_shape(name):
    shaped = Shaped(**SHAPES[name][0])
    pieces = convex_parts(shaped)
    if name in ("ring", "holes"):
        assert pieces == []
    else:
        (piece,) = pieces
        assert surface(piece).is_convex
        assert np.array_equal(piece, triangles_of(shaped))


@pytest.mark.parametrize("diagonal", [0.0, 0.02])
@pytest.mark.parametrize("pattern", ["zigzag", "parallel"])
def test_a_truss_is_closed_convex_tubes(diagonal, pattern):
    shaped = Shaped(truss={**TRUSS, "diagonal": diagonal, "pattern": pattern})
    tubes = convex_parts(shaped)
    assert len(tubes) == 4 + 4 * 4 + (3 * 4 if diagonal else 0)
    for tube in tubes:
        made = surface(tube)
        assert made.is_watertight
        assert made.is_convex
        assert made.volume > 0
    whole = triangles_of(shaped)
    assert np.array_equal(whole, np.concatenate(tubes))
    low, high = whole.reshape(-1, 3).min(axis=0), whole.reshape(-1, 3).max(axis=0)
    assert low == pytest.approx([-0.03, -1.24, -1.04], abs=1e-3)
    assert high == pytest.approx([9.03, 1.24, 1.04], abs=1e-3)


def test_no_edge_along_a_tube_is_long():
    for data in ({"truss": {**TRUSS, "diagonal": 0.02}}, SHAPES["rod"][0]):
        triangles = triangles_of(Shaped(**data))
        edges = np.linalg.norm(triangles - np.roll(triangles, 1, axis=1), axis=-1)
        assert edges.max() <= LONGEST_EDGE + 1e-12


@pytest.mark.parametrize("name", ["rod", "ring", "cone", "frustum", "holes"])
def test_the_true_surface_stands_outside_by_no_more_than_the_error(name):
    """Facet corners lie on the circle and facet middles inside it by the stated error."""
    shaped = Shaped(**SHAPES[name][0])
    assert 0.0 < tessellation_error(shaped) < 0.01


def test_the_error_is_that_of_the_middle_of_a_facet():
    shaped = Shaped(cylinder={"radius": 2, "height": 1, "sides": 12})
    rim = triangles_of(shaped)[:, :, :2].reshape(-1, 2)
    rim = np.unique(rim[np.linalg.norm(rim, axis=1) > 1.9].round(12), axis=0)
    middle = (rim[:, None] + rim[None])[np.linalg.norm(rim[:, None] - rim[None], axis=-1) < 1.1] / 2
    least = np.linalg.norm(middle, axis=-1).min()
    assert tessellation_error(shaped) == pytest.approx(2 - least, abs=1e-9)


def test_flat_shapes_have_no_error():
    assert tessellation_error(Shaped(box=(1, 1, 1))) == 0.0
    assert tessellation_error(Shaped(plate={"size": (1, 1), "thickness": 0.1})) == 0.0


def test_a_mesh_is_taken_as_given_and_convex_only_when_it_is():
    shaped = Shaped(mesh={"file": "x.stl", "unit": "m", "up": "z"})
    box = np.asarray(trimesh.creation.box((1, 1, 1)).triangles)
    assert triangles_of(shaped, box) is box
    assert len(convex_parts(shaped, box)) == 1
    assert convex_parts(shaped, box[1:]) == []
    assert convex_parts(shaped) == []
    with pytest.raises(ValueError, match="must be given"):
        triangles_of(shaped)
