"""What differs between two values of the same kind, key by key, in words."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from difflib import SequenceMatcher
from typing import Any

from pydantic import BaseModel

from reach.comparing.wording import NOTHING, hint_of, inner, is_measure, words
from reach.model.record import Record

_SAME = 1e-12
"""Numbers that differ by no more than this share were written in other units, nothing else."""


class Change(Record):
    """One key that differs; values in words with their units."""

    key: str
    old: str
    new: str

    @property
    def field(self) -> str:
        """The key of the step or record that the change is in."""
        return self.key.split(".")[0]


def same(old: Any, new: Any) -> bool:
    """Return whether two values say the same; numbers may differ in their last digit.

    Examples
    --------
    >>> same((0.1 + 0.2, "a"), (0.3, "a")), same(1, True), same({"a": 1.0}, {"a": 1.1})
    (True, False, False)
    """
    if isinstance(old, bool) or isinstance(new, bool):
        return old is new
    if isinstance(old, float | int) and isinstance(new, float | int):
        return isinstance(old, int) == isinstance(new, int) and math.isclose(
            old, new, rel_tol=_SAME, abs_tol=_SAME
        )
    if isinstance(old, BaseModel) and type(old) is type(new):
        return all(same(getattr(old, key), getattr(new, key)) for key in type(old).model_fields)
    if isinstance(old, dict) and isinstance(new, dict):
        return old.keys() == new.keys() and all(same(old[key], new[key]) for key in old)
    if isinstance(old, tuple | list) and isinstance(new, tuple | list):
        return len(old) == len(new) and all(map(same, old, new))
    return type(old) is type(new) and bool(old == new)


def changes(old: Any, new: Any, hint: Any = None, key: str = "") -> list[Change]:
    """Return what differs, as deep down as both sides have the same form.

    Parameters
    ----------
    old, new : object
        Two records of one kind, or what stands in a field of them.
    hint : type, optional
        Of the field.
    key : str
        Dotted keys that lead there.
    """
    if same(old, new):
        return []
    if isinstance(old, BaseModel) and type(old) is type(new) and not is_measure(old):
        fields = type(old).model_fields.items()
        return [
            change
            for name, field in fields
            for change in changes(
                getattr(old, name),
                getattr(new, name),
                hint_of(field),
                _below(key, field.alias or name),
            )
        ]
    if isinstance(old, dict) and isinstance(new, dict):
        return [
            change
            for name in {**old, **new}
            for change in changes(
                old.get(name), new.get(name), inner(hint, name), _below(key, name)
            )
        ]
    if _records(old) and _records(new) and (old or new):
        return list(_listed(old, new, key))
    return [_change(key, old, new, hint)]


def _change(key: str, old: Any, new: Any, hint: Any) -> Change:
    was, now = words(old, hint), words(new, hint)
    if is_measured(old, new) and was == now:
        was, now = words(old, hint, exact=True), words(new, hint, exact=True)
    if was == now:  # the value with its unit is the same: what differs is where it comes from
        was, now = _sourced(old, was), _sourced(new, now)
    return Change(key=key, old=was, new=now)


def is_measured(old: Any, new: Any) -> bool:
    """Return whether numbers stand on both sides, be it inside something."""
    return old is not None and new is not None and not isinstance(old, str)


def _sourced(value: Any, text: str) -> str:
    source = getattr(value, "source", None)
    return f"{text} ({words(source)})" if isinstance(source, BaseModel) else text


def _records(value: Any) -> bool:
    return isinstance(value, tuple) and all(isinstance(each, BaseModel) for each in value)


def _listed(old: Sequence[BaseModel], new: Sequence[BaseModel], key: str) -> Iterator[Change]:
    """Yield what differs between lists of records: those of one kind are held against each other.

    Records that only one side has are put in or taken out; they do not shift the others.
    """
    kinds_old, kinds_new = [_kind(one) for one in old], [_kind(one) for one in new]
    matcher = SequenceMatcher(None, kinds_old, kinds_new, autojunk=False)
    for op, i1, i2, j1, j2 in matcher.get_opcodes():
        if op == "equal":
            for i, j in zip(range(i1, i2), range(j1, j2), strict=True):
                yield from changes(old[i], new[j], None, _below(key, _label(new, j)))
            continue
        for i in range(i1, i2):
            yield Change(key=_below(key, _label(old, i)), old=words(old[i]), new=NOTHING)
        for j in range(j1, j2):
            yield Change(key=_below(key, _label(new, j)), old=NOTHING, new=words(new[j]))


def _kind(record: BaseModel) -> tuple[str, str]:
    """Return what tells a record of a list from others: its action or its name."""
    name = getattr(record, "do", None) or getattr(record, "name", None) or ""
    return type(record).__name__, str(name)


def _label(records: Sequence[BaseModel], k: int) -> str:
    """Return what to call a record of a list, with its number where several are alike."""
    kind = _kind(records[k])
    alike = [i for i, one in enumerate(records) if _kind(one) == kind]
    name = kind[1] or str(k + 1)
    return f"{name} ({alike.index(k) + 1})" if kind[1] and len(alike) > 1 else name


def _below(key: str, name: object) -> str:
    return f"{key}.{name}" if key else str(name)
