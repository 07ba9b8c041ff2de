"""Agreement with libraries that others wrote and trust."""

from __future__ import annotations

import numpy as np
import pytest

from benchmarks.trusses import vertices_and_faces
from reach.geometry import (
    cylinder_overlap,
    frame_from_axes,
    point_distance,
    segment_distance,
    winding_number,
)

coal = pytest.importorskip("coal")
igl = pytest.importorskip("igl")


@pytest.fixture(scope="module")
def meshed(trusses):
    triangles, tree = trusses["5k"]
    return tree, *vertices_and_faces(triangles)


@pytest.fixture(scope="module")
def coal_model(meshed):
    _, vertices, faces = meshed
    model = coal.BVHModelOBBRSS()
    model.beginModel(len(faces), len(vertices))
    model.addVertices(vertices)
    model.addTriangles(faces.astype(np.int32))
    model.endModel()
    return model


def placed(p, q):
    z = q - p
    across = np.eye(3)[np.argmin(np.abs(z))]
    return coal.Transform3s(frame_from_axes(z, across), 0.5 * (p + q))


def test_capsule_distance_agrees_with_coal_where_nothing_touches(meshed, coal_model, queries):
    tree = meshed[0]
    _, p, q = queries(tree, 1000, seed=11)
    radius = 0.1
    ours = segment_distance(tree, p, q).distance - radius
    request, result = coal.DistanceRequest(), coal.DistanceResult()
    capsule, here = coal.Capsule(radius, 0.4), coal.Transform3s()
    for i in np.flatnonzero(ours > 0.0):
        result.clear()
        theirs = coal.distance(coal_model, here, capsule, placed(p[i], q[i]), request, result)
        assert theirs == pytest.approx(ours[i], abs=1e-7)


def test_cylinder_overlap_agrees_with_coal(meshed, coal_model, queries):
    tree = meshed[0]
    _, p, q = queries(tree, 2000, seed=12, pad=0.2, length=0.3)
    ours = cylinder_overlap(tree, p, q, 0.05)
    request, result = coal.CollisionRequest(), coal.CollisionResult()
    cylinder, here = coal.Cylinder(0.05, 0.3), coal.Transform3s()
    for i in range(len(p)):
        result.clear()
        hit = coal.collide(coal_model, here, cylinder, placed(p[i], q[i]), request, result) > 0
        assert hit == ours[i]
    assert 0.05 < ours.mean() < 0.5


def test_nearest_point_agrees_with_libigl(meshed, queries):
    tree, vertices, faces = meshed
    points, _, _ = queries(tree, 5000, seed=13)
    squared, _, closest = igl.point_mesh_squared_distance(points, vertices, faces)
    found = point_distance(tree, points)
    np.testing.assert_allclose(found.distance, np.sqrt(squared), rtol=0, atol=1e-9)
    gap = np.linalg.norm(points - closest, axis=1)
    np.testing.assert_allclose(found.distance, gap, rtol=0, atol=1e-9)


def test_winding_number_agrees_with_libigl(meshed, queries):
    tree, vertices, faces = meshed
    points, _, _ = queries(tree, 500, seed=14)
    theirs = igl.winding_number(vertices, faces, points)
    ours = winding_number(tree, points, beta=np.inf)
    np.testing.assert_allclose(ours, theirs, rtol=0, atol=1e-9)
