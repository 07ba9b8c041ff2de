"""Pictures of a payload's way: shells of stand-offs, the worst moment, the curve and its scale."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from reach.checks import sweep as sweep_check
from reach.files.procedure import load_procedure
from reach.files.scene import load_scene
from reach.geometry import build
from reach.model.shapes import Cylinder, Shaped
from reach.pictures import draw
from reach.pictures.carries import Carry, carries_of
from reach.pictures.carry_notes import carry_notes, carry_title, drawn_words
from reach.pictures.carrying import CarryStudio, best_way, near_subject, piece_rows, way_of
from reach.pictures.curve import curve_picture
from reach.pictures.palette import CARGO, CURVE, FAIL, rgb
from reach.pictures.stand_offs import shell_of
from reach.run import Outcome, check
from reach.solids import triangles_of

SCENE = """
format = 1
title = "Yard"
use = ["shipped:limits"]
procedure = "procedure.toml"
[solids.crate-box]
in = "crate"
box = [1.0, 1.0, 1.0]
[solids.arm]
in = "crate"
box = [2.0, 0.2, 0.2]
at = [1.5, 0.0, 0.0]
[solids.post]
box = [0.2, 0.2, 2.0]
at = [2.0, 1.0, 0.0]
[hazards.lamp]
kind = "no-touch"
box = [0.2, 0.2, 0.2]
at = [4.0, OFF, 0.0]
stand_off = 0.5
[payloads.crate.poses.a]
at = [0.0, 0.0, 0.0]
[payloads.crate.poses.b]
at = [8.0, 0.0, 0.0]
[payloads.crate.paths.along]
through = ["a", "b"]
"""

PROCEDURE = """
format = 1
[lanes]
inside = "inside lead"
[[steps]]
name = "carry"
lane = "inside"
path = "along"
placed = { crate = "a" }
actions = [{ do = "move", payload = "crate" }]
"""


def outcome_of(folder: Path, off: float) -> Outcome:
    folder.mkdir()
    (folder / "scene.toml").write_text(SCENE.replace("OFF", str(off)))
    (folder / "procedure.toml").write_text(PROCEDURE)
    loaded = load_scene(folder)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("reach.run.CHECKS", (sweep_check,))
        return check(loaded, load_procedure(None, loaded))


@pytest.fixture(scope="module")
def near(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    """The lamp is 0.3 m off the crate's side where 0.5 m are asked."""
    return outcome_of(tmp_path_factory.mktemp("near") / "yard", -0.9)


@pytest.fixture(scope="module")
def clear(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    """The lamp is 0.9 m off."""
    return outcome_of(tmp_path_factory.mktemp("clear") / "yard", -1.5)


def carry_of(outcome: Outcome) -> Carry:
    (carry,) = carries_of(outcome)
    return carry


def n_like(image: Image.Image, colour: str, far: int = 12) -> int:
    """Return how many pixels have nearly a colour."""
    apart = np.abs(np.asarray(image, int) - np.array(rgb(colour)))
    return int((apart.max(axis=-1) <= far).sum())


def test_the_shell_of_a_box_is_a_box_larger_by_the_stand_off() -> None:
    tree = build(triangles_of(Shaped(box=(1.0, 0.6, 0.2))))
    shell = shell_of(tree, 0.5)
    assert shell.points.max(axis=0) == pytest.approx([1.0, 0.8, 0.6])
    assert shell.points.min(axis=0) == pytest.approx([-1.0, -0.8, -0.6])


def test_the_shell_of_a_cylinder_keeps_every_facet_off_by_as_much() -> None:
    triangles = triangles_of(Shaped(cylinder=Cylinder(radius=0.5, height=1.0)))
    tree = build(triangles)
    shell = shell_of(tree, 0.3)
    corners = tree.tri.reshape(-1, 3, 3)
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    moved = shell.points.reshape(-1, 3, 3)
    off = np.einsum("nkj,nj->nk", moved - corners[:, :1], normals)
    assert off == pytest.approx(np.full(off.shape, 0.3), abs=1e-6)


def test_tags_keep_off_every_piece_of_what_moves(near: Outcome) -> None:
    rows = piece_rows(carry_of(near).parts[0])
    assert len(rows) == 2
    arm = rows[np.argmax(np.abs(rows[:, 3] - rows[:, 0]))]
    assert sorted([arm[0], arm[3]]) == pytest.approx([0.6, 2.4])
    assert arm[6] == pytest.approx(0.1)


def test_the_gap_lies_across_the_view_of_the_worst_moment(near: Outcome) -> None:
    carry = carry_of(near)
    worst = carry.worst
    assert worst is not None
    line = worst.on_thing - worst.on_part
    way = best_way(carry, near_subject(carry), np.array([worst.on_part, worst.on_thing]))
    assert abs(line @ way) / np.linalg.norm(line) < 0.5


def test_what_comes_too_near_is_said_at_its_place(near: Outcome, clear: Outcome) -> None:
    carry = carry_of(near)
    (tag,) = [tag for tag in carry_notes(carry, True).tags if tag.style == "fail"]
    assert tag.spot == "cross"
    assert "crate-box to lamp: 0.3" in tag.lines[0]
    assert "0.500 m asked, short by 0." in tag.lines[1]
    assert -0.8 < tag.anchor[1] < -0.5
    assert not [tag for tag in carry_notes(carry_of(clear), True).tags if tag.style == "fail"]
    assert "which is to be kept 0.500 m off" in drawn_words(carry)
    assert carry_title(carry) == "Step carry: crate, along"


def test_the_way_runs_from_pose_to_pose(near: Outcome) -> None:
    way = way_of(carry_of(near))
    assert way[0] == pytest.approx([0.0, 0.0, 0.0])
    assert way[-1] == pytest.approx([8.0, 0.0, 0.0])


def test_the_payload_is_drawn_strong_once_and_the_fail_in_violet(near: Outcome) -> None:
    with CarryStudio(near.site) as studio:
        picture = studio.sweep(carry_of(near))
    assert picture.size == (1600, 1000)
    view = picture.crop((0, 120, 1196, 956))
    assert n_like(view, CARGO, 40) > 2_000
    assert n_like(view, FAIL) > 500


def test_the_curve_is_violet_only_where_it_is_short(near: Outcome, clear: Outcome) -> None:
    short, free = (curve_picture(carry_of(one)).crop((0, 92, 1196, 956)) for one in (near, clear))
    assert n_like(short, FAIL) > 300
    assert n_like(free, FAIL) == 0
    assert n_like(free, CURVE, 4) > 500


def test_the_curve_is_lowest_where_the_lamp_is(near: Outcome) -> None:
    (curve,) = carry_of(near).curves
    k = int(np.argmin(curve.margin_low))
    # The crate's side is beside the lamp for x from 3.4 to 4.6 m of 8 m, its arm before that.
    assert 3.3 / 8.0 <= 0.5 * (curve.start[k] + curve.stop[k]) <= 4.7 / 8.0
    assert curve.margin_low[k] == pytest.approx(-0.2, abs=6e-3)


def test_check_draws_way_and_curve_of_each_motion(near: Outcome, tmp_path: Path) -> None:
    names = [path.name for path in draw(near, tmp_path)]
    assert names == ["01-carry-sweep-crate.png", "01-carry-sweep-crate-curve.png"]
