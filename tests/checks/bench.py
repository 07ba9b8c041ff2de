"""A small worksite built as records: one panel with bolts, one restraint, two workers."""

import copy
import tomllib
from functools import cache

import numpy as np

from reach.checks import CHECKS, findings_in
from reach.files.people import load_population, load_suits
from reach.files.shipped import shipped_path
from reach.model.limits import WrittenLimit, limit_of
from reach.model.procedure import Procedure
from reach.model.scene import Scene
from reach.situations import resolve

STAND = {
    "kind": "foot restraint",
    "holds_torque": 200.0,
    "boot_twist": "20 deg",
    "chain": [
        {
            "name": "clocking",
            "turn": "z",
            "from": "-60 deg",
            "to": "60 deg",
            "step": "60 deg",
            "tolerance": {"box": "0.1 deg"},
        },
        {"shift": [0.0, 0.0, 0.35]},
        {"name": "pitch", "turn": "y", "from": "-30 deg", "to": "30 deg", "step": "30 deg"},
        {"name": "yaw", "turn": "z", "from": "-60 deg", "to": "60 deg", "step": "60 deg"},
    ],
}
STRAIGHT = {"clocking": 0.0, "pitch": 0.0, "yaw": 0.0}

BENCH = {
    "format": 1,
    "solids": {
        "panel": {"box": [0.05, 1.6, 1.0], "at": [0.735, 0.0, 1.65]},
        "hood": {"box": [0.3, 0.3, 0.02], "at": [0.56, 0.55, 1.83]},
        "post": {"cylinder": {"radius": 0.05, "height": 1.2}, "at": [0.9, -0.9, 1.0]},
    },
    "hazards": {
        "heater": {
            "kind": "hot",
            "box": [0.1, 0.1, 0.1],
            "at": [0.6, -0.75, 1.3],
            "stand_off": 0.05,
        }
    },
    "sockets": {"SK1": {"at": [0, 0, 0], "axis": [0, 0, 1], "zero": [1, 0, 0]}},
    "handrails": {"bar": {"from": [0.45, -0.2, 1.1], "to": [0.45, 0.2, 1.1]}},
    "restraints": {"stand": STAND},
    "fasteners": {
        "easy": {
            "at": [0.7, -0.2, 1.65],
            "axis": [-1, 0, 0],
            "torque": 20.0,
            "push": 20.0,
            "tolerance": {"box": "3 mm"},
        },
        "far": {"at": [2.9, -0.2, 1.65], "axis": [-1, 0, 0], "torque": 20.0},
        "low": {"at": [0.2, 0.1, 0.5], "axis": [0, 0, 1], "torque": 20.0},
        "behind": {"at": [0.77, -0.2, 1.65], "axis": [1, 0, 0], "torque": 20.0},
    },
    "workers": {
        "R": {"size": "medium", "hand": "right", "suit": "halden"},
        "L": {"size": "small", "hand": "left", "suit": "halden"},
    },
}


@cache
def _models():
    found = {"suits": load_suits()}
    for name in ("tools", "sizes", "limits"):
        with shipped_path(f"{name}.toml").open("rb") as file:
            found |= {k: v for k, v in tomllib.load(file).items() if k != "format"}
    return found


def bench(**changes):
    """The bench as plain data; ``fasteners={"x": {...}}`` adds to or changes a table."""
    data = copy.deepcopy(BENCH)
    for table, entries in changes.items():
        data.setdefault(table, {}).update(entries)
    return data


def scene_of(data):
    models = _models()
    written = {**models["limits"], **data.get("limits", {})}
    limits = {
        name: limit_of(name, WrittenLimit(**(one if isinstance(one, dict) else {"value": one})))
        for name, one in written.items()
    }
    tables = {name: {**models[name], **data.get(name, {})} for name in models if name != "limits"}
    return Scene(**{**data, **tables, "limits": limits})


def drive(fastener, **more):
    return {"do": "drive", "fastener": fastener, "tool": "power-drive", "bit": "S-16", **more}


def step(name, lane, *actions, **more):
    place = {"where": "SK1", "restraint": "stand", "setting": STRAIGHT}
    return {"name": name, "lane": lane, "actions": actions, **place, **more}


def procedure_of(*steps):
    lanes = {one["lane"]: "worker" for one in steps}
    return Procedure(format=1, lanes=lanes, steps=steps)


def resolved(data, *steps, sizes=None, population=None):
    scene, procedure = scene_of(data), procedure_of(*steps)
    return resolve(scene, {}, procedure, load_population, sizes, population)


def findings_of(data, *steps, sizes=None, population=None, only=None):
    """Every finding of every check, in the order of a run."""
    site, situations = resolved(data, *steps, sizes=sizes, population=population)
    found = []
    for one in dict.fromkeys(s.step for s in situations):
        mine = tuple(s for s in situations if s.step == one)
        moved = tuple(c for c in site.carriages if c.step == one)
        for check in CHECKS:
            if only is None or check.NAME in only:
                found += findings_in(check, site, mine, moved)
    return found


def the(check, data, *steps, **more):
    """The only finding of one check."""
    (found,) = findings_of(data, *steps, only=(check,), **more)
    return found


def unit(v):
    return (np.asarray(v, float) / np.linalg.norm(v)).tolist()
