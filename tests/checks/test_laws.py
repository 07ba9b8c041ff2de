"""Laws that every check obeys, on one small worksite; a new check is tested when it is listed."""

import copy
import math
from functools import cache

import numpy as np
import pytest
from bench import BENCH, STRAIGHT, bench, drive, findings_of, step
from handing import CRATE, JOB

from reach.checks import CHECKS, of_outing, takes_carriages
from reach.finding import RANK, Verdict
from reach.model.provenance import Provenance

OF_WORKERS = [check for check in CHECKS if not takes_carriages(check) and not of_outing(check)]
"""Checks of what workers do; those of what is moved and of whole outings have laws of their own."""
EVERY = pytest.mark.parametrize("check", OF_WORKERS, ids=lambda check: check.NAME)
OF_ALL = pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.NAME)
LOOKED_AT = {
    **BENCH["fasteners"],
    "easy": {**BENCH["fasteners"]["easy"], "temperature": ["-20 degC", "50 degC"]},
    "top": {"at": [0.45, -0.35, 1.5], "axis": [0.0, -0.6, 0.8], "hand": "right"},
    "pin": {"at": [0.7, 0.15, 1.5], "axis": [-1, 0, 0], "kind": "pin"},
    "hooded": {"at": [0.7, 0.55, 1.815], "axis": [-1, 0, 0], "tools": ["power-drive"]},
}
RATCHET = {"tool": "ratchet", "bit": "S-11"}


DECK = {
    "solids": {
        "deck": {"box": [9.0, 1.6, 0.2], "at": [-9.5, 0.0, 0.4]},
        "lamp": {"box": [0.2, 0.2, 0.2], "at": [-8.0, 1.9, 1.0], "kick_load": "100 N"},
    },
    "handrails": {
        "RA": {"from": [-13.5, 0.1, 0.6], "to": [-11.5, 0.1, 0.6], "out": [0, 0, 1]},
        "RB": {"from": [-11.0, 0.1, 0.6], "to": [-9.0, 0.2, 0.6], "out": [0, 0, 1]},
        "RC": {"from": [-8.5, 0.1, 0.6], "to": [-6.5, 0.1, 0.6], "out": [0, 0, 1]},
    },
    "hatches": {"hatch": {"at": [-13.9, 0.2, 1.0]}},
    "anchors": {
        "A0": {"at": [-13.5, 0.2, 0.65], "rating": "2 kN"},
        "A4": {"at": [-9.2, 0.3, 0.65], "rating": "2 kN"},
    },
    "tethers": {
        "T0": {"length": 12.0, "anchor": "A0", "worker": "R"},
        "T1": {"length": 12.0, "anchor": "A0", "worker": "L"},
        "T4": {"length": 12.0, "anchor": "A4"},
    },
    "cranes": {"Arm": {"arm": "shipped:brackenfall", "at": [-12.0, 3.0, 0.0]}},
    "stations": {
        "tip": {
            "at": [-12.5, 1.1, -0.9],
            "up": [0, 0, 1],
            "toes": [0, -1, 0],
            "restraint": "stand",
            "on": "Arm",
        }
    },
    "hazards": {
        "burr": {"kind": "sharp edge", "box": [0.2, 0.01, 0.01], "at": [-10.0, 0.6, 0.52]},
        "vent": {
            "kind": "vent",
            "cone": {"base": 0.05, "top": 0.3, "height": 1.0},
            "at": [-8.0, -2.2, 0.5],
        },
    },
}
"""Rails on a deck behind the bench, with a lock at the far end, for the checks on moves."""


YARD = 40.0
"""How far from the bench two people hand a crate over (m, along x)."""


def yard():
    """The crate, its grips and two places to stand, with a pinch point above it."""
    data = {name: copy.deepcopy(CRATE[name]) for name in ("payloads", "guides", "stations")}
    data["handrails"] = copy.deepcopy(CRATE["handrails"])
    data["restraints"] = copy.deepcopy(CRATE["restraints"])
    data["solids"] = {"crate box": copy.deepcopy(CRATE["solids"]["box"])}
    knot = {"kind": "pinch", "box": [0.1, 0.1, 0.1], "at": [0.75 + YARD, 0.9, 1.6]}
    data["hazards"] = {"knot": {**knot, "stand_off": 0.1}}
    for station in data["stations"].values():
        station["at"][0] += YARD
    for pose in data["payloads"]["crate"]["poses"].values():
        pose["at"][0] += YARD
    return data


def world():
    """The bench with fasteners for every check, the deck, and the yard."""
    more = {
        "B": {"size": "medium", "hand": "right", "suit": "halden"},
        "C": {"size": "medium", "hand": "right", "suit": "halden"},
        "P": {"population": {"n": 9, "seed": 2}, "hand": "left", "suit": "halden"},
    }
    half = {"population_share": {"value": 0.5, "source": "these tests"}}
    data = bench(fasteners=copy.deepcopy(LOOKED_AT), workers=more, limits=half)
    for part in (copy.deepcopy(DECK), yard()):
        for table, entries in part.items():
            data.setdefault(table, {}).update(entries)
    return data


def steps():
    """Every kind of step, each with a clear name."""
    blank = {"setting": None}
    leaning = {"setting": {"clocking": "60 deg", "pitch": "30 deg", "yaw": "-60 deg"}}
    return (
        step("blank", "B", drive("easy"), **blank),
        step("rest", "R", {"do": "ingress"}),
        step("board", "C", {"do": "ingress"}, where="tip", setting=None),
        step("rest left", "L", {"do": "ingress"}, **leaning),
        step("easy", "R", drive("easy")),
        step("easy either", "L", drive("easy", hand="either")),
        step("easy both", "R", drive("easy", hand="both")),
        step("leaning", "L", drive("easy"), **leaning),
        step("far", "R", drive("far")),
        step("low", "L", drive("low")),
        step("behind", "R", drive("behind")),
        step("wrong hand", "L", drive("top")),
        step("swung", "R", drive("easy", **RATCHET)),
        step("swung by heater", "R", drive("top", **RATCHET)),
        step("pin", "L", {"do": "drive", "fastener": "pin", "tool": "glove"}),
        step("hooded", "R", drive("hooded")),
        step("crowd", "P", drive("easy")),
        step("look", "R", {"do": "inspect", "fastener": "hooded"}),
        step("look left", "L", {"do": "inspect", "fastener": "top"}),
        step("look behind", "L", {"do": "inspect", "fastener": "behind"}),
    )


def outing():
    """Moves, in the order in which they are made: what lies behind counts."""
    return (
        move("first", "L", "hatch", "RB@1.5", ["RA", "RB"]),
        move("go", "R", "hatch", "RC@1.0", ["RA", "RB", "RC"]),
        move("change", "R", "RC@1.0", "RB@0.5", None, tether="T4"),
    )


def move(name, lane, start, to, route, **more):
    action = {"do": "translate", "from": start, "to": to, **more}
    return {
        "name": name, "lane": lane, "route": route, "duration": "10 min", "actions": [action],
    }  # fmt: skip


ONCE = {"rescue", "companion", "line-home", "anchor", "hook", "kick", "exposure"}
"""Checks that ask a question where it first comes up: which step that is hangs on those before."""


@cache
def found():
    return (
        findings_of(world(), *steps())
        + findings_of(world(), *outing())
        + findings_of(world(), *SIZED, sizes=("small", "large"))
        + findings_of(world(), *JOB)
    )


SIZED = (step("sized", "R", drive("easy")),)


def of(check, findings):
    return [one for one in findings if one.check == check.NAME]


def margins(findings):
    """Margins by question; the second answer of a check to one question has its own key."""
    out = {}
    for one in findings:
        key = (one.check, one.step, one.case)
        out[(*key, sum(other[:3] == key for other in out))] = (one.low, one.high)
    return out


def assert_same_margins(one, other, within):
    assert one.keys() == other.keys()
    for key in one:
        assert other[key] == pytest.approx(one[key], abs=within, nan_ok=True), key


def moved(data):
    """The whole world in a frame that is turned and far away."""
    data = copy.deepcopy(data)
    turn = [{"axis": [1, 2, 3], "angle": 2.1}, {"axis": [3, -1, 0.5], "angle": -0.8}]
    data["frames"] = {"elsewhere": {"at": [40.0, -25.0, 13.0], "turn": turn}}
    tables = ("solids", "hazards", "sockets", "stations", "fasteners", "payloads", "handrails")
    for table in (*tables, "hatches", "anchors"):
        for entry in data.get(table, {}).values():
            for placed in entry["poses"].values() if table == "payloads" else (entry,):
                placed.setdefault("in", "elsewhere")
    return data


def flip(v):
    return [v[0], -v[1], v[2]]


OTHER = {"left": "right", "right": "left"}


def mirrored(data):
    """The world in a mirror: y changes sign, hands swap."""
    data = copy.deepcopy(data)
    tables = ("solids", "hazards", "sockets", "fasteners", "handrails", "hatches", "anchors")
    poses = [pose for one in data["payloads"].values() for pose in one["poses"].values()]
    more = [data[table].values() for table in ("stations", "cranes") if table in data]
    for some in (*(data[table].values() for table in tables), *more, poses):
        for entry in some:
            for key in ("at", "axis", "zero", "from", "to", "out", "up", "toes"):
                if key in entry:
                    entry[key] = flip(entry[key])
            if "hand" in entry:
                entry["hand"] = OTHER[entry["hand"]]
    for worker in data["workers"].values():
        worker["hand"] = OTHER[worker["hand"]]
    return data


def mirrored_setting(setting):
    """Turns about x and z change sign, those about y stay."""
    if setting is None or setting == STRAIGHT:
        return setting
    return {name: turn if name == "pitch" else _negative(turn) for name, turn in setting.items()}


def _negative(text):
    return text[1:] if text.startswith("-") else f"-{text}"


def mirrored_steps(some):
    return tuple({**one, "setting": mirrored_setting(one["setting"])} for one in some)


def renamed(data):
    """The same world with other names in another order."""
    renames = {"solids": "s", "hazards": "h", "sockets": "k", "fasteners": "f", "restraints": "r"}
    renames |= {"stations": "k", "handrails": "b", "hatches": "l", "anchors": "a", "tethers": "t"}
    data = copy.deepcopy(data)
    for table, letter in renames.items():
        data[table] = {f"{letter} {name}": one for name, one in reversed(data[table].items())}
    for station in data["stations"].values():
        station["restraint"] = f"r {station['restraint']}"
    for tether in data["tethers"].values():
        tether["anchor"] = f"a {tether['anchor']}"
        if "worker" in tether:
            tether["worker"] = f"w {tether['worker']}"
    data["workers"] = {f"w {name}": one for name, one in reversed(data["workers"].items())}
    return data


def renamed_steps(some):
    out = []
    for one in reversed(some):
        actions = [
            {**action, "fastener": f"f {action['fastener']}"} if "fastener" in action else action
            for action in one["actions"]
        ]
        names = {"lane": f"w {one['lane']}", "where": f"k {one['where']}", "restraint": "r stand"}
        out.append({**one, "actions": actions, **names})
    return tuple(out)


def renamed_outing(some):
    """Moves keep their order: where everyone is and what they wear hangs on it."""
    out = []
    for one in some:
        (action,) = one["actions"]
        ends = {
            key: f"l {action[key]}" if action[key] == "hatch" else f"b {action[key]}"
            for key in ("from", "to")
        }
        line = {"tether": f"t {action['tether']}"} if "tether" in action else {}
        route = None if one["route"] is None else [f"b {rail}" for rail in one["route"]]
        actions = [{**action, **ends, **line}]
        out.append({**one, "lane": f"w {one['lane']}", "route": route, "actions": actions})
    return tuple(out)


def renamed_job(some):
    out = []
    for one in some:
        (action,) = one["actions"]
        if "grips" in action:
            action = {**action, "grips": [f"b {grip}" for grip in action["grips"]]}
        if "to" in action:
            action = {**action, "to": f"w {action['to']}"}
        names = {"lane": f"w {one['lane']}", "where": f"k {one['where']}"}
        out.append({**one, **names, "actions": [action]})
    return tuple(out)


@EVERY
def test_the_worksite_asks_every_check_something(check):
    asked = [one for one in of(check, found()) if one.verdict is not Verdict.NOT_ASKED]
    assert asked
    assert any(one.verdict is not Verdict.OPEN for one in asked)


@EVERY
def test_every_finding_stands_alone_and_has_its_evidence(check):
    for one in of(check, found()):
        assert one.because.endswith(".")
        if takes_carriages(check):  # what is moved comes first, and no body is named
            assert one.step and one.about[0] == "crate"
        else:
            # How a tool comes on does not depend on the body, so no body is named there.
            assert one.step and bool(one.case) == (one.check != "access")
            assert one.about[0] in ("R", "L", "B", "C", "P")
        assert not one.low > one.high
        assert not one.fix or one.fix.endswith(".")
        for mark in one.marks:
            assert np.isfinite(mark.points).all() and math.isfinite(mark.radius)
            assert mark.label
        for limit in one.limits:
            assert math.isfinite(limit.value)
            assert isinstance(limit.source, Provenance) and limit.source.source


@EVERY
def test_geometry_has_a_width_and_ledgers_have_none(check):
    exact = check.NAME in (
        "torque", "hand", "fit", "tool-class", "push", "rails", "hands", "anchor",
        "crossing", "touch",
    )  # fmt: skip
    # A share of points: exact once a posture is held.
    counted = check.NAME in ("sight", "hook")
    for one in of(check, found()):
        if one.verdict is not Verdict.NOT_ASKED:
            # Exact but for torques, levers and moments; counts, of planned ways from 0 on.
            if check.NAME in ("load", "swing"):
                assert one.high >= one.low
            elif (
                exact
                or one.answer.startswith("hands of")
                or (counted and one.verdict is Verdict.PASS)
            ):
                assert one.high == one.low
            else:
                assert one.high - one.low >= 1e-9


@OF_ALL
def test_every_check_explains_itself_in_four_paragraphs(check):
    first = [paragraph.split(".")[0].split(" (")[0] for paragraph in check.__doc__.split("\n\n")]
    assert first[0] == "Question"
    order = [name for name in first if name in ("Question", "Margin", "Limit", "Blind spots")]
    assert order == ["Question", "Margin", "Limit", "Blind spots"]
    assert check.NAME.lower() == check.NAME
    assert check.IDS


def test_names_and_ids_of_checks_are_unique():
    names = [check.NAME for check in CHECKS]
    ids = [one for check in CHECKS for one in check.IDS]
    assert len(set(names)) == len(names)
    assert len(set(ids)) == len(ids)


def test_two_runs_are_equal():
    again = findings_of(world(), *steps()) + findings_of(world(), *outing())
    assert repr(again) == repr(found()[: len(again)])


@cache
def in_moved_world():
    data = moved(world())
    return findings_of(data, *steps()) + findings_of(data, *outing()) + findings_of(data, *JOB)


@cache
def in_mirror():
    data = mirrored(world())
    return (
        findings_of(data, *mirrored_steps(steps()))
        + findings_of(data, *outing())
        + findings_of(data, *JOB)
    )


@cache
def under_other_names():
    data = renamed(world())
    return (
        findings_of(data, *renamed_steps(steps()))
        + findings_of(data, *renamed_outing(outing()))
        + findings_of(data, *renamed_job(JOB))
    )


def unsized(check):
    return [one for one in of(check, found()) if one.step != "sized"]


def free_of_order(check, findings):
    """Findings that do not hang on which other steps there are, and in which order."""
    asked = {one["name"] for one in (*outing(), *JOB)}
    return [one for one in findings if check.NAME not in ONCE or one.step in asked]


WITHIN = {"kick": 2e-3, "exposure": 2e-3, "sag": 5e-2, "passing": 5e-3}
"""How near a check brings its bracket to what it measures, where that is not to rounding (m)."""


@EVERY
def test_moving_and_turning_the_world_changes_no_margin(check):
    within = WITHIN.get(check.NAME, 1e-6)
    assert_same_margins(margins(unsized(check)), margins(of(check, in_moved_world())), within)


@EVERY
def test_a_mirror_with_hands_swapped_changes_no_margin(check):
    within = WITHIN.get(check.NAME, 1e-6)
    assert_same_margins(margins(unsized(check)), margins(of(check, in_mirror())), within)


@EVERY
def test_names_and_order_change_nothing_but_names(check):
    one = margins(free_of_order(check, unsized(check)))
    other = margins(free_of_order(check, of(check, under_other_names())))
    assert_same_margins(one, other, WITHIN.get(check.NAME, 1e-6))


SOLIDS_TO_ADD = {
    "by the bolt": {"box": [0.1, 0.1, 0.1], "at": [0.65, -0.09, 1.65]},
    "over the bolt": {"box": [0.02, 0.5, 0.5], "at": [0.4, -0.2, 1.8]},
    "round the legs": {"box": [0.2, 1.0, 0.2], "at": [0.3, 0.0, 0.8]},
    "through the chest": {"box": [0.2, 0.2, 0.2], "at": [0.1, 0.0, 1.7]},
    "over the rails": {"box": [0.1, 0.6, 0.1], "at": [-10.0, 0.1, 0.9]},
    "far away": {"box": [1.0, 1.0, 1.0], "at": [9.0, 9.0, 9.0]},
}


@cache
def with_more(name):
    data = world()
    data["solids"][name] = SOLIDS_TO_ADD[name]
    work = (one for one in steps() if one["name"] not in SLOW)
    return findings_of(data, *work) + findings_of(data, *outing())


SLOW = ("easy either", "hooded", "behind", "blank", "wrong hand")
"""Steps that look for another setting of the socket for long and would tell little more."""


@pytest.mark.parametrize("name", SOLIDS_TO_ADD)
@EVERY
def test_a_solid_more_mends_nothing(check, name):
    before, after = {}, {}
    for one in unsized(check):
        before.setdefault((one.step, one.case), []).append(one)
    for one in free_of_order(check, of(check, with_more(name))):
        nth = after.setdefault((one.step, one.case), [])
        was = before[one.step, one.case][min(len(nth), len(before[one.step, one.case]) - 1)]
        nth.append(one)
        if was.verdict is Verdict.FAIL and one.verdict is not Verdict.NOT_ASKED:
            assert one.verdict is Verdict.FAIL, (one, was)
        assert RANK[one.verdict] <= RANK[was.verdict] or one.verdict is Verdict.NOT_ASKED, one


@pytest.mark.parametrize("name", SOLIDS_TO_ADD)
def test_a_solid_more_never_raises_room_for_a_tool(name):
    before = {one.step: one for one in found() if one.check == "access"}
    for one in with_more(name):
        if one.check == "access" and one.verdict is not Verdict.NOT_ASKED:
            assert one.low <= before[one.step].low + 1e-9
            assert one.high <= before[one.step].high + 1e-9


def test_solids_far_away_change_no_margin():
    # Which step a question comes up in first hangs on the steps that are left out here.
    asked = {one["name"] for one in outing()}
    after = [f for f in with_more("far away") if f.check not in ONCE or f.step in asked]
    before, after = margins(found()), margins(after)
    assert_same_margins({key: before[key] for key in after}, after, 1e-9)
