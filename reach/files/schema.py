"""JSON Schema of scenes, procedures and lists of runs, for editors that complete and check TOML."""

from __future__ import annotations

from typing import Any

from reach.model.limits import LIMITS, WrittenLimit
from reach.model.procedure import Procedure
from reach.model.record import Record
from reach.model.runs import RunList
from reach.model.scene import Scene
from reach.units import SI

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def scene_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a scene file.

    Examples
    --------
    >>> sorted(scene_schema()["required"])
    ['format']
    """
    schema = _schema(Scene, "A scene: everything there is at a worksite")
    definitions = schema["$defs"]
    written = WrittenLimit.model_json_schema(by_alias=True)
    definitions |= written.pop("$defs", {})
    definitions["WrittenLimit"] = written
    definitions.pop("Limit")
    schema["properties"]["limits"] = {
        "type": "object",
        "description": "Values that margins are measured against; those left out are shipped",
        "additionalProperties": False,
        "properties": {name: _limit(name) for name in LIMITS},
    }
    return schema


def procedure_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a procedure file.

    Examples
    --------
    >>> sorted(procedure_schema()["required"])
    ['format', 'lanes']
    """
    return _schema(Procedure, "A procedure: what is asked of whom, step by step")


def runs_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a list of runs, for `reach batch`.

    Examples
    --------
    >>> sorted(runs_schema()["required"])
    ['format', 'runs']
    """
    return _schema(
        RunList, "A list of runs: scenes and procedures of a batch, and their variations"
    )


def _limit(name: str) -> dict[str, Any]:
    kind, meaning = LIMITS[name]
    value = {"type": ["number", "string"]}
    unit = SI[kind] or "a share from 0 to 1"
    return {
        "description": f"{meaning} ({unit})",
        "anyOf": [value, {"$ref": "#/$defs/WrittenLimit"}],
    }


def _schema(model: type[Record], title: str) -> dict[str, Any]:
    schema = model.model_json_schema(by_alias=True)
    return {"$schema": DIALECT, **schema, "title": title}
