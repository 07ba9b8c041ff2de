"""`reach route`: ways, alternatives, proof where there is none, files for other tools."""

from __future__ import annotations

import csv
import io
import json
import math
import tomllib
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import trimesh
from typer.testing import CliRunner, Result

import reach.cli
from reach.files.moves_question import MoveQuestion, move_question
from reach.files.problem import InputError
from reach.files.scene import load_scene
from reach.model.procedure import Aside, Translate
from reach.reports.route import COLUMNS, as_step, render_routes, routes_csv, routes_json
from reach.routes import Routes, routes_between

SCENE = """
format = 1
title = "Two walls"
use = ["shipped:suits", "shipped:limits", "shipped:sizes"]

[workers.W1]
size = "medium"
hand = "right"
suit = "halden"

[headings]
north = { to = [1, 0, 0], opposite = "south" }
up = { to = [0, 0, 1], opposite = "down" }

[hatches.door]
at = [0.0, 0.5, 0.0]

[anchors.A1]
at = [0.1, 0.0, 0.0]

[tethers.L1]
length = "20 m"
anchor = "A1"
worker = "W1"

[tethers.spare]
length = "9 m"

[items.case]
size = [0.4, 0.3, 0.2]
bulky = true

[solids.wall]
box = [8.0, 0.1, 3.0]
at = [4.0, -0.6, 0.0]

# A and C straight on, B and D round by above: 0.5 m from rail to rail, A to C 1.1 m.
[handrails.A]
from = [0.2, 0.0, 0.0]
to = [2.0, 0.0, 0.0]
out = [0, 1, 0]

[handrails.B]
from = [2.0, 0.0, 0.5]
to = [3.1, 0.0, 0.5]
out = [0, 1, 0]

[handrails.C]
from = [3.1, 0.0, 0.0]
to = [5.0, 0.0, 0.0]
out = [0, 1, 0]

[handrails.D]
from = [2.0, 0.0, -0.7]
to = [3.1, 0.0, -0.7]
out = [0, 1, 0]
"""


@pytest.fixture(scope="module")
def walls(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("walls") / "walls"
    folder.mkdir()
    (folder / "scene.toml").write_text(SCENE)
    return folder


def ask(walls: Path, others: int = 0, **asked: object) -> Routes:
    loaded = load_scene(walls)
    question = MoveQuestion(**({"start": "door", "stop": "C@1.9"} | asked))  # type: ignore[arg-type]
    return routes_between(loaded, move_question(loaded, question), question, others=others)


def call(*words: str) -> Result:
    return CliRunner(env={"COLUMNS": "100"}).invoke(reach.cli.app, list(words))


@pytest.fixture(scope="module")
def two(walls: Path) -> Routes:
    return ask(walls, 3)


def test_the_best_way_is_as_long_as_by_hand_and_the_other_one_differs(two: Routes) -> None:
    best, other = two.choices
    assert best.route.rails == ("A", "B", "C")
    assert other.route.rails == ("A", "D", "C")
    # From the door to the nearest point of A that is in reach of it, 1.2 m, along A, up, along B,
    # down, along C: the first leg may end anywhere on A.
    door = np.array([0.0, 0.5, 0.0])
    hold = math.sqrt(1.2**2 - 0.5**2)
    by_hand = 1.2 + (2.0 - hold) + 0.5 + 1.1 + 0.5 + 1.9
    assert np.linalg.norm(np.array([hold, 0.0, 0.0]) - door) == pytest.approx(1.2)
    assert best.route.length == pytest.approx(by_hand, abs=1e-9)
    assert other.route.length == pytest.approx(by_hand + 0.4, abs=1e-9)


def test_legs_add_up_and_say_what_they_leave(two: Routes) -> None:
    for choice in two.choices:
        stages = choice.stages
        assert stages[-1].length == pytest.approx(choice.route.length)
        assert stages[-1].time == pytest.approx(choice.route.length / 0.15)
        assert sum(stage.seconds for stage in stages) == pytest.approx(choice.seconds)
        for before, after in pairwise(stages):
            assert before.leg.stop == after.leg.start
        gaps = [stage for stage in stages if stage.leg.kind == "gap"]
        assert [stage.margin for stage in gaps] == [
            pytest.approx(two.span - stage.leg.length) for stage in gaps
        ]
        assert all(stage.side for stage in stages if stage.leg.kind == "along")


def test_something_bulky_halves_the_pace_and_a_hand_is_taken_by_what_it_holds(walls: Path) -> None:
    free, loaded = ask(walls), ask(walls, in_hand=("case",))
    assert loaded.choices[0].seconds == pytest.approx(2.0 * free.choices[0].seconds)
    assert (free.choices[0].hands, loaded.choices[0].hands) == (2, 1)


def test_several_bodies_get_the_ways_of_the_one_that_spans_least(walls: Path) -> None:
    loaded = load_scene(walls)
    question = MoveQuestion("door", "C@1.9")
    asked = move_question(loaded, question)
    sizes = ["small", "large"]
    both = routes_between(loaded, asked, question, sizes=sizes)
    assert {finding.case for finding in both.outcome.findings} == set(sizes)
    spans = [routes_between(loaded, asked, question, sizes=[size]).span for size in sizes]
    assert both.span == min(spans)


def test_a_line_without_an_anchor_is_asked_for_one(walls: Path) -> None:
    result = call("route", str(walls), "door", "C", "--tether", "spare")
    assert result.exit_code == 2
    assert "anchor: is missing: spare names none of its own" in result.stderr
    worn = ask(walls, tether="spare", anchor="A1").situation.line
    assert worn is not None
    assert (worn.tether, worn.anchor, worn.length) == ("spare", "A1", 9.0)


def test_a_rail_to_avoid_is_avoided_and_without_both_there_is_proof(walls: Path) -> None:
    assert ask(walls, avoid=("B",)).choices[0].route.rails == ("A", "D", "C")
    none = ask(walls, avoid=("B", "D"))
    assert none.choices == ()
    assert none.exit_code == 1
    assert none.none is not None
    assert (set(none.none.from_start), set(none.none.from_stop)) == ({"A"}, {"C"})
    (gap,) = none.none.gaps
    assert gap.width == pytest.approx(1.1)
    (hold,) = gap.handholds
    assert hold == pytest.approx((2.55, 0.0, 0.0))
    assert set(none.none.freed) == {"B", "D"}


def test_the_checks_are_run_on_each_way(two: Routes) -> None:
    judged = {(f.step, f.check) for f in two.outcome.findings}
    for step in two.steps:
        assert {(step, "gap"), (step, "hands"), (step, "corridor")} <= judged
    # None is the second move of a worker who went the other way before.
    first, second = ({check for at, check in judged if at == step} for step in two.steps)
    assert first == second


def test_legs_as_csv_read_back(two: Routes) -> None:
    rows = list(csv.DictReader(io.StringIO(routes_csv(two))))
    assert tuple(rows[0]) == COLUMNS
    assert {row["way"] for row in rows} == set(two.steps)
    for step, choice in zip(two.steps, two.choices, strict=True):
        mine = [row for row in rows if row["way"] == step]
        assert sum(float(row["length"]) for row in mine) == pytest.approx(choice.route.length)
        assert float(mine[-1]["length_so_far"]) == pytest.approx(choice.route.length, abs=1e-5)
        assert [row["limit"] for row in mine if row["kind"] == "along"] == [""] * 3
        ends = [[float(row[f"stop.{axis}"]) for axis in "xyz"] for row in mine]
        assert ends[-1] == pytest.approx(choice.route.points[-1], abs=1e-6)


def test_json_has_findings_and_ways(two: Routes) -> None:
    record = json.loads(routes_json(two))
    assert [way["rails"] for way in record["routes"]["ways"]] == [["A", "B", "C"], ["A", "D", "C"]]
    assert record["routes"]["none"] is None
    assert len(record["findings"]) == len(two.outcome.findings)


def test_glb_has_every_thing_by_name_with_y_up(two: Routes, tmp_path: Path) -> None:
    from reach.pictures.export import glb_of_routes

    file = tmp_path / "walls.glb"
    file.write_bytes(glb_of_routes(two))
    scene = trimesh.load(file)
    names = set(scene.graph.nodes_geometry)
    assert {"wall", "A", "B", "C", "D", "way 1", "way 2", "way 1 corridor"} <= names
    assert {"way 1 L1 as led", "way 1 L1 pulled tight"} <= names
    wall = _world(scene, "wall")
    # The wall is 8 m along x, 0.1 m thick in y at y = -0.6 and 3 m high in z; with y up, what was
    # z is y and what was y is -z.
    assert wall.min(axis=0) == pytest.approx([0.0, -1.5, 0.55], abs=1e-6)
    assert wall.max(axis=0) == pytest.approx([8.0, 1.5, 0.65], abs=1e-6)
    way, points = _world(scene, "way 2"), two.choices[1].route.points
    turned = np.stack([points[:, 0], points[:, 2], -points[:, 1]], axis=1)
    # A tube of 20 mm; its few facets lie inside the round one by a tenth at most.
    assert way.min(axis=0) == pytest.approx(turned.min(axis=0) - 0.019, abs=1.01e-3)
    assert way.max(axis=0) == pytest.approx(turned.max(axis=0) + 0.019, abs=1.01e-3)


def _world(scene: trimesh.Scene, name: str) -> np.ndarray:
    transform, geometry = scene.graph[name]
    return trimesh.transform_points(scene.geometry[geometry].vertices, transform)


def test_the_table_says_legs_totals_and_sources(walls: Path) -> None:
    result = call("route", str(walls), "door", "C@1.9", "--alternatives", "1")
    lines = result.stdout.splitlines()
    assert "  door > A > B > C > C@1.9" in lines
    assert "  B    2.00 0.00 0.50 3.10 0.00 0.50 1.10 0.50, 0.42 straight out" in result.stdout
    assert any(line.startswith("WAY 2  6.5") and "in 0.7 min" in line for line in lines)
    assert "pace_free" in result.stdout
    assert "Planning aid only." in result.stdout


def test_a_way_is_printed_as_a_step_takes_it(walls: Path) -> None:
    result = call("route", str(walls), "door", "C@1.9", "--alternatives", "1")
    written = [line.strip() for line in result.stdout.splitlines() if "route = [" in line]
    assert written == ['route = ["A", "B", "C"]', 'route = ["A", "D", "C"]']
    (best, *_) = ask(walls).choices
    body = {
        "A": Aside(by=0.55, toward="north"), "B 1": Aside(by=0.275, toward=(0.6, 0.0, -0.8)),
    }  # fmt: skip
    text = "\n".join(as_step(replace(best, body=body)))
    read = tomllib.loads(text)
    assert read["route"] == ["A", "B", "C"]
    found = Translate.model_validate({"do": "translate", "to": "C", "body": read["body"]}).body
    assert found == body


def test_a_long_body_stays_on_its_line(walls: Path) -> None:
    routes = ask(walls)
    body = {f"rail-{k}": Aside(by=0.5, toward=(0.6, 0.0, -0.8)) for k in range(6)}
    (choice,) = routes.choices
    printed = render_routes(replace(routes, choices=(replace(choice, body=body),)), 80)
    (line,) = [line for line in printed.splitlines() if "body = {" in line]
    assert set(tomllib.loads(line)["body"]) == set(body)


def test_fewer_others_than_asked_for_are_said_to_be_all(walls: Path) -> None:
    for others, avoid, words in ((1, (), ""), (3, (), "No further way"), (1, ("D",), "No other")):
        routes = ask(walls, others, avoid=avoid)
        text = render_routes(routes, others=others)
        said = [line for line in text.splitlines() if "by three tenths of its length" in line]
        assert len(said) == bool(words)
        assert all(line.startswith(words) for line in said)


def test_places_say_why_nothing_is_left_and_no_zero_is_signed(walls: Path) -> None:
    routes = ask(walls)
    flat = " ".join(render_routes(routes).split())
    assert "so that nothing is left: '1.20, 0.00'. Whether a place can be reached is judged" in flat
    (choice,) = routes.choices
    sides = tuple(replace(stage, side="0.35 m towards [-1.00, -0.00, 0.00]")
                  for stage in choice.stages)  # fmt: skip
    text = render_routes(replace(routes, choices=(replace(choice, stages=sides),)))
    assert "-1.00" in text
    assert "-0.00" not in text


def test_the_heads_stand_over_their_columns(walls: Path) -> None:
    lines = call("route", str(walls), "door", "C@1.9").stdout.splitlines()
    (k,) = [k for k, line in enumerate(lines) if line.startswith("  rail")]
    for name in ("from", "to", "next, left", "side"):
        at = lines[k].index(f" {name}") + 1
        assert all(line[at - 1] == " " != line[at] for line in lines[k + 2 : k + 4]), name


def test_no_way_prints_proof_and_remedy_and_exits_1(walls: Path) -> None:
    result = call("route", str(walls), "door", "C", "--avoid", "B,D")
    assert result.exit_code == 1
    flat = " ".join(result.stdout.split())
    assert "proved: no sequence of holds leads from door to C" in flat
    assert "A to C is 1.100 m wide, short by 0.180 m; one more handhold closes it" in flat
    assert "B or D, if it could be used" in flat


def test_all_problems_are_told_at_once_each_with_the_nearest_name(walls: Path) -> None:
    result = call(
        "route", str(walls), "dor", "C@9", "--worker", "W2", "--carrying", "cse", "--avoid", "E",
        "--size", "smal", "--tether", "L2", "--anchor", "A2", "--placed", "x", "--csv", "no/a.csv",
    )  # fmt: skip
    assert result.exit_code == 2
    assert result.stdout == ""
    for message in (
        "did you mean 'door'?", "C is 1.900 m long", "did you mean 'W1'?", "did you mean 'case'?",
        "unknown handrail or handhold 'E'", "did you mean 'small'?", "did you mean 'L1'?",
        "did you mean 'A1'?", "needs payload=pose", "no folder",
    ):  # fmt: skip
        assert message in result.stderr, message


def test_a_way_to_where_it_begins_is_refused(walls: Path) -> None:
    loaded = load_scene(walls)
    with pytest.raises(InputError, match="is where the way begins"):
        move_question(loaded, MoveQuestion("door", "door"))
