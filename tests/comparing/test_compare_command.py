"""`reach compare`: what it prints and writes, its exit codes, and what it refuses."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner
from versions import BRACKET, MAST, changed, mast

import reach.cli
from reach.cautions import CAUTIONS
from reach.reports.compare_data import COLUMNS

QUICK = "torque,hand,fit"
MENDED = str(MAST / "mended.toml")
FAULTY = str(MAST / "bracket.toml")


def call(*words: str) -> Any:
    runner = CliRunner(env={"COLUMNS": "100", "NO_COLOR": "1"})
    return runner.invoke(reach.cli.app, ["compare", *words])


def written(folder: Path, *words: tuple[str, str], name: str = "new.toml") -> str:
    path = folder / name
    path.write_text(changed(BRACKET, *words))
    return str(path)


def section(text: str, title: str) -> str:
    """What is printed under one heading, one line."""
    after = text[text.index(f"\n{title}  ") :].split("\n\n", 1)[0]
    return " ".join(after.split())


def test_what_a_mended_version_mends_is_told_with_the_edit_behind_it() -> None:
    result = call(FAULTY, MENDED, "--only", QUICK)
    assert result.exit_code == 0
    better = section(result.stdout, "BETTER")
    assert "step 6 PB1 ○ PASS torque: R1 · PB1 · BB-1 · M8" in better
    assert "fail, short by 20.0 N m → pass, inside by 15.0 N m" in better
    assert "by: step 6 PB1 (restraint); this edit alone mends it." in better
    assert "WORSE  none" in result.stdout
    assert "Result: nothing is worse." in result.stdout


def test_the_way_back_is_worse_and_exits_1() -> None:
    result = call(MENDED, FAULTY, "--only", QUICK)
    assert result.exit_code == 1
    worse = section(result.stdout, "WORSE")
    assert "■ FAIL torque" in worse
    assert "by: step 6 PB1 (restraint); this edit alone breaks it." in worse
    assert "PB1 takes 60.0 N m" in worse
    assert "Fix:" in worse
    head = result.stdout.split("\nEDITS")[0]
    assert "Result: something is worse." in head


def test_a_version_against_itself_changes_nothing() -> None:
    result = call("tallowmere", "tallowmere", "--only", QUICK)
    assert result.exit_code == 0
    assert "EDITS  none" in result.stdout
    assert "0 worse, 0 better, 0 changed" in result.stdout


def test_every_caution_stands_at_the_end() -> None:
    flat = " ".join(call(FAULTY, FAULTY, "--only", "hand").stdout.split())
    for caution in CAUTIONS:
        assert caution.split("{")[0].split(" (hash")[0].strip() in flat


def test_no_blame_runs_two_versions_and_says_so() -> None:
    result = call(MENDED, FAULTY, "--only", QUICK, "--no-blame")
    assert result.exit_code == 1
    assert "by:" not in result.stdout
    assert "Which edit did what was not looked for." in result.stdout


def test_an_answer_that_nothing_can_be_judged_by_any_more_is_told_and_exits_3(
    tmp_path: Path,
) -> None:
    old, new = mast(tmp_path, "old"), mast(tmp_path, "new", ('torque = "38 N m"\n', ""))
    result = call(str(old), str(new), "--only", QUICK)
    assert result.exit_code == 3
    assert "torque: R2 · AB3 · SR-1" in section(result.stdout, "NOT ASKED ANY MORE")
    assert "something is asked no more" in " ".join(result.stdout.split())


def test_a_question_that_an_edit_takes_out_is_told_as_gone_and_exits_0(tmp_path: Path) -> None:
    inspects = (
        'actions = [{ do = "drive", fastener = "AB1", tool = "SR-1", bit = "N-19" }]',
        'actions = [{ do = "inspect", fastener = "AB1" }]',
    )
    result = call(FAULTY, written(tmp_path, inspects), "--only", QUICK, "--scene", "tallowmere")
    assert result.exit_code == 0
    assert "step 3 AB1: 3 pass (torque, hand, fit)" in section(result.stdout, "GONE")


def test_a_removed_step_takes_its_answers_along_and_exits_0(tmp_path: Path) -> None:
    text = BRACKET.split("[[steps]]\n")
    kept = "[[steps]]\n".join(part for part in text if not part.startswith('name = "6 PB1"'))
    (tmp_path / "new.toml").write_text(kept)
    result = call(FAULTY, str(tmp_path / "new.toml"), "--only", QUICK, "--scene", "tallowmere")
    assert result.exit_code == 0
    gone = section(result.stdout, "GONE WITH THEIR STEPS")
    assert "1 fail among them" in gone
    assert "step 6 PB1: 1 fail (torque), 2 pass (hand, fit)" in gone


def test_margins_that_fall_are_told_above_the_threshold_only(tmp_path: Path) -> None:
    old, new = mast(tmp_path, "old"), mast(
        tmp_path, "new", ('torque = "38 N m"', 'torque = "39.5 N m"')
    )  # fmt: skip
    told = call(str(old), str(new), "--only", "torque")
    assert told.exit_code == 0
    fell = section(told.stdout, "MARGINS THAT FELL")
    assert "pass, inside by 2.0 N m → pass, inside by 0.5 N m" in fell
    assert "by: fasteners AB3 (torque); this edit alone lessens it." in fell
    silent = call(str(old), str(new), "--only", "torque", "--threshold", "2 N m")
    assert "MARGINS THAT FELL" not in silent.stdout
    assert "by more than 0.020 m, 1.0 deg, 2.0 N m" in silent.stdout


def test_scenes_and_procedures_may_change_at_once(tmp_path: Path) -> None:
    old = mast(tmp_path, "old")
    more = changed(
        BRACKET, ('name = "4 AB2"\nlane = "R1"', 'name = "4 AB2"\nnote = "x"\nlane = "R1"')
    )
    new = mast(tmp_path, "new", ('torque = "38 N m"', 'torque = "45 N m"'), procedure=more)
    result = call(str(old), str(new), "--only", QUICK)
    assert result.exit_code == 1
    assert "edited: fasteners AB3" in result.stdout
    assert "edited: step 4 AB2" in result.stdout
    assert "this edit alone breaks it" in section(result.stdout, "WORSE")


def test_scenes_can_be_compared_with_one_procedure(tmp_path: Path) -> None:
    old = mast(tmp_path, "old")
    new = mast(tmp_path, "new", ('torque = "60 N m"', 'torque = "70 N m"'))
    result = call(str(old), str(new), "--procedure", MENDED, "--only", "torque")
    assert result.exit_code == 0
    assert "mended): 6 pass" in " ".join(result.stdout.split())
    assert "→ pass, inside by 5.0 N m" in result.stdout


def test_a_fail_that_fails_by_more_is_worse(tmp_path: Path) -> None:
    old = mast(tmp_path, "old")
    new = mast(tmp_path, "new", ('torque = "60 N m"', 'torque = "70 N m"'))
    result = call(str(old), str(new), "--only", "torque")
    assert result.exit_code == 1
    assert "fail, short by 20.0 N m → fail, short by 30.0 N m" in section(result.stdout, "WORSE")


def test_json_and_csv_say_the_same(tmp_path: Path) -> None:
    files = (tmp_path / "told.json", tmp_path / "told.csv")
    result = call(
        MENDED, FAULTY, "--only", QUICK, "--json", str(files[0]), "--csv", str(files[1])
    )  # fmt: skip
    assert result.exit_code == 1
    told = json.loads(files[0].read_text())
    assert (told["schema"], told["exit_code"]) == ("reach-comparison-1", 1)
    assert [edit["name"] for edit in told["edits"]] == ["title", "6 PB1", "7 TB1"]
    (worse,) = [one for one in told["answers"] if one["worse"]]
    assert (worse["old"]["verdict"], worse["new"]["verdict"]) == ("pass", "fail")
    assert worse["by"]["how"] == "alone"
    assert len(told["cautions"]) == len(CAUTIONS)
    rows = list(csv.DictReader(io.StringIO(files[1].read_text())))
    assert tuple(rows[0]) == COLUMNS
    (row,) = [row for row in rows if row["worse"] == "yes"]
    assert (row["check"], row["step"], row["by"], row["new_high"]) == (
        "torque", "6 PB1", "step 6 PB1", "-20.0",
    )  # fmt: skip
    assert len(rows) == len(told["answers"])


# ---- what it refuses -------------------------------------------------------------------


def refused(*words: str) -> str:
    result = call(*words)
    assert result.exit_code == 2, result.stdout
    return str(result.stderr)


def test_what_is_not_there_is_named_on_both_sides() -> None:
    said = refused("no-such.toml", "nowhere")
    assert "no-such.toml: there is no such file, folder or shipped scene" in said
    assert "nowhere: there is no such file, folder or shipped scene" in said


def test_a_procedure_far_from_any_scene_needs_one(tmp_path: Path) -> None:
    path = written(tmp_path)
    assert "name one with --scene" in refused(path, FAULTY)
    assert call(path, FAULTY, "--scene", "tallowmere", "--only", "hand").exit_code == 0


def test_a_file_of_the_scenes_folder_may_be_named_by_itself() -> None:
    result = call("bracket.toml", "mended.toml", "--scene", "tallowmere", "--only", "hand")
    assert result.exit_code == 0


def test_all_problems_of_both_sides_and_of_options_are_told_at_once(tmp_path: Path) -> None:
    bad = written(tmp_path, ('where = "M8"\nactions = [{ do = "ingress" }]', 'where = "M7"'))
    worse = written(tmp_path, ('tool = "BB-1", bit = "N-24"', 'tool = "XX"'), name="worse.toml")
    said = refused(
        bad, worse, "--scene", "tallowmere", "--only", "torq", "--threshold", "5 kg",
        "--json", str(tmp_path / "no" / "x.json"),
    )  # fmt: skip
    for part in ("'M7'", "'XX'", "torq", "--threshold: needs an amount", "there is no folder"):
        assert part in said, part


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("tallowmere", "tallowmere", "--scene", "tallowmere"), "OLD and NEW are scenes"),
        ((FAULTY, MENDED, "--procedure", MENDED), "OLD and NEW are procedures"),
    ],
)
def test_an_option_that_says_nothing_of_what_was_typed_is_refused(
    words: tuple[str, ...], said: str
) -> None:
    assert said in refused(*words)


def test_no_file_that_is_read_is_written_over(tmp_path: Path) -> None:
    path = written(tmp_path)
    said = refused(path, FAULTY, "--scene", "tallowmere", "--csv", path)
    assert "is read by this run" in said
