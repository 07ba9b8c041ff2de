"""Each check that the families hold, halt and serve judge: a pass and a violation in few seeds."""

import pytest

from benchmarks.twins import FAMILIES
from benchmarks.twins.__main__ import judged
from benchmarks.twins.opinion import SATISFIED, VIOLATED
from benchmarks.twins.serve import ends_of
from reach.proportion import interval

SEEDS = {
    "hold": {"grips": 18, "hand-hazard": 18, "pinch": 5, "momentum": 5, "": 2},
    "halt": {"stop": 14},
    "serve": {"socket": 4, "sizes": 21, "two-handed": 18, "share": 45, "": 3}
    | {"two": 1, "all": 22, "some": 19},
}
"""Family -> numbers of cases, by the check that is violated there; the others are kept."""

JUDGED = {
    "hold": ("grips", "hand-hazard", "pinch", "momentum"),
    "halt": ("stop",),
    "serve": ("socket", "sizes", "two-handed", "share"),
}


@pytest.mark.parametrize("family", SEEDS)
def test_each_check_has_a_pass_and_a_violation_that_its_twin_sees(family, tmp_path):
    opinions = []
    for number in sorted(set(SEEDS[family].values())):
        folder = tmp_path / str(number)
        opinions += judged(FAMILIES[family], f"few:{family}:{number}", folder)
    assert [one for one in opinions if one.is_odd] == []
    kept = {one.check for one in opinions if one.verdict == "pass" and one.twin == SATISFIED}
    broken = {one.check for one in opinions if one.verdict != "pass" and one.twin == VIOLATED}
    assert kept >= set(JUDGED[family])
    assert broken >= set(JUDGED[family])


def test_shares_by_added_binomials_are_those_by_quantiles():
    for k, n in ((0, 4), (3, 12), (36, 40), (40, 40)):
        assert ends_of(k, k, n) == pytest.approx(interval(k, n), abs=1e-9)
