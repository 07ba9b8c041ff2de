"""A shop with work for everybody: a panel with bolts, rails, a crane with a crate; no files."""

import copy
from collections import defaultdict
from pathlib import Path

from bench import BENCH, STRAIGHT, scene_of
from cranes import YARD, arm

from reach.files.procedure import LoadedProcedure
from reach.files.scene import LoadedScene
from reach.model.procedure import Procedure

BOLT = {"tool": "power-drive", "bit": "S-16"}
LANES = {"CO": "crane", "R": "worker", "L": "worker"}


class _Any(defaultdict):
    """What stands in no file: every entry is empty."""

    def __init__(self):
        super().__init__(dict)


def scene():
    """The scene as a run wants it."""
    data = copy.deepcopy(BENCH)
    for entries in data.values():
        for entry in entries.values() if isinstance(entries, dict) else ():
            if "at" in entry or "from" in entry:
                entry["in"] = "shop"
    data["frames"] = {"shop": {"at": [8.0, -6.0, 0.0]}}
    for table, entries in copy.deepcopy(YARD).items():
        if isinstance(entries, dict):
            data.setdefault(table, {}).update(entries)
    for station in data["stations"].values():
        station |= {"restraint": "plate", "on": "Arm"} | {k: station[k] for k in station}
    data["workers"] = copy.deepcopy(BENCH["workers"])
    data["solids"]["crate-box"] = {"in": "crate", "box": [0.6, 0.6, 0.6]}
    data["payloads"] = {
        "crate": {
            "mass": 90.0,
            "grapple": {"at": [0, 0, 0.3]},
            "poses": {"left": {"at": [5.0, -2.0, 2.0]}, "right": {"at": [6.0, 2.0, 2.0]}},
            "paths": {"over": {"through": ["left", "right"]}},
        }
    }
    data["anchors"] = {"A": {"at": [9.0, 1.2, 2.0], "rating": "2 kN"}}
    data["tethers"] = {"T": {"length": 12.0, "anchor": "A", "worker": "L"}}
    return LoadedScene(
        scene_of(data), "shop", Path(), "shop.toml", {}, _Any(), _Any(), {}, (), {"Arm": arm()}
    )


def turn(name, fastener, lane="R", **more):
    """One step of a worker in the socket, at the straight setting."""
    action = {"do": "drive", "fastener": fastener, **BOLT}
    place = {"where": "SK1", "restraint": "stand", "setting": STRAIGHT}
    return {"name": name, "lane": lane, "actions": [action], **place, **more}


STEPS = (
    {"name": "in", "lane": "L", "start": 0.0, "duration": 300.0,
     "actions": [{"do": "translate", "from": "hatch", "to": "R1@0.9"}]},
    {"name": "crane to near", "lane": "CO", "start": 60.0, "duration": 200.0,
     "actions": [{"do": "move crane", "from": "by the mast", "to": "near", "clear_caller": "R"}]},
    turn("easy", "easy", start=0.0, duration=400.0),
    {"name": "L on", "lane": "L", "where": "near", "start": 300.0, "duration": 100.0,
     "actions": [{"do": "ingress"}]},
    {"name": "L rides", "lane": "CO", "start": 400.0, "duration": 300.0,
     "actions": [{"do": "move crane", "to": "by the mast", "clear_caller": "R"}]},
    turn("far", "far", start=400.0, duration=400.0),
    {"name": "L off", "lane": "L", "where": "by the mast", "start": 700.0, "duration": 100.0,
     "actions": [{"do": "ingress"}]},
    {"name": "L back", "lane": "L", "start": 800.0, "duration": 100.0,
     "actions": [{"do": "translate", "to": "R1@0.2"}]},
    turn("low", "low", start=900.0, duration=100.0),
    {"name": "crate", "lane": "CO", "start": 900.0, "duration": 400.0, "path": "over",
     "actions": [{"do": "move crane", "payload": "crate", "clear_caller": "L"}]},
    turn("easy again", "easy", start=1300.0, duration=100.0),
)  # fmt: skip


def procedure(steps):
    """Steps as a run wants them."""
    return LoadedProcedure(Procedure(format=1, lanes=LANES, steps=steps), "steps.toml", "")
