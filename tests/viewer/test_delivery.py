"""A picture is drawn once, at the size in which it is seen, and again only when it changes."""

from types import SimpleNamespace

import numpy as np
import pytest

pytest.importorskip("aiohttp")

from reach.viewer.delivery import FINE, SMALLEST, Delivery
from reach.viewer.entry import frame


class View:
    """A view that counts how often it is drawn."""

    def __init__(self) -> None:
        self.n_drawn = 0
        self.size = (400, 300)
        camera = SimpleNamespace(
            position=(1.0, 0.0, 0.0), focal_point=(0.0, 0.0, 0.0), up=(0.0, 0.0, 1.0),
            view_angle=30.0,
        )  # fmt: skip
        window = SimpleNamespace(SetSize=lambda w, h: setattr(self, "size", (w, h)))
        self.plotter = SimpleNamespace(camera=camera, render_window=window)

    def pixels(self):
        self.n_drawn += 1
        return np.full((self.size[1], self.size[0], 3), 40 * self.n_drawn, np.uint8)


@pytest.fixture
def view():
    return View()


@pytest.fixture
def delivery(view):
    return Delivery(view)


def asked(*size, quality=FINE):
    return {"view": "1", "size": list(size), "quality": quality}


def test_the_same_picture_is_drawn_once(view, delivery):
    first, second = (delivery.still(asked(400, 300)) for _ in range(2))
    assert first["image"] == second["image"]
    assert not first["stale"]
    assert view.n_drawn == 1


def test_a_change_a_turn_a_size_and_a_quality_each_draw_it_anew(view, delivery):
    images = [delivery.still(asked(400, 300))["image"]]
    delivery.changed()
    images.append(delivery.still(asked(400, 300))["image"])
    view.plotter.camera.position = (2.0, 0.0, 0.0)
    images.append(delivery.still(asked(400, 300))["image"])
    images.append(delivery.still(asked(500, 300))["image"])
    images.append(delivery.still(asked(500, 300, quality=60))["image"])
    assert len(set(images)) == view.n_drawn == 5


def test_what_nobody_sees_is_not_drawn(view, delivery):
    assert delivery.still(asked(30, 30, quality=5))["image"] is None
    assert delivery.still(asked(2000, SMALLEST - 1))["image"] is None
    assert view.n_drawn == 0


def test_the_first_picture_that_is_looked_at_is_told_once(delivery):
    told = []
    delivery.on_first = lambda: told.append(1)
    delivery.still(asked(400, 300, quality=100))  # while the library registers
    assert told == []
    for _ in range(2):
        delivery.still(asked(400, 300))
    assert told == [1]


def test_the_frame_says_that_it_is_drawing_and_names_no_library():
    text = frame()
    assert "Drawing …" in text
    assert "<title>reach</title>" in text
    assert text.count("<script") >= 2
    assert "trame" not in text.split("<body>")[1].lower()
