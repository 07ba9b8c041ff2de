"""Faces of OBJ and PLY files: read as the formats say, dents and all, told or refused where not."""

import struct
from pathlib import Path

import numpy as np
import pytest
import trimesh

from reach.files.facing import faced
from reach.files.meshes import Mesh, read_mesh
from reach.files.outlines import cut
from reach.files.scene import load_scene
from reach.model.shapes import MeshFile

CORNERS = "v 0 0 0\nv 1 0 0\nv 0 1 0\nv 0 0 1\n"
TETRAHEDRON = CORNERS + "f 1 3 2\nf 1 2 4\nf 2 3 4\nf 1 4 3\n"


def in_metres(path: Path) -> MeshFile:
    return MeshFile(file=path.name, unit="m", up="z")


def triangles_of(path: Path) -> np.ndarray:
    return read_mesh(path, in_metres(path)).triangles


def obj(folder: Path, text: str) -> Mesh:
    path = folder / "part.obj"
    path.write_text(text, newline="")
    return read_mesh(path, in_metres(path))


def area(triangles: np.ndarray) -> float:
    a, b, c = triangles.transpose(1, 0, 2)
    return float(np.linalg.norm(np.cross(b - a, c - a), axis=-1).sum() / 2.0)


# ---- OBJ: lines ------------------------------------------------------------------------

IN_9 = "has a face with fewer than three corners, in line 9: left out"


@pytest.mark.parametrize(
    ("more", "note"),
    [
        ("", ""),
        ("l 1 2\np 1\n# f 1 2\n", ""),
        ("f 1 2 \\\n3\n", ""),
        ("f 1 2\n", IN_9),
        ("f 1 2 # 3\n", IN_9),
        ("fo 1 2\n", IN_9),
        ("f 1//1 \\\n2//2\n", IN_9),
        ("\nf 1\nf 1 2\nf\n",
         "has 3 faces with fewer than three corners, the first in line 10: left out"),
    ],
)  # fmt: skip
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_faces_of_an_obj_file_with_fewer_than_three_corners_are_told(tmp_path, more, note, end):
    assert obj(tmp_path, (TETRAHEDRON + more).replace("\n", end)).left_out == [note] * bool(note)


def test_corners_that_a_face_counts_back_are_those_before_its_own_line(tmp_path):
    """They were counted from the end of the file: of two parts the first was not there."""
    near = "v 0 0 0\nv 1 0 0\nv 0 1 0\nf -3 -2 -1\n"
    far = near.replace("0\n", "5\n")
    found = obj(tmp_path, near + far).triangles
    assert found[:, :, 2].tolist() == [[0, 0, 0], [5, 5, 5]]
    after = obj(tmp_path, near + far.replace("f -3 -2 -1", "f 4//-3 5//-2 6//-1")).triangles
    np.testing.assert_array_equal(after, found)


def test_lines_are_read_whatever_blanks_begin_or_part_them(tmp_path):
    """Faces that begin with a tab were passed over, corners that do moved all that came later."""
    plain = obj(tmp_path, TETRAHEDRON).triangles
    for text in (
        TETRAHEDRON.replace("v 1 0 0", "v\t1 0\t0"),
        TETRAHEDRON.replace("v 1", " v 1").replace("f 1", "\tf 1"),
        TETRAHEDRON.replace(" ", "  ").replace("\n", " # a word\n"),
        TETRAHEDRON.replace("0 0 1", "0 \\\n0 1"),
    ):
        np.testing.assert_array_equal(obj(tmp_path, text).triangles, plain)


def test_every_face_is_read_with_whatever_comes_with_its_corners(tmp_path):
    """With three corners one triangle, with four two, with five three."""
    faces = "f 1 2 3\nf  1//1 2//1 3//1 \nf 1/1 2/1 5/1 3/1\nf 1/1/1 2/2/2 \\\n5 3\n"
    found = obj(tmp_path, f"vn 0 0 1\nvt 0 0\n{CORNERS}v 1 1 0\n{faces}")
    assert (len(found.triangles), found.left_out) == (1 + 1 + 2 + 2, [])


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("f 1 2 5\n", "corners that are not there, in line 9"),
        ("f 0 1 2\n", "corners that are not there, in line 9"),
        ("f -5 1 2\n", "corners that are not there, in line 9"),
        ("f 1 2 99999999999999999999\n", "corners that are not there, in line 9"),
        ("f 1 2 x\n", "corners that are no numbers, in line 9"),
        ("v 1 2\n", "a corner without three numbers, in line 9"),
        ("v 1 2 x\n", "a corner without three numbers, in line 9"),
        ("surf 0 1 0 1 1 2 3 4\n", "a curved surface, which is not read, in line 9"),
        ("bzp 1 2 3 4\n", "a curved surface, which is not read, in line 9"),
        ("csh cat more.obj\n", "a command of another program, which is not read, in line 9"),
        ("call more.obj\n", "another file named, which is not read, in line 9"),
    ],
)
def test_what_cannot_be_read_of_an_obj_file_is_refused_with_its_line(tmp_path, text, words):
    with pytest.raises(ValueError, match=words):
        obj(tmp_path, TETRAHEDRON + text)


SQUARE = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\n"


@pytest.mark.parametrize("head", [b"\xef\xbb\xbf", b"# part\r", b"# C:\\parts\\\n# more\n"])
def test_the_first_corner_is_read_whatever_an_editor_put_before_it(tmp_path, head):
    """After a mark of the encoding it was passed over, and all faces had other corners."""
    path = tmp_path / "part.obj"
    path.write_bytes(head + f"{SQUARE}v 9 9 9\nf 1 2 3 4\n".encode())
    assert triangles_of(path).max() == 1.0


def test_lines_may_end_as_on_any_machine(tmp_path):
    for end in ("\n", "\r\n", "\r"):
        found = obj(tmp_path, f"{SQUARE}f 1 2 \\\n3 4\n".replace("\n", end))
        assert area(found.triangles) == 1.0


@pytest.mark.parametrize("head", ["# C:\\parts\\", "mtllib parts\\"])
def test_a_backslash_does_not_make_a_corner_part_of_another_line(tmp_path, head):
    """A comment that ended with one took the first corner along: faces had other corners."""
    with pytest.raises(ValueError, match=r"begins with 'v' .* in line 2"):
        obj(tmp_path, f"{head}\n{SQUARE}v 9 9 9\nf 1 2 3 4\n")


def test_corners_in_a_line_are_no_face_that_crosses_itself_or_is_not_flat(tmp_path):
    """Which way such a face turns is rounding."""
    rng = np.random.default_rng(3)
    for _ in range(50):
        points = rng.random((5, 1)) * rng.normal(size=3)
        rows = "".join("v {!r} {!r} {!r}\n".format(*row) for row in points.tolist())
        found = obj(tmp_path, f"{rows}{SQUARE}f 1 2 3 4 5\nf 6 7 8 9\n")
        assert found.left_out == []
        assert area(found.triangles) == pytest.approx(1.0)


def test_an_obj_file_reads_as_a_general_library_reads_it(tmp_path):
    path = tmp_path / "ball.obj"
    ball = trimesh.creation.icosphere(subdivisions=3)
    ball.export(path)
    read = np.sort(triangles_of(path).reshape(-1, 9), axis=0)
    theirs = trimesh.load_mesh(path, process=False)
    np.testing.assert_array_equal(read, np.sort(theirs.triangles.reshape(-1, 9), axis=0))


# ---- outlines --------------------------------------------------------------------------


def is_in(outline, point) -> bool:
    """Whether a point of the plane lies inside an outline: a ray from it crosses oddly often."""
    x, y = point
    crossed = 0
    for (x0, y0), (x1, y1) in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        if (y0 > y) != (y1 > y):
            crossed += x < (x1 - x0) * (y - y0) / (y1 - y0) + x0
    return crossed % 2 == 1


COMB = [[0, 0], [6, 0], [6, 3], [5, 3], [5, 1], [4, 1], [4, 3], [3, 3], [3, 1], [2, 1], [2, 3],
        [0, 3]]  # fmt: skip
KEYHOLE = [[0, 0], [4, 0], [4, 4], [0, 4], [0, 0], [1, 1], [1, 3], [3, 3], [3, 1], [1, 1]]
"""A window: round the outside, in to its hole, round that and back."""
SPIRAL = [[0, 0], [5, 0], [5, 5], [1, 5], [1, 2], [3, 2], [3, 3], [2, 3], [2, 4], [4, 4], [4, 1],
          [0, 1]]  # fmt: skip


def stars(n: int):
    """Outlines round a middle, of many shapes, dented nearly all."""
    rng = np.random.default_rng(5)
    for _ in range(n):
        k = int(rng.integers(4, 14))
        angles = np.arange(k) / k * 2.0 * np.pi + rng.uniform(0.0, 4.0 / k, k)
        yield (rng.uniform(0.2, 1.0, k) * np.array([np.cos(angles), np.sin(angles)])).T


@pytest.mark.parametrize(
    "outline", [COMB, KEYHOLE, SPIRAL, *stars(40)], ids=lambda one: f"{len(one)} corners"
)
@pytest.mark.parametrize("is_turned", [False, True])
def test_triangles_cover_an_outline_once_and_nothing_else(outline, is_turned):
    rng = np.random.default_rng(len(outline))
    flat = np.array(outline[::-1] if is_turned else outline, float)
    turn, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    corners, warped = cut((np.c_[flat, np.zeros(len(flat))] @ turn.T + 3.0)[None])
    assert not warped[0]
    triangles = flat[corners[0]]
    for point in rng.uniform(flat.min(axis=0), flat.max(axis=0), (100, 2)):
        assert sum(is_in(one, point) for one in triangles) == is_in(flat, point)


def test_a_wall_with_a_dent_has_the_area_of_its_outline_and_not_of_a_fan(tmp_path):
    wall = "v 0 0 0\nv 2 2 0\nv 4 0 0\nv 2 3 0\nf 1 2 3 4\n"
    assert area(obj(tmp_path, wall).triangles) == pytest.approx(2.0, abs=1e-12)


def test_three_corners_in_a_line_leave_no_seam_open():
    """A box of which one edge has a corner in its middle, on both faces beside it, is closed."""
    box = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], float)
    middle = np.array([0.0, 0.0, 0.5])
    long = [[box[0], box[4], box[5], box[1], middle], [box[1], box[3], box[2], box[0], middle]]
    short = [[2, 3, 7, 6], [4, 6, 7, 5], [1, 5, 7, 3], [0, 2, 6, 4]]
    faces = []
    for outlines in (long, [[box[k] for k in one] for one in short]):
        outlines = np.array(outlines)
        corners, _ = cut(outlines)
        faces += [outlines[k][one] for k in range(len(outlines)) for one in corners[k]]
    triangles, notes = faced(np.array(faces))
    assert (len(triangles), notes) == (2 * 3 + 4 * 2, [])


def test_faces_that_are_not_flat_are_told(tmp_path):
    quad = "v 0 0 0\nv 1 0 0\nv 1 1 {}\nv 0 1 0\nf 1 2 3 4\n"
    (note,) = obj(tmp_path, quad.format(0.1)).left_out
    assert note == f"has a face with corners beside its plane, in line 5: {ONE_WAY}"
    assert obj(tmp_path, quad.format(0.0001)).left_out == []


@pytest.mark.parametrize(
    "outline", ["0 0 0, 1 1 0, 1 0 0, 0 1 0", "0 0 0, 4 0 0, 4 1 0, 1 -1 0, 0 1 0"]
)
def test_an_outline_that_crosses_itself_is_refused(tmp_path, outline):
    corners = outline.split(", ")
    face = "f " + " ".join(map(str, range(1, len(corners) + 1)))
    text = "".join(f"v {one}\n" for one in corners) + face + "\n"
    with pytest.raises(ValueError, match=f"crosses itself, in line {len(corners) + 1}; export"):
        obj(tmp_path, text)


@pytest.mark.parametrize("far", ["1e200", "1e999", "nan"])
def test_a_corner_beyond_all_measure_is_refused_in_a_face_of_any_size(tmp_path, far):
    """Areas of such faces were too large for a number."""
    quad = f"v 0 0 0\nv 1 0 0\nv {far} 1 0\nv 0 1 0\nf 1 2 3 4\n"
    with pytest.raises(ValueError, match=r"not finite numbers|farther than"):
        obj(tmp_path, quad)


def test_a_dented_outline_without_end_is_refused(tmp_path):
    """Each of its corners would be looked at from each."""
    angles = np.arange(2500) / 2500 * 2.0 * np.pi
    ring = (
        np.array([np.cos(angles), np.sin(angles)]).T * (1.0 + 0.2 * (np.arange(2500) % 2))[:, None]
    )
    text = "".join(f"v {x:.9f} {y:.9f} 0\n" for x, y in ring)
    with pytest.raises(ValueError, match="2500 corners and dents, 2000 corners at most, in line"):
        obj(tmp_path, text + "f " + " ".join(map(str, range(1, 2501))) + "\n")


# ---- PLY -------------------------------------------------------------------------------

PLY_HEAD = """\
ply
format {} 1.0
element vertex 4
property float x
property float y
property float z
element face {}
property list uchar int vertex_indices
end_header
"""


DART = [[0, 0, 0], [2, 2, 0], [4, 0, 0], [2, 3, 0]]


def write_ply(path, faces, is_binary, corners=((0, 0, 0), (1, 0, 0), (0, 1, 0), (0, 0, 1))):
    """Write corners, of a tetrahedron, and some faces on them."""
    kind = "binary_little_endian" if is_binary else "ascii"
    rows = [*corners, *([len(face), *face] for face in faces)]
    body = "".join(" ".join(map(str, row)) + "\n" for row in rows).encode()
    if is_binary:
        body = b"".join(struct.pack("<3f", *corner) for corner in corners)
        body += b"".join(struct.pack(f"<B{len(face)}i", len(face), *face) for face in faces)
    head = PLY_HEAD.replace("vertex 4", f"vertex {len(corners)}").format(kind, len(faces))
    path.write_bytes(head.encode() + body)


ONE_WAY = "cut into triangles in one way of several"
FACES = [[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]]


@pytest.mark.parametrize(
    ("more", "note"),
    [
        ([], ""),
        ([[0, 1, 2, 3]], "has a face with corners beside its plane: " + ONE_WAY),
        ([[0, 1]], "has a face with fewer than three corners: left out"),
        ([[0, 1], [], [2]], "has 3 faces with fewer than three corners: left out"),
    ],
)
def test_odd_faces_of_a_ply_file_are_told(tmp_path, more, note):
    path = tmp_path / "part.ply"
    write_ply(path, [*FACES, *more], is_binary=False)
    assert read_mesh(path, in_metres(path)).left_out == [note] * bool(note)


def test_a_binary_ply_file_gives_the_same_triangles_as_one_in_words(tmp_path):
    path = tmp_path / "part.ply"
    write_ply(path, FACES, is_binary=False)
    in_words = triangles_of(path)
    write_ply(path, FACES, is_binary=True)
    read = read_mesh(path, in_metres(path))
    assert read.left_out == []
    np.testing.assert_array_equal(read.triangles, in_words)


@pytest.mark.parametrize("faces", [[[0, 2, 1], [0, 1], [0, 1, 3, 2]], [[0, 2, 1], [0, 1, 3, 2]]])
def test_a_binary_ply_file_with_faces_of_different_sizes_is_refused(tmp_path, faces):
    """Where the lengths made up for each other, corners were read that no face has."""
    path = tmp_path / "part.ply"
    write_ply(path, faces, is_binary=True)
    with pytest.raises(ValueError, match="different numbers of corners in a binary file"):
        read_mesh(path, in_metres(path))


def test_a_ply_file_with_a_dent_has_the_triangles_of_an_obj_file(tmp_path):
    path = tmp_path / "part.ply"
    for is_binary in (False, True):
        write_ply(path, [[0, 1, 2, 3]], is_binary, corners=DART)
        assert area(triangles_of(path)) == pytest.approx(2.0, abs=1e-6)


def test_a_ply_file_without_faces_or_corners_holds_no_faces(tmp_path):
    path = tmp_path / "part.ply"
    for faces, corners in (([], [[0, 0, 0]]), ([], [])):
        write_ply(path, faces, is_binary=False, corners=corners)
        with pytest.raises(ValueError, match=r"holds no faces|cannot be read as PLY"):
            read_mesh(path, in_metres(path))


PLY = (
    "ply\nformat ascii 1.0\nelement vertex 4\nproperty float x\nproperty float y\n"
    "property float z\nelement face 2\nproperty list uchar int vertex_index\n{}end_header\n"
    "0 0 0\n1 0 0\n1 1 0\n0 1 0\n{}"
)


@pytest.mark.parametrize(
    ("more", "rows", "words"),
    [
        ("", "3 0 1 2\n", "is cut short: 2 rows of 'face' announced, 1 there"),
        ("", "3 0 1 2\n4 0 2 3", "has 4 numbers in row 2 of 2 of 'face'"),
        ("", "3 0 1 2\n3 0 2 3 1\n", "has 5 numbers in row 2 of 2 of 'face'"),
        ("", "3 0 1 2 3 0 2 3\n", "has 8 numbers in row 1 of 2 of 'face'"),
        ("property list uchar float t\n", "3 0 1 2 2 0 0\n3 0 2 3 2 0\n", "row 2 of 2"),
        ("element tristrips 1\nproperty list int int vertex_indices\n",
         "3 0 1 2\n3 0 1 2\n4 0 1 3 2\n", "has strips of triangles"),
        ("element face 1\nproperty list uchar int vertex_index\n",
         "3 0 1 2\n3 0 2 3\n3 0 1 3\n", "has the element 'face' twice"),
    ],
)  # fmt: skip
def test_rows_of_a_ply_file_that_would_be_passed_over_are_refused(tmp_path, more, rows, words):
    """Of a text file that was cut short the faces that were left came without a word."""
    path = tmp_path / "part.ply"
    path.write_text(PLY.format("", "3 0 1 2\n3 0 2 3\n"))
    assert area(triangles_of(path)) == 1.0
    path.write_text(PLY.format(more, rows))
    with pytest.raises(ValueError, match=words):
        read_mesh(path, in_metres(path))


# ---- scenes ----------------------------------------------------------------------------


def test_a_scene_says_of_a_mesh_which_faces_are_left_out(scene_file):
    """Nothing was said of them."""
    folder = scene_file('[solids.part]\nmesh = { file = "part.obj", unit = "m", up = "z" }\n')
    (folder / "part.obj").write_text(TETRAHEDRON)
    assert load_scene(folder).warnings == ()
    (folder / "part.obj").write_text(f"{TETRAHEDRON}f 1 2\n")
    loaded = load_scene(folder)
    assert len(loaded.meshes["part"]) == 4
    (warning,) = loaded.warnings
    assert warning.startswith("site/scene.toml:")
    assert "solids.part.mesh: has a face with fewer than three corners, in line 9" in warning
