"""Data from a file turned into one record, or into problems in plain words."""

from __future__ import annotations

import copy
import re
import types
from collections.abc import Callable
from typing import Annotated, Any, Literal, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from reach.files.lines import Place
from reach.files.problem import Problem, nearest, unknown

Model = TypeVar("Model", bound=BaseModel)
Report = Callable[[Place, str], Problem]
"""Makes a problem of a place inside the data and a message."""

_QUOTED = re.compile(r"'([^']*)'")
_KINDS = {
    "string_type": "text",
    "bool_type": "true or false",
    "bool_parsing": "true or false",
    "int_type": "a whole number",
    "int_parsing": "a whole number",
    "int_from_float": "a whole number",
    "float_type": "a number",
    "float_parsing": "a number",
    "finite_number": "a finite number",
    "dict_type": "a table",
    "tuple_type": "a list",
    "list_type": "a list",
}
_BOUNDS = {
    "greater_than": "greater than {gt:g}",
    "greater_than_equal": "at least {ge:g}",
    "less_than": "less than {lt:g}",
    "less_than_equal": "at most {le:g}",
}


def read_record(
    model: type[Model], data: Any, report: Report, problems: list[Problem]
) -> Model | None:
    """Return ``data`` as a record, or None after adding every problem to ``problems``.

    Parameters
    ----------
    model : type
    data : object
        What the file holds, as plain dictionaries and lists.
    report : callable
        Given a place inside ``data`` and a message, returns the problem.
    problems : list of Problem
        Is added to.
    """
    try:
        return model.model_validate(data)
    except ValidationError as error:
        told = [each for each in error.errors() if not _follows(data, each)]
        problems += [_problem(model, data, each, report) for each in told]
        return None


def _follows(data: Any, error: ErrorDetails) -> bool:
    """Return whether a list is too short only because entries of it cannot be read."""
    _, found = _place_in(data, error["loc"])
    least = error.get("ctx", {}).get("min_length", 0)
    return error["type"] == "too_short" and isinstance(found, list) and len(found) >= least


def readable_part(model: type[Model], data: Any) -> Model | None:
    """Return the record without the keys that cannot be read, or None if it needs them."""
    try:
        return model.model_validate(data)
    except ValidationError as error:
        errors = error.errors()
    if not isinstance(data, dict):
        return None
    kept = copy.deepcopy(data)
    for each in errors:
        place, _ = _place_in(data, each["loc"])
        if place and each["type"] == "extra_forbidden":
            _drop(kept, place)
        elif place:
            kept.pop(place[0], None)
    try:
        return model.model_validate(kept)
    except ValidationError:
        return None


def as_written(model: type[Model], data: dict[str, Any]) -> Model:
    """Return a record of what is written, unread, for what names it; None for what it lacks."""
    must = {(f.alias or key): None for key, f in model.model_fields.items() if f.is_required()}
    return model.model_construct(**must | data)


def _drop(data: Any, place: Place) -> None:
    """Take one key out of nested data; nothing happens when it is gone already."""
    for part in place[:-1]:
        there = part in range(len(data)) if isinstance(data, list) else part in data
        data = data[part] if there else {}
    data.pop(place[-1], None)


def _problem(model: type[BaseModel], data: Any, error: ErrorDetails, report: Report) -> Problem:
    place, found = _place_in(data, error["loc"])
    kind, context = error["type"], error.get("ctx", {})
    if kind == "extra_forbidden":
        known = _keys_at(model, error["loc"][:-1])
        return report(place, unknown("key", str(place[-1]), known))
    if kind == "missing" and isinstance(error["loc"][-1], str):
        choices = _choices(_kind_at(model, error["loc"]))
        return report(place, f"key {error['loc'][-1]!r} is missing{choices}")
    if kind == "union_tag_not_found":
        return report(place, f"key {context['discriminator']} is missing")
    if kind == "union_tag_invalid":
        key = str(context["discriminator"]).strip("'")
        return report((*place, key), _one_of(str(context["expected_tags"]), context["tag"]))
    if kind in ("literal_error", "enum"):
        return report(place, _one_of(str(context["expected"]), found))
    if kind in ("model_type", "model_attributes_type"):
        wanted = _required(_kind_at(model, error["loc"]))
        return report(place, f"needs a table{wanted}, found {_shown(found)}")
    return report(place, _message(error, found))


def _message(error: ErrorDetails, found: Any) -> str:
    kind, context = error["type"], error.get("ctx", {})
    if kind == "value_error":
        return str(context["error"])
    if kind in _KINDS:
        return f"needs {_KINDS[kind]}, found {_shown(found)}"
    if kind in _BOUNDS:
        return f"must be {_BOUNDS[kind].format(**context)}, found {_shown(found)}"
    if kind == "string_pattern_mismatch":
        return f"must match {context['pattern']}, found {_shown(found)}"
    if kind in ("missing", "too_short"):
        return f"has too few entries: {_shown(found)}"
    if kind == "too_long":
        return f"has too many entries, {context['max_length']} are right: {_shown(found)}"
    if kind == "string_too_short":
        return "must not be empty"
    return error["msg"]


def _one_of(expected: str, found: Any) -> str:
    names = _QUOTED.findall(expected)
    near = nearest(found, names) if isinstance(found, str) else None
    hint = f"; did you mean {near!r}?" if near else ""
    return f"must be {expected}, found {_shown(found)}{hint}"


def _shown(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= 80 else text[:77] + "..."


def _place_in(data: Any, loc: tuple[int | str, ...]) -> tuple[Place, Any]:
    """Return the part of ``loc`` that is in the data, and what stands there.

    What is not in the data are names of union members and keys that are missing.
    """
    place: Place = ()
    for part in loc:
        if isinstance(data, dict):
            there = part in data
        else:
            there = isinstance(data, list | tuple) and part in range(len(data))
        if there:
            data = data[part]
            place = (*place, part)
    return place, data


def _kind_at(kind: Any, loc: tuple[int | str, ...]) -> Any:
    for part in loc:
        kind = _inside(plain_type(kind), part)
    return plain_type(kind)


def _choices(kind: Any) -> str:
    """Return what a key may say, in words, where it is one of a few; else nothing."""
    if get_origin(kind) is not Literal:
        return ""
    *others, last = (repr(one) for one in get_args(kind))
    return f": write {', '.join(others)} or {last}" if others else f": write {last}"


def _required(kind: Any) -> str:
    """Return the keys that a table must have, in words; nothing where none must be there."""
    if not (isinstance(kind, type) and issubclass(kind, BaseModel)):
        return ""
    names = [f.alias or name for name, f in kind.model_fields.items() if f.is_required()]
    return f" with {', '.join(names)}" if names else ""


def _keys_at(kind: Any, loc: tuple[int | str, ...]) -> list[str]:
    kind = _kind_at(kind, loc)
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        return [field.alias or name for name, field in kind.model_fields.items()]
    return []


def _inside(kind: Any, part: int | str) -> Any:
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        for name, field in kind.model_fields.items():
            if part == (field.alias or name):
                return field.annotation
        return None
    if get_origin(kind) in (Union, types.UnionType):
        return next((member for member in get_args(kind) if _has_tag(member, part)), None)
    if get_origin(kind) is dict:
        return get_args(kind)[1]
    return next(iter(get_args(kind)), None)


def _has_tag(member: Any, tag: int | str) -> bool:
    if not (isinstance(member, type) and issubclass(member, BaseModel)):
        return False
    return any(tag in get_args(field.annotation) for field in member.model_fields.values())


def plain_type(kind: Any) -> Any:
    """Return a type without its annotations and without "or None"."""
    while get_origin(kind) is Annotated:
        kind = get_args(kind)[0]
    if get_origin(kind) in (Union, types.UnionType):
        members = [member for member in get_args(kind) if member is not type(None)]
        return plain_type(members[0]) if len(members) == 1 else kind
    return kind
