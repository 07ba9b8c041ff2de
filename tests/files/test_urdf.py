"""URDF files as records, and every problem of a broken one at once."""

import tempfile
from pathlib import Path

import numpy as np
import pytest

from reach.files import marked
from reach.files.problem import InputError
from reach.files.urdf import load_arm, shipped_arm

BROKEN = Path(__file__).parents[1] / "broken" / "urdf"
FILES = sorted(BROKEN.glob("*.urdf"))
ARMS = Path(__file__).parents[1] / "arm"


def expected(path):
    lines = path.read_text(encoding="utf-8").splitlines()
    marks = [line.partition("<!-- expect: ")[2] for line in lines]
    return [mark.removesuffix(" -->") for mark in marks if mark]


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_broken_arm_gives_the_problems_it_names(path):
    with pytest.raises(InputError) as caught:
        load_arm(path)
    assert expected(path)
    assert sorted(str(caught.value).splitlines()) == sorted(expected(path))


def test_problems_are_told_in_the_order_of_the_file():
    with pytest.raises(InputError) as caught:
        load_arm(BROKEN / "joints.urdf")
    lines = [problem.line for problem in caught.value.problems]
    assert lines == sorted(lines)


def test_a_branch_that_moves_is_not_serial():
    text = '<robot><link name="a"/><link name="b"/><link name="c"/>'
    for child in "bc":
        text += f'<joint name="to_{child}" type="continuous">'
        text += f'<parent link="a"/><child link="{child}"/></joint>'
    message = "x.urdf:1: to_c: is not serial: moves link 'c' beside the chain to the tip"
    assert message in problem_of(text + "</robot>", tip="b")
    assert "unknown tip link 'bb'; did you mean 'b'?" in problem_of(text + "</robot>", tip="bb")
    assert "say which link is the tip: b, c" in problem_of(text + "</robot>")


def problem_of(text, tip=None):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "x.urdf"
        path.write_text(text, encoding="utf-8")
        with pytest.raises(InputError) as caught:
            load_arm(path, tip)
    return str(caught.value)


def test_a_file_that_is_too_large_is_not_read(monkeypatch):
    monkeypatch.setattr(marked, "LARGEST", 1000)
    assert "is larger than" in problem_of("<robot>" + " " * 2000 + "</robot>")


def test_a_link_out_of_the_folder_is_not_followed(tmp_path):
    (tmp_path / "in").mkdir()
    (tmp_path / "secret.stl").write_bytes((ARMS / "wedge.stl").read_bytes())
    (tmp_path / "in" / "wedge.stl").symlink_to(tmp_path / "secret.stl")
    (tmp_path / "in" / "mixed.urdf").write_bytes((ARMS / "mixed.urdf").read_bytes())
    with pytest.raises(InputError, match="lies outside the folder"):
        load_arm(tmp_path / "in" / "mixed.urdf", tip="tool")


def test_a_link_of_which_faces_would_be_left_out_is_refused(tmp_path):
    """Nobody would be told, and the cover of the link would be too small."""
    obj = "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n"
    text = (ARMS / "mixed.urdf").read_text().replace("wedge.stl", "wedge.obj")
    (tmp_path / "mixed.urdf").write_text(text)
    (tmp_path / "wedge.obj").write_text(obj)
    assert load_arm(tmp_path / "mixed.urdf", tip="tool").links
    (tmp_path / "wedge.obj").write_text(f"{obj}f 1 2\n")
    with pytest.raises(InputError, match=r"fewer than three corners, in line 5.*export it again"):
        load_arm(tmp_path / "mixed.urdf", tip="tool")


def test_a_missing_file_and_an_unknown_crane_are_told():
    with pytest.raises(InputError, match="there is no such file"):
        load_arm(BROKEN / "none.urdf")
    with pytest.raises(InputError, match="unknown crane 'brackenfal'; did you mean 'brackenfall'"):
        shipped_arm("brackenfal")


def test_the_shipped_crane_is_read_as_it_is_written():
    arm = shipped_arm("brackenfall")
    assert (arm.name, arm.base, arm.tip, len(arm.links)) == ("brackenfall", "base", "boot_plate", 9)
    elbow = arm.moving[3]
    assert (elbow.name, elbow.lower, elbow.upper) == ("elbow_pitch", -2.95, 0.05)
    assert (elbow.velocity, elbow.effort) == (0.035, 1500.0)
    boom = arm.links[3].shapes[0]
    assert (boom.kind, boom.size) == ("cylinder", (0.17, 6.9))
    assert boom.link_from_shape[:3, 2] == pytest.approx([1.0, 0.0, 0.0])


def test_meshes_are_scaled_and_axes_made_unit():
    arm = load_arm(ARMS / "mixed.urdf", tip="tool")
    assert arm.moving[0].axis == pytest.approx(np.array([1.0, 2.0, 2.0]) / 3.0)
    assert arm.moving[4].axis == pytest.approx([1.0, 0.0, 0.0])
    (wedge,) = next(link for link in arm.links if link.name == "g").shapes
    assert wedge.triangles.reshape(-1, 3).max(axis=0) == pytest.approx([0.4, 0.1, 0.1])
    assert np.isinf(arm.moving[0].upper)
    assert np.isnan(arm.moving[0].velocity)
