"""Taut lengths against closed forms, and against shortest paths in the plane."""

import math
from itertools import combinations

import numpy as np
import pytest
import trimesh
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import dijkstra
from scipy.spatial import ConvexHull

from benchmarks.trusses import truss_triangles, tube
from reach.geometry import (
    STACK,
    build,
    pose_of,
    rotation_about,
    segment_distance,
    transform_points,
)
from reach.lines import taut
from reach.lines.pulling.sweeping import swept_free

SIDES = 128
ROUND = tube([0, 0, -5], [0, 0, 5], 0.5, SIDES, 1)
BOX = np.asarray(trimesh.creation.box(extents=(2.0, 2.0, 6.0)).triangles)


def moved(triangles, by):
    return triangles + np.asarray(by, float)


def round_cylinder(a, d, z):
    """Taut length round a cylinder of radius a, both ends d from its axis, opposite, z along it."""
    return math.hypot(2.0 * (math.sqrt(d * d - a * a) + a * math.asin(a / d)), z)


def slalom(a, apart, d):
    """Over one cylinder and under the next, each end d beyond the nearer axis."""
    lean = math.asin(2.0 * a / apart)
    straight = math.sqrt(d * d - a * a), math.sqrt(apart**2 / 4.0 - a * a)
    return 2.0 * (sum(straight) + a * (lean + math.asin(a / d)))


def check(found, tree, exact, least=None):
    """The line is free, no shorter than the exact one, 1.5 % longer at most, and bracketed."""
    assert (exact if least is None else least) <= found.high
    assert found.high <= 1.015 * exact
    assert found.low <= exact
    line = found.points
    assert found.high == pytest.approx(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())
    assert segment_distance(tree, line[:-1], line[1:]).distance.min() >= found.held - 1e-9


@pytest.mark.parametrize("radius", [0.0, 0.02, 0.2])
@pytest.mark.parametrize("z", [0.0, 1.5])
def test_round_a_cylinder(radius, z):
    tree = build(ROUND)
    led = [[-2, 0, 0], [-1, 1.5, 0], [1, 1.5, z], [2, 0, z]]
    found = taut(tree, led, radius)
    inscribed = 0.5 * math.cos(math.pi / SIDES)
    check(
        found,
        tree,
        round_cylinder(0.5 + radius, 2.0, z),
        round_cylinder(inscribed + radius, 2.0, z),
    )
    assert found.held >= radius
    assert found.low > 0.997 * found.high and found.by == "gate"


def test_round_the_facets_is_half_the_hull():
    tree = build(ROUND)
    found = taut(tree, [[-2, 0, 0], [0, 1.5, 0.2], [2, 0, 0]])
    corners = np.unique(np.round(ROUND.reshape(-1, 3)[:, :2], 12), axis=0)
    hull = ConvexHull(np.concatenate([corners, [[-2.0, 0.0], [2.0, 0.0]]]))
    exact = 0.5 * hull.area  # the perimeter, in the plane
    assert exact <= found.high <= exact + 0.001


def over_an_edge(off, along, radius):
    """Taut length over a right-angled edge between ends `off` its two faces, `along` from it."""
    d = math.hypot(off, along)
    # Seen from the edge the ends are 270 degrees less two small angles apart, outside.
    wrap = 1.5 * math.pi - 2.0 * math.atan2(off, along) - 2.0 * math.acos(radius / d)
    return 2.0 * math.sqrt(d * d - radius**2) + radius * wrap


@pytest.mark.parametrize("radius", [0.0, 0.01, 0.1])
@pytest.mark.parametrize("z", [0.0, 2.0])
def test_over_the_edge_of_a_box(radius, z):
    tree = build(BOX)
    found = taut(tree, [[1.5, -0.5, 0], [1.6, 1.6, 0], [-0.5, 1.5, z]], radius)
    check(found, tree, math.hypot(over_an_edge(0.5, 1.5, radius), z))


@pytest.mark.parametrize("radius", [0.0, 0.05])
def test_slalom_round_two_cylinders(radius):
    tree = build(np.concatenate([ROUND, moved(ROUND, [3, 0, 0])]))
    led = [[-2, 0, 0], [0, 1, 0.3], [1.5, 0, 0], [3, -1, -0.4], [5, 0, 0]]
    inscribed = 0.5 * math.cos(math.pi / SIDES)
    check(
        taut(tree, led, radius),
        tree,
        slalom(0.5 + radius, 3.0, 2.0),
        slalom(inscribed + radius, 3.0, 2.0),
    )


def plate_with_window():
    """A plate 6 m square across x, 0.3 m thick; a window at y 1.5 to 2.5, z -0.5 to 0.5."""
    outer = np.array([[-3, -3], [3, -3], [3, 3], [-3, 3]], float)
    inner = np.array([[1.5, -0.5], [2.5, -0.5], [2.5, 0.5], [1.5, 0.5]])

    def at(x, corner):
        return [x, *corner]

    triangles = []
    for k in range(4):
        a, b, c, d = outer[k], outer[(k + 1) % 4], inner[(k + 1) % 4], inner[k]
        front, back = [at(0.15, p) for p in (a, b, c, d)], [at(-0.15, p) for p in (a, b, c, d)]
        quads = [front, back[::-1], [front[1], front[0], back[0], back[1]]]
        quads.append([front[3], front[2], back[2], back[3]])
        triangles += [[q[0], q[1], q[2]] for q in quads]
        triangles += [[q[0], q[2], q[3]] for q in quads]
    return build(np.array(triangles))


def test_a_line_stays_in_the_window_it_was_led_through():
    tree = plate_with_window()
    through = taut(tree, [[-2, 0, 0], [0, 2, 0.1], [2, 0, 0]])
    exact = 2.0 * math.hypot(1.85, 1.5) + 0.3
    check(through, tree, exact)
    assert through.low > 0.98 * exact and through.by == "gate"
    over = taut(tree, [[-2, 0, 0], [0, 0, 3.5], [2, 0, 0]])
    exact = 2.0 * math.hypot(1.85, 3.0) + 0.3
    check(over, tree, exact)
    # Lines of its class go round the plate, whichever side; through the window they cannot.
    assert over.low > 0.98 * exact


def test_a_line_hooked_through_a_window_and_back_outside_keeps_its_turn():
    tree = plate_with_window()
    led = [[-1, 2, 0], [1, 2, 0], [1, 4, 0], [-1, 4, 0], [-1, 2.2, 0]]
    found = taut(tree, led)
    bar = 2.0 * 0.5 + 0.3
    assert found.by == "gate" and found.low > np.linalg.norm(np.subtract(led[-1], led[0])) + 1.0
    assert found.high > bar
    assert found.points[:, 0].max() > 0.15 and found.points[:, 1].max() > 3.0


def random_prisms(rng):
    """Convex shapes in the plane that do not overlap, corners in order, and prisms on them."""
    shapes, triangles = [], []
    for middle in [(1.5, 0.2), (3.0, -0.4), (4.5, 0.3), (2.4, 1.5), (3.6, -1.9)]:
        cloud = np.asarray(middle) + rng.uniform(-0.6, 0.6, (7, 2))
        shape = cloud[ConvexHull(cloud).vertices]
        solid = np.concatenate(
            [np.column_stack([shape, np.full(len(shape), z)]) for z in (-9.0, 9.0)]
        )
        triangles.append(solid[ConvexHull(solid).simplices])
        shapes.append(shape)
    return shapes, outward(triangles)


def outward(solids):
    """Return the triangles of convex solids, all turned outward."""
    turned = []
    for solid in solids:
        middle = solid.reshape(-1, 3).mean(axis=0)
        normal = np.cross(solid[:, 1] - solid[:, 0], solid[:, 2] - solid[:, 0])
        wrong = ((solid[:, 0] - middle) * normal).sum(axis=1) < 0.0
        turned.append(np.where(wrong[:, None, None], solid[:, ::-1], solid))
    return np.concatenate(turned)


def blocked(p, q, shape):
    """Whether a segment enters a convex shape (counter-clockwise): clipped by every side."""
    low, high = 0.0, 1.0
    for a, b in zip(shape, np.roll(shape, -1, axis=0), strict=True):
        normal = np.array([b[1] - a[1], a[0] - b[0]])  # outward
        start, slope = (p - a) @ normal, (q - p) @ normal
        if abs(slope) < 1e-12:
            if start >= -1e-9:
                return False
        elif slope > 0.0:
            high = min(high, -start / slope)
        else:
            low = max(low, -start / slope)
    return high - low > 1e-9


def shortest_in_the_plane(shapes, start, end):
    """Length and corners of the shortest way by the visibility graph."""
    nodes = np.concatenate([[start], *shapes, [end]])
    n = len(nodes)
    lengths = np.zeros((n, n))
    for i, j in combinations(range(n), 2):
        if not any(blocked(nodes[i], nodes[j], shape) for shape in shapes):
            lengths[i, j] = np.linalg.norm(nodes[i] - nodes[j])
    far, before = dijkstra(csr_matrix(lengths), directed=False, indices=0, return_predecessors=True)
    way = [n - 1]
    while way[-1] != 0:
        way.append(before[way[-1]])
    return far[n - 1], nodes[way[::-1]]


@pytest.mark.parametrize("seed", range(6))
def test_among_prisms_it_is_the_shortest_way_of_the_visibility_graph(seed):
    rng = np.random.default_rng(seed)
    shapes, triangles = random_prisms(rng)
    tree = build(triangles)
    exact, way = shortest_in_the_plane(shapes, np.array([0.0, 0.0]), np.array([6.0, 0.0]))
    middles = [shape.mean(axis=0) for shape in shapes]
    led = []
    for x in way[1:-1]:
        middle = min(middles, key=lambda m: np.linalg.norm(m - x))
        led.append(
            [*(x + 0.08 * (x - middle) / np.linalg.norm(x - middle)), rng.uniform(-0.3, 0.3)]
        )
    found = taut(tree, [[0.0, 0.0, 0.0], *led, [6.0, 0.0, 0.0]])
    check(found, tree, exact)
    wide = taut(tree, [[0.0, 0.0, 0.0], [0.0, 4.0, 0.5], [6.0, 4.0, 0.5], [6.0, 0.0, 0.0]])
    assert wide.high >= exact and wide.low <= wide.high


def test_moving_the_world_moves_the_line_with_it():
    triangles = np.concatenate([ROUND, moved(ROUND, [3, 0, 0])])
    led = np.array([[-2, 0, 0], [0, 1, 0.3], [1.5, 0, 0], [3, -1, -0.4], [5, 0, 0]], float)
    here = taut(build(triangles), led, 0.02)
    pose = pose_of(rotation_about(np.array([1.0, 2.0, 3.0]), 0.7), np.array([30.0, -7.0, 4.0]))
    there = taut(
        build(transform_points(pose, triangles.reshape(-1, 3)).reshape(-1, 3, 3)),
        transform_points(pose, led),
        0.02,
    )
    assert there.high == pytest.approx(here.high, abs=0.005)
    assert there.routed == pytest.approx(here.routed, abs=1e-9)


def test_beside_a_truss():
    tree = build(truss_triangles("5k"))
    low, high = tree.bounds
    x = np.linspace(low[0] + 0.5, high[0] - 0.5, 12)
    y = high[1] + np.where(np.arange(12) % 2, 0.1, 0.6)
    led = np.column_stack([x, y, np.full(12, 0.5 * (low[2] + high[2]))])
    led = np.concatenate([led, [[led[-1, 0], low[1] - 0.2, high[2] + 0.3]]])
    found = taut(tree, led, 0.01)
    line = found.points
    assert segment_distance(tree, line[:-1], line[1:]).distance.min() >= 0.01 - 1e-9
    assert np.linalg.norm(led[-1] - led[0]) <= found.low <= found.high < found.routed


def test_ends_may_lie_on_the_surface_or_nearer_than_the_radius():
    tree = build(BOX)
    on = taut(tree, [[1.0, -0.5, 0], [1.6, 1.6, 0], [-0.5, 1.0, 0]])
    assert on.high == pytest.approx(3.0, abs=0.002) and on.high >= 3.0
    near = taut(tree, [[1.03, -0.5, 0], [1.6, -0.5, 0], [1.6, 1.6, 0], [-0.5, 1.5, 0]], 0.1)
    assert near.held == 0.1
    line = near.points
    sampled = (
        line[:-1, None] + np.linspace(0, 1, 200)[None, :, None] * np.diff(line, axis=0)[:, None]
    )
    far = sampled.reshape(-1, 3)
    far = far[np.linalg.norm(far - line[0], axis=1) > 0.2]
    assert segment_distance(tree, far, far).distance.min() >= 0.1 - 1e-9
    assert segment_distance(tree, line[:-1], line[1:]).distance.min() > 0.0


def test_a_step_between_rails_that_cuts_an_edge_is_led_round_it():
    tree = build(BOX)
    led = [[1.08, -0.5, 0], [1.08, 0.7, 0], [0.7, 1.08, 0], [-0.5, 1.08, 0]]
    found = taut(tree, led, 0.01)
    assert found.lifted == (1,)
    check(found, tree, over_an_edge(0.08, 1.5, 0.01))


def test_a_line_led_nearer_than_its_radius_says_what_it_holds():
    tree = build(BOX)
    led = [[1.5, -0.5, 0], [1.05, 0.0, 0], [1.5, 1.5, 0], [-0.5, 1.5, 0]]
    assert taut(tree, led, 0.2).held == pytest.approx(0.05)


def test_without_gates_only_the_straight_line_bounds():
    tree, led = build(BOX), [[1.5, -0.5, 0], [1.6, 1.6, 0], [-0.5, 1.5, 0]]
    quick, whole = taut(tree, led, gates=False), taut(tree, led)
    assert quick.by == "straight" and quick.low == pytest.approx(math.hypot(2, 2))
    assert quick.high == whole.high and quick.low < whole.low


def test_a_free_straight_line_is_exact():
    found = taut(build(BOX), [[2, -3, 0], [3, 0, 0], [2, 3, 0]], 0.02)
    assert found.by == "free" and found.low == found.high == pytest.approx(6.0)


@pytest.mark.parametrize(
    ("led", "radius", "words"),
    [
        ([[2, 0, 0]], 0.0, "k >= 2"),
        ([[2, 0, 0], [2, 0, 0]], 0.0, "no length"),
        ([[2, 0, 0], [np.nan, 0, 0]], 0.0, "not finite"),
        ([[2, 0, 0], [3, 0, 0]], -1.0, "radius"),
        ([[2, 0, 0], [0, 0, 0], [-2, 0, 0]], 0.0, "through structure at"),
    ],
)
def test_what_is_no_line_is_refused(led, radius, words):
    with pytest.raises(ValueError, match=words):
        taut(build(BOX), led, radius)


def apart_slowly(a, b):
    """Whether no edge of one triangle meets the other: by solving for where they would."""
    for one, other in ((a, b), (b, a)):
        for i in range(3):
            p, q = one[i], one[(i + 1) % 3]
            t, v, w = np.linalg.solve(
                np.column_stack([q - p, other[0] - other[1], other[0] - other[2]]), other[0] - p
            )
            if 0.0 <= t <= 1.0 and v >= 0.0 and w >= 0.0 and v + w <= 1.0:
                return False
    return True


def test_a_swept_triangle_is_free_when_no_edge_meets_any_triangle():
    rng = np.random.default_rng(5)
    triangles = rng.uniform(-2, 2, (60, 1, 3)) + rng.normal(scale=0.3, size=(60, 3, 3))
    tree, stack = build(triangles), np.empty(STACK, np.int32)
    free = 0
    for _ in range(400):
        a, b, c = rng.uniform(-2, 2, (1, 3)) + rng.normal(scale=0.5, size=(3, 3))
        exact = all(apart_slowly(np.array([a, b, c]), other) for other in triangles)
        assert swept_free(tree.tri, tree.box, tree.link, a, b, c, 1e-9, stack) == exact
        free += exact
    assert 50 < free < 350
