"""A key is met when every row is found as it says and nothing else fails or stays open."""

from __future__ import annotations

from pathlib import Path

import pytest

from reach.files.problem import InputError
from reach.finding import Verdict
from reach.reports.key import COLUMNS, KeyRow, compare, load_key
from reports.outcomes import FAILS, OPENS, PASSES, finding

HEADER = ",".join(column.name for column in COLUMNS)


def row(check: str, verdict: Verdict = Verdict.FAIL, **changes: object) -> KeyRow:
    told = {"line": 2, "fault": "X1", "step": "turn-IB2", "cases": (), "about": ()} | changes
    return KeyRow(check=check, verdict=verdict, **told)  # type: ignore[arg-type]


def key_file(folder: Path, *lines: str) -> Path:
    path = folder / "expected.csv"
    path.write_text("\n".join((HEADER, *lines)) + "\n", encoding="utf-8")
    return path


FAR = row("reach", step="turn-IB7", at_least=0.15)


def test_a_key_that_is_met_has_no_differences() -> None:
    assert compare([FAR], FAILS[2:] + PASSES) == []


def test_a_missing_fail_is_named() -> None:
    assert compare([FAR], PASSES) == [
        "X1 (line 2): reach in step turn-IB7 was not answered.",
    ]


def test_a_case_that_was_not_run_is_named() -> None:
    asked = row("reach", step="turn-IB7", cases=("small", "giant"))
    assert compare([asked, FAR], FAILS[2:]) == [
        "X1 (line 2): reach in step turn-IB7 for giant was not answered.",
    ]


def test_a_finding_that_holds_for_every_body_meets_a_row_for_some() -> None:
    found = finding("access", -1.0, -0.5, case="")
    assert compare([row("access", cases=("small", "large"))], [found]) == []


def test_a_blank_case_asks_for_every_case_that_was_run() -> None:
    found = (finding("reach", -1.0, -0.5, case="small"), finding("reach", 0.1, 0.2, case="large"))
    assert compare([row("reach")], found) == [
        "X1 (line 2): reach in step turn-IB2 (W1, IB2, PT-1, SK3) for large is pass, "
        "the key says fail.",
    ]


@pytest.mark.parametrize("extra", [FAILS[0], *OPENS], ids=lambda f: f"{f.check} {f.verdict}")
def test_nothing_else_may_fail_or_stay_open(extra: object) -> None:
    (difference,) = compare([FAR], (*FAILS[2:], extra))  # type: ignore[arg-type]
    assert "is not in the key" in difference


def test_a_pass_that_the_key_does_not_name_is_no_difference() -> None:
    assert compare([], PASSES) == []


def test_a_clean_case_that_the_key_asks_for_must_pass() -> None:
    clean = row("torque", Verdict.PASS, at_least=10.0)
    assert compare([clean], PASSES) == []
    assert len(compare([clean], ())) == 1
    assert len(compare([row("torque", Verdict.PASS, at_least=13.0)], PASSES)) == 2


def test_a_wrong_verdict_is_told_once() -> None:
    (difference,) = compare([row("access")], OPENS[:1])
    assert difference.endswith("is open, the key says fail.")


def test_a_weaker_margin_is_told() -> None:
    demanding = row("reach", step="turn-IB7", at_least=0.2)
    first, second = compare([demanding], FAILS[2:])
    assert "for medium is fail as the key says, but short by 0.180 m at least" in first
    assert first.endswith("where the key asks for 0.2 m at least.")
    assert "for large" in second


def test_names_tell_two_fasteners_of_one_step_apart() -> None:
    other = finding("reach", -1.0, -0.5, about=("W1", "IB9"))
    assert len(compare([row("reach", about=("IB9",))], (other, FAILS[0]))) == 1
    assert len(compare([row("reach", about=("IB2",))], (other,))) == 2


def test_a_file_is_read_with_its_lists_numbers_and_comments(tmp_path: Path) -> None:
    path = key_file(
        tmp_path,
        "# a remark, with a comma",
        'X16,reach,Wd,small; medium,IB7;W1,fail,0.15,X05,"far, far away"',
        "C1,A1,We,,,pass,,,",
    )
    far, clean = load_key(path, {"A1": "reach"})
    assert (far.cases, far.about, far.at_least) == (("small", "medium"), ("IB7", "W1"), 0.15)
    assert (far.consequence_of, far.note) == ("X05", "far, far away")
    assert (clean.check, clean.verdict, clean.cases) == ("reach", Verdict.PASS, ())
    assert (far.line, clean.line) == (3, 4)


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("X1,reach,Wd,,,failed,,,", "unknown verdict 'failed'; did you mean 'fail'?"),
        ("X1,reach,Wd,,,,,,", "unknown verdict ''"),
        ("X1,reach,Wd,,,fail,much,,", "found 'much'"),
        ("X1,reach,Wd,,,fail,nan,,", "found nan"),
        ("X1,reach,Wd,,,fail,-1,,", "found -1"),
        ("X1,reach,Wd,,,open,0.1,,", "goes with fail or pass"),
        ("X1,reach,Wd,,,fail", "has 6 cells, the header has 9"),
    ],
)
def test_a_row_that_cannot_be_meant_is_refused(tmp_path: Path, line: str, message: str) -> None:
    with pytest.raises(InputError, match=r"expected\.csv:2") as refused:
        load_key(key_file(tmp_path, line))
    assert message in str(refused.value)


def test_all_problems_of_a_key_are_listed(tmp_path: Path) -> None:
    with pytest.raises(InputError) as refused:
        load_key(key_file(tmp_path, "X1,reach,W,,,no,,,", "X2,reach,W,,,open,1,,"))
    assert len(refused.value.problems) == 2


def test_a_key_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such file"):
        load_key(tmp_path / "expected.csv")
