from __future__ import annotations

import math

import numpy as np

from reach.pictures.layout import layout, nearest_point
from reach.pictures.overlay import letters_at

VIEW = (1200.0, 860.0)


def overlaps(a, b):
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def test_tags_neither_overlap_nor_leave_the_view():
    rng = np.random.default_rng(3)
    anchors = [(float(x), float(y)) for x, y in rng.uniform((300, 200), (900, 600), (12, 2))]
    sizes = [(float(w), 26.0) for w in rng.uniform(60, 260, 12)]
    placed = [p for p in layout(anchors, sizes, VIEW, np.empty((0, 2))) if p is not None]
    assert len(placed) >= 10
    for i, one in enumerate(placed):
        left, top, right, bottom = one.box
        assert left >= 0 and top >= 0 and right <= VIEW[0] and bottom <= VIEW[1]
        assert not any(overlaps(one.box, other.box) for other in placed[i + 1 :])


def test_a_tag_keeps_off_what_is_busy():
    busy = np.array([[600.0 + dx, 300.0 + dy] for dx in range(-60, 61, 6) for dy in (-20, 0, 20)])
    (placed,) = layout([(600.0, 380.0)], [(100.0, 30.0)], VIEW, busy)
    left, top, right, bottom = placed.box
    covered = (
        (busy[:, 0] > left) & (busy[:, 0] < right) & (busy[:, 1] > top) & (busy[:, 1] < bottom)
    )
    assert not covered.any()


def test_a_tag_that_fits_nowhere_is_left_out():
    assert layout([(50.0, 50.0)], [(400.0, 30.0)], (300.0, 200.0), np.empty((0, 2))) == [None]


def test_a_tag_does_not_touch_its_own_point():
    (placed,) = layout([(600.0, 400.0)], [(100.0, 30.0)], VIEW, np.empty((0, 2)))
    assert math.dist(nearest_point(placed.box, placed.anchor), placed.anchor) >= 19.0


def test_a_tag_keeps_off_a_plate():
    plate = (500.0, 300.0, 700.0, 395.0)
    (free,) = layout([(600.0, 400.0)], [(100.0, 30.0)], VIEW, np.empty((0, 2)))
    (placed,) = layout([(600.0, 400.0)], [(100.0, 30.0)], VIEW, np.empty((0, 2)), [plate])
    assert not overlaps(placed.box, plate)
    assert overlaps(free.box, plate) or free.box == placed.box


def test_letters_of_axes_keep_off_one_another():
    rng = np.random.default_rng(5)
    for _ in range(300):
        frame = np.linalg.qr(rng.normal(size=(3, 3)))[0]
        ends = [(100.0 + 34.0 * x, 100.0 - 34.0 * y) for x, y in frame[:2].T]
        letters = letters_at((100.0, 100.0), ends)
        gaps = [math.dist(letters[i], letters[k]) for i in range(3) for k in range(i)]
        assert min(gaps) > 11.0
