"""`reach sweep`: gaps by hand, the curve, a threshold, ways that are found, problems, files."""

from __future__ import annotations

import csv
import io
import json
import math
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh
from typer.testing import CliRunner, Result

import reach.cli
from reach.checks import sweep as sweep_check
from reach.files.carry_question import CarryQuestion, carry_question
from reach.files.problem import InputError
from reach.files.procedure import load_procedure
from reach.files.scene import load_scene
from reach.payload import planned
from reach.payload.kept import kept
from reach.reports.sweep_data import COLUMNS, sweeps_csv
from reach.run import check
from reach.settings.fill import fill
from reach.sweeps import Sweeps, found_ways, sweeps_of

# A crate of 1 m slides along x past a post 0.4 m off its side, turns by a quarter beside a lamp
# 0.6 m off its other side, and slides on; it stands on a bench at first.
SCENE = """
format = 1
title = "Yard"
use = ["shipped:suits", "shipped:limits", "shipped:sizes"]
procedure = "procedure.toml"

[workers.W1]
size = "medium"
hand = "right"
suit = "halden"

[solids.crate-box]
in = "crate"
box = [1.0, 1.0, 1.0]

[solids.bench]
box = [1.0, 1.0, 0.2]
at = [0.0, 0.0, -0.6]

[solids.post]
box = [0.2, 0.2, 2.0]
at = [2.0, 1.0, 0.0]

[hazards.lamp]
kind = "no-touch"
box = [0.2, 0.2, 0.2]
at = [4.0, -1.2, 0.0]
stand_off = 0.5

[payloads.crate]
mass = "50 kg"

[payloads.crate.poses.a]
at = [0.0, 0.0, 0.0]

[payloads.crate.poses.b]
at = [4.0, 0.0, 0.0]

[payloads.crate.poses.c]
at = [4.0, 0.0, 0.0]
turn = [{ axis = [0, 0, 1], angle = "90 deg" }]

[payloads.crate.poses.d]
at = [8.0, 0.0, 0.0]

[payloads.crate.poses.boxed-in]
at = [20.0, 0.0, 0.0]

[payloads.crate.paths.turning]
through = ["a", "b", "c", "d"]
legs.b = { stand_off = { bench = 0 } }

[payloads.crate.paths.straight]
through = ["a", "d"]
legs.d = { stand_off = { bench = 0 } }

[solids.wall-1]
box = [0.1, 4.0, 4.0]
at = [18.0, 0.0, 0.0]
[solids.wall-2]
box = [0.1, 4.0, 4.0]
at = [22.0, 0.0, 0.0]
[solids.wall-3]
box = [4.0, 0.1, 4.0]
at = [20.0, 2.0, 0.0]
[solids.wall-4]
box = [4.0, 0.1, 4.0]
at = [20.0, -2.0, 0.0]
[solids.wall-5]
box = [4.0, 4.0, 0.1]
at = [20.0, 0.0, 2.0]
[solids.wall-6]
box = [4.0, 4.0, 0.1]
at = [20.0, 0.0, -2.0]
"""

PROCEDURE = """
format = 1
title = "Crate"

[lanes]
inside = "inside lead"

[[steps]]
name = "carry"
lane = "inside"
start = "00:10"
duration = "10 min"
path = "turning"
placed = { crate = "a" }
actions = [{ do = "move", payload = "crate" }]
"""

BLANK = PROCEDURE.replace('path = "turning"\n', "").replace(
    '"crate" }]', '"crate", to = "d" }]'
).replace('crate = "a"', 'crate = "b"')  # fmt: skip

TURNED = 1.1 - math.sqrt(0.5)
"""Gap of the crate's corner to the lamp half-way through its turn, m."""


@pytest.fixture(autouse=True, scope="module")
def one_check() -> Iterator[None]:
    """Of the checks on what is moved only the one on gaps is asked."""
    with pytest.MonkeyPatch.context() as patched:
        for module in ("reach.sweeps", "reach.run"):
            patched.setattr(f"{module}.CHECKS", (sweep_check,))
        yield


@pytest.fixture(scope="module")
def yard(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("yard") / "yard"
    folder.mkdir()
    (folder / "scene.toml").write_text(SCENE)
    (folder / "procedure.toml").write_text(PROCEDURE)
    (folder / "blank.toml").write_text(BLANK)
    return folder


def ask(yard: Path, **more: object) -> Sweeps:
    how = {key: more.pop(key) for key in ("seed", "spans", "clearance") if key in more}
    loaded = load_scene(yard)
    question = CarryQuestion("crate", **more)  # type: ignore[arg-type]
    asked = carry_question(loaded, question, load_procedure(None, loaded))
    return sweeps_of(loaded, question, asked, **how)  # type: ignore[arg-type]


def call(*words: object) -> Result:
    runner = CliRunner(env={"COLUMNS": "100"})
    return runner.invoke(reach.cli.app, ["sweep", *map(str, words)])


@pytest.fixture(scope="module")
def turning(yard: Path) -> Sweeps:
    return ask(yard, path="turning", spans=8)


def test_gaps_are_those_by_hand(turning: Sweeps) -> None:
    gaps = {gap.thing: gap for gap in turning.swept[0].judged}
    assert gaps["lamp"].low - 1e-6 <= TURNED <= gaps["lamp"].high + 1e-6
    assert gaps["post"].low - 1e-6 <= 0.4 <= gaps["post"].high + 1e-6
    assert all(gap.high - gap.low < 2e-3 for gap in gaps.values() if gap.thing in ("lamp", "post"))
    worst = turning.swept[0].worst
    assert worst is not None
    assert worst.thing == "lamp"
    assert turning.swept[0].where(worst.at) == "between b and c"
    since, angle, axis = turning.swept[0].turned(worst)
    assert since == "b"
    assert math.degrees(angle) == pytest.approx(45.0, abs=2.0)
    assert axis == pytest.approx([0.0, 0.0, 1.0])


def test_a_look_at_the_waypoints_alone_would_not_have_told(turning: Sweeps) -> None:
    (one,) = turning.swept
    assert one.short["crate", "lamp"].high == pytest.approx(0.6, abs=1e-3)
    nearest = {at.name: (at.thing, at.margin) for at in one.waypoints}
    assert nearest["b"] == ("lamp", pytest.approx(0.1, abs=1e-3))
    assert nearest["c"] == ("lamp", pytest.approx(0.1, abs=1e-3))
    assert min(margin for _, margin in nearest.values()) > 0.0
    assert turning.exit_code == 1


def test_what_it_stands_on_is_not_judged_where_contact_is_meant(turning: Sweeps) -> None:
    bench = [gap for gap in turning.swept[0].gaps if gap.thing == "bench"]
    assert {gap.is_contact_meant: gap.legs for gap in bench} == {True: (0,), False: (1, 2)}
    assert turning.swept[0].waypoints[0].thing != "bench"


def test_the_curve_is_a_bound_wherever_one_looks(turning: Sweeps) -> None:
    (one,) = turning.swept
    (curve,) = one.curves
    grid = np.linspace(-0.5, 0.5, 21)
    flat = np.array([[x, y, z] for x in grid for y in grid for z in (-0.5, 0.0, 0.5)])
    shell = flat[(np.abs(flat) > 0.499).any(axis=1)]
    boxes = {"post": ([2.0, 1.0, 0.0], [0.1, 0.1, 1.0]), "lamp": ([4.0, -1.2, 0.0], [0.1] * 3)}
    asked = {"post": 0.2, "lamp": 0.5}
    for k in range(len(curve.start)):
        for at in np.linspace(curve.start[k], curve.stop[k], 5):
            leg = min(int(at), 2)
            x, turn = {0: (4.0 * at, 0.0), 1: (4.0, 0.5 * math.pi * (at - 1)),
                       2: (4.0 * at - 4.0, 0.5 * math.pi * (3 - at))}[leg]  # fmt: skip
            c, s = math.cos(turn), math.sin(turn)
            points = shell @ np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]]).T + [x, 0, 0]
            for name, (middle, half) in boxes.items():
                apart = np.maximum(np.abs(points - middle) - half, 0.0)
                gap = float(np.linalg.norm(apart, axis=1).min())
                assert curve.low[k] <= gap + 1e-9
                assert curve.margin_low[k] <= gap - asked[name] + 1e-9
    assert (curve.margin_high >= curve.margin_low).all()
    assert curve.margin_low.min() == pytest.approx(TURNED - 0.5, abs=6e-3)


def test_the_csv_has_a_row_a_span_and_time_in_proportion_to_length(turning: Sweeps) -> None:
    rows = list(csv.DictReader(io.StringIO(sweeps_csv(turning))))
    assert tuple(rows[0]) == COLUMNS
    assert len(rows) == 3 * 8
    assert [rows[k]["leg"] for k in (0, 8, 16)] == ["1", "2", "3"]
    times = [float(row["time_stop"]) for row in rows]
    assert times == sorted(times)
    assert times[-1] == 1.0
    # A quarter turn of a corner, sqrt(0.75) m from the middle, beside two legs of 4 m: the last
    # one turns back by a quarter too, which is shorter than its 4 m.
    turn = 0.5 * math.pi * math.sqrt(0.75)
    assert times[7] == pytest.approx(4.0 / (8.0 + turn), abs=1e-6)


@pytest.mark.parametrize(("clearance", "code"), [(0.39, 0), (0.395, 1), (0.5, 1)])
def test_a_threshold_is_answered_yes_or_no(yard: Path, clearance: float, code: int) -> None:
    sweeps = ask(yard, path="turning", clearance=clearance)
    assert sweeps.exit_code == code
    assert not sweeps.swept[0].gaps


def test_a_no_has_a_witness_that_holds(yard: Path) -> None:
    sweeps = ask(yard, path="turning", clearance=0.45)
    site, carriage = sweeps.site, sweeps.swept[0].carriage
    found = kept(site, carriage, 0.45)
    assert found.answer is False
    apart = float(np.linalg.norm(found.on_part - found.on_thing))
    assert apart < 0.45
    assert apart == pytest.approx(found.gap, abs=1e-9)
    middle, half = np.array([4.0, -1.2, 0.0]), 0.1
    if found.thing == "post":
        middle, half = np.array([2.0, 1.0, 0.0]), 0.1
    assert np.abs(found.on_thing - middle)[:2].max() == pytest.approx(half, abs=1e-9)


def test_a_distance_that_is_just_kept_is_never_called_short(yard: Path) -> None:
    sweeps = ask(yard, path="straight", clearance=0.4)
    assert sweeps.exit_code in (0, 3)


def test_a_step_of_the_procedure_is_taken_where_it_goes_that_way(yard: Path) -> None:
    taken, alone = ask(yard, path="turning"), ask(yard, path="straight")
    assert taken.asked.is_written
    assert [one.carriage.step for one in taken.swept] == ["carry"]
    assert taken.swept[0].carriage.start == 600.0
    assert not alone.asked.is_written
    assert [one.carriage.names for one in alone.swept] == [("a", "d")]
    assert alone.exit_code == 0


def test_without_a_path_those_of_the_procedure_are_swept_else_all(yard: Path) -> None:
    assert [one.carriage.path for one in ask(yard).swept] == ["turning"]
    loaded = load_scene(yard)
    both = carry_question(loaded, CarryQuestion("crate"), None)
    assert both.steps == ("turning", "straight")


def test_the_text_names_thing_leg_moment_and_where_the_fault_lies(yard: Path) -> None:
    result = call(yard, "crate", "--path", "turning")
    flat = " ".join(result.stdout.split())
    assert result.exit_code == 1
    assert "SWEEP crate along turning: ■ 1 fail" in flat
    assert "As step carry of yard/procedure.toml, 00:10 to 00:20." in flat
    assert "■ lamp 0.500 0.39" in flat
    assert "between b and c, about 00:15" in flat
    assert "At the waypoints alone it is 0.600 m at least" in flat
    assert "the fault lies between" in flat
    assert "Contact with bench is meant" in flat
    assert "CAUTIONS" in flat


def test_all_problems_are_told_at_once(yard: Path, tmp_path: Path) -> None:
    result = call(yard, "crat", "--path", "turnin", "--to", "x", "--clearance", "3 kg", "--csv",
                  tmp_path / "no" / "a.csv", "--worker", "W2")  # fmt: skip
    assert result.exit_code == 2
    said = result.stderr
    for words in ("unknown payload 'crat'", "--path", "--clearance", "a.csv", "unknown worker 'W2'",
                  "--station"):  # fmt: skip
        assert words in said, words
    assert not result.stdout


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"start": "a"}, "--to: is missing"),
        ({"start": "b", "stop": "b"}, "already"),
        ({"path": "turning", "stop": "d"}, "is a way already"),
        ({"path": "straight", "placed": {"crate": "d"}}, "begins at 'a'"),
        ({"crane": "C"}, "unknown crane"),
        ({"station": "S"}, "unknown station"),
    ],
)
def test_what_cannot_be_meant_is_refused(yard: Path, asked: dict[str, str], said: str) -> None:
    with pytest.raises(InputError, match=said):
        ask(yard, **asked)


def test_a_procedure_that_is_named_must_be_used(yard: Path) -> None:
    result = call(yard, "crate", "--path", "straight", "--procedure", "procedure.toml")
    assert result.exit_code == 2
    assert "no step of procedure.toml moves crate along straight" in result.stderr
    result = call(yard, "crate", "--to", "d", "--procedure", "procedure.toml")
    assert result.exit_code == 2
    assert "--procedure: is not used" in result.stderr


def test_a_way_is_found_is_proved_and_is_the_same_for_the_same_seed(yard: Path) -> None:
    first, again = (ask(yard, start="b", stop="d", seed=3).swept[0] for _ in range(2))
    assert first.found is not None
    assert np.array_equal(first.carriage.poses, again.carriage.poses)
    assert first.carriage.names[0] == "b"
    assert first.carriage.names[-1] == "d"
    assert all(gap.margin[0] >= 0.0 for gap in first.judged)


def test_a_found_way_is_written_and_holds_when_it_is_read_again(yard: Path) -> None:
    target = yard / "with-way.toml"
    result = call(yard, "crate", "--from", "c", "--to", "d", "--write", target, "--spans", 2)
    assert result.exit_code == 0, result.stderr
    printed = [line.strip() for line in result.stdout.splitlines()]
    assert "[payloads.crate.paths.found-way]" in printed
    assert target.read_text().startswith(SCENE)
    path = tomllib.loads(target.read_text())["payloads"]["crate"]["paths"]["found-way"]
    assert path["through"][0] == "c"
    assert path["through"][-1] == "d"
    assert call(target, "crate", "--path", "found-way", "--spans", 2).exit_code == 0
    target.unlink()


def test_ways_found_together_have_names_of_their_own(yard: Path) -> None:
    loaded = load_scene(yard)
    sweeps = ask(yard, start="c", stop="d")
    (way,) = found_ways(loaded, sweeps)
    twice = replace(sweeps, swept=sweeps.swept * 2)
    first, second = found_ways(loaded, twice)
    assert first.path == way.path == "found-way"
    assert second.path == "found-way-2"
    assert not set(first.through[1:-1]) & set(second.through[1:-1])
    tomllib.loads(first.text() + second.text())


def test_a_copy_elsewhere_would_lose_the_files_of_the_scene(tmp_path: Path) -> None:
    result = call("brackenfall", "relay-boom", "--to", "seated", "--write", tmp_path / "s.toml")
    assert result.exit_code == 2
    assert "must be in the folder of the scene" in result.stderr


def test_a_payload_in_one_line_takes_no_way_and_nothing_is_written(tmp_path: Path) -> None:
    folder = tmp_path / "line"
    folder.mkdir()
    (folder / "scene.toml").write_text(
        'format = 1\ntitle = "Line"\nuse = ["shipped:limits"]\n'
        "payloads.crate = { poses = { a = { at = [0, 0, 0] }, b = { at = [3, 0, 0] } } }\n"
        '[solids.crate-box]\nin = "crate"\nbox = [1, 1, 1]\n[solids.post]\nbox = [1, 1, 1]\n'
        "at = [1.5, 2, 0]\n"
    )
    result = call(folder, "crate", "--to", "b", "--write", folder / "copy.toml")
    assert result.exit_code == 2
    assert "not in one line" in result.stderr
    assert not (folder / "copy.toml").exists()


def test_a_start_in_contact_is_a_proof(yard: Path) -> None:
    sweeps = ask(yard, start="a", stop="d")
    (finding,) = sweeps.outcome.findings
    assert sweeps.exit_code == 1
    assert "at a it is in contact with bench" in finding.because


def test_a_way_that_is_not_found_is_open(yard: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(planned, "MOTIONS", 300)
    sweeps = ask(yard, start="b", stop="boxed-in")
    assert sweeps.exit_code == 3
    assert "proves nothing" in sweeps.outcome.findings[0].because


def test_a_blank_path_of_a_procedure_is_found_before_it_is_checked(yard: Path) -> None:
    loaded = load_scene(yard)
    outcome = check(loaded, load_procedure("blank.toml", loaded))
    (carriage,) = outcome.site.carriages
    assert not carriage.is_blank
    assert any("leaves the way of crate blank" in words for words in outcome.warnings)
    assert {finding.verdict for finding in outcome.findings} == {"pass"}


def test_fill_says_how_to_have_a_blank_path_written(yard: Path) -> None:
    loaded = load_scene(yard)
    notes = fill(loaded, load_procedure("blank.toml", loaded)).notes
    assert any("reach sweep yard crate --from b --to d --write FILE" in note for note in notes)


def test_files_for_other_tools(yard: Path, tmp_path: Path) -> None:
    result = call(yard, "crate", "--path", "turning", "--spans", 3, "--json", tmp_path / "a.json",
                  "--glb", tmp_path / "a.glb", "--csv", tmp_path / "a.csv")  # fmt: skip
    assert result.exit_code == 1
    record = json.loads((tmp_path / "a.json").read_text())
    (way,) = record["sweeps"]["ways"]
    lamp = next(gap for gap in way["gaps"] if gap["thing"] == "lamp")
    assert lamp["low"] == pytest.approx(TURNED, abs=2e-3)
    assert np.linalg.norm(np.subtract(lamp["on_part"], lamp["on_thing"])) == pytest.approx(
        lamp["high"], abs=1e-6
    )
    assert len(way["curve"]) == 9
    drawn = trimesh.load(tmp_path / "a.glb")
    names = set(drawn.graph.nodes_geometry)
    assert {"turning way", "turning crate b", "turning crate worst", "lamp", "post"} <= names
    assert len((tmp_path / "a.csv").read_text().splitlines()) == 10
