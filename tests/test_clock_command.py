"""`reach clock`: a small outing as timetable, text and CSV."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from typer.testing import CliRunner

import reach.cli
from reach.files.procedure import load_procedure
from reach.files.scene import load_scene
from reach.reports.clock import clock_csv
from reach.timetables import Timed, timed

SCENE = """
format = 1
title = "Yard"
procedure = "steps.toml"
use = ["shipped:sizes", "shipped:suits", "shipped:tools", "shipped:limits"]

[solids.wall]
box = [12.0, 1.0, 6.0]
at = [4.0, -0.5, 0.0]

[handrails.RA]
from = [0.0, 0.1, 0.0]
to = [9.0, 0.1, 0.0]
out = [0, 1, 0]

[hatches.door]
at = [-0.4, 0.5, 0.0]

[workers.A]
size = "medium"
hand = "right"
suit = "halden"

[limits.outing_time]
value = "60 min"
source = "these tests"
"""
STEPS = """
format = 1
title = "A walk"
lanes = { A = "worker" }

[begin]

[[steps]]
name = "out"
lane = "A"
start = "00:00"
duration = "5 min"
actions = [{ do = "egress", from = "door" }]

[[steps]]
name = "along"
lane = "A"
start = "00:05"
duration = "10 min"
between = ["5 min", "20 min"]
actions = [{ do = "translate", from = "door", to = "RA@9.0" }]

[[steps]]
name = "photos"
lane = "A"
start = "00:15"
duration = "20 min"
optional = 1
actions = [{ do = "glove check" }]

[[steps]]
name = "back"
lane = "A"
start = "00:40"
actions = [{ do = "translate", from = "RA@9.0", to = "door" }]

[[steps]]
name = "in"
lane = "A"
start = "00:57"
duration = "5 min"
actions = [{ do = "ingress", to = "door" }]
"""


@pytest.fixture
def yard(tmp_path: Path) -> Path:
    (tmp_path / "scene.toml").write_text(SCENE)
    (tmp_path / "steps.toml").write_text(STEPS)
    return tmp_path


@pytest.fixture
def walk(yard: Path) -> Timed:
    loaded = load_scene(yard)
    found = timed(loaded, load_procedure(None, loaded))
    assert found is not None
    return found


def call(*words: str) -> str:
    result = CliRunner(env={"COLUMNS": "100"}).invoke(reach.cli.app, ["clock", *words])
    assert result.exit_code == 1, result.output
    return " ".join(result.stdout.split())


def test_the_timetable_says_what_is_late_and_what_mends_it(yard: Path) -> None:
    out = call(str(yard))
    for words in (
        "It ends at 01:02 as written, 2 min after the limit.",
        "it is over by the limit with a probability of",
        "00:15 00:35 20 21 A photos",
        "10 (5 to 20)",
        "■ FAIL outing: The outing ends at 01:02 with step 'in'; it is to end by 01:00",
        "Fix: Close up the waits: in the written order of the steps it ends at 00:41",
        "All workers wait 00:35 to 00:40, 00:41 to 00:57.",
        "Nothing needs to be cut.",
        "Planning aid only.",
    ):
        assert words in out, words


def test_the_latest_start_home_is_by_where_the_worker_is(walk: Timed) -> None:
    (home,) = walk.homeward
    way = walk.outcome.site.memo
    lock, pace = 10.5 * 60.0, 0.15
    far = next(one for one in home.returns if one.place == "RA@9.0")
    # Nine metres of rail, a little less or more at the door.
    assert (far.takes - lock) * pace == pytest.approx(9.5, abs=0.6)
    assert home.tightest is not None
    assert home.tightest.place == "RA@9.0"
    assert home.tightest.by == 3600.0 - far.takes
    assert home.bingo.latest == 3600.0 - lock
    assert home.lost == () and way


def test_a_blank_duration_stands_in_the_timetable_as_worked_out(walk: Timed) -> None:
    rows = {row["step"]: row for row in csv.DictReader(io.StringIO(clock_csv(walk)))}
    span = walk.outing.spans["back"]
    assert float(rows["back"]["likely"]) == pytest.approx((span.end - span.begin) / 60.0, abs=1e-4)
    assert 0.9 < float(rows["back"]["likely"]) < 1.2
    assert (rows["along"]["least"], rows["along"]["most"]) == ("5.0", "20.0")
    assert rows["photos"]["optional"] == "1.0"
    assert [row["critical"] for row in rows.values()] == ["no", "no", "no", "no", "yes"]


def test_the_csv_is_written_and_nothing_else_is_overwritten(yard: Path) -> None:
    call(str(yard), "--csv", str(yard / "a.csv"))
    assert (yard / "a.csv").read_text().count("\n") == 6
    result = CliRunner().invoke(
        reach.cli.app, ["clock", str(yard), "--csv", str(yard / "steps.toml")]
    )
    assert result.exit_code == 2
    assert (yard / "steps.toml").read_text() == STEPS
