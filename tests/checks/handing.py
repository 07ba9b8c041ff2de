"""Two workers face each other over a crate with grips on both sides, as plain data."""

from __future__ import annotations

import copy

from bench import scene_of

from reach.checks import CHECKS, findings_in
from reach.files.people import load_population
from reach.model.procedure import Procedure
from reach.situations import resolve

CRATE = {
    "format": 1,
    "payloads": {
        "crate": {
            "mass": 100.0,
            "poses": {"here": {"at": [0.75, 0.0, 1.35]}, "seat": {"at": [0.75, 0.0, 1.25]}},
        }
    },
    "solids": {
        "box": {"in": "crate", "box": [0.3, 0.8, 0.2]},
        "floor": {"box": [6.0, 6.0, 0.1], "at": [0.75, 0.0, -0.5]},
    },
    "handrails": {
        "G1": {"in": "crate", "from": [-0.25, 0.10, 0.0], "to": [-0.25, 0.30, 0.0]},
        "G2": {"in": "crate", "from": [-0.25, -0.30, 0.0], "to": [-0.25, -0.10, 0.0]},
        "G3": {"in": "crate", "from": [0.25, 0.10, 0.0], "to": [0.25, 0.30, 0.0]},
        "G4": {"in": "crate", "from": [0.25, -0.30, 0.0], "to": [0.25, -0.10, 0.0]},
    },
    "guides": {"GU": {"payload": "crate", "pose": "seat", "offset": 0.015, "angle": "2 deg"}},
    "restraints": {"plate": {"kind": "foot restraint", "holds_torque": 100.0}},
    "stations": {
        "SR": {"at": [0.0, 0.0, 0.0], "up": [0, 0, 1], "toes": [1, 0, 0], "restraint": "plate"},
        "SL": {"at": [1.5, 0.0, 0.0], "up": [0, 0, 1], "toes": [-1, 0, 0], "restraint": "plate"},
    },
    "workers": {
        "R": {"size": "medium", "hand": "right", "suit": "halden"},
        "L": {"size": "medium", "hand": "left", "suit": "halden"},
    },
}


def crate(**changes):
    """The crate as plain data; ``solids={"x": {...}}`` adds to a table or changes an entry."""
    data = copy.deepcopy(CRATE)
    for table, entries in changes.items():
        for name, entry in entries.items():
            if isinstance(entry, dict):
                data.setdefault(table, {})[name] = {**data.get(table, {}).get(name, {}), **entry}
            else:
                data.setdefault(table, {})[name] = entry
    return data


def at(name, lane, *actions, where=None, **more):
    """One step of one worker at a station, their own unless said otherwise."""
    return {"name": name, "lane": lane, "where": where or f"S{lane}", "actions": actions, **more}


def hold(*grips):
    return {"do": "hold", "grips": grips or ("G1", "G2")}


def give(to="L", *grips):
    return {"do": "hand over", "to": to, "grips": grips or ("G3", "G4")}


def align():
    return {"do": "align", "guide": "GU"}


READY = at("ready", "L", {"do": "ingress"}, start=0.0, duration=60.0)
TAKE = at("take", "R", hold(), start=60.0, duration=60.0)
GIVE = at("give", "R", give(), start=120.0, duration=60.0)
SEAT = at("seat", "L", align(), start=180.0, duration=100.0)
JOB = (READY, TAKE, GIVE, SEAT)


def resolved(data, *steps, sizes=None):
    lanes = {one["lane"]: "worker" for one in steps}
    procedure = Procedure(format=1, lanes=lanes, steps=steps)
    return resolve(scene_of(data), {}, procedure, load_population, sizes)


def findings_of(data, *steps, only=None, sizes=None):
    """Every finding of some checks, in the order of a run."""
    site, situations = resolved(data, *steps, sizes=sizes)
    found = []
    for name in [step["name"] for step in steps]:
        mine = tuple(one for one in situations if one.step == name)
        moved = tuple(one for one in site.carriages if one.step == name)
        for check in CHECKS:
            if only is None or check.NAME in only:
                found += findings_in(check, site, mine, moved)
    return found


def of_step(check, name, data, *steps, **more):
    """The findings of one check on one step."""
    return [one for one in findings_of(data, *steps, only=(check,), **more) if one.step == name]
