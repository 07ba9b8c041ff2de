"""Variations through the whole pipe: what the checks make of them, and that it is told."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from lookout import checked, loaded_of, lookout, told
from typer.testing import CliRunner

import reach.answer
from reach.cli import app
from reach.finding import Finding, Verdict
from reach.reports.record import to_csv, to_json
from reach.reports.record_schema import findings_schema
from reach.reports.table import render_table
from reach.run import Outcome, check
from reach.varying import variations_of, varied_copies


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return lookout(tmp_path_factory.mktemp("varying") / "lookout")


def verdicts(outcome: Outcome) -> dict[str, set[Verdict]]:
    found: dict[str, set[Verdict]] = {}
    for one in outcome.findings:
        found.setdefault(one.check, set()).add(one.verdict)
    return found


def finding(outcome: Outcome, check_name: str) -> Finding:
    (found,) = (one for one in outcome.findings if one.check == check_name)
    return found


def edited(folder: Path, target: Path, old: str, new: str) -> Path:
    """A copy of a folder whose scene is edited by hand."""
    target.mkdir()
    text = (folder / "scene.toml").read_text()
    assert text.count(old) == 1
    (target / "scene.toml").write_text(text.replace(old, new))
    (target / "procedure.toml").write_text((folder / "procedure.toml").read_text())
    return target


@pytest.mark.parametrize(
    ("what_if", "old", "new", "only"),
    [
        ("W1 is large", 'size = "medium"', 'size = "large"', ["reach", "sight"]),
        ("W2 is right-handed", 'hand = "left"', 'hand = "right"', ["hands", "tether"]),
        ("SA blocked", "zero = [1, 0, 0]", 'zero = [1, 0, 0]\nstatus = "blocked"', ["socket"]),
        (
            "RB gone",
            "[handrails.RB]",
            '[handrails.RB]\ncondition = "gone"',
            ["route", "rails", "gap"],
        ),
        ("T1 length 2 m", 'length = "12 m"', 'length = "2 m"', ["tether"]),
    ],
)
def test_findings_are_those_of_the_files_edited_by_hand(
    folder: Path, tmp_path: Path, what_if: str, old: str, new: str, only: list[str]
) -> None:
    by_hand = check(edited(folder, tmp_path / "edited", old, new), only=only)
    assert told(checked(folder, what_if, only=only)) == told(by_hand)


def test_a_blocked_socket_takes_no_restraint(folder: Path) -> None:
    assert verdicts(checked(folder, only=["socket"]))["socket"] == {Verdict.PASS}
    blocked = checked(folder, "SA blocked", only=["socket"])
    assert verdicts(blocked)["socket"] == {Verdict.FAIL}
    assert len(blocked.findings) == 3


def test_a_rail_that_is_gone_ends_its_routes_and_cannot_be_freed(folder: Path) -> None:
    only = ["rails", "route"]
    assert set.union(*verdicts(checked(folder, only=only)).values()) == {Verdict.PASS}
    gone = checked(folder, "RB gone", only=only)
    assert finding(gone, "rails").verdict is Verdict.FAIL
    assert "RB is gone" in finding(gone, "rails").because
    assert finding(gone, "route").verdict is Verdict.FAIL
    assert "free RB" not in finding(gone, "route").fix
    assert "free RB" in finding(checked(folder, "RB blocked", only=only), "route").fix


def test_a_size_is_what_the_option_gives_that_worker(folder: Path) -> None:
    only = ["reach", "sight", "hand"]
    sized = told(checked(folder, "W1 is large", only=only))
    by_option = told(checked(folder, only=only, sizes=["large"]))
    assert sized == [one for one in by_option if "W1" in one[2]]  # type: ignore[operator]
    assert {one[3] for one in sized} == {"large"}


def test_a_short_line_fails(folder: Path) -> None:
    assert finding(checked(folder, only=["tether"]), "tether").verdict is Verdict.PASS
    assert finding(checked(folder, "T1 length 2 m", only=["tether"]), "tether").verdict is (
        Verdict.FAIL
    )


def test_a_limit_decides_and_says_where_it_comes_from(folder: Path) -> None:
    found = finding(checked(folder, "limit rail_gap 0.4 m", only=["gap"]), "gap")
    assert found.verdict is Verdict.FAIL
    assert (found.limits[0].value, found.limits[0].source.source) == (0.4, "what if")


def test_a_swap_moves_the_people_not_the_lanes(folder: Path) -> None:
    found = checked(folder, "swap W1 W2", only=["reach"]).findings
    assert {(one.about[0], one.case) for one in found} == {("W1", "small")}


def test_every_report_says_for_what_it_holds(folder: Path) -> None:
    written = checked(folder, only=["hand"])
    outcome = checked(folder, "SA blocked, W1 is large", only=["hand"])
    words = "SA blocked, W1 is large"
    text = render_table(outcome)
    assert text.splitlines()[0].endswith(f": Open the panel, what if {words}")
    assert f"! What if: {words}. This holds for that, not for the files as written." in text
    assert "what if" not in render_table(written).lower()
    data, before = json.loads(to_json(outcome)), json.loads(to_json(written))
    Draft202012Validator(findings_schema()).validate(data)
    assert (data["what_if"], before["what_if"]) == (["SA blocked", "W1 is large"], [])
    assert data["hash"] != before["hash"]
    assert f"what if ({words})" in [one["file"] for one in data["inputs"]]
    assert data["hash"] in data["cautions"][1]
    for one, column in ((outcome, words), (written, "")):
        rows = list(csv.DictReader(io.StringIO(to_csv(one))))
        assert rows
        assert {row["what_if"] for row in rows} == {column}


def test_half_a_variation_is_told_too(folder: Path) -> None:
    """A varied scene with a procedure read beside it: nothing gets away unmarked."""
    loaded, asked = loaded_of(folder)
    varied_scene, _ = varied_copies(loaded, asked, variations_of("SA blocked"))
    outcome = check(varied_scene, asked, only=["hand"])
    assert outcome.what_if == ("SA blocked",)
    assert outcome.inputs == checked(folder, "SA blocked", only=["hand"]).inputs


def run(*words: str) -> Any:
    return CliRunner(env={"COLUMNS": "200"}).invoke(app, list(words))


@pytest.fixture
def stand_in(monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """What the command hands to the checks, which are not run."""
    asked: list[Any] = []

    def instead(*pair: Any, **_: Any) -> None:
        asked.extend(pair)
        raise KeyboardInterrupt

    monkeypatch.setattr(reach.answer, "check", instead)
    monkeypatch.setattr(reach.answer, "is_compiled", lambda: True)
    return asked


def test_the_option_varies_scene_and_procedure(folder: Path, stand_in: list[Any]) -> None:
    run("check", str(folder), "--what-if", "swap W1 W2, SA blocked", "--what-if", "RB gone")
    assert stand_in[0].scene.workers["W1"].size == "small"
    assert stand_in[0].what_if == ("swap W1 and W2", "SA blocked", "RB gone")
    assert stand_in[1].what_if == stand_in[0].what_if


def test_the_option_goes_with_the_other_options(folder: Path, stand_in: list[Any]) -> None:
    run("check", str(folder), "--worker", "W2", "--what-if", "swap W1 W2", "--size", "large")
    assert [len(step.actions) for step in stand_in[1].procedure.steps] == [0, 0, 0, 1]
    assert stand_in[1].what_if == ("swap W1 and W2",)


def test_the_command_tells_all_problems_at_once(folder: Path, stand_in: list[Any]) -> None:
    told_ = run(
        *("check", str(folder), "--what-if", "SB blocked, RB goen", "--what-if", "W3 is large"),
        *("--only", "raech", "--size", "small", "--fill", str(folder / "filled.toml")),
    )
    assert told_.exit_code == 2
    lines = told_.stderr.splitlines()
    for part in (
        "--only: no check 'raech'",
        "'SB blocked': unknown socket, handrail or handhold 'SB'; did you mean 'SA'?",
        "'RB goen' is no variation; did you mean 'RB gone'?",
        "'W3 is large': unknown worker 'W3'",
        "'W3 is large' changes nothing: the size classes asked for replace every body",
        "is not for --fill",
    ):
        assert sum(part in line for line in lines) == 1, part
    assert len(lines) == 6
    assert not stand_in


def test_the_demo_with_its_crew_swapped() -> None:
    """W2, small and left-handed, is to turn IP2, for right hands only; swapped, W1 does it."""
    folder = Path("brackenfall")
    verdict = {}
    for text in ("", "swap W1 W2"):
        found = checked(folder, text, only=["hand"]).findings
        verdict[text] = [one.verdict for one in found if "IP2" in one.about]
    assert verdict == {"": [Verdict.FAIL], "swap W1 W2": [Verdict.PASS]}
