"""Scenes and procedures as plain data, written as TOML with units drawn at random.

Numbers are SI in the data; `Q` says of what kind one is, so that it may be written in other units.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import trimesh

FACTORS = {
    "length": (("m", 1.0), ("mm", 1e-3), ("cm", 1e-2), ("in", 0.0254), ("ft", 0.3048)),
    "angle": (("rad", 1.0), ("deg", 0.017453292519943295)),
    "force": (("N", 1.0), ("kN", 1e3), ("lbf", 4.4482216152605)),
    "torque": (("N m", 1.0), ("in lbf", 0.0254 * 4.4482216152605)),
    "mass": (("kg", 1.0), ("g", 1e-3), ("lb", 0.45359237)),
    "time": (("s", 1.0), ("min", 60.0), ("h", 3600.0)),
    "speed": (("m/s", 1.0), ("cm/s", 1e-2), ("ft/s", 0.3048)),
}
"""Kind -> units with their factors, written down here again from the definitions of the units."""


class Q(float):
    """An SI number of a known kind."""

    kind: str

    def __new__(cls, value: float, kind: str) -> Q:
        """Return the number."""
        one = super().__new__(cls, value)
        one.kind = kind
        return one

    def __reduce__(self) -> Any:
        """Return what it is made of, for copies."""
        return (Q, (float(self), self.kind))


def clock(seconds: float) -> str:
    """Return a moment as files write it, such as ``"01:14"``; plain seconds where it is not whole.

    Examples
    --------
    >>> clock(4440.0), clock(100.0)
    ('01:14', '100 s')
    """
    whole = round(seconds)
    if whole % 60 or whole != seconds:
        return f"{seconds!r} s"
    return f"{whole // 3600:02d}:{whole // 60 % 60:02d}"


def toml_of(data: Mapping[str, Any], rng: random.Random) -> str:
    """Return plain data as TOML: tables by name, inline tables inside of records."""
    lines: list[str] = []
    tables: list[tuple[str, Any]] = []
    for key, value in data.items():
        if key.startswith("_"):
            continue  # what the twins alone know
        if isinstance(value, Mapping) or (
            isinstance(value, list) and value and isinstance(value[0], Mapping)
        ):
            tables.append((key, value))
        else:
            lines.append(f"{key} = {_value(value, rng)}")
    for key, value in tables:
        lines += _table(key, value, rng)
    return "\n".join(lines) + "\n"


def _table(key: str, value: Any, rng: random.Random) -> Iterator[str]:
    if isinstance(value, list):
        for record in value:
            yield f"\n[[{key}]]"
            yield from (f"{_key(k)} = {_value(v, rng)}" for k, v in record.items())
        return
    yield f"\n[{key}]"
    yield from (f"{_key(k)} = {_value(v, rng)}" for k, v in value.items())


def _key(name: str) -> str:
    return name if name.replace("-", "").replace("_", "").isalnum() else f'"{name}"'


def _value(value: Any, rng: random.Random) -> str:
    if isinstance(value, Q):
        if rng.random() < 0.5:
            return repr(float(value))
        unit, factor = rng.choice(FACTORS[value.kind])
        return f'"{float(value) / factor!r} {unit}"'
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(value, Mapping):
        inner = ", ".join(f"{_key(k)} = {_value(v, rng)}" for k, v in value.items())
        return "{ " + inner + " }"
    if isinstance(value, Sequence):
        return "[" + ", ".join(_value(one, rng) for one in value) + "]"
    raise TypeError(f"cannot write {value!r}")


def write_case(
    folder: Path, scene: Mapping[str, Any], procedure: Mapping[str, Any] | None, seed: str
) -> None:
    """Write a scene, and a procedure, into a folder."""
    rng = random.Random(f"units {seed}")
    folder.mkdir(parents=True, exist_ok=True)
    for name, (corners, faces) in scene.get("_meshes", {}).items():
        units = [
            one["mesh"]["unit"]
            for table in ("solids", "hazards")
            for one in scene.get(table, {}).values()
            if one.get("mesh", {}).get("file") == name
        ]
        factor = {"m": 1.0, "mm": 1e-3, "ft": 0.3048}[units[0]]
        trimesh.Trimesh(corners / factor, faces, process=False).export(folder / name)
    (folder / "scene.toml").write_text(toml_of(scene, rng))
    if procedure is not None:
        (folder / "procedure.toml").write_text(toml_of(procedure, rng))
