"""Digests of data by content: equal values have equal digests, in any process."""

from __future__ import annotations

import hashlib
import struct
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from functools import cache
from pathlib import PurePath
from typing import Any

import numpy as np
from pydantic import BaseModel

Refer = Callable[[Any], object]
"""Returns what a record is called, None for one whose content counts."""


class NoDigestError(TypeError):
    """A value whose content cannot be told for sure."""


class Digester:
    """Digests with what is known of large values kept by identity.

    Parameters
    ----------
    refer : callable, optional
        Records that have a name count by that; the rest by content.
    large : dict, optional
        Where digests of arrays are kept, by identity, for several digesters to share.
    """

    def __init__(
        self, refer: Refer | None = None, large: dict[int, tuple[Any, bytes]] | None = None
    ) -> None:
        self._refer = refer
        self._known: dict[int, tuple[Any, bytes]] = {}
        self._arrays = {} if large is None else large

    def of(self, value: Any) -> bytes:
        """Return the digest of a value, 20 bytes.

        Raises
        ------
        NoDigestError
            If something in it is neither plain data nor a record of such.
        """
        return _hash(b"", self._told(value))

    def _told(self, value: Any) -> bytes:
        exact = _EXACT.get(type(value))
        if exact is not None:
            return exact(value)
        plain = _plain(value)
        if plain is not None:
            return plain
        known = (self._arrays if isinstance(value, np.ndarray) else self._known).get(id(value))
        if known is not None:
            return known[1]
        name = None if self._refer is None else self._refer(value)
        told = self._content(value) if name is None else _hash(b"named", self._told(name))
        # The value is held: its identity is not given to another one meanwhile.
        held = self._arrays if isinstance(value, np.ndarray) else self._known
        held[id(value)] = (value, told)
        return told

    def _content(self, value: Any) -> bytes:
        kind: Any = type(value)
        title = _title(kind)
        if isinstance(value, np.ndarray):
            if value.dtype.hasobject:
                raise NoDigestError("an array of objects has no digest")
            shape = f"{value.dtype.str}{value.shape}".encode()
            return _hash(b"array", shape, np.ascontiguousarray(value).tobytes())
        if isinstance(value, tuple | list):
            return _hash(title, *map(self._told, value))
        if isinstance(value, Mapping):
            pairs = [one for pair in value.items() for one in map(self._told, pair)]
            return _hash(b"mapping", *pairs)
        if isinstance(value, set | frozenset):
            return _hash(b"set", *sorted(map(self._told, value)))
        if is_dataclass(value) and not isinstance(value, type):
            return _hash(title, *[self._told(getattr(value, name)) for name in _fields(kind)])
        if isinstance(value, BaseModel):
            inside = value.__dict__ | (value.__pydantic_extra__ or {})
            inside |= {"set": value.model_fields_set} | (value.__pydantic_private__ or {})
            told = [self._told(one) for name in sorted(inside) for one in (name, inside[name])]
            return _hash(title, *told)
        raise NoDigestError(f"a {title.decode()} has no digest")


@cache
def _title(kind: type) -> bytes:
    return f"{kind.__module__}.{kind.__qualname__}".encode()


@cache
def _fields(kind: Any) -> tuple[str, ...]:
    return tuple(one.name for one in fields(kind))


_EXACT: dict[type, Callable[[Any], bytes]] = {
    type(None): lambda value: b"None",
    bool: lambda value: b"True" if value else b"False",
    str: lambda value: b"text " + value.encode(),
    int: lambda value: b"int %d" % value,
    float: lambda value: b"float " + struct.pack("<d", value),
}
"""What `_plain` gives, at once: these are most of all values."""


def _plain(value: Any) -> bytes | None:
    """Return plain data as bytes that no other plain data has; None for what is not plain."""
    if value is None or isinstance(value, bool):
        return f"{value}".encode()
    if isinstance(value, Enum):
        return f"enum {type(value).__qualname__}.{value.name}".encode()
    if isinstance(value, np.generic):
        return f"scalar {value.dtype.str} ".encode() + value.tobytes()
    if isinstance(value, str):
        return b"text " + value.encode()
    if isinstance(value, int):
        return f"int {value}".encode()
    if isinstance(value, float):
        return b"float " + struct.pack("<d", value)
    if isinstance(value, bytes):
        return b"bytes " + value
    if isinstance(value, PurePath):
        return b"path " + str(value).encode()
    return None


def _hash(title: bytes, *parts: bytes) -> bytes:
    # With its length in front no part can be taken for another.
    told = [one for part in parts for one in (len(part).to_bytes(8, "little"), part)]
    return hashlib.blake2b(b"".join([title, *told]), digest_size=20).digest()
