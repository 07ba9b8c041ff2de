"""Small outings on the clock, as plain data: a lock, a rail, two bolts, a crane and two workers."""

from __future__ import annotations

import copy

from bench import scene_of

from reach.checks import check_named
from reach.files.people import load_population
from reach.lasting import outing_of
from reach.model.procedure import Procedure
from reach.situations import resolve

PLACE = {
    "format": 1,
    "solids": {"wall": {"box": [12.0, 1.0, 6.0], "at": [4.0, -0.5, 0.0]}},
    "handrails": {
        "RA": {"from": [0.0, 0.1, 0.0], "to": [2.0, 0.1, 0.0], "out": [0, 1, 0]},
        "RB": {"from": [2.5, 0.1, 0.0], "to": [4.5, 0.1, 0.0], "out": [0, 1, 0]},
    },
    "hatches": {"hatch": {"at": [-0.4, 0.5, 0.0]}},
    "fasteners": {
        "B1": {"at": [4.0, 0.1, 0.3], "axis": [0, 1, 0], "turns": 12},
        "B2": {"at": [4.0, 0.1, 0.5], "axis": [0, 1, 0]},
        "C0": {"at": [3.0, 0.1, 0.3], "axis": [0, 1, 0], "kind": "connector"},
        "C1": {"at": [3.0, 0.1, 0.5], "axis": [0, 1, 0], "kind": "connector"},
    },
    "cranes": {"Arm": {"arm": "shipped:brackenfall", "at": [-12.0, 3.0, 0.0]}},
    "stations": {
        "S": {"at": [3.0, 0.9, -0.9], "up": [0, 0, 1], "toes": [0, -1, 0], "restraint": "none"},
        "tip": {
            "at": [9, 2, 0], "up": [0, 0, 1], "toes": [0, -1, 0], "restraint": "none", "on": "Arm"
        },
    },
    "restraints": {"none": {"kind": "none"}},
    "workers": {
        "A": {"size": "medium", "hand": "right", "suit": "halden"},
        "B": {"size": "medium", "hand": "right", "suit": "halden"},
    },
}  # fmt: skip
LANES = {"A": "worker", "B": "worker", "CO": "crane", "IN": "inside lead"}
OUT = {"do": "egress", "from": "hatch"}
IN = {"do": "ingress", "to": "hatch"}
CHECK = {"do": "glove check"}
WORK = {"do": "confirm", "what": "work"}


def place(**changes):
    """The place as plain data; ``fasteners={"B2": {"turns": 9}}`` adds to or changes a table."""
    data = copy.deepcopy(PLACE)
    for table, entries in changes.items():
        for name, entry in entries.items():
            old = data.setdefault(table, {}).get(name)
            both = isinstance(entry, dict) and isinstance(old, dict)
            data[table][name] = {**old, **entry} if both else entry
    return data


def step(name, lane, start, minutes, *actions, **more):
    """One step; ``start`` as 'hh:mm' or None, ``minutes`` a number or None."""
    written = {"name": name, "lane": lane, "actions": actions or (WORK,), **more}
    if start is not None:
        written["start"] = start
    if minutes is not None:
        written["duration"] = f"{minutes} min"
    return written


def asked(data, *steps, begin=True, **tables):
    """Site and outing; ``begin`` says how it starts, which makes it a whole outing."""
    start = {"begin": begin if isinstance(begin, dict) else {}} if begin else {}
    procedure = Procedure(format=1, lanes=LANES, steps=steps, **start, **tables)
    site, situations = resolve(scene_of(data), {}, procedure, load_population)
    return site, outing_of(site, situations, procedure)


def findings(check, *steps, data=None, limits=None, **tables):
    """What one check of the whole outing finds."""
    data = place() if data is None else data
    data["limits"] = {**data.get("limits", {}), **(limits or {})}
    return check_named(check).find(*asked(data, *steps, **tables))


def only(check, *steps, **more):
    """The only finding of a check."""
    (found,) = findings(check, *steps, **more)
    return found


MINUTE = 60.0
