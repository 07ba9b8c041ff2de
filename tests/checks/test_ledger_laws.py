"""Laws that checks on the ledger of a whole outing obey, on one small outing with faults in it."""

import json
from functools import cache
from itertools import pairwise

import pytest
from chores import LANES, OTHER, SET, begun, go, job, out, resolved, undeclared, yard

from reach.checks import (
    anchored,
    burden,
    custody,
    guard,
    held,
    hooked,
    locked,
    plugged,
    present,
    receiver,
    resetting,
    sequence,
    sockets,
    tether_riding,
)
from reach.finding import Verdict

OF_LEDGER = (
    present, hooked, anchored, tether_riding, locked, custody, plugged, sockets, resetting,
    burden, held, receiver, guard, sequence,
)  # fmt: skip
EVERY = pytest.mark.parametrize("check", OF_LEDGER, ids=lambda check: check.NAME)

ITEMS = {
    "FR": "lock", "FR-2": "S1", "BG-1": "lock", "BG-2": "lock", "BG-3": "lock",
    "PT": "BG-1", "S-16A": "BG-1", "camera": "W2",
}  # fmt: skip
AT = {"where": "S2", "restraint": "FR"}
TABLES = {
    "orders": {"bolts": {"fasteners": ["B1", "B2", "B3", "B4"]}},
    "guards": {"B2": {"held": "crate", "inhibits": ["feed"], "after": ["B1"]}},
    "inhibits": {"feed": {"title": "feed off"}},
}


def steps():
    """Both go to the far end; W1 undoes bolts from a restraint, W2 rides on the Arm and holds."""
    return (
        job("load", "W1", "pick up FR BG-1 BG-3", duration="2 min", start="00:00"),
        out("W1", duration="2 min"),
        go("W1", "lock", "far", "W1 goes", duration="5 min"),
        job("plug", "W1", "install FR to S2", "ingress", setting=SET, duration="5 min", **AT),
        job("drop", "W1", "stow BG-3 to far", duration="1 min"),
        turn("B1", start="00:30"),
        turn("B3", start="00:40"),
        turn("B2", start="00:50"),
        job("reset", "W1", "ingress", setting=OTHER, duration="30 s", **AT),
        job("hold 1", "W1", "hold grip", start="01:20", **AT),
        out("W2", start="00:05", duration="2 min"),
        go("W2", "lock", "far", "W2 goes", duration="5 min"),
        job("swap", "W2", "release T2 from W2 to A5", "attach T5 to W2", duration="2 min"),
        job("untie", "W2", "release camera from W2", "attach camera to far", duration="1 min"),
        job("board", "W2", "ingress", where="up", duration="2 min"),
        job("hold 2", "W2", "hold grip", where="up", start="00:35"),
        job("let go", "W2", "release", start="01:30"),
        job("move", "CO", "move crane to out", start="00:20", duration="5 min", after=["board"]),
        job("feed", "IN", "confirm feed", start="00:45"),
    )


def turn(fastener, **more):
    act = {"do": "drive", "fastener": fastener, "tool": "PT", "bit": "S-16A", "loosen": True}
    return job(fastener, "W1", act, duration="5 min", **AT, **more)


def scene():
    return yard(items={"S-16A": {"is": "S-16"}}, tethers={"T5": {"length": 3.0}})


def findings(check, some, data, begin, tables):
    return check.find(*resolved(*some, begin=begin, scene=data, **tables))


@cache
def found(check):
    return findings(check, steps(), scene(), begun(items=ITEMS), TABLES)


AS_WRITTEN = (
    "load", "W1 out", "W1 goes", "W2 out", "W2 goes", "plug", "swap", "drop", "untie", "board",
    "move", "B1", "hold 2", "B3", "feed", "B2", "reset", "hold 1", "let go",
)  # fmt: skip


def chained():
    """The same steps, each waiting for the one before it as written."""
    by_name = {one["name"]: one for one in steps()}
    first, *rest = AS_WRITTEN
    linked = [
        {**by_name[name], "after": [*by_name[name].get("after", ()), before]}
        for before, name in pairwise((first, *rest))
    ]
    return (by_name[first], *linked)


@EVERY
def test_the_outing_asks_every_check_something(check):
    verdicts = {one.verdict for one in found(check)}
    assert verdicts & {Verdict.PASS, Verdict.FAIL}


def test_it_has_faults_as_written_and_in_other_orders_only():
    orders = [one.numbers.get("orders") for check in OF_LEDGER for one in found(check)]
    assert {"all", "as written", "another order"} <= set(orders)


@EVERY
def test_every_finding_stands_alone_and_is_exact(check):
    names = [one["name"] for one in steps()]
    for one in found(check):
        assert one.check == check.NAME
        assert one.step in names
        assert one.about and all(one.about)
        assert one.because[0].isupper() or one.because.startswith(one.about[0])
        assert one.because.endswith(".") and not one.because.endswith("..")
        assert not one.fix or one.fix.endswith(".")
        assert bool(one.fix) == (one.verdict is Verdict.FAIL)
        assert one.verdict is Verdict.NOT_ASKED or one.low == one.high
        json.dumps(one.numbers)


@EVERY
def test_two_runs_are_equal(check):
    again = findings(check, steps(), scene(), begun(items=ITEMS), TABLES)
    assert repr(again) == repr(found(check))


@EVERY
def test_the_order_of_tables_changes_nothing(check):
    data = {k: dict(reversed(v.items())) if isinstance(v, dict) else v for k, v in scene().items()}
    data["payloads"] = scene()["payloads"]
    begin = {k: dict(reversed(v.items())) if isinstance(v, dict) else v for k, v in
             begun(items=ITEMS).items()}  # fmt: skip
    turned = findings(check, steps(), data, begin, TABLES)
    assert margins(turned) == margins(found(check))


def margins(some):
    return sorted((one.step, sorted(one.about), str(one.low), str(one.high)) for one in some)


NAMES = {"W1": "Zed", "W2": "Ann", "T2": "line", "FR-2": "post", "BG-1": "sack", "A5": "ring",
         "S2": "hole", "crate": "bale", "B1": "last", "Arm": "Jib", "feed": "tap"}  # fmt: skip


@EVERY
def test_names_change_nothing_but_names(check, monkeypatch):
    def renamed(data):
        text = json.dumps(data)
        for old, new in NAMES.items():
            text = text.replace(f'"{old}"', f'"{new}"')
        return json.loads(text)

    as_named = margins(found(check))
    monkeypatch.setattr("chores.LANES", renamed(LANES))
    other = findings(
        check, renamed(steps()), renamed(scene()), renamed(begun(items=ITEMS)), renamed(TABLES)
    )
    back = {new: old for old, new in NAMES.items()}

    again = [
        (back.get(step, step), sorted(back.get(name, name) for name in about), low, high)
        for step, about, low, high in margins(other)
    ]
    assert sorted(again) == as_named


@EVERY
def test_with_every_step_in_line_only_what_is_broken_as_written_is_left(check):
    after = findings(check, chained(), scene(), begun(items=ITEMS), TABLES)
    assert not [one for one in after if one.numbers.get("orders") == "another order"]
    written = [one for one in found(check) if one.numbers.get("orders") != "another order"]
    bad = {(one.step, one.about) for one in after if one.verdict is Verdict.FAIL}
    assert bad == {(one.step, one.about) for one in written if one.verdict is Verdict.FAIL}


@EVERY
def test_a_procedure_that_declares_nothing_is_not_asked(check):
    assert undeclared(check, *steps()[:4]) == []
