"""A crane beside a mast, as plain data: stations that its arm of 15.2 m reaches, and others.

The base stands 1 m over a deck; the arm's full reach is the sum of its links.
"""

import copy
from functools import cache

from bench import scene_of

from reach.checks import CHECKS, findings_in
from reach.files.people import load_population
from reach.files.urdf import shipped_arm
from reach.model.procedure import Procedure
from reach.situations import resolve

YARD = {
    "format": 1,
    "solids": {
        "deck": {"box": [4.0, 4.0, 0.4], "at": [0.0, 0.0, -1.2]},
        "mast": {"box": [0.2, 0.2, 2.0], "at": [9.4, 2.0, 2.0]},
    },
    "handrails": {"R1": {"from": [9.3, 1.5, 1.8], "to": [9.3, 1.5, 3.0], "out": [0, -1, 0]}},
    "hatches": {"hatch": {"at": [9.0, 1.0, 2.0]}},
    "cranes": {"Arm": {"arm": "shipped:brackenfall"}},
    "stations": {
        "near": {"at": [6.0, 3.0, 1.0], "up": [0, 0, 1], "toes": [1, 0, 0]},
        "by the mast": {"at": [8.6, 1.5, 1.2], "up": [0, 0, 1], "toes": [1, 0, 0]},
        "out of reach": {"at": [18.0, 0.0, 1.0], "up": [0, 0, 1], "toes": [1, 0, 0]},
        "too far": {"at": [14.4, 0.0, 1.0], "up": [0, 0, 1], "toes": [1, 0, 0]},
        "ground": {"at": [5.0, -3.0, 1.0], "up": [0, 0, 1], "toes": [1, 0, 0], "on": None},
    },
    "restraints": {
        "plate": {"kind": "foot restraint", "holds_torque": 100.0, "chain": [], "boot_twist": 0.3}
    },
    "workers": {"R": {"size": "medium", "hand": "right", "suit": "halden"}},
}


def yard(**changes):
    """The yard as plain data; ``limits={"crane_reserve": 0.2}`` adds to or changes a table."""
    data = copy.deepcopy(YARD)
    for name, station in data["stations"].items():
        data["stations"][name] = {"restraint": "plate", "on": "Arm", **station}
    for table, entries in changes.items():
        for name, entry in entries.items():
            known = data.setdefault(table, {}).get(name)
            data[table][name] = {**known, **entry} if isinstance(known, dict) else entry
    return data


@cache
def arm():
    return shipped_arm("brackenfall")


def crane_step(to, name="go", **more):
    action = {"do": "move crane", "to": to}
    if "start" in more:
        action["from"] = more.pop("start")
    return {"name": name, "lane": "CO", "actions": [action], **more}


def stand(where, name="stand", **more):
    return {"name": name, "lane": "R", "where": where, "actions": [{"do": "ingress"}], **more}


def walk(to, start=None, name="walk"):
    action = {"do": "translate", "to": to} | ({"from": start} if start else {})
    return {"name": name, "lane": "R", "actions": [action]}


def resolved(data, *steps, arms=True, sizes=None):
    lanes = {"CO": "crane", "R": "worker"}
    procedure = Procedure(format=1, lanes=lanes, steps=steps)
    known = {"Arm": arm()} if arms else {}
    return resolve(scene_of(data), {}, procedure, load_population, sizes, None, known)


def findings(check, data, *steps, **more):
    """Every finding of one check, step by step as a run asks it."""
    site, situations = resolved(data, *steps, **more)
    (module,) = [one for one in CHECKS if check == one.NAME]
    found = []
    for step in steps:
        mine = tuple(one for one in situations if one.step == step["name"])
        moved = tuple(one for one in site.carriages if one.step == step["name"])
        found += findings_in(module, site, mine, moved)
    return found
