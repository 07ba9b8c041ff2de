"""A small yard with a lock, two workers, a crane and a crate, and outings in it, as plain data."""

from __future__ import annotations

import copy

from bench import STAND, scene_of

from reach.files.people import load_population
from reach.finding import Verdict
from reach.lasting import outing_of
from reach.model.procedure import Procedure
from reach.situations import resolve

PASS, FAIL, NOT_ASKED = Verdict.PASS, Verdict.FAIL, Verdict.NOT_ASKED

YARD = {
    "format": 1,
    "hatches": {"lock": {"at": [0.0, 0.0, 0.0]}},
    "solids": {"crate box": {"in": "crate", "box": [0.4, 0.4, 0.4]}},
    "anchors": {
        "A1": {"at": [0.5, 0.0, 0.0], "rating": "2 kN"},
        "A2": {"at": [0.5, 0.5, 0.0], "rating": "2 kN"},
        "A5": {"at": [10.0, 0.0, 0.0], "rating": "2 kN"},
        "AT": {"at": [10.0, 1.0, 0.0], "rating": "2 kN", "on": "Arm"},
    },
    "handrails": {
        "near": {"from": [0.5, 0.2, 0.0], "to": [1.5, 0.2, 0.0], "out": [0, 0, 1]},
        "far": {"from": [9.5, 0.0, 0.0], "to": [10.5, 0.0, 0.0], "out": [0, 0, 1]},
        "grip": {"in": "crate", "from": [0.3, 0.0, -0.1], "to": [0.3, 0.0, 0.1]},
    },
    "sockets": {
        "S1": {"at": [1.0, 1.0, 0.0], "axis": [0, 0, 1], "zero": [1, 0, 0]},
        "S2": {"at": [10.0, 1.0, 0.0], "axis": [0, 0, 1], "zero": [1, 0, 0]},
        "S3": {"at": [11.0, 1.0, 0.0], "axis": [0, 0, 1], "zero": [1, 0, 0], "status": "faulty"},
    },
    "restraints": {"stand": STAND},
    "cranes": {"Arm": {"arm": "shipped:brackenfall", "at": [9.0, 3.0, 0.0]}},
    "stations": {
        "up": {
            "at": [10.0, 1.0, 0.0],
            "up": [0, 0, 1],
            "toes": [1, 0, 0],
            "restraint": "stand",
            "on": "Arm",
        },
        "out": {
            "at": [13.0, 1.0, 0.0],
            "up": [0, 0, 1],
            "toes": [1, 0, 0],
            "restraint": "stand",
            "on": "Arm",
        },
    },
    "payloads": {
        "crate": {
            "poses": {"left": {"at": [10.0, 2.0, 0.0]}, "right": {"at": [12.0, 2.0, 0.0]}},
            "paths": {"over": {"through": ["left", "right"]}},
            "fixed_by": ["B1", "B2"],
        }
    },
    "fasteners": {
        "B1": {"at": [10.0, 1.5, 0.5], "axis": [0, -1, 0]},
        "B2": {"at": [10.2, 1.5, 0.5], "axis": [0, -1, 0]},
        "B3": {"at": [10.4, 1.5, 0.5], "axis": [0, -1, 0]},
        "B4": {"at": [10.6, 1.5, 0.5], "axis": [0, -1, 0]},
    },
    "tethers": {
        "T1": {"length": 12.0},
        "T2": {"length": 12.0},
        "T5": {"length": 12.0},
        "TC": {"length": 12.0},
    },
    "items": {
        "FR": {"is": "stand", "bulky": True},
        "FR-2": {"is": "stand", "bulky": True},
        "BG-1": {"slots": 4, "bulky": True},
        "BG-2": {"slots": 4, "bulky": True},
        "BG-3": {"slots": 4, "bulky": True},
        "PT": {"is": "power-drive"},
        "camera": {},
    },
    "workers": {
        "W1": {"size": "medium", "hand": "right", "suit": "halden"},
        "W2": {"size": "medium", "hand": "left", "suit": "halden"},
    },
}

LINES = {
    "T1": {"hook": "A1", "reel": "W1"},
    "T2": {"hook": "A2", "reel": "W2"},
    "T5": {"hook": "A5", "reel": "A5"},
    "TC": {"hook": "AT", "reel": "AT"},
}
LANES = {"W1": "worker", "W2": "worker", "CO": "crane", "IN": "inside lead"}
SET = {"clocking": 0.0, "pitch": 0.0, "yaw": 0.0}
OTHER = {"clocking": 0.0, "pitch": "30 deg", "yaw": 0.0}


def job(name, lane, *actions, **more):
    """One step."""
    return {"name": name, "lane": lane, "actions": [act(one) for one in actions], **more}


def act(one):
    """An action as a dict, or as text: ``"attach T1 to A1"`` has what, to and from by words."""
    return one if isinstance(one, dict) else _read(one)


def _read(text):
    words = text.split(" ")
    known = ("pick up", "hand over", "move crane", "glove check")
    do = next((one for one in known if text.startswith(one)), words[0])
    rest = text[len(do) :].split()
    out = {"do": do}
    key = {
        "attach": "what", "release": "what", "install": "item", "remove": "item",
        "drive": "fastener", "mate": "fastener", "demate": "fastener", "confirm": "inhibit",
    }.get(do)  # fmt: skip
    plural = {"pick up": "items", "stow": "items", "pass": "items", "hold": "grips"}.get(do)
    if plural:
        out[plural] = []
    i = 0
    while i < len(rest):
        if rest[i] in ("to", "from"):
            out[rest[i]] = rest[i + 1]
            i += 2
            continue
        if plural:
            out[plural].append(rest[i])
        elif rest[i] == "checked":
            out["checked"] = True
        elif rest[i] == "loosen":
            out["loosen"] = True
        elif key:
            out[key] = rest[i]
        i += 1
    if do == "drive":
        out |= {"tool": "power-drive", "bit": "S-16"}
    return out


def yard(**changes):
    """The yard as plain data; ``anchors={"A1": {...}}`` adds to or changes entries."""
    data = copy.deepcopy(YARD)
    for table, entries in changes.items():
        for name, entry in entries.items():
            if isinstance(entry, dict) and table != "limits":
                data.setdefault(table, {})[name] = {**data.get(table, {}).get(name, {}), **entry}
            else:
                data.setdefault(table, {})[name] = entry
    return data


def begun(**changes):
    """How the outing begins: both in the lock, each on a line, everything where it is listed."""
    return {"lines": LINES, "tight": ["B1", "B2"], **changes}


def resolved(*steps, begin=None, scene=None, sizes=None, **tables):
    """The site and the outing of some steps; those that do not say how long take no time.

    So steps without times are in the order in which they are listed.
    """
    steps = [one if "between" in one else {"duration": 0, **one} for one in steps]
    procedure = Procedure(
        format=1, lanes=LANES, steps=steps, begin=begun() if begin is None else begin, **tables
    )
    site, situations = resolve(scene_of(scene or yard()), {}, procedure, load_population, sizes)
    return site, outing_of(site, situations, procedure)


def findings(check, *steps, **more):
    """What one check finds in an outing."""
    return check.find(*resolved(*steps, **more))


def undeclared(check, *steps):
    """What it finds in a procedure that says nothing of how the outing begins."""
    procedure = Procedure(format=1, lanes=LANES, steps=steps)
    site, situations = resolve(scene_of(yard()), {}, procedure, load_population)
    return check.find(site, outing_of(site, situations, procedure))


def verdicts(found):
    return [one.verdict for one in found]


def about(found, *names):
    """The only finding about some names."""
    (one,) = [one for one in found if set(names) <= set(one.about)]
    return one


def out(lane, **more):
    """The step in which a worker comes out of the lock."""
    return job(f"{lane} out", lane, "egress from lock", **more)


def go(lane, start="near", to="far", name=None, **more):
    """The step in which a worker moves along the rails."""
    action = {"do": "translate", "from": start, "to": to}
    return job(name or f"{lane} to {to}", lane, action, route=["near", "far"], **more)


def stand(lane, where="S2", restraint="FR", name=None, **more):
    """The step in which a worker gets into a restraint."""
    place = {"where": where, "restraint": restraint} if where != "up" else {"where": where}
    return job(name or f"{lane} in", lane, "ingress", **place, **more)
