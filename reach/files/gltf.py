"""What GLB and GLTF files say that the reader of meshes passes over: a reason to refuse them.

That reader knows triangles and strips in plain numbers, placed by nodes.  Fans, sparse and scaled
numbers, copies, skeletons and shapes that are mixed it would leave out, or read as if they were
not.  Names are those of glTF 2.0 (Khronos; ISO/IEC 12113:2022) and of its registered extensions.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

_MAGIC = b"glTF"
_FAN = 6
_READ = (0, 1, 2, 3, 4, 5)
"""Kinds of shapes (mode): points and lines have no faces, then triangles and strips of them."""
_LOOKS = ("KHR_materials", "KHR_texture", "EXT_texture", "KHR_lights", "KHR_xmp", "EXT_lights")
"""Extensions, by how they begin, that change no shape."""
_PLAIN = "KHR_mesh_quantization"
"""Whole numbers for corners: read, where they are not scaled."""
_TURNS = {"translation", "rotation", "scale"}
_VERSIONS = {"version": ("2.0", "2.1"), "minVersion": ("2.0",)}
_COPIES = "EXT_mesh_gpu_instancing"


def check_gltf(path: Path) -> list[str]:
    """Return a note on scenes of a GLB or GLTF file that are not read; none otherwise.

    Raises
    ------
    ValueError
        If it says something of its shape that is not read, with what to do.
    """
    header = _header(path)
    if header is None:
        return []  # the reader tells what is wrong with it
    for reason in _unread(header):
        raise ValueError(reason)
    n = len(_all(header, "scenes"))
    if n > 1:
        others = "another scene" if n == 2 else f"{n - 1} other scenes"
        return [f"has {others}: only the one that is shown first is read"]
    return []


def _header(path: Path) -> dict[str, Any] | None:
    """Return what a file says of itself; None where that cannot be read."""
    with path.open("rb") as file:
        begin = file.read(20)
        if begin[:4] == _MAGIC:
            text = file.read(int.from_bytes(begin[12:16], "little"))
        else:
            text = begin + file.read()
    try:
        header = json.loads(text)
    except (ValueError, RecursionError):
        return None
    return header if isinstance(header, dict) else None


def _unread(header: dict[str, Any]) -> Iterator[str]:
    """Yield what is not read of a file."""
    again = "export it again without"
    for name in ("extensionsRequired", "extensionsUsed"):
        if not isinstance(header.get(name, []), list):
            yield f"gives {name} as {header[name]!r}, not as a list; export it again"
    for name in map(str, _all(header, "extensionsRequired")):
        if not name.startswith(_LOOKS) and name != _PLAIN:
            yield f"needs {name}, which is not read; {again}"
    if _COPIES in _all(header, "extensionsUsed"):
        yield f"has copies by {_COPIES}, which are not read; {again}"
    accessors = dict(enumerate(_records(header, "accessors")))
    for mesh in _records(header, "meshes"):
        for part in _records(mesh, "primitives"):
            if part.get("mode") == _FAN:
                yield "has fans of triangles, which are not read; export it as triangles"
            if part.get("mode", _READ[-1]) not in _READ:
                yield f"has shapes of mode {part['mode']!r}, which is not read; {again}"
            attributes = part.get("attributes")
            corners = attributes.get("POSITION") if isinstance(attributes, dict) else None
            for index in (corners, part.get("indices")):
                found = accessors.get(index, {}) if isinstance(index, int) else {}
                if "sparse" in found:
                    yield f"has sparse numbers, which are not read; {again}"
                if found.get("normalized") and index == corners:
                    yield f"has corners that are scaled, which are not read so; {again}"
    yield from _misplaced(header)
    for node in _records(header, "nodes"):
        if "mesh" in node and "skin" in node:
            yield f"is posed by a skeleton (skin), which is not read; {again}"
    for record in (*_records(header, "meshes"), *_records(header, "nodes")):
        if any(_all(record, "weights")):
            yield f"mixes shapes (weights), which is not read; {again}"


def _misplaced(header: dict[str, Any]) -> Iterator[str]:
    """Yield what is wrong with the version and the tree of nodes, which the reader lets pass."""
    asset = header.get("asset")
    for key in ("version", "minVersion"):
        version = asset.get(key, "2.0") if isinstance(asset, dict) else "2.0"
        if version not in _VERSIONS[key]:
            yield f"is glTF of {key} {version!r}, 2.0 is read; export it again"
    nodes, n_meshes = _records(header, "nodes"), len(_all(header, "meshes"))
    below: dict[Any, int] = {}
    for k, node in enumerate(nodes):
        if "mesh" in node and node["mesh"] not in range(n_meshes):
            yield f"has node {k} with mesh {node['mesh']!r}, which is not there; export it again"
        if "matrix" in node and _TURNS.intersection(node):
            yield f"has node {k} placed in two ways, by a matrix and without; export it again"
        for child in _all(node, "children"):
            if child not in range(len(nodes)):
                yield f"has node {k} with child {child!r}, which is not there; export it again"
            elif child in below:
                yield f"has node {child} below nodes {below[child]} and {k}; export it again"
            else:
                below[child] = k
    for scene in _records(header, "scenes"):
        for root in _all(scene, "nodes"):
            if root not in range(len(nodes)):
                yield f"shows node {root!r}, which is not there; export it again"
            elif root in below:
                yield f"shows node {root} by itself and below node {below[root]}; export it again"


def _all(record: dict[str, Any], name: str) -> list[Any]:
    found = record.get(name)
    return found if isinstance(found, list) else []


def _records(record: dict[str, Any], name: str) -> list[dict[str, Any]]:
    return [one if isinstance(one, dict) else {} for one in _all(record, name)]


__all__ = ["check_gltf"]
