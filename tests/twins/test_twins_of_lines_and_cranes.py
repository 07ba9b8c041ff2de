"""Each check of lines, rides, meetings and lookouts is judged both ways: kept, and broken."""

import pytest

from benchmarks.twins import FAMILIES
from benchmarks.twins.__main__ import judged
from benchmarks.twins.lines import in_turn
from benchmarks.twins.meet import meetings
from benchmarks.twins.opinion import SATISFIED, VIOLATED

SEEDS = {"ride": (3, 6, 12, 22, 42), "lines": (4, 8, 10), "meet": (1, 3), "watch": (0, 3)}
"""Cases in which each check is kept once, and broken once."""


@pytest.fixture(scope="module")
def opinions(tmp_path_factory):
    return [
        one
        for family, numbers in SEEDS.items()
        for number in numbers
        for one in judged(
            FAMILIES[family], f"new:{family}:{number}", tmp_path_factory.mktemp(family)
        )
    ]


@pytest.mark.parametrize(
    "check",
    ["anchored", "boarding", "crossing", "device", "held", "hook", "line-home", "meeting", "watch"],
)
def test_a_check_passes_what_its_twin_sees_kept_and_fails_what_it_sees_broken(opinions, check):
    said = {(one.verdict, one.twin) for one in opinions if one.check == check}
    assert ("pass", SATISFIED) in said
    assert ("fail", VIOLATED) in said


def test_a_line_that_is_long_enough_straight_is_no_pass(opinions):
    said = {(one.verdict, one.twin) for one in opinions if one.check == "tether-riding"}
    assert said == {("fail", VIOLATED), ("not asked", SATISFIED)}


def test_nothing_is_passed_that_is_broken(opinions):
    assert [one for one in opinions if one.is_odd] == []


def test_lines_cross_where_their_ends_lie_on_four_arms_in_turn():
    assert in_turn((0, 2), (1, 3))
    assert in_turn((3, 1), (2, 0))
    assert not in_turn((0, 1), (2, 3))
    assert not in_turn((0, 2), (1, 2))


def test_two_places_are_taken_at_once_only_where_no_link_keeps_them_apart():
    def stands(name, lane, start, *actions, **more):
        done = [{"do": one} for one in actions]
        return {"name": name, "lane": lane, "start": start, "duration": 60, "actions": done, **more}

    steps = [
        stands("a", "W", "00:00", "ingress", where="P0"),
        stands("b", "W", "00:05", "egress"),
        stands("c", "V", "00:10", "ingress", where="Q0"),
    ]
    assert meetings(steps) == ({("P0", "Q0")}, set())
    assert meetings([*steps[:2], {**steps[2], "after": ["b"]}]) == (set(), set())
    assert meetings([*steps[:2], {**steps[2], "start": "00:02"}])[1] == {("P0", "Q0")}
