"""What a key of a file takes, in words, from the JSON Schema and the record behind it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from pydantic.fields import FieldInfo

from pages.markdown import link
from reach.units import SI

KINDS = (*(kind for kind in SI if kind not in ("turning", "ratio")), "elapsed time")
"""Kinds of quantities that a description may begin with."""

_QUANTITY = re.compile(r"(elapsed time|[a-z]+)(?:: SI number or text such as|, such as) '[^']*'")
_SPECIAL = {
    "detent number of a numbered joint": "a detent number or an angle",
    "length each way along": "a length, or [x, y, z] of lengths",
    "name, or { in = name": "a name, or a table of `in` and `tied`",
}
"""How a description of a type begins -> what it takes in words."""

_THREE = "three values, each a length"

_NOT_TOLD = (None, "", [], {}, ())


def takes(told: Mapping[str, Any], schema: Mapping[str, Any], field: FieldInfo | None) -> str:
    """Return what a key takes, with the bounds of it.

    Parameters
    ----------
    told : mapping
        The key in the JSON Schema.
    schema : mapping
        The whole schema, for what is referred to.
    field : FieldInfo or None
        The key in its record, where it has one.
    """
    words = _takes(told, schema)
    unit = SI.get(words, "")
    bounds = _bounds(told, unit) or (_bounds_of(field, unit) if field is not None else "")
    return words + bounds


def _takes(told: Mapping[str, Any], schema: Mapping[str, Any]) -> str:
    if (special := _special(told)) is not None:
        return special
    if "$ref" in told:
        return _record(str(told["$ref"]).rpartition("/")[2], schema)
    for key in ("anyOf", "oneOf"):
        if key in told:
            parts = [one for one in told[key] if one.get("type") != "null"]
            words = list(dict.fromkeys(_takes(one, schema) for one in parts))
            return ", ".join(words) if len(words) > 2 else " or ".join(words)
    if "const" in told:
        return _quoted(told["const"])
    if "enum" in told:
        return "one of " + ", ".join(_quoted(one) for one in told["enum"])
    if told.get("type") == "array":
        return _list(told, schema)
    if told.get("type") == "object":
        return _table(told, schema)
    return _plain(told)


def _special(told: Mapping[str, Any]) -> str | None:
    """Return what a quantity, or another type with a word of its own, takes."""
    description = str(told.get("description", ""))
    if "anyOf" in told or "items" in told or "additionalProperties" in told:
        return None
    for begin, words in _SPECIAL.items():
        if begin in description:
            return words
    found = _QUANTITY.search(description)
    return found.group(1) if found and isinstance(told.get("type"), list) else None


def meaning(told: Mapping[str, Any]) -> str:
    """Return what a key means, without how its value is written: that stands beside it."""
    description = str(told.get("description", ""))
    begins = (f" ({begin}" for begin in _SPECIAL)
    cut = re.sub(r" \([a-z ]+: SI number or text such as '[^']*'\)$", "", description)
    cut = re.sub(r" \([a-z]+, such as '[^']*'\)$", "", cut)
    for begin in begins:
        if begin in cut and cut.endswith(")"):
            cut = cut[: cut.index(begin)]
    return cut


def _record(name: str, schema: Mapping[str, Any]) -> str:
    record = schema["$defs"][name]
    if "enum" in record:
        return "one of " + ", ".join(_quoted(one) for one in record["enum"])
    return link(name)


def _list(told: Mapping[str, Any], schema: Mapping[str, Any]) -> str:
    if "prefixItems" in told:
        words = [_takes(one, schema) for one in told["prefixItems"]]
        if len(words) == 3:
            return f"[x, y, z], each a {words[0]}" if len(set(words)) == 1 else _bracket(words)
        return f"two values, each {_article(words[0])}" if len(set(words)) == 1 else _bracket(words)
    inner = told.get("items", {})
    if told.get("minItems") == told.get("maxItems") == 3 and inner.get("type") == "number":
        return "[x, y, z], a direction"
    words = f"list of {_several(_takes(inner, schema))}"
    return words.replace("[x, y, z], each a length", _THREE).replace("of one of", "of any of")


def _several(words: str) -> str:
    return {"text": "texts", "angle": "angles"}.get(words, words)


def _bracket(words: list[str]) -> str:
    return f"[{', '.join(words)}]"


def _table(told: Mapping[str, Any], schema: Mapping[str, Any]) -> str:
    inner = told.get("additionalProperties")
    if isinstance(inner, dict):
        return f"names, each with {_article(_takes(inner, schema))}"
    return "a table" if not told.get("properties") else "a table, see below"


def _article(words: str) -> str:
    if words.startswith(("one of", "a ", "names")):
        return words
    return f"an {words}" if words.lstrip("[")[0] in "aeiouAEIOU" else f"a {words}"


def _plain(told: Mapping[str, Any]) -> str:
    words = {
        "string": "text",
        "integer": "whole number",
        "number": "number",
        "boolean": "`true` or `false`",
        "null": "null",
    }
    kind = told.get("type", "")
    several = kind if isinstance(kind, list) else [kind]
    return " or ".join(words.get(one, str(one)) for one in several)


def _bounds(told: Mapping[str, Any], unit: str) -> str:
    for one in (told, *(part for part in told.get("anyOf", ()))):
        low = _first(one, ("minimum", "ge"))
        above = _first(one, ("exclusiveMinimum", "gt"))
        high = _first(one, ("maximum", "le"))
        below = _first(one, ("exclusiveMaximum", "lt"))
        found = _between(low, above, high, below, unit)
        if found:
            return found
    return ""


def _bounds_of(field: FieldInfo, unit: str) -> str:
    """Return the bounds of a quantity, which its record tells and its schema does not."""
    found: dict[str, Any] = {}
    for told in field.metadata:
        for key in ("ge", "gt", "le", "lt"):
            value = getattr(told, key, None)
            if isinstance(value, int | float):
                found.setdefault(key, value)
    return _between(*(found.get(key) for key in ("ge", "gt", "le", "lt")), unit)


def _between(low: Any, above: Any, high: Any, below: Any, unit: str) -> str:
    words = [
        f"{word} {_number(value)} {unit if value else ''}".rstrip()
        for word, value in (
            ("at least", low), ("above", above), ("at most", high), ("below", below),
        )
        if value is not None
    ]  # fmt: skip
    return f", {', '.join(words)}" if words else ""


def _number(value: float) -> str:
    return f"{value:.4g}" if value != int(value) else f"{int(value):,}"


def _first(told: Mapping[str, Any], keys: tuple[str, ...]) -> Any:
    return next((told[key] for key in keys if key in told), None)


def default(key: str, told: Mapping[str, Any], record: Mapping[str, Any]) -> str:
    """Return "must" for a key that must be there, else what is taken where it is left out."""
    if key in record.get("required", ()):
        return "must"
    value = told.get("default")
    if value in _NOT_TOLD:
        return ""
    kind = _takes(told, {"$defs": {}}) if "$ref" not in told else ""
    unit = SI.get(kind, "")
    return f"{_quoted(value)} {unit}".rstrip()


def _quoted(value: Any) -> str:
    if isinstance(value, bool):
        return "`true`" if value else "`false`"
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, list):
        return "[" + ", ".join(f"{one:g}" for one in value) + "]"
    return f"`{value}`"
