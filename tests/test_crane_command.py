"""`reach crane`: what is asked is answered branch by branch, what cannot be is refused at once."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from typer.testing import CliRunner, Result

import reach.cli
from reach.reports.crane import COLUMNS
from reach.reports.record_schema import findings_schema

RIDE = ("crane", "brackenfall", "Wc", "--worker", "W2", "--from", "Wb")


def call(*typed: str) -> Result:
    return CliRunner(env={"COLUMNS": "100"}).invoke(reach.cli.app, [*typed])


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> tuple[Result, Path]:
    folder = tmp_path_factory.mktemp("crane")
    files = ("--json", str(folder / "a.json"), "--csv", str(folder / "a.csv"))
    return call(*RIDE, *files), folder


def test_a_station_out_of_reach_fails_with_the_number_and_the_fix() -> None:
    result = call("crane", "brackenfall", "Juniper-box")
    assert result.exit_code == 1
    assert "18.186 m from base to tip, 120 % of the full reach of 15.200 m" in result.stdout
    assert "Proved out of reach" in result.stdout
    assert "Bring Juniper-box at least 4.507 m nearer" in " ".join(result.stdout.split())


def test_reach_branches_time_and_cautions_are_printed(written: tuple[Result, Path]) -> None:
    result, _ = written
    for words in ("CRANE  Crane at Wc", "BRANCHES", "BRANCH 1", "TIME  from Wb", "CAUTIONS"):
        assert words in result.stdout, words
    assert result.exit_code in (0, 1, 3)


def test_the_json_is_that_of_findings_with_the_branches_beside(
    written: tuple[Result, Path],
) -> None:
    result, folder = written
    record = json.loads((folder / "a.json").read_text())
    crane = record.pop("crane")
    Draft202012Validator(findings_schema()).validate(record)
    assert record["exit_code"] == result.exit_code
    assert crane["schema"] == "crane-1"
    (there,) = crane["at"]
    assert there["reach_used"] == pytest.approx(there["distance"] / there["full_reach"])
    assert there["least_time"] <= there["time"]
    for branch in there["branches"]:
        lefts = {name: joint["from_limit"] for name, joint in branch["joints"].items()}
        assert branch["tightest"] == min(lefts, key=lambda name: lefts[name])


def test_the_csv_has_a_row_for_each_joint_of_each_branch(written: tuple[Result, Path]) -> None:
    _, folder = written
    rows = list(csv.reader(io.StringIO((folder / "a.csv").read_text())))
    record = json.loads((folder / "a.json").read_text())
    assert tuple(rows[0]) == COLUMNS
    assert len(rows) - 1 == 7 * len(record["crane"]["at"][0]["branches"])


def test_everything_that_is_wrong_is_told_at_once() -> None:
    result = call(
        "crane", "brackenfall", "Wdd", "--from", "RL09-body-tether", "--worker", "Q",
        "--placed", "relay-boom=seatd",
    )  # fmt: skip
    assert result.exit_code == 2
    assert result.stderr.splitlines() == [
        "command line: station: unknown station on a crane 'Wdd'; did you mean 'Wd'?",
        "command line: from: RL09-body-tether is on no crane; on cranes: parked, Wa, Juniper-box, "
        "Wb, Wc, Wd, Wd-heads-down, hand-over, We",
        "command line: worker: unknown worker 'Q'; there are W1, W2",
        "command line: placed.relay-boom: unknown pose 'seatd'; did you mean 'seated'?",
    ]


def test_coming_from_where_it_goes_and_sizes_of_nobody_are_refused() -> None:
    result = call("crane", "brackenfall", "Wd", "--from", "Wd", "--size", "small")
    assert result.exit_code == 2
    assert "from: is where it goes: 'Wd'" in result.stderr
    assert "--size" in result.stderr


ARM = """<robot name="a">
<link name="b"/><link name="c"/><link name="d"/>
<joint name="j" type="revolute"><parent link="b"/><child link="c"/><axis xyz="0 0 1"/>
<limit lower="-1" upper="1" velocity="1" effort="1"/></joint>
<joint name="k" type="revolute"><parent link="{parent}"/><child link="{child}"/>
<axis xyz="0 0 1"/><limit lower="-1" upper="1" velocity="1" effort="1"/></joint>
</robot>
"""
SCENE = """format = 1
[cranes]
A = { arm = "a.urdf" }
B = { arm = "nothing.urdf" }
[stations]
S = { at = [1, 0, 0], up = [0, 0, 1], toes = [1, 0, 0], restraint = "P", on = "A" }
[restraints.P]
kind = "foot restraint"
holds_torque = 100.0
chain = []
"""


def test_an_arm_that_is_missing_and_one_with_a_loop_are_told_together(tmp_path: Path) -> None:
    (tmp_path / "scene.toml").write_text(SCENE)
    (tmp_path / "a.urdf").write_text(ARM.format(parent="c", child="b"))
    result = call("crane", str(tmp_path), "S")
    assert result.exit_code == 2
    assert "nothing.urdf" in result.stderr
    assert "a.urdf" in result.stderr
    assert "Traceback" not in result.stderr


def test_a_picture_is_drawn(tmp_path: Path) -> None:
    pytest.importorskip("pyvista")
    result = call("crane", "brackenfall", "Wc", "--worker", "W2", "--pictures", str(tmp_path))
    assert [path.name for path in tmp_path.iterdir()] == ["01-Crane-Wc.png"], result.stderr
