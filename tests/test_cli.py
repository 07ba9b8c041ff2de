"""Commands: what is typed is read, refused or answered; the exit code says which."""

from __future__ import annotations

import io
import json
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from rich.console import Console
from typer.testing import CliRunner, Result

import reach.answer
import reach.cli
from reach.finding import Finding
from reach.geometry import awake, warmup
from reach.model.population_draw import PopulationDraw
from reach.run import Outcome

FAIL = Finding("reach", "stand", ("W1", "PB1"), "medium", "It is far.", -0.3, -0.2, "m")
OPEN = Finding("reach", "stand", ("W1", "PB1"), "medium", "It is not known.", -0.3, 0.2, "m")
PASS = Finding("reach", "stand", ("W1", "PB1"), "medium", "It is near.", 0.2, 0.3, "m")
SETTING = "clocking=1, pitch=30 deg, roll=0 deg, yaw=0"
KEY_HEADER = "fault,check,step,case,about,verdict,at_least,consequence_of,note\n"


class Run:
    """Stands in for the computation: gives findings, remembers what was asked."""

    def __init__(self) -> None:
        self.findings: tuple[Finding, ...] = (PASS,)
        self.raises: BaseException | None = None
        self.asked: dict[str, Any] = {}

    def __call__(self, scene: Any, procedure: Any = None, **asked: Any) -> Outcome:
        self.asked = {"scene": scene, "procedure": procedure, **asked}
        if "say" in asked:
            asked["say"](1, 2, "looking at stand")
        if self.raises:
            raise self.raises
        return Outcome(
            title=scene.scene.title,
            procedure=procedure.procedure.title,
            findings=self.findings,
            not_asked=(),
            inputs=tuple(scene.files.items()),
            assumptions=(),
            warnings=(),
            seconds=0.1,
            site=None,
            situations=(),
        )


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch) -> Run:
    stand_in = Run()
    monkeypatch.setattr(reach.answer, "check", stand_in)
    monkeypatch.setattr(reach.answer, "is_compiled", lambda: True)
    return stand_in


@pytest.fixture
def scene(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    monkeypatch.chdir(tmp_path)
    assert call("new", "yard").exit_code == 0
    yield tmp_path / "yard"


def call(*words: str) -> Result:
    return CliRunner(env={"COLUMNS": "100"}).invoke(reach.cli.app, list(words))


def plain(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize(
    ("findings", "code"),
    [((PASS,), 0), ((PASS, FAIL, OPEN), 1), ((PASS, OPEN), 3), ((), 3)],
)
def test_the_exit_code_is_that_of_the_findings(
    run: Run, scene: Path, findings: tuple[Finding, ...], code: int
) -> None:
    run.findings = findings
    result = call("check", "yard")
    assert result.exit_code == code
    assert "Planning aid only." in result.stdout
    assert result.stderr == ""


def test_the_procedure_that_the_scene_names_is_run_with_the_own_bodies(
    run: Run, scene: Path
) -> None:
    call("check", "yard")
    assert [s.name for s in run.asked["procedure"].procedure.steps] == [
        "stand",
        "left bolt",
        "right bolt",
    ]
    assert run.asked["sizes"] is None
    assert run.asked["only"] is None
    assert "say" not in run.asked


def test_sizes_and_checks_are_passed_on_by_plain_name(run: Run, scene: Path) -> None:
    call("check", "yard", "--size", "small, large", "--only", "A1", "--only", "clearance")
    assert run.asked["sizes"] == ["small", "large"]
    assert run.asked["only"] == ["reach", "clearance"]


def test_a_population_is_read_and_passed_on(run: Run, scene: Path) -> None:
    call("check", "yard", "--population", "n=30, sex=female, seed=4")
    assert run.asked["population"] == PopulationDraw(n=30, sex="female", seed=4)
    call("check", "yard")
    assert run.asked["population"] is None


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ("0", "--population: n: must be at least 1, found 0"),
        ("n=9, sex=mal", "--population: sex: must be 'male', 'female' or 'mixed', found 'mal'"),
    ],
)
def test_a_population_that_cannot_be_drawn_is_refused(
    run: Run, scene: Path, typed: str, message: str
) -> None:
    result = call("check", "yard", "--population", typed)
    assert result.exit_code == 2
    assert message in plain(result.stderr)
    assert run.asked == {}


def test_only_what_one_worker_does(run: Run, scene: Path) -> None:
    call("check", "yard", "--worker", "W1")
    assert all(step.actions for step in run.asked["procedure"].procedure.steps)
    result = call("check", "yard", "--worker", "W2")
    assert result.exit_code == 2
    assert "unknown worker 'W2'; did you mean 'W1'?" in result.stderr


def test_a_question_is_a_procedure_of_one_step(run: Run, scene: Path) -> None:
    words = [
        "ask",
        "yard",
        "--at",
        "SA",
        "--restraint",
        "FR-A",
        "--fastener",
        "PB1",
        "--hand",
        "left",
    ]
    setting = "clocking=1, pitch=30 deg, roll=0 deg, yaw=0"
    result = call(*words, "--setting", setting)
    assert result.exit_code == 0, result.output
    (step,) = run.asked["procedure"].procedure.steps
    assert (step.lane, step.where, step.restraint) == ("W1", "SA", "FR-A")
    assert (step.actions[0].fastener, step.actions[0].hand) == ("PB1", "left")
    assert step.setting["clocking"] == 1


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["check", "no-such-yard"], "no-such-yard"),
        (["check", "yard", "none.toml"], "none.toml"),
        (["check", "yard", "--size", "smal"], "did you mean 'small'?"),
        (["check", "yard", "--size", ","], "--size"),
        (["check", "yard", "--only", "reech"], "reach"),
        (["check", "yard", "--json", "no/such/folder.json"], "there is no folder"),
        (["check", "yard", "--expect", "key.csv"], "there is no such file"),
        (["ask", "yard", "--at", "SB", "--fastener", "PB1"], "SA"),
        (["ask", "yard", "--at", "SA", "--setting", "clocking"], "needs joint=value"),
        (["explain", "reech"], "reach"),
        (["new", "yard"], "not empty"),
        (["check"], "Missing argument"),
        (["check", "yard", "--units", "miles"], "miles"),
    ],
)
def test_what_cannot_be_meant_is_refused_before_anything_is_run(
    run: Run, scene: Path, words: list[str], message: str
) -> None:
    before = sorted(scene.parent.rglob("*"))
    result = call(*words)
    assert result.exit_code == 2
    assert message in result.stderr
    assert result.stdout == ""
    assert run.asked == {}
    assert sorted(scene.parent.rglob("*")) == before


def test_all_problems_of_the_input_are_listed_each_on_a_line(run: Run, scene: Path) -> None:
    file = scene / "scene.toml"
    file.write_text(
        file.read_text().replace("bays = 4", "bayz = 4").replace("axis = [-1", "axes = [-1")
    )
    result = call("check", "yard", "--json", "findings.json")
    assert result.exit_code == 2
    assert len(result.stderr.splitlines()) >= 3
    assert all("yard/scene.toml" in line for line in result.stderr.splitlines())
    assert not Path("findings.json").exists()


SAME = [
    "--size: unknown size class 'smal'; did you mean 'small'?",
    "--population: n: must be at least 1, found 0",
    "--only: no check 'reech'",
    "no/a.json: cannot be written: there is no folder 'no'",
    "no.csv: there is no such file",
]
BAD = ["--size", "smal", "--population", "0", "--only", "reech", "--json", "no/a.json"]
BAD += ["--expect", "no.csv"]


@pytest.mark.parametrize(
    ("words", "messages"),
    [
        (
            ["check", "yard", *BAD, "--worker", "W2", "--fill", "no/f.toml"],
            [*SAME, "--worker: unknown worker 'W2'", "no/f.toml: cannot be written"],
        ),
        (
            ["check", "no-yard", *BAD, "--fill", "no/f.toml"],
            [*SAME[1:], "no-yard", "no/f.toml: cannot be written"],
        ),
        (
            ["ask", "yard", *BAD, "--at", "SB", "--worker", "W2", "--fastener", "PB9",
             "--tool", "x", "--setting", "clocking", "--placed", "boom", "--placed", "arm"],
            [*SAME, "where: unknown", "worker: unknown worker 'W2'", "fastener: unknown",
             "tool: unknown", "--setting: needs joint=value", "found 'boom'", "found 'arm'"],
        ),
        (
            ["ask", "no-yard", *BAD, "--at", "SB", "--setting", "clocking", "--placed", "boom"],
            [*SAME[1:], "no-yard", "--setting: needs joint=value", "found 'boom'"],
        ),
        (
            ["settings", "yard", "--targets", "PB9,PB1", "--size", "smal", "--step", "0",
             "--sockets", "SB", "--restraint", "FR-B", "--worker", "W2", "--json", "no/a.json",
             "--placed", "boom", "--tool", "x"],
            [SAME[0], SAME[3], "targets: unknown fastener 'PB9'", "--step: must be greater than 0",
             "sockets: unknown free socket 'SB'", "restraint: unknown", "worker: unknown",
             "found 'boom'", "tool: unknown"],
        ),
        (
            ["settings", "no-yard", "--targets", "PB1", "--step", "2 m", "--json", "no/a.json"],
            [SAME[3], "no-yard", "--step: '2 m' is a length"],
        ),
        (
            ["batch", "no-list", "--population", "0", "--only", "reech", "--only", "A99",
             "--vary", "crews,hands,sises"],
            [SAME[1], SAME[2], "'A99'", "unknown variation 'crews'", "unknown variation 'sises'",
             "'no-list' matches nothing"],
        ),
    ],
)  # fmt: skip
def test_all_problems_of_the_options_are_told_at_once(
    run: Run, scene: Path, words: list[str], messages: list[str]
) -> None:
    before = sorted(scene.parent.rglob("*"))
    result = call(*words)
    assert result.exit_code == 2
    missing = [message for message in messages if message not in result.stderr]
    assert missing == [], result.stderr
    lines = result.stderr.splitlines()
    assert len(lines) == len(set(lines)) == len(messages)
    assert run.asked == {}
    assert sorted(scene.parent.rglob("*")) == before


def test_what_is_left_out_of_a_question_does_not_hide_what_is_wrong(run: Run, scene: Path) -> None:
    file = scene / "scene.toml"
    text = file.read_text()
    worker = text[text.index("[workers.W1]") :].split("\n\n")[0]
    text += "\n" + worker.replace("W1", "W2") + "\n"
    file.write_text(text.replace('tools = ["power-drive"]', 'tools = ["power-drive", "ratchet"]'))
    result = call("ask", "yard", "--at", "SB", "--fastener", "PB1", "--extension", "none")
    assert result.exit_code == 2
    for message in ("worker: is missing", "tool: is missing", "where: unknown", "extension: unk"):
        assert message in result.stderr


def test_files_are_written_and_the_table_is_still_printed(run: Run, scene: Path) -> None:
    run.findings = (FAIL,)
    result = call("check", "yard", "--json", "f.json", "--csv", "f.csv")
    assert result.exit_code == 1
    assert "It is far." in result.stdout
    assert json.loads(Path("f.json").read_text())["findings"][0]["verdict"] == "fail"
    assert len(Path("f.csv").read_text().splitlines()) == 2
    assert result.stderr.splitlines() == ["Wrote f.json", "Wrote f.csv"]


def test_a_file_that_cannot_be_written_takes_neither_the_table_nor_the_other_file(
    run: Run, scene: Path
) -> None:
    result = call("check", "yard", "--json", "/dev/full", "--csv", "f.csv")
    assert result.exit_code == 2
    assert "Planning aid only." in result.stdout
    assert Path("f.csv").exists()
    assert "/dev/full: cannot be written: No space left on device" in result.stderr


def test_a_folder_where_a_file_is_wanted_is_refused_before_the_run(run: Run, scene: Path) -> None:
    result = call("check", "yard", "--json", "yard", "--csv", "f.csv")
    assert result.exit_code == 2
    assert "yard: is a folder; give a file name" in result.stderr
    assert result.stdout == ""


def test_a_pipe_gets_no_escape_codes(run: Run, scene: Path) -> None:
    assert "\x1b" not in call("check", "yard").stdout


def test_values_are_listed_on_request(run: Run, scene: Path) -> None:
    assert call("check", "yard", "--values").stdout.startswith("\nEVERY VALUE USED")


def test_customary_units_on_request(run: Run, scene: Path) -> None:
    assert "0.200 m (7.8 in)" in call("check", "yard", "--units", "both").stdout


def test_a_key_that_is_met_gives_0_whatever_the_verdicts(run: Run, scene: Path) -> None:
    run.findings = (FAIL,)
    Path("key.csv").write_text(KEY_HEADER + "X1,A1,stand,,PB1,fail,0.1,,\n")
    result = call("check", "yard", "--expect", "key.csv")
    assert result.exit_code == 0
    assert "KEY  equal: 1 row met, and nothing else fails or is unknown" in result.stdout


def test_a_key_that_is_not_met_gives_1_and_says_why(run: Run, scene: Path) -> None:
    Path("key.csv").write_text(KEY_HEADER + "X1,reach,stand,,,fail,,,\n")
    result = call("check", "yard", "--expect", "key.csv")
    assert result.exit_code == 1
    assert "KEY  not equal: 1 difference from its 1 row" in result.stdout
    assert "for medium is pass, the key says fail." in result.stdout


def test_an_interrupt_ends_with_one_line_and_130(run: Run, scene: Path) -> None:
    run.raises = KeyboardInterrupt()
    result = call("check", "yard", "--json", "f.json")
    assert result.exit_code == 130
    assert result.stderr == "Stopped before the end; no file was left half-written.\n"
    assert result.stdout == ""
    assert not Path("f.json").exists()


def test_progress_is_shown_on_a_terminal_only_and_never_among_the_results(
    run: Run, scene: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    screen = io.StringIO()
    terminal = Console(file=screen, force_terminal=True, width=80)
    monkeypatch.setattr(reach.answer, "Console", lambda stderr: terminal)
    result = call("check", "yard")
    assert "looking at stand" in screen.getvalue()
    assert "looking at stand" not in result.output


def test_a_first_run_says_that_it_compiles(
    run: Run, scene: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reach.answer, "is_compiled", lambda: False)
    monkeypatch.setattr(reach.answer, "warm_up", lambda: None)
    awake()
    result = call("check", "yard")
    assert result.stderr.startswith("Compiling the routines, once")
    assert "Compiling" not in result.stdout


def picture_module(monkeypatch: pytest.MonkeyPatch, draw: Any) -> None:
    module = ModuleType("reach.pictures")
    module.draw = draw  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "reach.pictures", module)


def test_pictures_are_named_when_they_are_drawn(
    run: Run, scene: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    picture_module(monkeypatch, lambda outcome, folder: [folder / "stand.png"])
    result = call("check", "yard", "--pictures", "views")
    assert result.exit_code == 0
    assert f"Drew {Path('views/stand.png')}" in result.stderr


def test_without_a_renderer_the_job_still_runs_and_says_what_is_missing(
    run: Run, scene: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def draw(outcome: Outcome, folder: Path) -> list[Path]:
        raise RuntimeError("install the package libegl1")

    picture_module(monkeypatch, draw)
    result = call("check", "yard", "--pictures", "views")
    assert result.exit_code == 0
    assert "No pictures: install the package libegl1" in result.stderr


def test_a_defect_never_looks_like_an_answer(
    run: Run, scene: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    run.raises = ZeroDivisionError()
    monkeypatch.setattr(sys, "argv", ["reach", "check", "yard"])
    with pytest.raises(SystemExit) as end:
        reach.cli.main()
    assert end.value.code == 70
    assert "a defect of the program, not an answer" in capsys.readouterr().err


def test_every_check_is_listed_and_explains_itself_by_name_and_by_id() -> None:
    from reach.checks import CHECKS

    listed = call("explain").stdout.splitlines()
    names = [module.NAME for module in CHECKS]
    assert [line.split()[0] for line in listed] == [*names, "settings"]
    for module in CHECKS:
        by_name = call("explain", module.NAME)
        assert by_name.exit_code == 0
        assert {call("explain", one).stdout for one in module.IDS} == {by_name.stdout}


@pytest.mark.parametrize("kind", ["scene", "procedure", "runs", "findings"])
def test_a_schema_is_printed_for_each_kind_of_file(kind: str) -> None:
    Draft202012Validator.check_schema(json.loads(call("schema", kind).stdout))


def test_warm_up_says_whether_there_was_anything_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(warmup, "warm_up", lambda: None)
    monkeypatch.setattr(warmup, "is_compiled", lambda: False)
    assert call("warm-up").stdout == "Compiled.\n"
    monkeypatch.setattr(warmup, "is_compiled", lambda: True)
    assert call("warm-up").stdout == "The geometry routines were compiled before.\n"


@pytest.mark.parametrize(
    "command",
    [
        [],
        ["check"],
        ["ask"],
        ["route"],
        ["returns"],
        ["clock"],
        ["crane"],
        ["batch"],
        ["explain"],
        ["new"],
        ["schema"],
        ["warm-up"],
    ],
)  # fmt: skip
def test_help_is_whole_sentences(command: list[str]) -> None:
    result = call(*command, "--help")
    assert result.exit_code == 0
    assert ". " in plain(result.stdout)
    assert "..." not in result.stdout.replace("[ARGS]...", "").replace("CHECK...", "")


def test_no_option_hides_the_cautions() -> None:
    assert "caution" not in call("check", "--help").stdout
    assert call("check", "yard", "--quiet-cautions").exit_code == 2
