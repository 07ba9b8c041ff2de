"""What is too large, too small or elsewhere is refused in a sentence, before it costs anything."""

import json
import os

import pytest
import trimesh

import reach.files.meshes
import reach.files.toml
from reach.files.meshes import read_mesh
from reach.files.problem import InputError, Problem
from reach.files.runs import load_runs
from reach.files.scene import load_scene
from reach.files.toml import read_text
from reach.model.procedure import Step
from reach.model.shapes import MeshFile, Truss
from reach.units import quantity


def test_a_text_file_beyond_the_ceiling_is_not_read(tmp_path, monkeypatch):
    monkeypatch.setattr(reach.files.toml, "LARGEST", 100)
    (tmp_path / "scene.toml").write_text("format = 1\n" + "#" * 200)
    with pytest.raises(InputError, match=r"scene\.toml: has 0 MB, 0 MB at most are read"):
        load_scene(tmp_path)


def test_a_mesh_file_beyond_the_ceiling_is_not_read(tmp_path, monkeypatch):
    monkeypatch.setattr(reach.files.meshes, "LARGEST_FILE", 100)
    trimesh.creation.box().export(tmp_path / "box.stl")
    with pytest.raises(ValueError, match="export it coarser"):
        read_mesh(tmp_path / "box.stl", MeshFile(file="box.stl", unit="m", up="z"))


def test_a_mesh_with_corners_beyond_all_measure_is_refused(tmp_path):
    trimesh.creation.box((4e9, 1.0, 1.0)).export(tmp_path / "box.stl")
    with pytest.raises(ValueError, match="is its unit right"):
        read_mesh(tmp_path / "box.stl", MeshFile(file="box.stl", unit="m", up="z"))


def test_what_a_mesh_file_names_outside_its_folder_is_not_read(tmp_path):
    folder = tmp_path / "scene"
    folder.mkdir()
    exported = trimesh.creation.box().export(file_type="gltf")
    for name, content in exported.items():
        (folder / name).write_bytes(content)
    sound = json.loads((folder / "model.gltf").read_text())
    read = read_mesh(folder / "model.gltf", MeshFile(file="model.gltf", unit="m", up="z"))
    assert len(read.triangles) == 12
    for buffer in sound["buffers"]:
        name = buffer["uri"]
        (tmp_path / name).write_bytes((folder / name).read_bytes())
        buffer["uri"] = f"../{name}"
    (folder / "model.gltf").write_text(json.dumps(sound))
    with pytest.raises(ValueError, match="outside of its folder"):
        read_mesh(folder / "model.gltf", MeshFile(file="model.gltf", unit="m", up="z"))


def test_an_obj_whose_colours_lie_elsewhere_is_read_without_them(tmp_path):
    text = trimesh.creation.box().export(file_type="obj")
    (tmp_path / "box.obj").write_text("mtllib ../elsewhere/box.mtl\n" + text)
    read = read_mesh(tmp_path / "box.obj", MeshFile(file="box.obj", unit="m", up="z"))
    assert len(read.triangles) == 12


def test_a_truss_of_millions_of_triangles_is_refused():
    sizes = {"bay": 1, "width": 1, "height": 1, "chord": 0.1, "batten": 0.1, "diagonal": 0.1}
    with pytest.raises(ValueError, match="30723072 triangles, 2000000 at most"):
        Truss(bays=10_000, sides=96, **sizes)
    assert Truss(bays=400, **sizes).bays == 400


@pytest.mark.parametrize("value", [10**400, -(10**400), "1e400 m", "1e13 m", 2e12])
def test_a_number_beyond_all_measure_is_no_length(value):
    with pytest.raises(ValueError, match=r"needs a finite length|1e\+12 m at most"):
        quantity(value, "length")


@pytest.mark.parametrize("value", [10**400, -(10**400), "1e400 rad", 2e12])
def test_a_number_beyond_all_measure_is_no_setting_of_a_joint(value):
    with pytest.raises(ValueError, match=r"needs a finite angle|1e\+12 rad at most"):
        Step(name="1", lane="W1", setting={"pitch": value})


def test_a_part_thinner_than_a_micrometre_is_a_slip_of_the_pen():
    with pytest.raises(ValueError, match="greater than or equal to"):
        Truss(bays=1, bay=1, width=1e-308, height=1, chord=0.1, batten=0.1)


def test_of_a_long_word_in_a_message_both_ends_are_told():
    problem = Problem("a.toml", "x", 1, f"unknown name '{'y' * 5000}'; there are none")
    assert len(str(problem)) < 200
    assert str(problem).endswith("yyy'; there are none")


def test_an_entry_that_lacks_what_it_must_have_does_not_hide_other_problems(tmp_path):
    (tmp_path / "scene.toml").write_text(
        'format = 1\ntitle = "t"\nuse = ["shipped:suits", "shipped:sizes"]\n'
        '[workers.W1]\nsize = "medium"\n'
        "[payloads.P]\nfixed_by = ['G']\n[payloads.P.paths.a]\nthrough = ['x', 'y']\n"
        "[guides.G]\nat = [0, 0, 0]\n"
    )
    with pytest.raises(InputError) as caught:
        load_scene(tmp_path)
    told = str(caught.value)
    for words in ("key 'suit' is missing", "key 'poses' is missing", "key 'payload' is missing"):
        assert words in told


def test_a_file_name_that_is_too_long_for_any_file_is_a_problem_with_its_place(tmp_path):
    told = refused(tmp_path, f'procedure = "{"x" * 5000}"')
    assert "scene.toml:3: procedure: cannot be looked for: File name too long" in told


JOINT = 'name = "clocking", turn = "z", to = "330 deg", numbered = true'


def refused(tmp_path, text):
    (tmp_path / "scene.toml").write_text(f'format = 1\ntitle = "t"\n{text}')
    with pytest.raises(InputError) as caught:
        load_scene(tmp_path)
    return str(caught.value)


def test_a_joint_with_millions_of_detents_is_refused(tmp_path):
    text = f'[restraints.R]\nkind = "foot restraint"\nchain = [{{ {JOINT}, step = "1e-7 deg" }}]\n'
    assert "step makes more than 10000 detents" in refused(tmp_path, text)


def test_a_rail_round_the_planet_is_refused(tmp_path):
    text = "[handrails.RA]\nfrom = [0, 0, 0]\nto = [4e7, 0, 0]\n"
    assert "handrails.RA: is 40000000 m long, 1000 m at most" in refused(tmp_path, text)


def test_rails_that_are_too_long_together_are_refused(tmp_path):
    text = "".join(
        f"[handrails.R{i}]\nfrom = [0, {i}, 0]\nto = [999, {i}, 0]\n" for i in range(101)
    )
    told = refused(tmp_path, text)
    assert "R100: makes the handrails of the scene longer than 100 km in all" in told


def test_trusses_that_are_too_many_together_are_refused_before_they_are_made(tmp_path):
    truss = "bays = 10000, bay = 1, width = 1, height = 1, chord = 0.1, batten = 0.1, sides = 12"
    text = "".join(f"[solids.T{i}]\ntruss = {{ {truss} }}\n" for i in range(22))
    assert "gives the scene more than 20 million triangles" in refused(tmp_path, text)


def test_a_plate_with_holes_without_end_is_refused(tmp_path):
    holes = ", ".join(f"[{i}, 0, 0.1]" for i in range(1001))
    text = f"[solids.P]\nplate = {{ size = [9999, 1], thickness = 0.1, holes = [{holes}] }}\n"
    assert "too many entries, 1000 are right" in refused(tmp_path, text)


def test_a_part_that_a_mesh_file_shows_too_often_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(reach.files.meshes, "MOST_TRIANGLES", 100)
    scene, box = trimesh.Scene(), trimesh.creation.box()
    for i in range(9):
        move = trimesh.transformations.translation_matrix((i, 0, 0))
        scene.add_geometry(box, node_name=f"n{i}", geom_name="box", transform=move)
    scene.export(tmp_path / "boxes.glb")
    with pytest.raises(ValueError, match="108 triangles, copies counted, 100 at most"):
        read_mesh(tmp_path / "boxes.glb", MeshFile(file="boxes.glb", unit="m", up="z"))


def test_a_pipe_among_the_inputs_is_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / "rails.csv")
    told = refused(tmp_path, '[tables]\nhandrails = "rails.csv"\n')
    assert "tables.handrails: is no plain file: 'rails.csv'" in told
    with pytest.raises(InputError, match="is no plain file"):
        read_text(tmp_path / "rails.csv", "rails.csv")


def test_a_scene_file_that_is_a_link_elsewhere_is_refused(tmp_path):
    (tmp_path / "other").mkdir()
    (tmp_path / "here").mkdir()
    (tmp_path / "other" / "scene.toml").write_text("format = 1\n")
    (tmp_path / "here" / "scene.toml").symlink_to(tmp_path / "other" / "scene.toml")
    with pytest.raises(InputError, match=r"is a link to .*name that file itself"):
        load_scene(tmp_path / "here")


def test_what_is_no_list_of_a_batch_is_not_read_to_its_end(tmp_path, monkeypatch):
    monkeypatch.setattr(reach.files.toml, "LARGEST", 100)
    (tmp_path / "list.toml").write_text("#" * 200)
    with pytest.raises(InputError, match="0 MB at most are read"):
        load_runs(str(tmp_path / "list.toml"))


@pytest.mark.parametrize(("x", "is_told"), [(1e6, False), (-1.1e6, True)])
def test_what_lies_too_far_out_for_its_bounds_is_pointed_out(scene_file, x, is_told):
    folder = scene_file(
        f"[frames.away]\nat = [0, {x}, 0]\n[solids.box]\nbox = [1, 1, 1]\nin = 'away'\n"
    )
    notes = [one for one in load_scene(folder).warnings if "km from an origin" in one]
    assert len(notes) == is_told
    assert all("frames.away" in one and "take an origin that is nearer" in one for one in notes)
