"""Where things are parked outdoors, and whether people still get past."""

import pytest
from errands import PACKED, asked, move, put, step, verdicts, yard

from reach.checks import parking
from reach.checks.parked import free_parts
from reach.finding import Verdict

ON_RB = {**PACKED, "B1": "RB@1.0"}
THROUGH = ("RA", "RB", "RC")


def gaps(*steps, begin=ON_RB, **changes):
    found = asked(parking, yard(**changes), *steps, begin=begin)
    return [one for one in found if one.answer == "gap" or one.unit == "m"]


def test_a_bag_on_a_rail_leaves_a_gap_of_its_own_length():
    (found,) = gaps(move("home", "RC@1.0", *THROUGH))
    # From RA to RB and from RB to RC it is 0.5 m, over the bag 0.4 m.
    assert found.numbers["gap"] == pytest.approx(0.5)
    assert found.low == found.high == pytest.approx(0.92 - 0.5)


def test_a_long_thing_blocks_a_rail():
    (found,) = gaps(move("home", "RC@1.0", *THROUGH), items={"B1": {"size": [1.0, 0.3, 0.2]}})
    assert found.verdict is Verdict.FAIL
    assert found.low == pytest.approx(0.92 - 1.0)
    assert "1.000 m for W" in found.because


def test_a_thing_at_the_end_of_a_rail_widens_the_gap_to_the_next():
    (found,) = gaps(move("home", "RC@1.0", *THROUGH), begin={**PACKED, "B1": "RB@1.9"})
    # It reaches from 1.7 m on: 0.3 m of rail and 0.5 m to the next one.
    assert found.numbers["gap"] == pytest.approx(0.3 + 0.5)
    assert found.verdict is Verdict.PASS


def test_the_fix_is_the_nearest_spot_that_leaves_it_passable():
    size = {"B1": {"size": [0.9, 0.3, 0.2]}}
    (found,) = gaps(move("home", "RC@1.0", *THROUGH), begin={**PACKED, "B1": "RB@1.7"}, items=size)
    assert found.verdict is Verdict.FAIL
    assert found.fix.startswith("Park B1 at RB@")
    spot = found.fix.split()[3]
    (mended,) = gaps(move("home", "RC@1.0", *THROUGH), begin={**PACKED, "B1": spot}, items=size)
    assert mended.verdict is Verdict.PASS


def test_what_is_taken_away_before_is_not_in_the_way():
    long = {"B1": {"size": [1.0, 0.3, 0.2]}}
    take = step("take", {"do": "pick up", "items": ["B1"]})
    assert gaps(take, move("home", "RC@1.0", *THROUGH), items=long) == []


def test_a_gap_that_was_there_before_is_not_the_parked_things():
    (found,) = gaps(
        move("home", "RC@1.0", "RA", "RB", "RC"), handrails={"RC": {"from": [6.0, 0, 0]}}
    )
    assert found.verdict is Verdict.NOT_ASKED


def test_without_a_size_nothing_is_known():
    (found,) = gaps(move("home", "RC@1.0", *THROUGH), begin={**PACKED, "B2": "RB@1.0"})
    assert found.verdict is Verdict.NOT_ASKED
    assert "B2" in found.because


@pytest.mark.parametrize(
    ("change", "place", "word"),
    [
        ({}, "RB@1.0", ""),
        ({"rated": False}, "RB@1.0", "not rated"),
        ({"condition": "no-touch"}, "RB@1.0", "no-touch"),
        ({}, "SK2", "restraints only"),
    ],
)
def test_the_place_must_take_it(change, place, word):
    found = asked(parking, yard(handrails={"RB": change}), step("park", put(place, "B1")))
    assert verdicts(found) == ["fail" if word else "pass"]
    assert word in found[0].because
    assert found[0].step == "park"


def test_rail_that_is_left_is_cut_where_things_are():
    assert free_parts(2.0, [(-0.2, 0.2), (1.0, 1.4)], 0.12) == [(0.2, 1.0), (1.4, 2.0)]
    assert free_parts(2.0, [(0.1, 1.0), (0.5, 0.8)], 0.12) == [(1.0, 2.0)]
    assert free_parts(1.0, [(0.0, 1.0)], 0.12) == []
