"""Pictures of moves and of minutes home."""

from __future__ import annotations

import io
import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from PIL import Image

from reach.files.moves_question import MoveQuestion, move_question
from reach.files.people import load_population
from reach.files.procedure import load_procedure
from reach.files.scene import load_scene
from reach.finding import Mark
from reach.pictures import draw, draw_returns
from reach.pictures.home import key_of_minutes, scale_of
from reach.pictures.move_notes import move_key, move_notes
from reach.pictures.moves import moves_of
from reach.pictures.moving import MoveStudio, subject
from reach.pictures.palette import FAIL, MINUTES, RAIL_BEYOND, RAIL_USED, graded, rgb
from reach.pictures.panels import FLAT, UPRIGHT, View, laid, side_words, sides_of
from reach.pictures.worksite import worksites_of
from reach.returns import returns_of
from reach.routes import routes_between
from reach.run import outcome_of
from reach.situations import resolve

pytestmark = pytest.mark.picture

SCENE = """
format = 1
title = "Two walls"
use = ["shipped:suits", "shipped:limits", "shipped:sizes"]

[workers.W1]
size = "medium"
hand = "right"
suit = "halden"

[headings]
up = { to = [0, 0, 1], opposite = "down" }
west = { to = [0, 1, 0], opposite = "east" }

[hatches.door]
at = [0.0, 0.5, 0.0]

[solids.wall]
box = [8.0, 0.1, 3.0]
at = [4.0, -0.6, 0.0]

[handrails.A]
from = [0.2, 0.0, 0.0]
to = [2.0, 0.0, 0.0]
out = [0, 1, 0]

[handrails.B]
from = [2.0, 0.0, 0.5]
to = [3.1, 0.0, 0.5]
out = [0, 1, 0]

[handrails.C]
from = [3.1, 0.0, 0.0]
to = [5.0, 0.0, 0.0]
out = [0, 1, 0]
"""


@pytest.fixture(scope="module")
def loaded(tmp_path_factory):
    folder = tmp_path_factory.mktemp("walls")
    (folder / "scene.toml").write_text(SCENE)
    return load_scene(folder)


def ask(loaded, **more):
    asked = MoveQuestion("door", "C@1.9", **more)
    return routes_between(loaded, move_question(loaded, asked), asked)


def pixels(file) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(file.read_bytes())).convert("RGB")).astype(int)


def halves(image: np.ndarray) -> list[np.ndarray]:
    return [image[p.top : p.top + p.height, p.left : p.left + p.width] for p in FLAT]


def n_like(image: np.ndarray, colour: str, within: int = 12) -> int:
    return int((np.abs(image - np.array(rgb(colour))).max(axis=-1) < within).sum())


def test_a_move_is_drawn_from_two_sides_with_its_rails(loaded, tmp_path):
    (file,) = draw(ask(loaded).outcome, tmp_path / "views")
    assert file.name == "01-way-1-translate-C-1.9.png"
    image = pixels(file)
    assert image.shape == (1000, 1600, 3)
    for half in halves(image):
        assert half.std() > 10
        r, g, b = np.moveaxis(half, -1, 0)
        ochre = (r > 110) & (b < 0.45 * r) & (g > 0.5 * r) & (g < 0.85 * r)
        assert ochre.sum() > 300, "the rails used are not seen"
    one, two = halves(image)
    assert np.abs(one - two).max(axis=-1).mean() > 3, "both views are the same"


def test_the_tube_is_seen(loaded, monkeypatch):
    (move,) = moves_of(ask(loaded).outcome)
    pictures = []
    for opacity in (0.2, 0.0):
        monkeypatch.setattr("reach.pictures.moving._TUBE", opacity)
        with MoveStudio(move.site) as studio:
            pictures.append(np.asarray(studio.picture(move)).astype(int))
    changed = np.abs(pictures[0] - pictures[1]).max(axis=-1) > 8
    assert changed[:, : FLAT[0].width].mean() > 0.02


def test_a_gap_that_is_too_wide_is_crossed_out(loaded, tmp_path):
    routes = ask(loaded, avoid=("B",))
    assert routes.none is not None
    (file,) = draw(routes.outcome, tmp_path)
    for half in halves(pixels(file)):
        assert n_like(half, FAIL) > 1000


def test_minutes_home_are_drawn_and_what_is_beyond_is_crossed_out(loaded, tmp_path):
    (within,) = draw_returns(returns_of(loaded), tmp_path)
    assert within.name == "minutes-home.png"
    assert all(n_like(half, FAIL) == 0 for half in halves(pixels(within)))
    late = returns_of(loaded, swaps=20)
    assert (late.map.brought > late.limit.value).any()
    (beyond,) = draw_returns(late, tmp_path)
    assert all(n_like(half, FAIL) > 200 for half in halves(pixels(beyond)))


def test_the_rule_is_on_the_scale_and_only_what_is_there_is_in_its_key(loaded):
    home = returns_of(loaded)
    low, high = scale_of(home)
    minutes = home.map.brought / 60.0
    assert low <= minutes.min() <= minutes.max() <= 30.0 <= high
    assert n_like(np.asarray(key_of_minutes(home, low, high)).astype(int), FAIL) == 0
    late = returns_of(loaded, swaps=20)
    low, high = scale_of(late)
    assert low <= 30.0 < late.map.brought.max() / 60.0 <= high
    assert n_like(np.asarray(key_of_minutes(late, low, high)).astype(int), FAIL) > 50
    rule = replace(home.limit, value=60.0 * 600.0)
    assert scale_of(replace(home, limit=rule))[1] < 60.0


def test_moves_and_worksites_are_numbered_together_as_the_procedure_runs():
    demo = load_scene("brackenfall")
    procedure = load_procedure(None, demo)
    site, situations = resolve(demo.scene, demo.meshes, procedure.procedure, load_population)
    outcome = outcome_of(demo, procedure, site, situations, (), (), 0.0)
    both = [*worksites_of(outcome), *moves_of(outcome)]
    steps = [one.situation.step for one in sorted(both, key=lambda one: one.number)]
    assert len({one.number for one in both}) == len(both)
    assert list(dict.fromkeys(steps)) == [
        step.name for step in procedure.procedure.steps if step.name in steps
    ]
    assert sum(situation.passage is not None for situation in situations) == len(moves_of(outcome))


def test_minutes_get_ever_darker():
    light = [sum(w * v for w, v in zip((0.2126, 0.7152, 0.0722), rgb(c), strict=True))
             for c in (graded(k / 40) for k in range(41))]  # fmt: skip
    assert all(b < a for a, b in pairwise(light))
    assert light[0] - light[-1] > 150
    assert graded(0.4) == MINUTES[2]
    assert RAIL_USED not in MINUTES


def test_sides_are_named_by_the_headings_of_the_scene(loaded):
    (move,) = moves_of(ask(loaded).outcome)
    points, around = move.route.points, move.situation.surroundings
    first, second = sides_of(points, np.array([[0.0, 1.0, 0.0]]), around)
    words = side_words(loaded.scene, [first, second])
    assert words[0].startswith("seen from west")
    assert words[0] != words[1]
    assert abs(float(first @ second)) < 0.6
    bare = loaded.scene.model_copy(update={"headings": {}})
    assert side_words(bare, [np.array([0.0, 1.0, 0.0])]) == ["seen from +y"]


def test_views_never_share_their_words_and_axes_without_a_heading_are_named(loaded):
    ways = [np.array([math.sin(a), math.cos(a), 0.0]) for a in (0.2, 1.22)]
    assert side_words(loaded.scene, ways) == ["seen from west", "seen from +x and west"]
    both = [np.array([0.0, math.cos(a), math.sin(a)]) for a in (0.4, 0.7)]
    assert side_words(loaded.scene, both) == [
        "seen from west, a little from up", "seen from west and up",
    ]  # fmt: skip
    near = [np.array([math.sin(a), math.cos(a), 0.0]) for a in (0.01, 0.02)]
    one, two = side_words(loaded.scene, near)
    assert one != two
    assert one.startswith("seen from west")


def test_what_is_tall_has_its_panels_side_by_side_and_is_drawn_larger_so(loaded):
    ways = [np.array([0.1, 1.0, 0.0]), np.array([0.8, 0.6, 0.0])]
    ways = [way / np.linalg.norm(way) for way in ways]
    tall = np.array([[0.0, 0.0, 0.0], [0.8, 0.3, 12.0]])
    for points, panels in ((tall, UPRIGHT), (tall[:, [2, 1, 0]], FLAT)):
        found = laid(loaded.scene, [View(way, points, points) for way in ways])
        assert tuple(panel for _, panel in found) == panels
        for seen, panel in found:
            xy, _ = seen.camera.project(points)
            assert np.abs(xy).max() < 0.5 * max(1.0, panel.width / panel.height)
            assert np.ptp(xy[:, 1]) > 0.6 or np.ptp(xy[:, 0]) > 0.6


def test_structure_about_a_way_is_held_whole_unless_it_would_dwarf_it(loaded):
    way = np.array([0.0, 1.0, 0.0])
    points = np.array([[0.0, 0.0, 0.0], [6.0, 0.0, 1.0]])
    for far, is_held in ((8.0, True), (40.0, False)):
        more = np.array([[far, 0.0, 0.0]])
        (seen, panel), _ = laid(loaded.scene, [View(way, points, more)] * 2)
        xy, _ = seen.camera.project(more)
        assert bool(abs(xy[0, 0]) < 0.5 * panel.width / panel.height) is is_held


def test_a_gap_is_marked_once_and_the_key_has_what_is_drawn(loaded):
    (way,) = moves_of(ask(loaded).outcome)
    (none,) = moves_of(ask(loaded, avoid=("B",)).outcome)
    fails = [tag for tag in move_notes(none).tags if tag.style == "fail"]
    assert len(fails) == len(none.none.gaps) == 1
    for move, blue, violet in ((way, False, False), (none, True, True)):
        key = np.asarray(move_key(move)).astype(int)
        assert (n_like(key, RAIL_BEYOND) > 100) is blue
        assert (n_like(key, FAIL) > 50) is violet
        assert n_like(key, RAIL_USED) > 100
    assert len(subject(none)) > 0


def test_a_bad_point_is_marked_there_with_its_label(loaded):
    (move,) = moves_of(ask(loaded).outcome)
    (known, *_) = move.findings
    at = (1.0, 0.0, 0.0)
    marks = (
        Mark("segment", ((0.2, 0.0, 0.0), at), "line"),
        Mark("point", (at,), "worst at C@1.9", bad=True),
    )
    late = replace(known, check="tether", unit="m", low=-0.5, high=-0.4, marks=marks)
    notes = move_notes(replace(move, findings=(late,)))
    chain = [Mark("segment", (at, (k + 1.0, 0.0, 0.0)), "home", bad=True) for k in (1, 2)]
    chain[1] = replace(chain[1], points=(chain[0].points[1], (3.0, 0.5, 0.0)))
    drawn = move_notes(replace(move, findings=(replace(late, marks=tuple(chain)),)))
    fails = [line for line in drawn.lines if line.colour == FAIL]
    assert [line.pattern for line in fails] == ["solid", "solid"]
    (tag,) = [tag for tag in notes.tags if tag.style == "fail"]
    assert tag.lines[0].startswith("FAIL tether: short by")
    assert tag.lines[1] == "worst at C@1.9"
    assert tag.anchor == pytest.approx(at)
    assert not any(line.colour == FAIL for line in notes.lines)
