"""JSON Schema of scenes, procedures and lists of runs, for editors that complete and check TOML."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any, get_args

from pydantic import BaseModel, WithJsonSchema
from pydantic.fields import FieldInfo

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
    written = _described(WrittenLimit)
    definitions |= written.pop("$defs", {})
    definitions["WrittenLimit"] = written
    definitions.pop("Limit")
    schema["properties"]["limits"] = {
        "type": "object",
        "description": "values that margins are measured against; those left out are shipped",
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


@cache
def meanings() -> dict[str, dict[str, str]]:
    """Return record -> key -> what the key means, for keys that do not say so in their record.

    Examples
    --------
    >>> meanings()["Anchor"]["at"]
    'where the hook goes, in that frame'
    """
    text = Path(__file__).with_name("meanings.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def records_of(model: type[BaseModel]) -> dict[str, type[BaseModel]]:
    """Return a record and all records in it, at whatever remove, by name.

    Examples
    --------
    >>> sorted(records_of(RunList))
    ['Run', 'RunList']
    """
    found = {model.__name__: model}
    waiting = [model]
    while waiting:
        for field in waiting.pop().model_fields.values():
            for kind in _leaves(field.annotation):
                is_record = isinstance(kind, type) and issubclass(kind, BaseModel)
                if is_record and kind.__name__ not in found:
                    found[kind.__name__] = kind
                    waiting.append(kind)
    return found


def _leaves(kind: Any) -> Iterator[Any]:
    """Yield a type and every type that it is made of."""
    yield kind
    for part in get_args(kind):
        yield from _leaves(part)


def _limit(name: str) -> dict[str, Any]:
    kind, meaning = LIMITS[name]
    value = {"type": ["number", "string"]}
    unit = SI[kind] or "a share from 0 to 1"
    return {
        "description": f"{meaning} ({unit})",
        "anyOf": [value, {"$ref": "#/$defs/WrittenLimit"}],
    }


def _schema(model: type[Record], title: str) -> dict[str, Any]:
    return {"$schema": DIALECT, **_described(model), "title": title}


def _described(model: type[BaseModel]) -> dict[str, Any]:
    """Return the JSON Schema of a record in which every key says what it means."""
    schema = model.model_json_schema(by_alias=True)
    definitions = schema.get("$defs", {})
    for name, record in records_of(model).items():
        table = schema if record is model else definitions.get(name, {})
        for key, field in record.model_fields.items():
            shown = field.alias or key
            told = table.get("properties", {}).get(shown)
            if told is not None and (meaning := _meaning(name, shown, field)):
                told["description"] = meaning
    return schema


def _meaning(record: str, key: str, field: FieldInfo) -> str:
    """Return what a key means, and in brackets how its value is written where its type says so."""
    own = field.description or meanings().get(record, {}).get(key, "")
    how = _way_of_writing(field)
    return f"{own} ({how})" if own and how else own or how


def _way_of_writing(field: FieldInfo) -> str:
    """Return how a value of this type is written, or nothing."""
    for told in field.metadata:
        if isinstance(told, WithJsonSchema) and told.json_schema:
            return str(told.json_schema.get("description", ""))
    return ""
