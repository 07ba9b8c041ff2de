"""Variations: who stands in which lane with which hand, and what the checks make of it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from sites import site, site_of_two

import reach.batch.perform
from reach.batch.perform import perform, task_of
from reach.batch.plan import Defaults, planned
from reach.batch.task import Options
from reach.batch.variations import Variation, variations, varied
from reach.files.procedure import load_procedure
from reach.files.runs import load_runs
from reach.files.scene import load_scene
from reach.reports.record import COLUMNS
from reach.run import check


def loaded_of(folder: Path) -> tuple[Any, Any]:
    loaded = load_scene(folder)
    return loaded, load_procedure(None, loaded)


def test_swapped_crew_changes_lanes_with_body_hand_and_suit(tmp_path: Path) -> None:
    loaded, asked = loaded_of(site_of_two(tmp_path / "yard"))
    swapped, same = varied(loaded, asked, Variation(turn=1))
    before, after = loaded.scene.workers, swapped.scene.workers
    assert (before["W1"].size, before["W2"].size) == ("medium", "small")
    assert after == {"W1": before["W2"], "W2": before["W1"]}
    assert same.procedure is asked.procedure
    assert swapped.what_if == same.what_if == ("crew swapped",)
    assert varied(swapped, asked, Variation(turn=1))[0].scene.workers == before


def test_three_people_move_on_through_the_lanes(tmp_path: Path) -> None:
    folder = site_of_two(tmp_path / "yard")
    for name, text in (
        ("scene.toml", '\n[workers.W3]\nsize = "large"\nsuit = "halden"\n'),
        ("procedure.toml", ""),
    ):
        file = folder / name
        lanes = file.read_text().replace('W2 = "worker"', 'W2 = "worker", W3 = "worker"')
        file.write_text(lanes + text)
    loaded, asked = loaded_of(folder)
    sizes = [
        [w.size for w in varied(loaded, asked, v)[0].scene.workers.values()]
        for v in variations(3, ["crew"], (), [])
    ]
    assert sizes == [
        ["medium", "small", "large"],
        ["small", "large", "medium"],
        ["large", "medium", "small"],
    ]


def test_swapped_hands_are_those_of_workers_and_of_steps(tmp_path: Path) -> None:
    folder = site_of_two(tmp_path / "yard")
    file = folder / "procedure.toml"
    file.write_text(file.read_text().replace('bit = "S-16" }', 'bit = "S-16", hand = "left" }', 1))
    loaded, asked = loaded_of(folder)
    other, mirrored = varied(loaded, asked, Variation(hands=True))
    assert [w.hand for w in loaded.scene.workers.values()] == ["right", "left"]
    assert [w.hand for w in other.scene.workers.values()] == ["left", "right"]
    assert [s.actions[0].hand for s in asked.procedure.steps[1:]] == ["left", "own"]
    assert [s.actions[0].hand for s in mirrored.procedure.steps[1:]] == ["right", "own"]
    assert other.scene.fasteners == loaded.scene.fasteners


def test_the_checks_see_the_varied_people(tmp_path: Path) -> None:
    """Swapped by hand in the files, the findings are those of the swapped task."""
    folder = site_of_two(tmp_path / "yard")
    loaded, asked = loaded_of(folder)
    task = task_of(
        *varied(loaded, asked, Variation(turn=1)), Options(only=("reach",)), "crew swapped"
    )
    found = json.loads(perform(task).text)
    file = folder / "scene.toml"
    text = file.read_text().replace("[workers.W1]", "[workers.W0]")
    text = text.replace("[workers.W2]", "[workers.W1]").replace("[workers.W0]", "[workers.W2]")
    file.write_text(text)
    outcome = check(folder, only=["reach"])
    assert [row[8] for row in found["rows"]] == [finding.because for finding in outcome.findings]
    assert [row[3] for row in found["rows"]] == ["small", "medium"]


def test_sizes_are_run_together_so_that_they_are_compared(tmp_path: Path) -> None:
    folder = site(tmp_path / "yard")
    listed = load_runs(str(folder)).runs[0]
    entries = list(planned(listed, Defaults(Options(only=("torque", "sizes")), ("sizes",))))
    assert [entry.variation for entry, _ in entries] == ["as planned", "sizes small; medium; large"]
    rows = [json.loads(perform(task).text)["rows"] for _, task in entries if task]
    assert {row[0] for row in rows[0]} == {"torque"}
    assert {row[0] for row in rows[1]} == {"torque", "sizes"}
    assert {row[3] for row in rows[1] if row[0] == "torque"} == {"small", "medium", "large"}


def test_keys_tell_apart_what_gives_another_result_and_nothing_else(tmp_path: Path) -> None:
    folder = site_of_two(tmp_path / "yard")
    listed = load_runs(str(folder)).runs[0]

    def keys(defaults: Defaults) -> list[str]:
        return [entry.key for entry, _ in planned(listed, defaults)]

    every = keys(Defaults(Options(), ("crew", "hands", "sizes")))
    every += keys(Defaults(Options(only=("torque",))))
    every += keys(Defaults(Options(sizes=("small",))))
    every += keys(Defaults(Options(population="n=10, sex=male, seed=1")))
    assert len(set(every)) == len(every) == 11
    before = keys(Defaults())
    assert before[0] in every
    file = folder / "procedure.toml"
    file.write_text(file.read_text() + "\n# another comment\n")
    assert keys(Defaults()) != before


def test_what_if_is_an_axis_beside_crew_hands_and_sizes(tmp_path: Path) -> None:
    folder = site_of_two(tmp_path / "yard")
    listed = load_runs(str(folder)).runs[0]
    defaults = Defaults(Options(only=("torque",)), ("hands",), ("SA blocked", "W1 is large"))
    entries = list(planned(listed, defaults))
    assert [entry.variation for entry, _ in entries] == [
        "as planned",
        "SA blocked",
        "W1 is large",
        "hands swapped",
        "hands swapped, SA blocked",
        "hands swapped, W1 is large",
    ]
    assert len({entry.key for entry, _ in entries}) == 6
    found = [json.loads(perform(task).text) for _, task in entries if task]
    assert [record["record"]["what_if"] for record in found] == [
        [],
        ["SA blocked"],
        ["W1 is large"],
        ["hands swapped"],
        ["hands swapped", "SA blocked"],
        ["hands swapped", "W1 is large"],
    ]
    assert len({record["record"]["hash"] for record in found}) == 6
    for record in found:
        told = ", ".join(record["record"]["what_if"])
        assert {row[COLUMNS.index("what_if")] for row in record["rows"]} == {told}


def test_bodies_of_a_case_are_not_crossed_with_sizes_that_replace_them(tmp_path: Path) -> None:
    listed = load_runs(str(site(tmp_path / "yard"))).runs[0]
    cases = ("W1 is large", "SA blocked")

    def words(defaults: Defaults) -> list[str]:
        return [entry.variation for entry, _ in planned(listed, defaults)]

    assert words(Defaults(Options(), ("sizes",), cases)) == [
        "as planned",
        "W1 is large",
        "SA blocked",
        "sizes small; medium; large",
        "sizes small; medium; large, SA blocked",
    ]
    ((entry, task),) = planned(listed, Defaults(Options(sizes=("small",)), (), cases))
    assert task is None
    assert entry.problems == (
        "what if: 'W1 is large' changes nothing: the size classes asked for replace every body",
    )


def test_a_case_that_a_scene_cannot_have_leaves_the_others(tmp_path: Path) -> None:
    listed = load_runs(str(site(tmp_path / "yard"))).runs[0]
    entries = list(planned(listed, Defaults(what_if=("W2 is large, SB blocked", "SA blocked"))))
    assert [task is None for _, task in entries] == [False, True, False]
    assert entries[1][0].variation == "W2 is large, SB blocked"
    assert entries[1][0].problems == (
        "what if: 'W2 is large': unknown worker 'W2'; did you mean 'W1'?",
        "what if: 'SB blocked': unknown socket, handrail or handhold 'SB'; did you mean 'SA'?",
    )


def test_a_run_of_a_list_has_cases_of_its_own(tmp_path: Path) -> None:
    site(tmp_path / "yard")
    toml, table = tmp_path / "runs.toml", tmp_path / "runs.csv"
    toml.write_text(
        'format = 1\n[[runs]]\nscene = "yard"\nwhat_if = ["W1 is large, SA blocked", "RA gone"]\n'
        '[[runs]]\nname = "plain"\nscene = "yard"\nwhat_if = []\n'
    )
    table.write_text('scene,what_if\nyard,"W1 is large, SA blocked; RA gone"\n')
    expected = ["as planned", "W1 is large, SA blocked", "RA gone"]
    for where, n in ((toml, 2), (table, 1)):
        runs = load_runs(str(where)).runs
        words = [
            [entry.variation for entry, _ in planned(run, Defaults(what_if=("SA blocked",)))]
            for run in runs
        ]
        assert words == [expected, ["as planned"]][:n]


@pytest.mark.parametrize("population", [None, "n=1000, sex=mixed, seed=1"])
def test_a_population_is_passed_on_when_there_is_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, population: str | None
) -> None:
    asked_for: dict[str, Any] = {}

    def stand_in(*args: Any, **asked: Any) -> Any:
        asked_for.update(asked)
        raise ZeroDivisionError("seen enough")

    monkeypatch.setattr(reach.batch.perform, "check", stand_in)
    options = Options(sizes=("small",), population=population)
    ended = perform(task_of(*loaded_of(site(tmp_path / "yard")), options, "as planned"))
    assert asked_for.get("population") == population
    assert ("population" in asked_for) == (population is not None)
    assert (asked_for["sizes"], asked_for["only"]) == (["small"], None)
    assert (ended.ending, ended.text) == (
        "lost",
        "Defect of the program: ZeroDivisionError: seen enough",
    )


def test_a_task_of_another_program_is_not_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    task = task_of(*loaded_of(site(tmp_path / "yard")), Options(), "as planned")
    monkeypatch.setattr(reach.batch.perform, "program", lambda: "another")
    with pytest.raises(reach.batch.task.OtherProgramError):
        perform(task)
