"""Lists and patterns: which runs a batch has, and what is said about one that is wrong."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from sites import broken_site, site

from reach.files.problem import InputError
from reach.files.runs import load_runs
from reach.files.schema import runs_schema

LIST = """\
format = 1
title = "Two sites"

[[runs]]
scene = "north"

[[runs]]
name = "south, both hands"
scene = "south/scene.toml"
procedure = "south/procedure.toml"
sizes = ["small", "large"]
vary = ["hands"]
population = "n=9, sex=male, seed=1"
"""
TABLE = """\
name,scene,procedure,sizes,vary,population
,north,,,,
"south, both hands",south/scene.toml,south/procedure.toml,small;large,hands,"n=9, sex=male, seed=1"
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    site(tmp_path / "north")
    site(tmp_path / "south")
    return tmp_path


def problems_of(where: Path | str) -> list[str]:
    with pytest.raises(InputError) as error:
        load_runs(str(where))
    return [str(problem) for problem in error.value.problems]


def test_a_list_in_toml_and_one_in_csv_say_the_same(folder: Path) -> None:
    (folder / "list.toml").write_text(LIST)
    (folder / "list.csv").write_text(TABLE)
    runs = load_runs(str(folder / "list.toml")).runs
    assert runs == load_runs(str(folder / "list.csv")).runs
    first, second = runs
    assert (first.name, first.scene, first.procedure) == ("north", folder / "north", None)
    assert first.run.vary is None
    assert second.procedure == folder / "south/procedure.toml"
    assert (second.run.sizes, second.run.vary) == (("small", "large"), ("hands",))


def test_the_schema_takes_the_list_and_refuses_a_misspelt_one() -> None:
    schema = Draft202012Validator(json.loads(json.dumps(runs_schema())))
    assert schema.is_valid(tomllib.loads(LIST))
    assert not schema.is_valid(tomllib.loads(LIST.replace("vary", "varied")))


@pytest.mark.parametrize(
    ("old", "new", "messages"),
    [
        ("vary = ", "varied = ",
         ["list.toml:12: runs[2].varied: unknown key 'varied'; did you mean 'vary'?"]),
        ('"hands"', '"hand"', ["list.toml:12: runs[2].vary[1]: ", "did you mean 'hands'?"]),
        ("[[runs]]", "[[run]]", ["unknown key 'run'; did you mean 'runs'?"]),
        ('scene = "north"', "", ["runs[1]: key 'scene' is missing"]),
        ('scene = "north"', 'scene = ""', ["runs[1].scene: must not be empty"]),
        ("format = 1", "format = 2", ["list.toml:1: format: must be 1, found 2"]),
        ("format = 1", "format = ", ["list.toml:1: TOML syntax"]),
        ('name = "south, both hands"', 'name = "x"\nname = "y"', ["duplicate name 'name'"]),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_list_has_its_place_and_the_nearest_name(
    folder: Path, old: str, new: str, messages: list[str]
) -> None:
    (folder / "list.toml").write_text(LIST.replace(old, new))
    said = "\n".join(problems_of(folder / "list.toml"))
    for message in messages:
        assert message in said


def test_every_problem_of_a_list_is_listed(folder: Path) -> None:
    text = LIST.replace("sizes =", "size =").replace('"hands"', '"hand"').replace("title", "titel")
    (folder / "list.toml").write_text(text)
    assert len(problems_of(folder / "list.toml")) == 3


@pytest.mark.parametrize(
    ("table", "message"),
    [
        ("scene,varied\nnorth,crew\n", "list.csv:1: unknown column 'varied'; did you mean 'vary'?"),
        ("name\na\n", "list.csv:1: column 'scene' is missing"),
        ("scene,vary\nnorth,crw\n", "list.csv:2: vary: must be 'crew', 'hands' or 'sizes', "
         "found 'crw'; did you mean 'crew'?"),
        ("name,scene\na,north\na,south\n", "list.csv:3: name: duplicate name 'a'"),
        ("scene\n", "list.csv: lists no runs"),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_table_has_its_place(folder: Path, table: str, message: str) -> None:
    (folder / "list.csv").write_text(table)
    assert message in problems_of(folder / "list.csv")


def test_a_file_that_is_not_there_is_a_problem_of_its_run_alone(folder: Path) -> None:
    text = LIST.replace('scene = "north"', 'scene = "nroth"')
    (folder / "list.toml").write_text(text.replace("south/procedure.toml", "proceduer.toml"))
    first, second = load_runs(str(folder / "list.toml")).runs
    said = "list.toml:5: runs[1].scene: unknown scene 'nroth'; did you mean 'north'?"
    assert str(first.problem) == said
    assert "runs[2].procedure: unknown procedure 'proceduer.toml'; did you mean" in str(
        second.problem
    )


def test_a_pattern_takes_scenes_and_procedures_and_names_what_it_leaves_out(folder: Path) -> None:
    broken_site(folder / "west")
    (folder / "empty").mkdir()
    (folder / "notes.txt").touch()
    found = load_runs(f"{folder}/*")
    assert [run.name for run in found.runs] == ["north", "south", "west"]
    assert found.left_out == ("empty", "notes.txt")
    (folder / "north/second.toml").write_text((folder / "north/procedure.toml").read_text())
    found = load_runs(f"{folder}/*/[ps]*.toml")
    assert [(run.name, run.scene) for run in found.runs] == [
        ("north/procedure.toml", folder / "north"),
        ("north", folder / "north"),
        ("north/second.toml", folder / "north"),
        ("south/procedure.toml", folder / "south"),
        ("south", folder / "south"),
        ("west/procedure.toml", folder / "west"),
        ("west", folder / "west"),
    ]


def test_one_scene_is_a_batch_of_one(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(folder)
    assert [run.name for run in load_runs("north").runs] == ["north"]
    assert [run.name for run in load_runs("brackenfall").runs] == ["brackenfall"]


def test_runs_of_the_same_files_get_names_of_their_own(folder: Path) -> None:
    (folder / "list.csv").write_text("scene,sizes\nnorth,\nnorth,small\nnorth,large\n")
    names = [run.name for run in load_runs(str(folder / "list.csv")).runs]
    assert names == ["north", "north (2)", "north (3)"]


def test_a_pattern_that_matches_nothing_names_what_is_near(folder: Path) -> None:
    assert "did you mean 'north'?" in problems_of(folder / "nort")[0]
    (folder / "empty").mkdir()
    assert "matches no scene and no procedure" in problems_of(f"{folder}/emp*")[0]
