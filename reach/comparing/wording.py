"""Values of records as people write them: "0.550 m", "-30.0 deg", "01:37", "14 min"."""

from __future__ import annotations

import re
import types
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel, WithJsonSchema
from pydantic.fields import FieldInfo

from reach.units import SI, text_of

NOTHING = "nothing"
_ELAPSED = "elapsed time"
_ANGLE_OR_DETENT = re.compile(r"\bor an angle\b")
_KIND = re.compile(r"([a-z ]+): SI number")
_EXACT = 9
"""Digits of a number that, rounded as usual, would look like the one it replaces."""


def hint_of(field: FieldInfo) -> Any:
    """Return the type of a field with what pydantic keeps beside it."""
    return Annotated[field.annotation, *field.metadata] if field.metadata else field.annotation


def kind_of(hint: Any) -> str:
    """Return the kind of quantity that a type holds, or nothing.

    It is read from what the type says of itself in the JSON Schema, so that a kind that is added
    is told without a change here.

    Examples
    --------
    >>> from reach.model.record import Elapsed, Length
    >>> kind_of(Length | None), kind_of(Elapsed), kind_of(str)
    ('length', 'elapsed time', '')
    """
    if get_origin(hint) is Annotated:
        for each in hint.__metadata__:
            if isinstance(each, WithJsonSchema) and each.json_schema:
                said = str(each.json_schema.get("description", ""))
                if match := _KIND.match(said):
                    return match.group(1)
                if _ANGLE_OR_DETENT.search(said):
                    return "angle"
        return kind_of(get_args(hint)[0])
    if _is_union(hint):
        return next((kind for each in get_args(hint) if (kind := kind_of(each))), "")
    return ""


def inner(hint: Any, key: Any) -> Any:
    """Return the type of what stands at ``key`` in a table, or at an index in a list."""
    if get_origin(hint) is Annotated:
        return inner(get_args(hint)[0], key)
    if _is_union(hint):
        found = (inner(each, key) for each in get_args(hint))
        return next((each for each in found if each is not None), None)
    args = get_args(hint)
    if get_origin(hint) is dict:
        return args[1]
    if get_origin(hint) is tuple and args:
        return args[0] if args[-1] is Ellipsis else args[min(key, len(args) - 1)]
    return None


def words(value: Any, hint: Any = None, exact: bool = False) -> str:
    """Return a value as text with its unit.

    Parameters
    ----------
    value : object
        What a record holds: SI numbers, text, lists, tables, records.
    hint : type, optional
        Of the field it stands in; says which quantity a number is.
    exact : bool
        With more digits than are usual.

    Examples
    --------
    >>> from reach.model.record import Angle, Elapsed
    >>> words(0.5235987755982988, Angle), words(5820.0, Elapsed), words(("RL1", "RL2"))
    ('30.0 deg', '01:37', 'RL1, RL2')
    >>> words(None), words(True), words({"yaw": 3})
    ('nothing', 'yes', 'yaw 3')
    """
    if value is None or value == "" or value == () or value == {}:
        return NOTHING
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return _number(value, kind_of(hint), exact)
    if isinstance(value, BaseModel):
        return _record(value, exact)
    if isinstance(value, dict):
        return ", ".join(f"{k} {words(v, inner(hint, k), exact)}" for k, v in value.items())
    if isinstance(value, tuple | list):
        texts = [words(each, inner(hint, i), exact) for i, each in enumerate(value)]
        numbers = all(isinstance(each, float | int) for each in value)
        records = any(isinstance(each, BaseModel) for each in value)
        return f"[{', '.join(texts)}]" if numbers else ("; " if records else ", ").join(texts)
    return str(value)


def is_measure(record: BaseModel) -> bool:
    """Return whether a record is a value with its unit, such as a limit."""
    return {"value", "unit"} <= type(record).model_fields.keys()


def _record(record: BaseModel, exact: bool) -> str:
    if is_measure(record):
        value, unit = record.value, record.unit  # type: ignore[attr-defined]
        return f"{value:.{_EXACT}g} {unit}".rstrip() if exact else text_of(value, unit)
    parts = []
    for name, field in type(record).model_fields.items():
        value = getattr(record, name)
        if name in record.model_fields_set and value not in (None, "", (), {}):
            said = words(value, hint_of(field), exact)
            parts.append(said if name in ("do", "name") else f"{field.alias or name} {said}")
    return ", ".join(parts) or NOTHING


def _number(value: float, kind: str, exact: bool) -> str:
    unit = SI.get(kind, "")
    if exact or not kind:
        return f"{value:.{_EXACT if exact else 6}g} {unit}".rstrip()
    if kind == _ELAPSED:
        whole = round(value)
        seconds = f":{whole % 60:02d}" if whole % 60 else ""
        return f"{whole // 3600:02d}:{whole // 60 % 60:02d}{seconds}"
    if kind == "time" and value >= 60.0:
        return f"{value / 60.0:.4g} min"
    return text_of(value, unit)


def _is_union(hint: Any) -> bool:
    return get_origin(hint) in (Union, types.UnionType)
