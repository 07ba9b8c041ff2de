"""Triangles of STEP files, made by a reader of their own in a process of its own.

The reader is machine code that prints, may take very long and is ended by some files; here none of
that is more than a message.  What it would lose on the way is looked for before and after.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reach.files.step_text import check_step
from reach.solids import STEP_FACETS

_TURN = 0.5
"""How far one facet may be turned against the next, rad."""
LONGEST = 600.0
"""How long the reader may take, s."""
_CHILD = (
    "import sys, cascadio; sys.exit(cascadio.step_to_glb(sys.argv[1], sys.argv[2], "
    f"tol_linear={1e3 * STEP_FACETS:g}, tol_angular={_TURN}))"
)
_WHOLE = {5121: "u1", 5123: "<u2", 5125: "<u4"}
"""Kinds of whole numbers of glTF."""
_AGAIN = "export it again, or as STL"

Read = tuple[NDArray[np.float64], NDArray[np.int64], list[str]]
"""Corners, shape (n, 3), m, triangles of them, shape (m, 3), and notes on what is left out."""


def read_step(path: Path) -> Read:
    """Return corners and triangles of a STEP file, and notes.

    Raises
    ------
    ValueError
        If it cannot be read, or not whole.
    """
    import trimesh  # takes long, and few scenes need it

    content = path.read_bytes()
    n_faces, notes = check_step(content.decode("latin-1"))
    if not n_faces:
        return np.empty((0, 3)), np.empty((0, 3), np.int64), notes
    with tempfile.TemporaryDirectory() as folder:
        step, glb = Path(folder, "part.step"), Path(folder, "part.glb")
        step.write_bytes(content)
        _convert(step, glb)
        header, body = _parted(glb.read_bytes())
        scene = trimesh.load_scene(glb, process=False, skip_materials=True)
    n_read = _faces_read(header, body)
    if n_read < n_faces:
        raise ValueError(
            f"has {n_faces} faces, of which {n_faces - n_read} cannot be read; {_AGAIN}"
        )
    mesh = scene.to_mesh()
    return np.asarray(mesh.vertices, float), np.asarray(mesh.faces, np.int64), notes


def _convert(step: Path, glb: Path) -> None:
    """Have a STEP file written as GLB."""
    try:
        done = subprocess.run(
            [sys.executable, "-P", "-c", _CHILD, str(step), str(glb)],
            stdin=subprocess.DEVNULL, capture_output=True, timeout=LONGEST, check=False,
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        raise ValueError(f"takes longer than {LONGEST / 60:g} min to read; {_AGAIN}") from None
    said = (done.stdout + done.stderr).decode("utf-8", "replace")
    errors = [line.strip(" *\x1b[0123456789;m") for line in said.splitlines() if "ERR Step" in line]
    if errors or done.returncode or not glb.is_file():
        reason = errors[0] if errors else "its reader gives up"
        raise ValueError(f"cannot be read as STEP: {reason}; {_AGAIN}")


def _parted(content: bytes) -> tuple[dict[str, Any], bytes]:
    """Return what a GLB file says of itself, and its numbers."""
    end = 20 + int.from_bytes(content[12:16], "little")
    return json.loads(content[20:end]), content[end + 8 :]


def _faces_read(header: dict[str, Any], body: bytes) -> int:
    """Return how many faces have triangles, each as often as it is placed."""
    counts = [
        sum(_count(header, body, one) for one in mesh["primitives"])
        for mesh in header.get("meshes", ())
    ]
    return sum(counts[node["mesh"]] for node in header.get("nodes", ()) if "mesh" in node)


def _count(header: dict[str, Any], body: bytes, primitive: dict[str, Any]) -> int:
    """Return of how many faces some triangles are: no two faces share a corner's number."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    accessor = header["accessors"][primitive["indices"]]
    view = header["bufferViews"][accessor["bufferView"]]
    start = view.get("byteOffset", 0) + accessor.get("byteOffset", 0)
    kind = _WHOLE[accessor["componentType"]]
    numbers = np.frombuffer(body, kind, accessor["count"], start).astype(np.int64)
    _, corners = np.unique(numbers, return_inverse=True)
    one, other, third = corners.reshape(-1, 3).T
    n = int(corners.max(initial=-1)) + 1
    ends = np.r_[one, other], np.r_[other, third]
    graph: Any = coo_array((np.ones(len(ends[0])), ends), shape=(n, n))
    return int(connected_components(graph, directed=False)[0]) if n else 0


__all__ = ["read_step"]
