"""Names in a scene that must exist, be unique and not go round in a circle."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from reach.files.carrying import carrying_problems
from reach.files.lines import Place
from reach.files.named import Named
from reach.files.problem import Problem, unknown
from reach.model.hardware import Item, Restraint, Tool
from reach.model.scene import Fastener, Handrail, Payload, Station, Worker
from reach.model.shapes import Placed
from reach.model.suit import Suit
from reach.model.travel import Handhold, Tether

THINGS = (
    "frames",
    "solids",
    "hazards",
    "payloads",
    "guides",
    "cranes",
    "cameras",
    "handrails",
    "handholds",
    "hatches",
    "tethers",
    "anchors",
    "sockets",
    "stations",
    "fasteners",
    "items",
    "workers",
)
"""Tables whose entries are there once: no two may share a name."""
HARDWARE = ("restraints", "tools", "bits", "extensions")
"""Tables of kinds of hardware: no two may share a name, nor share it with an item."""
PARENTS = ("frames", "solids", "payloads")
"""Tables whose entries others can be placed ``in``, besides the world."""


def scene_reference_problems(scene: Named) -> list[Problem]:
    """Return every reference that leads nowhere, name given to two things, and circle."""
    return [
        *_shared_names(scene),
        *_frames(scene),
        *_circles(scene),
        *_people_and_kit(scene),
        *carrying_problems(scene),
        *_sources(scene),
    ]


def _shared_names(scene: Named) -> list[Problem]:
    problems = []
    for group in (THINGS, (*HARDWARE, "items")):
        owners: dict[str, str] = {}
        for table in group:
            for name in scene.names[table]:
                if name in owners:
                    message = f"duplicate name {name!r}: also in {owners[name]}"
                    problems.append(scene.problem(table, name, (), message))
                owners.setdefault(name, table)
    for table in PARENTS:
        if "world" in scene.names[table]:
            problems.append(scene.problem(table, "world", (), "'world' is the name of the root"))
    return problems


def _parents_of(record: object) -> list[tuple[Place, str]]:
    """Return the frames a record is placed in, with the place of each."""
    if isinstance(record, Payload):
        poses = record.poses if isinstance(record.poses, dict) else {}
        found: list[tuple[Place, object]] = [
            (("poses", pose, "in"), getattr(placed, "frame", None))
            for pose, placed in poses.items()
        ]
    else:
        found = [(("in",), getattr(record, "frame", None))]
    return [(place, frame) for place, frame in found if isinstance(frame, str)]


def _frames(scene: Named) -> list[Problem]:
    known = ["world", *(name for table in PARENTS for name in scene.names[table])]
    return [
        scene.problem(table, name, place, unknown("frame", frame, known))
        for table, records in scene.records.items()
        for name, record in records.items()
        for place, frame in _parents_of(record)
        if frame not in known
    ]


def _circles(scene: Named) -> list[Problem]:
    table_of = {name: table for table in PARENTS for name in scene.records[table]}
    above = {
        name: [frame for _, frame in _parents_of(scene.records[table][name])]
        for name, table in table_of.items()
    }
    problems, seen = [], set()
    for start in above:
        circle = circle_from(start, above)
        if circle and frozenset(circle) not in seen:
            seen.add(frozenset(circle))
            table = table_of[circle[0]]
            place: Place = ("in",) if isinstance(scene.records[table][circle[0]], Placed) else ()
            message = f"frames go round in a circle: {' in '.join([*circle, circle[0]])}"
            problems.append(scene.problem(table, circle[0], place, message))
    return problems


def circle_from(start: str, edges: Mapping[str, Iterable[str]]) -> list[str]:
    """Return the names of a circle that leads from ``start`` back to it, or none.

    Examples
    --------
    >>> circle_from("a", {"a": ["b"], "b": ["a", "c"], "c": []})
    ['a', 'b']
    """
    came_from: dict[str, str] = {}
    waiting = [start]
    while waiting:
        name = waiting.pop()
        for other in edges.get(name, ()):
            if other == start:
                path = [name]
                while path[-1] != start:
                    path.append(came_from[path[-1]])
                return path[::-1]
            if other not in came_from:
                came_from[other] = name
                waiting.append(other)
    return []


def _people_and_kit(scene: Named) -> list[Problem]:
    names = scene.names
    problems = []

    def check(table: str, name: str, place: Place, found: object, kinds: Sequence[str]) -> None:
        if isinstance(found, str) and not any(found in names[kind] for kind in kinds):
            message = missing(found, names, kinds)
            problems.append(scene.problem(table, name, place, message))

    for name, record in scene.records["stations"].items():
        assert isinstance(record, Station)
        check("stations", name, ("restraint",), record.restraint, ("restraints", "items"))
    for name, record in scene.records["workers"].items():
        assert isinstance(record, Worker)
        check("workers", name, ("suit",), record.suit, ("suits",))
        check("workers", name, ("size",), record.size, ("sizes",))
    for name, record in scene.records["fasteners"].items():
        assert isinstance(record, Fastener)
        for i, tool in enumerate(record.tools if isinstance(record.tools, list | tuple) else ()):
            check("fasteners", name, ("tools", i), tool, ("tools", "items"))
    for name, record in scene.records["items"].items():
        assert isinstance(record, Item)
        check("items", name, ("is",), record.kind or None, HARDWARE)
    for table in ("handrails", "handholds"):
        for name, record in scene.records[table].items():
            assert isinstance(record, Handrail | Handhold)
            for i, item in enumerate(record.stowed if isinstance(record.stowed, tuple) else ()):
                check(table, name, ("stowed", i), item, ("items",))
    for name, record in scene.records["tethers"].items():
        assert isinstance(record, Tether)
        check("tethers", name, ("anchor",), record.anchor, ("anchors",))
        check("tethers", name, ("worker",), record.worker, ("workers",))
    return problems


def _sources(scene: Named) -> list[Problem]:
    """Return the sources that are for no key of their record; "*" is for all others."""
    problems = []
    for table in ("suits", "restraints", "tools"):
        for name, record in scene.records[table].items():
            assert isinstance(record, Suit | Restraint | Tool)
            keys = ["*", *(f.alias or key for key, f in type(record).model_fields.items())]
            problems += [
                scene.problem(table, name, ("sources", key), unknown("key", key, keys))
                for key in (record.sources if isinstance(record.sources, dict) else ())
                if key not in keys
            ]
    return problems


def missing(name: str, names: Mapping[str, Iterable[str]], tables: Sequence[str]) -> str:
    """Return the message for a reference to nothing; empty tables hint at ``use``.

    Examples
    --------
    >>> missing("halden", {"suits": []}, ["suits"])
    "unknown suit 'halden'; there are none; is 'shipped:suits' missing from use?"
    """
    kinds = [table.removesuffix("s") for table in tables]
    what = " or ".join(part for part in (", ".join(kinds[:-1]), kinds[-1]) if part)
    message = unknown(what, name, [known for table in tables for known in names[table]])
    shipped = [table for table in tables if table in SHIPPED_IN]
    if not shipped or any(names[table] for table in shipped):
        return message
    return f"{message}; is 'shipped:{SHIPPED_IN[shipped[0]]}' missing from use?"


SHIPPED_IN = {
    "suits": "suits",
    "sizes": "sizes",
    "restraints": "restraints",
    "tools": "tools",
    "bits": "tools",
    "extensions": "tools",
}
"""Table -> the shipped model file that holds some."""
