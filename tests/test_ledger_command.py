"""`reach ledger`: who has what, where, after each step; told by what changes, in tables, as CSV."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

import reach.cli
from reach.files.procedure import load_procedure
from reach.files.scene import load_scene
from reach.ledger.facts import GROUPS
from reach.ledgers import Ledger, ledger_of
from reach.reports.ledger import COLUMNS, TITLES, ledger_csv, render_ledger

SCENE = """
format = 1
title = "A yard"
procedure = "errand.toml"
use = ["shipped:suits", "shipped:tools", "shipped:limits", "shipped:sizes"]
[workers.W]
size = "medium"
suit = "halden"
[hatches.lock]
at = [0, 0, 0]
[handrails.RA]
from = [0.5, 0, 0]
to = [2.5, 0, 0]
[anchors.A0]
at = [0.3, 0, 0]
[tethers.T1]
length = "10 m"
[fasteners.X1]
at = [2.5, 0.5, 0]
axis = [0, 1, 0]
turns = 12
[items]
D1 = { is = "power-drive" }
B1 = { slots = 3 }
spare = {}
"""

PROCEDURE = """
format = 1
title = "An errand"
[lanes]
W = "worker"
IN = "inside lead"
[begin.workers]
W = "lock"
[begin.items]
B1 = "lock"
D1 = "B1"
[stores.D1]
turns = 50
reserve = 0.2
[inhibits.feed-1]
[[steps]]
name = "out"
lane = "W"
start = "00:00"
duration = "10 min"
actions = [
  { do = "egress", from = "lock" }, { do = "attach", what = "T1", to = "W", checked = true },
  { do = "attach", what = "T1", to = "A0" }, { do = "pick up", items = ["B1"] },
]
[[steps]]
name = "go"
lane = "W"
start = "00:10"
duration = "5 min"
route = ["RA"]
actions = [{ do = "translate", from = "lock", to = "RA@1.5" }]
[[steps]]
name = "clear"
lane = "IN"
start = "00:12"
duration = "1 min"
actions = [{ do = "confirm", inhibit = "feed-1" }]
[[steps]]
name = "turn"
lane = "W"
start = "00:15"
duration = "5 min"
actions = [
  { do = "set", tool = "D1", torque = "20 N m", bit = "S-16" },
  { do = "stow", items = ["B1"], to = "RA@1.0" },
]
[[steps]]
name = "wait"
lane = "W"
start = "00:20"
actions = [{ do = "wait" }]
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("yard")
    (folder / "scene.toml").write_text(SCENE)
    (folder / "errand.toml").write_text(PROCEDURE)
    return folder


@pytest.fixture(scope="module")
def ledger(folder: Path) -> Ledger:
    loaded = load_scene(folder)
    return ledger_of(loaded, load_procedure(None, loaded))


def call(*typed: str) -> Result:
    return CliRunner(env={"COLUMNS": "100"}).invoke(reach.cli.app, ["ledger", *typed])


def rows(ledger: Ledger, step: str) -> dict[tuple[str, str], str]:
    table = csv.DictReader(io.StringIO(ledger_csv(ledger)))
    return {(row["thing"], row["what"]): row["value"] for row in table if row["step"] == step}


def test_things_are_followed_into_bags_and_onto_rails(ledger: Ledger) -> None:
    assert rows(ledger, "")["D1", "place"] == "in B1, at lock"
    assert rows(ledger, "out")["D1", "place"] == "in B1, on W"
    assert rows(ledger, "turn")["D1", "place"] == "in B1, at RA@1.0"
    assert rows(ledger, "turn")["B1", "tied to"] == "RA@1.0"
    assert rows(ledger, "turn")["spare", "place"] == "not along"


def test_people_lines_tools_and_inhibits_are_followed(ledger: Ledger) -> None:
    assert rows(ledger, "")["W", "place"] == "in the lock (lock)"
    out = rows(ledger, "out")
    assert (out["W", "place"], out["W", "carries"]) == ("lock", "B1")
    assert (out["T1", "reel"], out["T1", "hook"]) == ("on W", "at A0, not checked")
    assert rows(ledger, "go")["W", "place"] == "RA@1.5"
    turned = rows(ledger, "turn")
    assert (turned["D1", "torque"], turned["D1", "bit"]) == ("20.0 N m", "S-16")
    assert turned["D1", "turns left"] == "50, 10 of them reserve"
    assert rows(ledger, "out")["feed-1", "confirmed"] == "no"
    assert turned["feed-1", "confirmed"] == "yes"


def test_a_step_tells_its_own_changes_only(ledger: Ledger) -> None:
    changed = {entry.step: {was.thing for was, _ in entry.changes} for entry in ledger.entries}
    assert changed["go"] == {"W"}  # what is confirmed meanwhile is not its doing
    assert changed["clear"] == {"feed-1"}
    assert changed["wait"] == set()


def test_the_text_tells_what_changes(ledger: Ledger) -> None:
    text = render_ledger(ledger)
    assert "00:10 to 00:15  go (W)" in text
    assert "W  place  RA@1.5 (was lock)" in text
    assert "Nothing changes hands, place or state." in text
    assert "LEDGER  A yard: An errand" in text
    assert "Planning aid only" in text


def test_at_a_step_everything_is_in_tables(folder: Path) -> None:
    result = call(str(folder), "--at", "turn")
    assert result.exit_code == 0
    assert "After step turn (W), at 00:20." in result.stdout
    assert "Not along: spare" in result.stdout
    for title in ("PEOPLE", "ITEMS", "SAFETY LINES", "TOOLS", "BOLTS AND CONNECTORS", "INHIBITS"):
        assert f"\n{title}\n" in result.stdout
    assert list(TITLES) == list(GROUPS)


@pytest.mark.parametrize("width", [40, 72, 120])
@pytest.mark.parametrize("at", ["", "turn"])
def test_lines_wrap_and_nothing_is_lost(ledger: Ledger, width: int, at: str) -> None:
    lines = render_ledger(ledger, width, at=at).splitlines()
    assert max(len(line) for line in lines) <= width
    assert "".join(render_ledger(ledger, 120, at=at).split()).count("RA@1.0") == "".join(
        "".join(lines).split()
    ).count("RA@1.0")


def test_the_csv_has_a_row_a_step_and_thing(folder: Path, tmp_path: Path) -> None:
    target = tmp_path / "ledger.csv"
    assert call(str(folder), "--at", "go", "--csv", str(target)).exit_code == 0
    table = list(csv.DictReader(io.StringIO(target.read_text())))
    assert tuple(table[0]) == COLUMNS
    assert {row["step"] for row in table} == {"go"}
    assert {row["moment"] for row in table} == {"900.0"}


def test_a_step_that_is_not_there_is_refused(folder: Path) -> None:
    result = call(str(folder), "--at", "gone")
    assert result.exit_code == 2
    assert "unknown step 'gone'; did you mean 'go'?" in result.stderr


def test_a_procedure_without_a_begin_says_so() -> None:
    loaded = load_scene("tallowmere")
    text = render_ledger(ledger_of(loaded, load_procedure(None, loaded)))
    assert "does not say how the outing begins" in text
