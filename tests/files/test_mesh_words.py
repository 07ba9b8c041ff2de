"""Meshes in words and numbers, read as their formats define them; what is no number is refused."""

import json
import struct
import time
from pathlib import Path

import numpy as np
import pytest

from reach.files.meshes import read_mesh
from reach.files.outlines import cut
from reach.model.shapes import MeshFile

ONE, TWO = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0]]), np.array([[5, 0, 0], [6, 0, 0], [5, 1, 7]])


def mesh(folder: Path, kind: str, content: str | bytes) -> np.ndarray:
    path = folder / f"part.{kind}"
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return read_mesh(path, MeshFile(file=path.name, unit="m", up="z")).triangles


def refused(folder: Path, kind: str, content: str | bytes) -> str:
    with pytest.raises(ValueError) as caught:
        mesh(folder, kind, content)
    return str(caught.value)


def facet(corners) -> str:
    points = "\n".join("vertex " + " ".join(map(str, one)) for one in corners)
    return f"facet normal 0 0 1\nouter loop\n{points}\nendloop\nendfacet\n"


def solid(*facets, name="a") -> str:
    return f"solid {name}\n{''.join(map(facet, facets))}endsolid {name}\n"


@pytest.mark.parametrize("name", ["a", "", "solidworks", "my vertex 7 7 7", "endsolid"])
@pytest.mark.parametrize("change", [str, str.upper, lambda t: t.replace("\n", "\r\n")])
def test_an_stl_file_in_words_has_the_triangles_of_all_its_solids(tmp_path, name, change):
    text = change(solid(ONE, name=name) + solid(TWO, name=name))
    assert mesh(tmp_path, "stl", text).tolist() == [ONE.tolist(), TWO.tolist()]
    assert len(mesh(tmp_path, "stl", "\ufeff" + text)) == 2
    assert len(mesh(tmp_path, "stl", text.replace("\r\n", "\n").replace("\n", "\r"))) == 2


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (solid(ONE) + solid(TWO).replace("endsolid a\n", ""), "no 'endsolid' for line 10;"),
        (solid(ONE, [*TWO, (5, 1, 0)]), "'vertex' where 'endloop' belongs, in line 14"),
        (solid(ONE, [*ONE, (5, 1, 0)], TWO[:2]), "'vertex' where 'endloop' belongs, in line 14"),
        (solid(ONE, [(*one, 1, 2, 3) for one in TWO]), "'1' where 'vertex' belongs, in line 11"),
        (solid(ONE, [(5, "0x5", 0), *TWO[1:]]), "'0x5' where a number belongs, in line 11"),
        (solid(ONE, [(5, "1_0", 0), *TWO[1:]]), "'1_0' where a number belongs, in line 11"),
        (solid(ONE) + "thanks\n", "has words outside of a solid, in line 10"),
    ],
)
def test_an_stl_file_in_words_that_is_spoilt_is_refused_with_its_line(tmp_path, text, words):
    """A last solid cut off was left out, and corners of facets were made up into others."""
    assert words in refused(tmp_path, "stl", text)


@pytest.mark.parametrize("header", [b"part", b"solid facet normal"])
def test_an_stl_file_in_numbers_has_as_many_triangles_as_it_says(tmp_path, header):
    rows = b"".join(
        struct.pack("<12fH", 0, 0, 1, *np.ravel(one).astype(float), 0) for one in (ONE, TWO)
    )
    head = header.ljust(80, b" ")
    content = head + struct.pack("<I", 2) + rows
    assert mesh(tmp_path, "stl", content).tolist() == [ONE.tolist(), TWO.tolist()]
    short = refused(tmp_path, "stl", head + struct.pack("<I", 3) + rows)
    assert "is cut short: 3 triangles announced, 2 there" in short
    long = refused(tmp_path, "stl", head + struct.pack("<I", 1) + rows)
    assert "is longer than it says: 1 triangles announced, 2 there" in long


def ply(faces, corners=((0, 0, 0), (1, 0, 0), (0, 1, 0), (0, 0, 1)), kind="int") -> str:
    rows = [*corners, *faces]
    axes = "".join(f"property float {axis}\n" for axis in "xyz")
    return (
        f"ply\nformat ascii 1.0\nelement vertex {len(corners)}\n{axes}"
        f"element face {len(faces)}\nproperty list uchar {kind} vertex_indices\nend_header\n"
    ) + "".join(" ".join(map(str, row)) + "\n" for row in rows)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (ply([(3, 0, 1.5, 2)]), "'1.5' where the number of a corner belongs, in row 1 of 1"),
        (ply([(3, 0, "1e0", 2)]), "'1e0' where the number of a corner belongs"),
        (ply([(3, 0, 257, 2)], kind="uchar"), "'257' where the number of a corner belongs"),
        (ply([(3, 0, 1.5, 2)], kind="float"), "in numbers of kind 'float', which are not whole"),
        (ply([(3, 0, 1, 2)], [(0, 0, "1_0")] * 4), "'1_0' where a number belongs, in row 1 of 4"),
        (ply([(3, 0, 1, 2)], [(0, "x", 0)] * 4), "'x' where a number belongs, in row 1 of 4"),
        (ply([(3, 0, 1, 2)]).replace("float z", "float w"), "has corners without z"),
        (ply([(3, 0, 1, 2)]).replace("float z", "list uchar float z"), "has corners without z"),
        (ply([(3, 0, 1, 2)]).replace("vertex_indices", "corners"), "without a list 'vertex_ind"),
    ],
)
def test_numbers_of_a_ply_file_that_are_none_are_refused(tmp_path, text, words):
    """Corner 1.5 was corner 1, and number 257 of a kind that ends at 255 was 1."""
    assert words in refused(tmp_path, "ply", text)


def test_a_ply_file_with_more_to_say_of_its_corners_and_faces_is_read(tmp_path):
    """One face with two lists was refused in words of Python."""
    text = (
        "ply\nformat ascii 1.0\ncomment x\nobj_info y\nelement vertex 3\nproperty float nx\n"
        "property double x\nproperty uchar red\nproperty double y\nproperty double z\n"
        "element edge 1\nproperty int a\nelement face 1\nproperty uchar flag\n"
        "property list uchar int vertex_index\nproperty list uchar float texcoord\nend_header\n"
        "9 0 1 0 0\n9 1 1 0 0\n9 0 1 1 0\n4\n7 3 0 1 2 6 .1 .2 .3 .4 .5 .6\n"
    )
    assert mesh(tmp_path, "ply", text).tolist() == [ONE.tolist()]


@pytest.mark.parametrize(("end", "how"), [("<", "little"), (">", "big")])
def test_a_ply_file_in_numbers_is_read_in_either_order_of_bytes(tmp_path, end, how):
    text = ply([(3, 0, 1, 2), (3, 1, 3, 2)]).replace("ascii", f"binary_{how}_endian")
    head = text[: text.index("end_header\n") + 11].encode()
    corners = ((0, 0, 0), (1, 0, 0), (0, 1, 0), (0, 0, 1))
    rows = b"".join(struct.pack(f"{end}3f", *one) for one in corners)
    rows += b"".join(struct.pack(f"{end}B3i", 3, *one) for one in ((0, 1, 2), (1, 3, 2)))
    assert mesh(tmp_path, "ply", head + rows).tolist() == [
        ONE.tolist(),
        [[1, 0, 0], [0, 0, 1], [0, 1, 0]],
    ]
    whole = head.replace(b"list uchar int", b"list uchar float")
    assert "are not whole" in refused(tmp_path, "ply", whole + rows)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("v 0 0 0\nv 1_0 0 0\nv 0 1 0\nf 1 2 3\n", "without three numbers, in line 2"),
        ("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 0_3\n", "corners that are no numbers, in line 4"),
        ("v 0 0 0\nv 1 0 0\nv 0 1 0\nF 1 2 3\nf 1 2 3\n", "has 'F' in capitals, in line 4"),
    ],
)
def test_words_of_an_obj_file_that_are_none_are_refused(tmp_path, text, words):
    assert words in refused(tmp_path, "obj", text)


def test_four_corners_of_which_three_are_in_a_line_are_cut_at_once():
    """Each such face of a large OBJ file took half a millisecond."""
    a, b, c = np.random.default_rng(1).normal(size=(3, 20_000, 3))
    for turn in range(4):
        quads = np.roll(np.stack([a, (a + b) / 2, b, c], axis=1), turn, axis=1)
        begin = time.perf_counter()
        corners, warped = cut(quads)
        assert time.perf_counter() - begin < 4.0
        found = quads[np.arange(len(quads))[:, None, None], corners]
        arms = found[:, :, 1:] - found[:, :, :1]
        areas = np.cross(arms[:, :, 0], arms[:, :, 1])
        assert areas.sum(axis=1) == pytest.approx(np.cross(b - a, c - a), abs=1e-9)
        assert (np.linalg.norm(areas, axis=-1) > 1e-9).all()
        assert not warped.any()


@pytest.mark.parametrize("name", ["extensionsRequired", "extensionsUsed"])
def test_extensions_of_a_gltf_file_that_are_no_list_are_refused(tmp_path, name):
    """What a file needs was passed over where it was given as text."""
    text = json.dumps({"asset": {"version": "2.0"}, name: "EXT_meshopt_compression"})
    assert f"gives {name} as 'EXT_meshopt_compression', not as a list" in refused(
        tmp_path, "gltf", text
    )


def glb(**more) -> bytes:
    """Return one triangle with 3 bytes of filling after each corner number of a strided view."""
    corners = b"".join(struct.pack("<4f", *one, 9.0) for one in ONE.astype(float))
    body = b"\0" * 4 + corners + struct.pack("<3B", 2, 0, 1) + b"\0"
    view = {"buffer": 0, "byteOffset": 4, "byteLength": 48, "byteStride": 16}
    header = {
        "asset": {"version": "2.0"},
        "scene": 0,
        "scenes": [{"nodes": [0]}],
        "nodes": [{"mesh": 0}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}]}],
        "accessors": [
            {"bufferView": 0, "componentType": 5126, "count": 3, "type": "VEC3"},
            {"bufferView": 1, "componentType": 5121, "count": 3, "type": "SCALAR"},
        ],
        "bufferViews": [view, {"buffer": 0, "byteOffset": 52, "byteLength": 3}],
        "buffers": [{"byteLength": len(body)}],
    } | more
    text = json.dumps(header).encode()
    text += b" " * (-len(text) % 4)
    chunks = struct.pack("<I4s", len(text), b"JSON") + text
    chunks += struct.pack("<I4s", len(body), b"BIN\0") + body
    return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks


HALF = 0.5**0.5


@pytest.mark.parametrize(
    ("nodes", "wanted"),
    [
        ([{"mesh": 0}], [[0, 1, 0], [0, 0, 0], [1, 0, 0]]),
        (
            [{"mesh": 0, "translation": [1, 2, 3], "scale": [2, 2, 2]}],
            [[1, 4, 3], [1, 2, 3], [3, 2, 3]],
        ),
        # A quarter turn about z, then moved: x goes along y.
        (
            [
                {"children": [1], "translation": [0, 0, 5]},
                {"mesh": 0, "rotation": [0, 0, HALF, HALF]},
            ],
            [[-1, 0, 5], [0, 0, 5], [0, 1, 5]],
        ),
        # A matrix is written column by column.
        (
            [{"mesh": 0, "matrix": [0, 1, 0, 0, -1, 0, 0, 0, 0, 0, 1, 0, 7, 8, 9, 1]}],
            [[6, 8, 9], [7, 8, 9], [7, 9, 9]],
        ),
    ],
)
def test_a_glb_file_is_placed_as_its_nodes_say(tmp_path, nodes, wanted):
    (found,) = mesh(tmp_path, "glb", glb(nodes=nodes))
    assert found == pytest.approx(np.array(wanted, float), abs=1e-6)


def test_a_mirrored_node_of_a_glb_file_is_mirrored(tmp_path):
    (found,) = mesh(tmp_path, "glb", glb(nodes=[{"mesh": 0, "scale": [-1, 1, 1]}]))
    assert sorted(found.tolist()) == [[-1, 0, 0], [0, 0, 0], [0, 1, 0]]


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"nodes": [{"mesh": 0}, {"mesh": 4}]}, "has node 1 with mesh 4, which is not there"),
        ({"nodes": [{"mesh": 0, "children": [7]}]}, "has node 0 with child 7, which is not there"),
        (
            {"nodes": [{"mesh": 0, "matrix": [1] * 16, "translation": [5, 0, 0]}]},
            "has node 0 placed in two ways",
        ),
        (
            {"nodes": [{"children": [1]}, {"mesh": 0}], "scenes": [{"nodes": [0, 1]}]},
            "shows node 1 by itself and below node 0",
        ),
        (
            {"nodes": [{"children": [2]}, {"children": [2]}, {"mesh": 0}]},
            "has node 2 below nodes 0 and 1",
        ),
        ({"scenes": [{"nodes": [0, 3]}]}, "shows node 3, which is not there"),
        ({"asset": {"version": "1.0"}}, "is glTF of version '1.0', 2.0 is read"),
        ({"asset": {"version": "2.0", "minVersion": "2.1"}}, "is glTF of minVersion '2.1'"),
    ],
)
def test_nodes_of_a_glb_file_that_make_no_tree_are_refused(tmp_path, more, words):
    """A part that was not there was left out, one placed twice was placed once."""
    assert words in refused(tmp_path, "glb", glb(**more))
