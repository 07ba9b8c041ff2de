"""A seeded slice of `python -m benchmarks.twins`: no check passes what its slow twin sees fail."""

from contextlib import suppress
from dataclasses import replace

import pytest

from benchmarks.twins import FAMILIES
from benchmarks.twins.__main__ import checked, judged
from benchmarks.twins.opinion import SATISFIED, VIOLATED, Opinion, Tally
from reach.files.problem import InputError

SLICE = {
    "errand": 20, "move": 3, "carry": 3, "work": 2, "stand": 1, "ride": 8, "lines": 2, "meet": 6,
    "watch": 2,
}  # fmt: skip
"""Cases of each family: a quick look, the campaign takes thousands."""

ANSWERS = {"meet": 0.5, "watch": 1}
"""So many questions are judged a case at least, where it is not two."""


@pytest.mark.parametrize("family", SLICE)
def test_checks_and_slow_twins_agree(family, tmp_path):
    opinions = []
    for number in range(SLICE[family]):
        # A random procedure may be one that files refuse.
        with suppress(InputError):
            folder = tmp_path / str(number)
            opinions += judged(FAMILIES[family], f"slice:{family}:{number}", folder)
    assert len(opinions) >= ANSWERS.get(family, 2) * SLICE[family]
    assert [one for one in opinions if one.is_odd] == []


@pytest.mark.parametrize(
    ("family", "seed"), [("errand", "slice:errand:0"), ("move", "slice:move:1")]
)
def test_a_program_that_passes_everything_is_caught(family, seed, tmp_path):
    scene, procedure, outcome = checked(FAMILIES[family], seed, tmp_path)
    blind = replace(
        outcome, findings=tuple(replace(one, low=0.0, high=0.0) for one in outcome.findings)
    )
    told = list(FAMILIES[family].opinions(scene, procedure, blind))
    assert "wrong pass" in {one.kind for one in told}


@pytest.mark.parametrize(
    ("verdict", "twin", "kind"),
    [
        ("pass", VIOLATED, "wrong pass"),
        ("pass", SATISFIED, "pass"),
        ("not asked", VIOLATED, "silent"),
        ("fail", SATISFIED, "wrong fail"),
        ("open", VIOLATED, "open, violated"),
        ("review", SATISFIED, "open, satisfied"),
    ],
)
def test_what_a_verdict_and_its_twin_count_as(verdict, twin, kind):
    one = Opinion("reach", "B", verdict, twin)
    assert one.kind == kind
    assert one.is_odd == (kind in ("wrong pass", "silent", "wrong fail"))
    tally = Tally()
    tally.add([one, replace(one, known="told elsewhere")])
    assert tally.counts["reach"]["cases"] == 2
