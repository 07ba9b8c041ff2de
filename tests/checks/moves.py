"""A wall with rails to move along, as plain data: a lock at its left end, a place to its right.

The wall's face is the plane y = 0; rails stand 0.1 m off it and are held from y > 0.
"""

from __future__ import annotations

import copy

from bench import findings_of, procedure_of, resolved, scene_of

WALL = {
    "format": 1,
    "solids": {"wall": {"box": [12.0, 1.0, 6.0], "at": [4.0, -0.5, 0.0]}},
    "handrails": {
        "RA": {"from": [0.0, 0.1, 0.0], "to": [2.0, 0.1, 0.0], "out": [0, 1, 0]},
        "RB": {"from": [2.5, 0.1, 0.0], "to": [4.5, 0.1, 0.0], "out": [0, 1, 0]},
        "RC": {"from": [5.0, 0.1, 0.0], "to": [7.0, 0.1, 0.0], "out": [0, 1, 0]},
    },
    "hatches": {"hatch": {"at": [-0.4, 0.5, 0.0]}},
    "anchors": {
        "A0": {"at": [0.0, 0.1, 0.1], "rating": "2 kN"},
        "A4": {"at": [4.0, 0.1, 0.1], "rating": "2 kN"},
    },
    "tethers": {
        "T1": {"length": 12.0, "anchor": "A0", "worker": "R"},
        "T2": {"length": 12.0, "anchor": "A4"},
    },
    "headings": {
        "up": {"to": [0, 0, 1], "opposite": "down"},
        "out": {"to": [0, 1, 0], "opposite": "in"},
    },
    "items": {
        "crate": {"size": [0.8, 0.6, 0.6], "bulky": True},
        "bag": {"size": [0.4, 0.2, 0.2]},
    },
    "workers": {"R": {"size": "medium", "hand": "right", "suit": "halden"}},
}


def wall(**changes):
    """The wall as plain data; ``handrails={"RB": None}`` takes an entry away."""
    data = copy.deepcopy(WALL)
    for table, entries in changes.items():
        for name, entry in entries.items():
            if entry is None:
                del data[table][name]
            elif isinstance(entry, dict):
                data.setdefault(table, {})[name] = {**data.get(table, {}).get(name, {}), **entry}
            else:
                data.setdefault(table, {})[name] = entry
    return data


def move(to="RC@1.0", start="hatch", route=None, duration="10 min", name="go", lane="R", **more):
    """One step that is one move."""
    action = {"do": "translate", "from": start, "to": to, **more}
    return {"name": name, "lane": lane, "route": route, "duration": duration, "actions": [action]}


ALONG = move(route=["RA", "RB", "RC"])
"""The move on all rails of the wall, as a procedure writes it: a planned one proves no fail."""


def the_move(check, data, *steps, **more):
    """The only finding of one check."""
    (found,) = findings_of(data, *(steps or (move(),)), only=(check,), **more)
    return found


def situation_of(data, *steps):
    """The site and the situation of the only move."""
    site, (situation,) = resolved(data, *(steps or (move(),)))
    return site, situation


__all__ = [
    "ALONG",
    "findings_of",
    "move",
    "procedure_of",
    "resolved",
    "scene_of",
    "situation_of",
    "the_move",
    "wall",
]
