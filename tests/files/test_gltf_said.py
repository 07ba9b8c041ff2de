"""What GLB and GLTF files say of their shape and is not read: refused or told."""

import json
import struct
from pathlib import Path

import pytest
import trimesh

from reach.files.meshes import Mesh, read_mesh
from reach.model.shapes import MeshFile


def read(path: Path) -> Mesh:
    return read_mesh(path, MeshFile(file=path.name, unit="m", up="y"))


def glb(folder: Path, change) -> Path:
    """Write a box as GLB of which the header is changed."""
    data = trimesh.creation.box((1.0, 2.0, 3.0)).export(file_type="glb")
    length = struct.unpack("<I", data[12:16])[0]
    header, rest = json.loads(data[20 : 20 + length]), data[20 + length :]
    header = change(header) or header
    text = json.dumps(header).encode()
    text += b" " * (-len(text) % 4)
    path = folder / "box.glb"
    whole = struct.pack("<4sII", b"glTF", 2, 20 + len(text) + len(rest))
    path.write_bytes(whole + struct.pack("<I4s", len(text), b"JSON") + text + rest)
    return path


def first(header):
    return header["meshes"][0]["primitives"][0]


def test_a_box_is_read_and_nothing_is_said(tmp_path):
    found = read(glb(tmp_path, lambda header: None))
    assert (len(found.triangles), found.left_out) == (12, [])


CHANGES = {
    "needs KHR_draco_mesh_compression": lambda h: h.update(
        extensionsRequired=["KHR_draco_mesh_compression"]
    ),
    "needs EXT_meshopt_compression": lambda h: h.update(
        extensionsRequired=["KHR_materials_unlit", "EXT_meshopt_compression"]
    ),
    "copies by EXT_mesh_gpu_instancing": lambda h: h.update(
        extensionsUsed=["EXT_mesh_gpu_instancing"]
    ),
    "fans of triangles": lambda h: first(h).update(mode=6),
    "shapes of mode 7": lambda h: first(h).update(mode=7),
    "sparse numbers": lambda h: h["accessors"][first(h)["attributes"]["POSITION"]].update(
        sparse={"count": 1}
    ),
    "corners that are scaled": lambda h: h["accessors"][first(h)["attributes"]["POSITION"]].update(
        normalized=True
    ),
    "posed by a skeleton": lambda h: next(n for n in h["nodes"] if "mesh" in n).update(skin=0),
    "mixes shapes": lambda h: h["meshes"][0].update(weights=[0.0, 0.5]),
}


@pytest.mark.parametrize("words", CHANGES)
def test_what_is_said_of_a_shape_and_not_read_is_refused(tmp_path, words):
    """All were read as if it had not been said."""
    with pytest.raises(ValueError, match=words) as refused:
        read(glb(tmp_path, CHANGES[words]))
    assert "; export it" in str(refused.value)


def test_what_is_said_of_looks_alone_is_no_reason(tmp_path):
    def looks(header):
        header["extensionsRequired"] = ["KHR_materials_unlit", "KHR_texture_transform"]
        header["meshes"][0]["weights"] = [0.0]

    assert len(read(glb(tmp_path, looks)).triangles) == 12


def test_scenes_beside_the_one_that_is_shown_are_told(tmp_path):
    found = read(glb(tmp_path, lambda header: header["scenes"].append({"nodes": []})))
    assert found.left_out == ["has another scene: only the one that is shown first is read"]


@pytest.mark.parametrize("junk", [7, "x", None, [[]], {"a": 1}, [7, None]])
@pytest.mark.parametrize(
    "key", ["accessors", "meshes", "nodes", "scenes", "extensionsRequired", "extensionsUsed"]
)
def test_a_header_of_other_kinds_of_records_is_read_or_refused(tmp_path, key, junk):
    path = glb(tmp_path, lambda header: header.update({key: junk}))
    try:
        assert len(read(path).triangles)
    except ValueError as refused:
        assert "export" in str(refused)
