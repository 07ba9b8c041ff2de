"""A yard with a wall and a crate that is moved past it, as plain data.

The face of the wall is the plane y = -1; the crate is a cube of 1 m.
"""

from __future__ import annotations

import copy

from bench import STAND, STRAIGHT, scene_of

from reach.files.people import load_population
from reach.model.procedure import Procedure
from reach.situations import resolve

YARD = {
    "format": 1,
    "solids": {
        "wall": {"box": [14.0, 0.2, 6.0], "at": [0.0, -1.1, 0.0]},
        "crate-box": {"in": "crate", "box": [1.0, 1.0, 1.0]},
    },
    "payloads": {
        "crate": {
            "poses": {
                "left": {"at": [-3.0, 0.0, 0.0]},
                "right": {"at": [3.0, 0.0, 0.0]},
                "turned": {"at": [3.0, 0.0, 0.0], "turn": [{"axis": [0, 0, 1], "angle": "90 deg"}]},
                "middle": {"at": [0.0, 0.0, 0.0]},
                "touching": {"at": [-3.0, -0.5, 0.0]},
            },
            "paths": {
                "along": {"through": ["left", "right"]},
                "turning": {"through": ["left", "middle", "turned"]},
                "off": {"through": ["touching", "left"]},
            },
        }
    },
    "restraints": {"stand": STAND},
    "workers": {
        "R": {"size": "medium", "hand": "right", "suit": "halden"},
        "L": {"size": "medium", "hand": "left", "suit": "halden"},
    },
}


def yard(**changes):
    """The yard as plain data; ``solids={"post": {...}}`` adds to or changes a table."""
    data = copy.deepcopy(YARD)
    for table, entries in changes.items():
        for name, entry in entries.items():
            if isinstance(entry, dict):
                data.setdefault(table, {})[name] = {**data.get(table, {}).get(name, {}), **entry}
            else:
                data.setdefault(table, {})[name] = entry
    return data


def with_path(data, name="way", **path):
    """Add one path to the crate."""
    data["payloads"]["crate"]["paths"][name] = path
    return data


def carry(path="along", name="carry", duration="5 min", start="01:00", **more):
    """One step in which a mechanism moves the crate along a path; None leaves it blank."""
    action = {"do": "move", "payload": "crate", **more}
    written = {"duration": duration, "start": start, "path": path}
    return {
        "name": name, "lane": "M", "actions": [action],
        **{key: value for key, value in written.items() if value is not None},
    }  # fmt: skip


def standing(lane, where, name=None, start="00:50", duration="30 min"):
    """One step of a worker who stands in a socket."""
    return {
        "name": name or f"{lane} stands", "lane": lane, "where": where, "restraint": "stand",
        "setting": STRAIGHT, "start": start, "duration": duration, "actions": [{"do": "ingress"}],
    }  # fmt: skip


def yard_of(data, *steps, arms=None, kinds=None):
    """The site of a yard; ``kinds`` says what lanes are where it is not M that moves things."""
    if kinds is None:
        kinds = {one["lane"]: "inside lead" if one["lane"] == "M" else "worker" for one in steps}
    procedure = Procedure(format=1, lanes=kinds, steps=steps)
    site, _ = resolve(scene_of(data), {}, procedure, load_population, arms=arms)
    return site


def moved(data, *steps):
    """The site and its only motion."""
    site = yard_of(data, *(steps or (carry(),)))
    (carriage,) = site.carriages
    return site, carriage


def findings(check, data, *steps):
    """What one check on what is moved finds."""
    site = yard_of(data, *(steps or (carry(),)))
    return check.find(site, site.carriages)
