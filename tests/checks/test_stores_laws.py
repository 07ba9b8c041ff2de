"""Laws that checks of stores, tools, leads and what is left obey, on one outing with faults."""

import json
from functools import cache

import pytest
from errands import errand, move, put, step, take, turn, yard

from reach.checks import (
    dial,
    energy,
    inventory,
    lead,
    left_as,
    left_record,
    loose,
    parking,
    slots,
    strain,
    turn_window,
)
from reach.finding import Verdict

CHECKS = (
    slots, parking, dial, energy, turn_window, loose, lead, strain, inventory, left_as, left_record,
)  # fmt: skip
EVERY = pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.NAME)

THINGS = {
    "items": {
        "L": {"length": 2.0, "diameter": 0.1}, "K1": {}, "X2": {},
        "B1": {"size": [1.0, 0.3, 0.2]},
    },
    "fasteners": {
        "C": {"at": [7.0, 2.0, 0.0], "axis": [0, 1, 0], "kind": "connector"},
        "X1": {"turns_between": [9, 11], "if_stuck": "back out and reseat"},
        "X2": {"captive": False},
    },
}  # fmt: skip
BEGIN = {
    "workers": {"W": "lock", "V": "lock"},
    "items": {
        "FR": "SK1", "B1": "lock", "B2": "lock", "D1": "B1", "D2": "B1", "lamp": "B1", "ties": "B1",
        "L": "lock", "K1": "lock",
    },
    "tools": {"D1": {"torque": 20.0}},
    "lines": {"T1": {"hook": "A0", "reel": "A0"}},
}  # fmt: skip
TABLES = {
    "stores": {"D1": {"turns": 25, "reserve": 0.2}, "D2": {"turns": 50}},
    "end": {
        "items": {"FR": "SK2", "B2": "RC"},
        "lines": {"T1": {"hook": "A0", "reel": "A1"}},
        "rest": "lock",
        "left": {"lamp": {"owner": "stowage", "until": "the next outing"}},
    },
}


def steps():
    """W works with D1 and parks the bag; V lays a lead and mates its connector."""
    lay = {"do": "lay", "item": "L", "to": "C", "through": ["RB", "RC"], "clamps": ["K1"]}
    return (
        step("out", {"do": "egress", "from": "lock"}, take("B1", "B2"), start="00:00"),
        move("go", "RB@1.0", "RA", "RB"),
        step("one", turn("X1")),
        step("two", turn("X2"), turn("X2", loosen=True)),
        step("park", put("RB@1.0", "B1"), put("RC@0.3", "B2")),
        move("on", "RC@1.0", "RB", "RC"),
        move("home", "lock"),
        step("V out", {"do": "egress", "from": "lock"}, take("L", "K1"), lane="V", start="01:10"),
        move("V go", "RC@1.0", "RA", "RB", "RC", lane="V"),
        step("lay", lay, lane="V"),
        step("mate", {"do": "mate", "fastener": "C"}, lane="V"),
        step("call", {"do": "confirm", "items": ["L", "K1"]}, lane="IN", start="02:00"),
    )  # fmt: skip


def found_in(check, some=None, data=None, begin=BEGIN, tables=TABLES):
    return check.find(*errand(data or yard(**THINGS), *(some or steps()), begin=begin, **tables))


@cache
def found(check):
    return found_in(check)


@EVERY
def test_the_outing_asks_every_check_something(check):
    assert {one.verdict for one in found(check)} & {Verdict.PASS, Verdict.FAIL}


@EVERY
def test_every_finding_stands_alone_and_is_exact(check):
    names = [one["name"] for one in steps()]
    for one in found(check):
        assert one.check == check.NAME
        assert one.step in names
        assert one.about and all(one.about)
        assert one.because.endswith(".") and not one.because.endswith("..")
        assert one.because[0].isupper() or one.because.startswith(one.about)
        assert bool(one.fix) == (one.verdict is Verdict.FAIL)
        assert not one.fix or (one.fix[0].isupper() and one.fix.endswith("."))
        # What is measured is known to a micrometre, so that a tie is too close to call.
        assert one.verdict is Verdict.NOT_ASKED or one.high - one.low <= 2e-6
        json.dumps(one.numbers, allow_nan=False)
        for limit in one.limits:
            assert limit.source.source


def test_nearly_every_check_has_something_to_say_against_it():
    silent = [check.NAME for check in CHECKS if not any(one.fix for one in found(check))]
    assert silent == ["strain"]


@EVERY
def test_two_runs_are_equal(check):
    assert repr(found_in(check)) == repr(found(check))


def margins(findings):
    return sorted((one.step, sorted(one.about), str(one.low), str(one.high)) for one in findings)


@EVERY
def test_the_order_of_tables_changes_no_margin(check):
    data = {k: dict(reversed(v.items())) if isinstance(v, dict) else v for k, v in
            yard(**THINGS).items()}  # fmt: skip
    assert margins(found_in(check, data=data)) == margins(found(check))


NAMES = {"W": "Zed", "V": "Ann", "B1": "sack", "D1": "gun", "X2": "last", "RB": "bar", "L": "cord",
         "T1": "line", "SK2": "hole", "RB@1.0": "bar@1.0"}  # fmt: skip


@EVERY
def test_names_change_nothing_but_names(check, monkeypatch):
    def renamed(data):
        text = json.dumps(data)
        for old, new in NAMES.items():
            text = text.replace(f'"{old}"', f'"{new}"')
        return json.loads(text)

    monkeypatch.setattr("errands.LANES", {"Zed": "worker", "Ann": "worker", "IN": "inside lead"})
    other = found_in(check, renamed(steps()), renamed(yard(**THINGS)), renamed(BEGIN),
                     renamed(TABLES))  # fmt: skip
    back = {new: old for old, new in NAMES.items()}
    again = [
        (step, sorted(back.get(name, name) for name in about), low, high)
        for step, about, low, high in margins(other)
    ]
    assert sorted(again) == margins(found(check))


@EVERY
def test_a_procedure_that_declares_nothing_is_not_asked(check):
    silent = {"turns_between": None, "if_stuck": "", "captive": None}
    data = yard(**THINGS)
    data["fasteners"] = {name: {**one, **silent} for name, one in data["fasteners"].items()}
    bare = found_in(check, data=data, begin=None, tables={})
    # A lead is laid or not, whatever else is known.
    assert bool(bare) == (check in (lead, strain))
