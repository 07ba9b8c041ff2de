import importlib.util
import os
from pathlib import Path

import numpy as np
import pytest
import trimesh

from reach.files.meshes import oddities, read_mesh
from reach.files.problem import InputError
from reach.files.scene import load_scene
from reach.model.shapes import MeshFile
from reach.solids import convex_parts

_HERE = Path(__file__).parents[2].parent / "shared/data/meshes"
FOREIGN = Path(os.environ.get("REACH_FOREIGN_MESHES", _HERE))
"""Meshes nobody here made; not part of the project."""

needs_foreign = pytest.mark.skipif(
    not FOREIGN.is_dir(), reason=f"the folder of foreign meshes is not there: {FOREIGN}"
)


def triangles_of(path: Path, declared: MeshFile) -> np.ndarray:
    return read_mesh(path, declared).triangles


def declared(path: Path, unit: str = "m", up: str = "z") -> MeshFile:
    return MeshFile(file=path.name, unit=unit, up=up)


def box_file(folder: Path, kind: str, size=(1.0, 2.0, 3.0)) -> Path:
    path = folder / f"box.{kind}"
    trimesh.creation.box(size).export(path)
    return path


def extent(triangles: np.ndarray) -> list[float]:
    return list(np.ptp(triangles.reshape(-1, 3), axis=0).round(9))


@pytest.mark.parametrize("kind", ["stl", "obj", "ply", "glb"])
def test_each_format_gives_the_same_box(tmp_path, kind):
    path = box_file(tmp_path, kind)
    triangles = triangles_of(path, declared(path))
    assert triangles.shape == (12, 3, 3)
    assert extent(triangles) == [1, 2, 3]


def test_the_declared_unit_and_up_axis_are_applied(tmp_path):
    path = box_file(tmp_path, "stl")
    assert extent(triangles_of(path, declared(path, "in"))) == [0.0254, 0.0508, 0.0762]
    turned = triangles_of(path, declared(path, up="y"))
    assert extent(turned) == [1, 3, 2]
    surface = trimesh.Trimesh(**trimesh.triangles.to_kwargs(turned))
    assert surface.volume == pytest.approx(6.0)


def test_parts_placed_in_a_file_are_placed_here(tmp_path):
    scene = trimesh.Scene()
    for x in (0.0, 5.0):
        move = trimesh.transformations.translation_matrix([x, 0, 0])
        scene.add_geometry(trimesh.creation.box((1, 1, 1)), transform=move)
    path = tmp_path / "two.glb"
    path.write_bytes(scene.export(file_type="glb"))
    assert extent(triangles_of(path, declared(path))) == [6, 1, 1]


@pytest.mark.parametrize("kind", ["stl", "ply", "glb"])
@pytest.mark.parametrize("share", [0.02, 0.5, 0.97])
def test_a_mesh_cut_short_is_refused(tmp_path, kind, share):
    path = box_file(tmp_path, kind)
    content = path.read_bytes()
    path.write_bytes(content[: int(share * len(content))])
    with pytest.raises(ValueError, match=r"cut short|export it again"):
        read_mesh(path, declared(path))


def test_a_corner_that_is_not_a_number_is_refused(tmp_path):
    box = trimesh.creation.box((1, 1, 1))
    vertices = box.vertices.copy()
    vertices[0, 0] = np.inf
    path = tmp_path / "bad.ply"
    with np.errstate(invalid="ignore"):
        trimesh.Trimesh(vertices, box.faces, process=False).export(path)
        with pytest.raises(ValueError, match=r"not finite numbers in . of 12 triangles"):
            read_mesh(path, declared(path))


def test_triangles_without_area_are_left_out(tmp_path):
    path = tmp_path / "sliver.obj"
    path.write_text("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\nf 1 2 2\n")
    assert len(triangles_of(path, declared(path))) == 1
    path.write_text("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 2\n")
    with pytest.raises(ValueError, match="no face with an area"):
        read_mesh(path, declared(path))


def test_step_without_its_extra_says_what_to_install(tmp_path, monkeypatch):
    path = tmp_path / "part.step"
    path.write_text("ISO-10303-21;")
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    with pytest.raises(ValueError, match=r"pip install worksite-reach\[step\]"):
        read_mesh(path, declared(path))


def test_step_is_read_in_metres_whatever_its_own_unit(tmp_path):
    pytest.importorskip("cascadio")
    path = tmp_path / "part.step"
    path.write_text("ISO-10303-21;")
    with pytest.raises(ValueError, match="write unit = 'm', found 'mm'"):
        read_mesh(path, declared(path, "mm"))


def box(size: float) -> np.ndarray:
    return np.array(trimesh.creation.box((size,) * 3).triangles)


@pytest.mark.parametrize(
    ("size", "others", "words"),
    [
        (1e-4, [], "only 0.00017 m across"),
        (1e4, [], "17320.508 m across"),
        (500.0, [10.0], "87 times everything else"),
        (1e-2, [40.0], "everything else is 40 m"),
    ],
)
def test_a_suspicious_size_is_pointed_out(size, others, words):
    (note,) = oddities(box(size), others)
    assert words in note
    assert note.endswith("is its unit right?")


def test_an_ordinary_closed_mesh_has_no_notes():
    assert oddities(box(1.0), [10.0, 30.0]) == []


def test_a_scene_reads_its_meshes_and_warns_of_odd_ones(scene_file):
    folder = scene_file(
        "[solids.beam]\nbox = [10, 1, 1]\n"
        '[solids.part]\nmesh = { file = "box.stl", unit = "m", up = "z" }\n'
        '[hazards.h]\nkind = "hot"\nmesh = { file = "box.stl", unit = "mm", up = "z" }\n'
    )
    box_file(folder, "stl", (500, 500, 500))
    loaded = load_scene(folder)
    assert set(loaded.meshes) == {"part", "h"}
    assert extent(loaded.meshes["h"]) == [0.5, 0.5, 0.5]
    assert "site/box.stl" in loaded.files
    (warning,) = loaded.warnings
    assert warning.startswith("site/scene.toml:5: solids.part.mesh: is 866.025 m across")
    assert len(convex_parts(loaded.scene.solids["part"], loaded.meshes["part"])) == 1


@pytest.mark.parametrize("kind", ["stl", "obj", "ply", "glb", "step"])
def test_unit_and_up_axis_are_asked_for_and_never_guessed(scene_file, kind):
    """What was left out counted as z up, also of a GLB file, which has y up by its standard."""
    folder = scene_file(f'[solids.part]\nmesh = {{ file = "box.{kind}" }}\n')
    with pytest.raises(InputError) as caught:
        load_scene(folder)
    told = [one.message for one in caught.value.problems]
    assert told == [
        "key 'unit' is missing: write 'm', 'mm', 'cm', 'in' or 'ft'",
        "key 'up' is missing: write 'z' or 'y'",
    ]


def test_a_mesh_that_is_only_named_is_told_what_belongs_to_it(scene_file):
    folder = scene_file('[solids.part]\nmesh = "box.stl"\n')
    with pytest.raises(InputError, match=r"needs a table with file, unit, up, found 'box.stl'"):
        load_scene(folder)


@pytest.mark.parametrize(
    ("unit", "up", "is_told"), [("m", "y", False), ("m", "z", True), ("mm", "y", True)]
)
def test_a_glb_file_declared_otherwise_than_its_standard_is_pointed_out(
    scene_file, unit, up, is_told
):
    folder = scene_file(
        f'[solids.part]\nmesh = {{ file = "box.glb", unit = "{unit}", up = "{up}" }}\n'
    )
    box_file(folder, "glb", (5.0, 5.0, 5.0))
    notes = [one for one in load_scene(folder).warnings if "standard" in one]
    assert bool(notes) is is_told
    if is_told:
        assert (
            f"is read in {unit} with {up} up, as declared; GLB files are in m with y up" in notes[0]
        )


# What is in the folder of foreign meshes and cannot be used, with the reason and what to do.
NO_FACES = "holds no faces; export it with its surface as triangles"
UNUSABLE = {"empty.stl": NO_FACES, "empty_nodes.glb": NO_FACES}
NOTED = {
    "featuretype.STL": ["close it where it was made"],
    "multibody.stl": ["face against their neighbours", "turned inside out"],
    "notenoughindices.obj": [
        "in line 9: left out",
        "close it where it was made",
        "is its unit right?",
    ],
    "soup.stl": ["close it where it was made"],
}
"""What is told of those that can be used; of GLB files that z up is not their standard."""


def foreign_files() -> list[Path]:
    files = sorted(FOREIGN.iterdir()) if FOREIGN.is_dir() else []
    return [path for path in files if path.suffix != ".md"]


@needs_foreign
def test_foreign_meshes_are_read_or_refused_for_a_reason(scene_file):
    folder = scene_file("")
    for path in foreign_files():
        (folder / path.name).write_bytes(path.read_bytes())
        scene_file(f'[solids.part]\nmesh = {{ file = "{path.name}", unit = "m", up = "z" }}')
        if path.name in UNUSABLE:
            with pytest.raises(InputError, match=UNUSABLE[path.name]):
                load_scene(folder)
        else:
            loaded = load_scene(folder)
            triangles = loaded.meshes["part"]
            assert len(triangles)
            assert np.isfinite(triangles).all()
            wanted = NOTED.get(path.name, [])
            wanted = wanted + (["GLB files are in m with y up"] if path.suffix == ".glb" else [])
            assert len(loaded.warnings) == len(wanted), path.name
            assert all(w in note for w, note in zip(wanted, loaded.warnings, strict=True))


@needs_foreign
def test_a_part_in_step_and_in_inches_has_one_size():
    pytest.importorskip("cascadio")
    step, stl = FOREIGN / "featuretype.STEP", FOREIGN / "featuretype.STL"
    from_step = triangles_of(step, declared(step))
    from_stl = triangles_of(stl, declared(stl, "in"))
    assert extent(from_step) == pytest.approx(extent(from_stl), abs=1e-6)
