"""STEP files are read as ISO 10303-21 says, or refused with the line; nothing is lost unsaid."""

import subprocess
from pathlib import Path

import numpy as np
import pytest
from step_files import Step

from reach.files.meshes import read_mesh
from reach.files.problem import InputError
from reach.files.scene import load_scene
from reach.files.step_text import check_step
from reach.files.urdf import load_arm
from reach.model.shapes import MeshFile, Shaped
from reach.solids import STEP_ERROR, tessellation_error

pytest.importorskip("cascadio")


def mesh_of(path: Path):
    return read_mesh(path, MeshFile(file=path.name, unit="m", up="z"))


def ends(path: Path) -> list[list[float]]:
    """Return the ends of the box round what a file holds, mm."""
    points = mesh_of(path).triangles.reshape(-1, 3) * 1e3
    return [points.min(axis=0).round(3).tolist(), points.max(axis=0).round(3).tolist()]


def told(step: Step, folder: Path, *others: tuple[str, str]) -> str:
    text = step.text
    for old, new in others:
        assert old in text
        text = text.replace(old, new, 1)
    path = folder / "part.step"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ValueError) as caught:
        mesh_of(path)
    return str(caught.value)


def one_box(**more) -> Step:
    step = Step(**more)
    step.part([step.box()])
    return step


@pytest.mark.parametrize(("unit", "mm"), [("mm", 1.0), ("m", 1e3), ("in", 25.4)])
def test_the_unit_in_a_step_file_is_applied(tmp_path, unit, mm):
    step = Step(unit)
    step.part([step.box((1, 2, 3), (2, 4, 6))])
    low, high = ends(step.write(tmp_path / "part.step"))
    assert low == pytest.approx([mm, 2 * mm, 3 * mm])
    assert high == pytest.approx([2 * mm, 4 * mm, 6 * mm])


def test_units_may_differ_from_part_to_part_and_names_be_of_any_script(tmp_path):
    step = Step("mm")
    inches = step.measured("in")
    bolt = step.part([step.box()], context=inches, name="Bolzen ä 日本")
    whole = step.part(name="whole")
    step.place(whole, bolt, step.moved((100, 0, 0)))
    assert ends(step.write(tmp_path / "part.stp")) == [[100, 0, 0], [125.4, 25.4, 25.4]]


def test_parts_of_assemblies_in_assemblies_are_where_they_are_placed(tmp_path):
    step = Step()
    plate = step.part([step.box((0, 0, 0), (1, 2, 3)), step.box((9, 0, 0), (10, 1, 1))])
    pair, whole = step.part(name="pair"), step.part(name="whole")
    step.place(pair, plate, step.moved((0, 50, 0)))
    step.place(pair, plate, step.moved((0, 0, 0), (1, 0, 0), (0, 1, 0)), name="2")
    step.place(whole, pair, step.moved((0, 0, 100)))
    path = step.write(tmp_path / "part.step")
    # Turned, x runs along y, y along z and z along x.
    assert ends(path) == [[0, 0, 100], [10, 52, 103]]
    assert len(mesh_of(path).triangles) == 4 * 12


def test_a_shape_shown_again_is_turned_but_never_mirrored_or_scaled_unsaid(tmp_path):
    """A mirrored one was read as a turned one, one of twice the size as of half of it."""
    step = Step()
    turn = step.operator((0, 1, 0), (0, 0, 1), (1, 0, 0))
    step.part([step.shown_again(step.box((0, 0, 0), (1, 2, 3)), turn)])
    assert ends(step.write(tmp_path / "part.step")) == [[0, 0, 0], [3, 1, 2]]
    for more in ({"x": (-1, 0, 0)}, {"scale": "2."}):
        step = Step()
        step.part([step.shown_again(step.box(), step.operator(**more))])
        assert "places a shape mirrored or scaled, which is not read so, in line" in told(
            step, tmp_path
        )


def test_a_part_placed_mirrored_or_nowhere_is_refused(tmp_path):
    step = Step()
    part, whole = step.part([step.box()]), step.part([step.box((5, 5, 5), (6, 6, 6))])
    step.place(whole, part, step.operator(x=(-1, 0, 0)))
    assert "mirrored or scaled" in told(step, tmp_path)
    step = Step()
    part, whole = step.part([step.box()]), step.part([step.box((5, 5, 5), (6, 6, 6))])
    step.inside(whole, part)
    assert "has a part in an assembly that is placed nowhere, in line" in told(step, tmp_path)


def test_a_part_in_another_file_is_refused(tmp_path):
    step = Step()
    part, whole = step.part(), step.part([step.box()])
    step.place(whole, part, step.moved())
    step.add("DOCUMENT_FILE('other.stp','','',$,'',$)")
    assert "has a part whose shape is in another file, in line" in told(step, tmp_path)
    other = ("ENDSEC;\nDATA;", "ENDSEC;\nREFERENCE;\n#900=<other.stp#a>;\nENDSEC;\nDATA;")
    assert "names parts of other files" in told(one_box(), tmp_path, other)


@pytest.mark.parametrize(
    "shape",
    ["BLOCK('',{axes},1.,2.,3.)", "OPEN_SHELL('',({faces}))", "GEOMETRIC_SET('',({faces}))"],
)
def test_a_shape_that_would_be_passed_over_is_refused(tmp_path, shape):
    step = Step()
    more = shape.format(axes=step.axes(), faces=",".join(step.box_faces((3, 0, 0), (4, 1, 1))))
    step.part([step.box(), step.add(more)])
    kind = shape.split("(")[0]
    assert f"has a shape ({kind}) that is not read, in line" in told(step, tmp_path)


def test_a_shape_that_no_part_has_is_told_and_surfaces_without_a_body_are_read(tmp_path):
    step = one_box()
    step.representation([step.box((9, 9, 9), (10, 10, 10))])
    mesh = mesh_of(step.write(tmp_path / "part.step"))
    assert mesh.left_out == ["has a shape that is of no part: left out"]
    assert len(mesh.triangles) == 12
    step = Step()
    shell = step.add(f"OPEN_SHELL('',({','.join(step.box_faces((5, 0, 0), (6, 1, 1))[:2])}))")
    step.part([step.box(), step.add(f"SHELL_BASED_SURFACE_MODEL('',({shell}))")])
    assert len(mesh_of(step.write(tmp_path / "part.step")).triangles) == 12 + 4


def test_a_step_file_without_a_unit_of_length_is_refused(tmp_path):
    """It was taken to be in millimetres."""
    no_list = ("GLOBAL_UNIT_ASSIGNED_CONTEXT((#4,", "GLOBAL_UNIT_ASSIGNED_CONTEXT((")
    assert "has a shape without a unit of length, in line" in told(one_box(), tmp_path, no_list)
    odd = told(one_box(), tmp_path, (".MILLI.", ".FURLONG."))
    assert "has a unit of length that is not read, in line" in odd


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("END-ISO-10303-21;", "", "is cut short"),
        ("ISO-10303-21;\nHEADER", "HEADER", "is no STEP file"),
        ("(1.0,1.0,1.0)", "(1.0,$,1.0)", "without plain numbers, in line"),
        ("(1.0,1.0,1.0)", "(1,0,1,0,1,0)", "without plain numbers, in line"),
        ("PLANE('',#", "PLANE('',#9", "which is not there, in line"),
        ("PLANE(", "PLAIN(", "has 6 faces, of which"),
        ("FACE_OUTER_BOUND('',", "FACE_OUTER_BOUND(", "has 6 faces, of which"),
        ("ENDSEC;\nEND", "#7=DIRECTION('',(0.,0.,1.));\nENDSEC;\nEND", "gives #7 twice, in line"),
        ("SHAPE_DEFINITION_REPRESENTATION", "SHAPE", "has no part with a shape"),
        ("MANIFOLD_SOLID_BREP('',", "MANIFOLD_SOLID_BREP('')/*", "cannot be read"),
        ("APPLICATION_CONTEXT('", "APPLICATION_CONTEXT(('", "cannot be read as STEP"),
    ],
)
def test_a_spoilt_step_file_is_refused_for_a_reason(tmp_path, capfd, old, new, words):
    """Faces that could not be read were left out, a point with two numbers ended the program."""
    message = told(one_box(), tmp_path, (old, new))
    assert words in message
    assert "export it" in message
    assert "".join(capfd.readouterr()) == ""


def test_a_point_with_two_numbers_does_not_end_the_program(tmp_path):
    message = told(one_box(), tmp_path, ("(1.0,1.0,1.0)", "(1.0,1.0)"))
    assert "cannot be read as STEP: its reader gives up" in message


def test_a_step_file_that_takes_too_long_is_told(tmp_path, monkeypatch):
    def late(*_, **more):
        raise subprocess.TimeoutExpired("reader", more["timeout"])

    monkeypatch.setattr(subprocess, "run", late)
    assert "takes longer than 10 min to read" in told(one_box(), tmp_path)


def test_remarks_and_texts_in_a_step_file_say_nothing_of_its_shape():
    step = one_box()
    plain = check_step(step.text)
    odd = step.text.replace("PLANE('',", "/* #999; PLANE( */ PLANE('it''s #998;\n)(',")
    assert check_step(odd) == plain == (6, [])


def test_what_the_facets_of_a_step_file_leave_out_is_bounded_and_counts(tmp_path):
    """A ball of 1 m was faceted to 0.01 mm, which took minutes, and what was lost did not count."""
    step = Step("m")
    step.part([step.ball(1.0)])
    triangles = mesh_of(step.write(tmp_path / "ball.step")).triangles
    parts = np.random.default_rng(1).dirichlet([1.0, 1.0, 1.0], 50)
    beside = np.abs(np.linalg.norm(np.einsum("sk,nki->nsi", parts, triangles), axis=-1) - 1.0)
    assert 1e-4 < beside.max() < STEP_ERROR
    mesh = {"file": "ball.step", "unit": "m", "up": "z"}
    assert tessellation_error(Shaped(mesh=mesh)) == STEP_ERROR
    assert tessellation_error(Shaped(mesh=mesh | {"file": "ball.stl"})) == 0.0


def test_a_step_file_of_a_link_is_refused(tmp_path):
    """Its facets lie inside its surface, and nothing of an arm counts what they leave out."""
    one_box().write(tmp_path / "part.step")
    (tmp_path / "arm.urdf").write_text(
        '<robot name="a"><link name="b"/><link name="t"><collision><geometry>\n'
        '<mesh filename="part.step"/></geometry></collision></link>\n'
        '<joint name="j" type="continuous"><parent link="b"/><child link="t"/></joint></robot>'
    )
    with pytest.raises(InputError, match=r"is a STEP file, which is not read for a link; export"):
        load_arm(tmp_path / "arm.urdf")


def test_a_scene_tells_in_which_solid_and_line_a_step_file_is_wrong(scene_file):
    folder = scene_file('[solids.part]\nmesh = { file = "part.step", unit = "m", up = "z" }\n')
    (folder / "part.step").write_text(one_box().text.replace(".MILLI.", ".FURLONG."))
    with pytest.raises(
        InputError, match=r"scene.toml:\d+: solids.part.mesh.file: part.step: has a"
    ):
        load_scene(folder)
