"""The same scene somewhere else: 10 km from the origin, turned, or both; also as files."""

from __future__ import annotations

import copy
import random
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from benchmarks.twins.writing import toml_of
from reach.finding import Finding
from reach.run import check

FAR = 10_000.0
"""How far from the origin (m) a scene must give the same answers."""

_TURN = [{"axis": [1, 2, 3], "angle": 2.1}, {"axis": [3, -1, 0.5], "angle": -0.8}]
_OTHER = [{"axis": [-2, 1, 0.3], "angle": "77 deg"}]
_THIRD = [{"axis": [0.1, 0.2, -1], "angle": "133 deg"}]
FRAMES: dict[str, dict[str, Any]] = {
    "at home": {"at": [0.0, 0.0, 0.0]},
    "10 km off": {"at": [FAR, -FAR, 0.7 * FAR]},
    "turned": {"at": [0.3, -0.7, 1.1], "turn": _TURN},
    "turned otherwise": {"at": [-3.7, 0.01, 5.3], "turn": _OTHER},
    "turned a third way": {"at": [0.1, 0.2, 0.3], "turn": _THIRD},
    "10 km off and turned": {"at": [FAR, -0.9 * FAR, 3.3], "turn": _TURN},
    "10 km off and turned otherwise": {"at": [-7.7, FAR, -FAR], "turn": _OTHER},
    "10 km off and turned a third way": {"at": [123.4, 77.7, FAR], "turn": _THIRD},
}
"""Where a scene is put; the names are told by tests that fail."""

HERE = "at home"

SHIPPED = ("shipped:suits", "shipped:sizes", "shipped:tools", "shipped:limits")
"""The models that the small scenes rest on, as files name them."""

PLACED = (
    "solids", "hazards", "sockets", "stations", "fasteners", "handrails", "handholds", "hatches",
    "anchors", "cranes", "cameras",
)  # fmt: skip
"""Tables of a scene whose entries lie in a frame; payloads by their poses."""


def put(data: Mapping[str, Any], frame: str) -> dict[str, Any]:
    """Return a scene, plain data, with everything in it laid into another frame of `FRAMES`."""
    moved = copy.deepcopy(dict(data))
    moved = {"format": 1, "use": list(SHIPPED), **moved}
    moved["frames"] = {"elsewhere": copy.deepcopy(FRAMES[frame]), **moved.get("frames", {})}
    for table in PLACED:
        for entry in moved.get(table, {}).values():
            entry.setdefault("in", "elsewhere")
    for payload in moved.get("payloads", {}).values():
        for pose in payload["poses"].values():
            pose.setdefault("in", "elsewhere")
    return moved


def by_the_door(
    folder: Path,
    data: Mapping[str, Any],
    steps: Sequence[Mapping[str, Any]],
    only: Sequence[str],
    lanes: Mapping[str, str] | None = None,
    **tables: Any,
) -> tuple[Finding, ...]:
    """Write a scene and a procedure as files, and return what `reach check` finds in them."""
    folder.mkdir(parents=True, exist_ok=True)
    lanes = lanes or dict.fromkeys([step["lane"] for step in steps], "worker")
    procedure = {"format": 1, "lanes": dict(lanes), **tables, "steps": [_plain(s) for s in steps]}
    rng = random.Random(0)
    (folder / "scene.toml").write_text(toml_of(data, rng), encoding="utf-8")
    (folder / "procedure.toml").write_text(toml_of(procedure, rng), encoding="utf-8")
    return check(folder, folder / "procedure.toml", only=only).findings


def _plain(step: Mapping[str, Any]) -> dict[str, Any]:
    """Return a step without what it leaves blank: TOML has no word for nothing."""
    plain = {key: value for key, value in step.items() if value is not None}
    plain["actions"] = [
        {key: value for key, value in action.items() if value is not None}
        for action in step["actions"]
    ]
    return plain
