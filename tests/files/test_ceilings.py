"""What is too large, too small or elsewhere is refused in a sentence, before it costs anything."""

import json

import pytest
import trimesh

import reach.files.meshes
import reach.files.toml
from reach.files.meshes import read_mesh
from reach.files.problem import InputError, Problem
from reach.files.scene import load_scene
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
        read_mesh(tmp_path / "box.stl", MeshFile(file="box.stl", unit="m"))


def test_a_mesh_with_corners_beyond_all_measure_is_refused(tmp_path):
    trimesh.creation.box((4e9, 1.0, 1.0)).export(tmp_path / "box.stl")
    with pytest.raises(ValueError, match="is its unit right"):
        read_mesh(tmp_path / "box.stl", MeshFile(file="box.stl", unit="m"))


def test_what_a_mesh_file_names_outside_its_folder_is_not_read(tmp_path):
    folder = tmp_path / "scene"
    folder.mkdir()
    exported = trimesh.creation.box().export(file_type="gltf")
    for name, content in exported.items():
        (folder / name).write_bytes(content)
    sound = json.loads((folder / "model.gltf").read_text())
    assert len(read_mesh(folder / "model.gltf", MeshFile(file="model.gltf", unit="m"))) == 12
    for buffer in sound["buffers"]:
        name = buffer["uri"]
        (tmp_path / name).write_bytes((folder / name).read_bytes())
        buffer["uri"] = f"../{name}"
    (folder / "model.gltf").write_text(json.dumps(sound))
    with pytest.raises(ValueError, match="outside of its folder"):
        read_mesh(folder / "model.gltf", MeshFile(file="model.gltf", unit="m"))


def test_an_obj_whose_colours_lie_elsewhere_is_read_without_them(tmp_path):
    text = trimesh.creation.box().export(file_type="obj")
    (tmp_path / "box.obj").write_text("mtllib ../elsewhere/box.mtl\n" + text)
    assert len(read_mesh(tmp_path / "box.obj", MeshFile(file="box.obj", unit="m"))) == 12


def test_a_truss_of_millions_of_triangles_is_refused():
    sizes = {"bay": 1, "width": 1, "height": 1, "chord": 0.1, "batten": 0.1, "diagonal": 0.1}
    with pytest.raises(ValueError, match="30723072 triangles, 2000000 at most"):
        Truss(bays=10_000, sides=96, **sizes)
    assert Truss(bays=400, **sizes).bays == 400


@pytest.mark.parametrize("value", [10**400, -(10**400), "1e400 m", "1e13 m", 2e12])
def test_a_number_beyond_all_measure_is_no_length(value):
    with pytest.raises(ValueError, match=r"needs a finite length|1e\+12 m at most"):
        quantity(value, "length")


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
