"""A small outing in plain data: a lock, some rails, bags and tools, one or two workers.

Nothing is reached or seen here: the site has places, no search trees.
"""

import copy

from bench import scene_of

from reach.ledger import outing_of
from reach.model.procedure import Procedure
from reach.placing import frames_of
from reach.site import Site

YARD = {
    "format": 1,
    "hatches": {"lock": {"at": [0.0, 0.0, 0.0]}},
    "sockets": {
        "SK1": {"at": [3.0, 0.0, 0.0], "axis": [0, 1, 0], "zero": [1, 0, 0]},
        "SK2": {"at": [6.0, 0.0, 0.0], "axis": [0, 1, 0], "zero": [1, 0, 0]},
    },
    "handrails": {
        "RA": {"from": [0.5, 0.0, 0.0], "to": [2.5, 0.0, 0.0]},
        "RB": {"from": [3.0, 0.0, 0.0], "to": [5.0, 0.0, 0.0]},
        "RC": {"from": [5.5, 0.0, 0.0], "to": [7.5, 0.0, 0.0]},
    },
    "anchors": {"A0": {"at": [0.3, 0.0, 0.0]}, "A1": {"at": [5.2, 0.0, 0.0]}},
    "tethers": {"T1": {"length": 10.0}, "T2": {"length": 10.0}},
    "restraints": {"plate": {"kind": "foot restraint"}},
    "items": {
        "FR": {"is": "plate"},
        "D1": {"is": "power-drive"},
        "D2": {"is": "power-drive"},
        "B1": {"slots": 3, "size": [0.4, 0.3, 0.2]},
        "B2": {"slots": 2},
        "lamp": {},
        "ties": {},
    },
    "fasteners": {
        "X1": {"at": [3.0, 0.5, 0.0], "axis": [0, 1, 0], "torque": 20.0, "turns": 10.0},
        "X2": {"at": [6.0, 0.5, 0.0], "axis": [0, 1, 0], "torque": 12.0, "turns": 10.0},
    },
    "workers": {
        "W": {"size": "medium", "hand": "right", "suit": "halden"},
        "V": {"size": "small", "hand": "left", "suit": "halden"},
    },
}

LANES = {"W": "worker", "V": "worker", "IN": "inside lead"}
PACKED = {"FR": "SK1", "B1": "lock", "B2": "lock", "D1": "B1", "D2": "B1", "lamp": "B1"}
"""What is in what when it begins."""


def yard(**changes):
    """The yard as plain data; ``items={"x": {...}}`` adds to or changes a table."""
    data = copy.deepcopy(YARD)
    for table, entries in changes.items():
        for name, entry in entries.items():
            old = data.setdefault(table, {}).get(name, {})
            data[table][name] = {**old, **entry} if isinstance(entry, dict) else entry
    return data


def step(name, *actions, lane="W", **more):
    return {"name": name, "lane": lane, "duration": "10 min", "actions": actions, **more}


def move(name, to, *rails, lane="W", **more):
    route = {"route": list(rails)} if rails else {}
    return step(name, {"do": "translate", "to": to}, lane=lane, **route, **more)


def take(*items, **more):
    return {"do": "pick up", "items": items, **more}


def put(to, *items):
    return {"do": "stow", "items": items, "to": to}


def turn(fastener, tool="D1", **more):
    return {"do": "drive", "fastener": fastener, "tool": tool, **more}


def errand(data, *steps, begin=PACKED, **tables):
    """Site and outing of some steps."""
    scene = scene_of(data)
    start = None if begin is None else begin if "items" in begin else {"items": begin}
    procedure = Procedure(
        format=1,
        lanes=LANES,
        steps=steps,
        **({} if start is None else {"begin": start}),
        **tables,
    )
    return Site(scene, scene.limits, frames_of(scene, {})), outing_of(scene, procedure)


def asked(check, data, *steps, **more):
    """Everything that a check finds."""
    return check.find(*errand(data, *steps, **more))


def verdicts(findings):
    return [str(one.verdict) for one in findings]
