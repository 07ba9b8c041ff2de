"""Every value a result rests on that is not geometry, with where it comes from."""

from __future__ import annotations

from typing import Any, NamedTuple

from reach.files.scene import LoadedScene
from reach.model.hardware import Restraint, Tool
from reach.model.provenance import Provenance
from reach.model.suit import Suit
from reach.units import text_of


class Assumption(NamedTuple):
    """One value: its path in the scene, the value as text, and its source."""

    path: str
    value: str
    source: Provenance


def assumptions(loaded: LoadedScene) -> list[Assumption]:
    """Return limits, suits, restraints and tools of a scene, value by value.

    A suit, restraint or tool without any source counts as entered by the user.  Listed
    are the suits of workers, and the restraints and tools that an item, a station or a
    fastener names or that are written in the scene's own files.
    """
    scene = loaded.scene
    found = [
        Assumption(f"limits.{name}", text_of(limit.value, limit.unit), limit.source)
        for name, limit in scene.limits.items()
    ]
    used = {
        "suits": {worker.suit for worker in scene.workers.values()},
        "restraints": _used(loaded, "restraints"),
        "tools": _used(loaded, "tools"),
    }
    for table, names in used.items():
        for name, record in getattr(scene, table).items():
            if name in names:
                found += _values(f"{table}.{name}", record, loaded.written[table, name])
    return found


def _used(loaded: LoadedScene, table: str) -> set[str]:
    scene = loaded.scene
    own = {n for t, n in loaded.origins if t == table and _is_own(loaded, t, n)}
    items = {item.kind for item in scene.items.values()}
    stations = {station.restraint for station in scene.stations.values()}
    fasteners = {tool for fastener in scene.fasteners.values() for tool in fastener.tools}
    return own | items | stations | fasteners


def _is_own(loaded: LoadedScene, table: str, name: str) -> bool:
    return loaded.origins[table, name].file.startswith(f"{loaded.name}/")


def _values(
    path: str, record: Suit | Restraint | Tool, written: dict[str, Any]
) -> list[Assumption]:
    fallback = record.sources.get("*", Provenance())
    found = []
    for key, kind in type(record).model_fields.items():
        name = kind.alias or key
        value = written.get(name, getattr(record, key))
        if key not in ("title", "kind", "sources") and value not in (None, (), {}):
            source = record.sources.get(name, fallback)
            found.append(Assumption(f"{path}.{name}", _text(value), source))
    return found


def _text(value: Any) -> str:
    """Return a value as it is written in the file; plain numbers are SI."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key}: {_text(each)}" for key, each in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_text(each) for each in value) + "]"
    return f"{value:.9g}" if isinstance(value, float) else str(value)
