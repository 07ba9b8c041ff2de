"""What scene and procedure say in numbers is exact: equal is kept, in whatever units it is said."""

from __future__ import annotations

from typing import Any

import clocking
import errands
import moves
import pytest
from bench import bench, drive, step
from clocking import CHECK, IN, OUT
from elsewhere import HERE, by_the_door, put

from reach.finding import Verdict

PASS, FAIL, NOT_ASKED = Verdict.PASS, Verdict.FAIL, Verdict.NOT_ASKED
EASY = (step("s", "R", drive("easy")),)
WAY = (moves.move(route=["RA", "RB", "RC"]),)


def worst(found: Any, *about: str) -> Verdict:
    """Return the worst verdict of what was asked, not asked where nothing was."""
    verdicts = [one.verdict for one in found if set(about) <= {*one.about, one.answer}]
    order = [Verdict.FAIL, Verdict.OPEN, Verdict.REVIEW, Verdict.PASS, Verdict.NOT_ASKED]
    return min(verdicts, key=order.index)


# ---- forces, torques and temperatures --------------------------------------------------------


def turned(asked: str, borne: str) -> dict[str, Any]:
    data = bench()
    data["fasteners"]["easy"]["torque"] = asked
    data["restraints"]["stand"] = {**data["restraints"]["stand"], "holds_torque": borne}
    return data


def pushed(asked: str, borne: str) -> dict[str, Any]:
    data = bench()
    data["fasteners"]["easy"] |= {"push": asked, "most_push": borne}
    return data


def socketed(asked: str, borne: str) -> dict[str, Any]:
    data = bench()
    data["fasteners"]["easy"] = {"at": [0.7, -0.2, 1.65], "axis": [-1, 0, 0], "push": asked}
    data["sockets"]["SK1"]["rating"] = {"force": borne, "moment": 1e6}
    return data


def tool(**more: Any) -> dict[str, Any]:
    made = {"kind": "drive", "tip": [0.2, 0, 0.05], "axis": [1, 0, 0], "takes_bits": False}
    return {"own": {**made, **more}}


def driven(asked: str, borne: str) -> dict[str, Any]:
    data = bench(tools=tool(torque=borne))
    data["fasteners"]["easy"]["torque"] = asked
    return data


def borne_by_the_bolt(asked: str, borne: str) -> dict[str, Any]:
    data = bench(tools=tool(least_torque=asked))
    data["fasteners"]["easy"] |= {"torque": 1.0, "most_torque": borne}
    return data


def anchored(asked: str, borne: str) -> dict[str, Any]:
    return moves.wall(anchors={"A0": {"rating": borne}}, limits={"tether_load": asked})


def railed(asked: str, borne: str) -> dict[str, Any]:
    return moves.wall(handrails={"RB": {"rating": borne}}, limits={"crew_load": asked})


def hot(asked: str, borne: str) -> dict[str, Any]:
    data = bench(limits={"touch_hot": borne})
    data["fasteners"]["easy"]["temperature"] = ["0 degC", asked]
    return data


OWN = (step("s", "R", {"do": "drive", "fastener": "easy", "tool": "own"}),)
TORQUES = [("350 ft lbf", "4200 in lbf"), ("4200 in lbf", "350 ft lbf"), ("0.3 N m", "0.3 N m")]
FORCES = [("1.1 kN", "1100 N"), ("556 N", "0.556 kN")]
BORNE = {
    "torque": (turned, EASY, "torque", TORQUES, ("350.1 ft lbf", "4200 in lbf")),
    "push": (pushed, EASY, "push", FORCES, ("1101 N", "1.1 kN")),
    "load": (socketed, EASY, "load", FORCES, ("1101 N", "1.1 kN")),
    "the torque of a drive": (driven, OWN, "fit", TORQUES, ("350.1 ft lbf", "350 ft lbf")),
    "the least of a drive": (
        borne_by_the_bolt, OWN, "fit", TORQUES, ("350.1 ft lbf", "350 ft lbf")
    ),
    "an anchor": (anchored, WAY, "anchor", FORCES, ("1101 N", "1.1 kN")),
    "a rail": (railed, WAY, "rails", FORCES, ("1101 N", "1.1 kN")),
    "heat": (
        hot, EASY, "touch", [("49 degC", "120.2 degF"), ("322.15 K", "49 degC")],
        ("49.1 degC", "49 degC"),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", BORNE)
def test_what_is_asked_for_may_be_all_that_is_borne(name, tmp_path):
    scene, steps, check, equal, more = BORNE[name]
    for asked, borne in equal:
        found = by_the_door(tmp_path, put(scene(asked, borne), HERE), steps, (check,))
        assert worst(found) is PASS, (asked, borne)
    found = by_the_door(tmp_path, put(scene(*more), HERE), steps, (check,))
    assert worst(found) is FAIL


def test_what_bears_just_a_kick_is_strong_enough(tmp_path):
    lamp = {"box": [0.2, 0.2, 0.2], "at": [3.0, 1.2, 0.0], "kick_load": "125 lbf"}
    for load, verdict in (("125 lbf", NOT_ASKED), ("125.1 lbf", FAIL)):
        data = moves.wall(solids={"lamp": lamp}, limits={"kick_load": load, "kick_band": 2.0})
        assert worst(by_the_door(tmp_path, put(data, HERE), WAY, ("kick",))) is verdict


@pytest.mark.parametrize(
    ("set_to", "verdict"),
    [("300 in lbf", PASS), ("25 ft lbf", PASS), ("24.9 ft lbf", FAIL), ("25.1 ft lbf", FAIL)],
)
def test_a_tool_is_set_to_just_what_its_fastener_takes(set_to, verdict, tmp_path):
    data = errands.yard(fasteners={"X1": {"torque": "25 ft lbf"}})
    turn = errands.step(
        "turn", errands.turn("X1", bit="S-16", torque=set_to), where="SK1", restraint="FR"
    )
    begin = {"items": errands.PACKED}
    found = by_the_door(tmp_path, put(data, HERE), (turn,), ("dial",), errands.LANES, begin=begin)
    assert worst(found) is verdict


# ---- counts and sums -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("has", "reserve", "verdict"),
    [(0.3, 0.0, PASS), (3.0, 0.9, PASS), (0.2999, 0.0, FAIL), (2.999, 0.9, FAIL)],
)
def test_turns_that_use_up_a_drive_to_its_reserve_are_there(has, reserve, verdict, tmp_path):
    """0.1 and 0.2 turns are not 0.3 in binary numbers, nor is a tenth of 3."""
    data = errands.yard(fasteners={"X1": {"turns": 0.1}, "X2": {"turns": 0.2}})
    steps = (
        errands.step("one", errands.turn("X1", bit="S-16"), where="SK1", restraint="FR"),
        errands.step("two", errands.turn("X2", bit="S-16"), where="SK1", restraint="FR"),
    )
    stores = {"D1": {"turns": has, "reserve": reserve}}
    found = by_the_door(
        tmp_path, put(data, HERE), steps, ("energy",), errands.LANES,
        begin={"items": errands.PACKED}, stores=stores,
    )  # fmt: skip
    assert worst(found, "D1") is verdict


@pytest.mark.parametrize(("most", "verdict"), [(0.3, PASS), ("300 g", PASS), ("299 g", FAIL)])
def test_masses_that_fill_a_bag_to_what_it_bears_fit(most, verdict, tmp_path):
    data = errands.yard(
        items={"B2": {"most_mass": most}, "lamp": {"mass": 0.1}, "ties": {"mass": "200 g"}}
    )
    put_in = errands.step("pack", errands.take("lamp", "ties"), errands.put("B2", "lamp", "ties"))
    begin = {"items": {**errands.PACKED, "lamp": "lock", "ties": "lock"}}
    found = by_the_door(
        tmp_path, put(data, HERE), (put_in,), ("slots",), errands.LANES, begin=begin
    )
    assert worst(found, "B2", "mass") is verdict


@pytest.mark.parametrize("turns", [0.7, 2.1])
def test_turns_at_an_end_of_their_window_are_in_it(turns, tmp_path):
    record = {"turns": turns, "turns_between": [0.7, 2.1], "if_stuck": "stop"}
    data = errands.yard(fasteners={"X1": record})
    turn = errands.step("turn", errands.turn("X1", bit="S-16"), where="SK1", restraint="FR")
    found = by_the_door(
        tmp_path, put(data, HERE), (turn,), ("turn-window",), errands.LANES,
        begin={"items": errands.PACKED},
    )  # fmt: skip
    assert worst(found, "X1") is PASS


# ---- the clock -------------------------------------------------------------------------------

TENTHS = ("0.1 h", "0.2 h", "0.7 h", "0.1 min", "0.2 min", "0.7 min")
"""Durations whose sums are not what they are on paper: 0.1 + 0.2 + 0.7 is below 1."""
WHOLE = "61 min"


def day(*first: dict[str, Any]) -> tuple[dict[str, Any], ...]:
    """One worker who comes out, works for odd stretches one after the other, and goes in."""
    work = [
        {"name": f"work {i}", "lane": "A", "duration": text, "actions": [clocking.WORK]}
        for i, text in enumerate(TENTHS)
    ]
    out = {"name": "out", "lane": "A", "duration": 0, "start": "00:00", "actions": [OUT]}
    back = {"name": "in", "lane": "A", "duration": 0, "actions": [IN]}
    return (*first, out, *work, back)


def of_the_clock(folder: Any, check: str, steps: Any, limits: Any = None, **tables: Any) -> Any:
    data = clocking.place(limits=limits or {})
    tables = {"begin": {"workers": {}}, **tables}
    return by_the_door(folder, put(data, HERE), steps, (check,), clocking.LANES, **tables)


CLOCKS = {
    "outing": ("outing_time", "61 min", "60.9 min"),
    "glove-check": ("glove_check", "61 min", "60.9 min"),
}


@pytest.mark.parametrize("check", CLOCKS)
def test_odd_stretches_that_add_up_to_a_limit_keep_it(check, tmp_path):
    limit, equal, less = CLOCKS[check]
    assert worst(of_the_clock(tmp_path, check, day(), {limit: equal})) is PASS
    assert worst(of_the_clock(tmp_path, check, day(), {limit: less})) is FAIL


@pytest.mark.parametrize(("most", "verdict"), [("61 min", PASS), ("60.9 min", FAIL)])
def test_a_clock_that_runs_just_as_long_as_it_may_is_kept(most, verdict, tmp_path):
    clocks = {"cold": {"from": "out", "to": "in", "limit": most}}
    found = of_the_clock(tmp_path, "unpowered", day(), clocks=clocks)
    assert worst(found) is verdict


@pytest.mark.parametrize(("lasts", "verdict"), [("61 min", PASS), ("60.9 min", FAIL)])
def test_a_suit_that_lasts_just_to_the_end_is_kept(lasts, verdict, tmp_path):
    found = of_the_clock(
        tmp_path, "outing", day(), {"outing_time": "10 h"}, stores={"A": {"lasts": lasts}}
    )
    assert worst(found) is verdict


@pytest.mark.parametrize(("end", "verdict"), [("01:01", PASS), ("01:00", FAIL)])
def test_a_step_that_fills_its_window_is_in_it(end, verdict, tmp_path):
    mate = {"do": "mate", "fastener": "C1"}
    step_ = {
        "name": "mate", "lane": "A", "start": "0.1 h", "duration": "0.9166666666666666 h",
        "where": "S", "actions": [mate],
    }  # fmt: skip
    windows = {"night": {"spans": [["00:06", end]]}}
    found = of_the_clock(
        tmp_path, "window", (step_,), windows=windows, guards={"C1": {"window": "night"}}
    )
    assert worst(found) is verdict


@pytest.mark.parametrize(("safe", "verdict"), [("24 h", PASS), ("1 d", PASS), ("23.9 h", FAIL)])
def test_a_state_that_is_safe_for_just_as_long_as_is_asked_is_kept(safe, verdict, tmp_path):
    phases = {"work": {"from": "out", "to": "in", "stop": "covers on", "safe": safe}}
    found = of_the_clock(tmp_path, "safe-stop", day(), {"safe_time": "24 h"}, phases=phases)
    assert worst(found) is verdict


@pytest.mark.parametrize(
    ("stretch", "rest", "verdict"),
    [("0.3 h", "0.1 h", PASS), ("17.9 min", "0.1 h", FAIL), ("0.3 h", "6.1 min", FAIL)],
)
def test_hands_that_rest_just_long_enough_after_just_the_longest_stretch(
    stretch, rest, verdict, tmp_path
):
    """Twice 0.1 and 0.2 h of turning with 0.1 h between them."""
    turns = [
        clocking.step(f"turn {i}", "A", start, minutes, {"do": "mate", "fastener": "C1"}, where="S")
        for i, (start, minutes) in enumerate(
            [("00:00", 6), ("00:06", 12), ("00:24", 6), ("00:30", 12)]
        )
    ]
    limits = {"hand_stretch": stretch, "hand_rest": rest}
    assert worst(of_the_clock(tmp_path, "hand-time", turns, limits)) is verdict


def test_what_begins_when_the_other_ends_does_not_overlap(tmp_path):
    """0.1 h and 0.2 h are 0.30000000000000004 h, which is not later than 0.3 h."""
    go = {"do": "move crane", "to": "tip"}
    steps = (
        {"name": "a", "lane": "CO", "start": "0.1 h", "duration": "0.2 h", "actions": [go]},
        {"name": "b", "lane": "CO", "start": "0.3 h", "duration": "0.1 h", "actions": [go]},
    )
    assert FAIL not in {one.verdict for one in of_the_clock(tmp_path, "device", steps)}


def test_gloves_that_are_looked_at_just_in_time_are(tmp_path):
    steps = (
        {"name": "out", "lane": "A", "start": "00:00", "duration": 0, "actions": [OUT]},
        {"name": "one", "lane": "A", "start": "0.1 h", "duration": "0.2 h", "actions": [CHECK]},
        {"name": "in", "lane": "A", "start": "0.6 h", "duration": 0, "actions": [IN]},
    )
    assert worst(of_the_clock(tmp_path, "glove-check", steps, {"glove_check": "0.3 h"})) is PASS
    assert worst(of_the_clock(tmp_path, "glove-check", steps, {"glove_check": "17.9 min"})) is FAIL
