"""Small scenes with little in them: tables stand and say what is missing."""

from __future__ import annotations

from pathlib import Path

import pytest

from reach.dossier.dossier import Dossier, dossier_of
from reach.files.procedure import load_procedure
from reach.files.scene import load_scene
from reach.finding import Verdict

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
[hazards.pit]
kind = "no-touch"
box = [1, 1, 1]
at = [40, 0, 0]
[items]
D1 = { is = "power-drive" }
B1 = { slots = 3 }
"""

LANES = """
format = 1
title = "An errand"
[lanes]
W = "worker"
IN = "inside lead"
"""

STEPS = """
[begin.workers]
W = "lock"
[begin.items]
B1 = "lock"
D1 = "B1"
[[steps]]
name = "out"
lane = "W"
duration = "6 min"
actions = [
    { do = "attach", what = "T1", to = "A0", checked = true },
    { do = "egress", from = "lock" },
    { do = "pick up", items = ["B1"] },
]
[[steps]]
name = "along"
lane = "W"
duration = "5 min"
actions = [{ do = "translate", to = "RA@1.5" }]
[[steps]]
name = "leave it"
lane = "W"
duration = "2 min"
optional = 1
actions = [{ do = "stow", items = ["B1"], to = "RA@1.5" }]
"""


def made(folder: Path, procedure: str) -> Dossier:
    (folder / "scene.toml").write_text(SCENE)
    (folder / "errand.toml").write_text(procedure)
    loaded = load_scene(folder)
    return dossier_of(loaded, load_procedure(None, loaded), processes=1)


def test_a_procedure_without_steps_gives_tables_that_say_so(tmp_path: Path) -> None:
    dossier = made(tmp_path, LANES)
    assert dossier.timed is None
    assert dossier.cards == ()
    for name in ("bolts", "timeline", "translation-plan", "crane-support", "worksites"):
        assert dossier.table(name).rows == ()
        assert dossier.table(name).nothing.endswith(".")


def test_an_errand_is_told_from_the_lock_to_where_it_is_left(tmp_path: Path) -> None:
    dossier = made(tmp_path, LANES + STEPS)
    where = [row.cells[4] for row in dossier.table("stowage").rows if row.cells[0] == "D1"]
    assert where == ["in B1, at lock", "in B1, on W", "in B1, at RA@1.5"]
    (move,) = dossier.table("translation-plan").rows
    assert move.cells[:4] == ("along", "W", "lock", "RA@1.5")
    (option,) = dossier.table("optional-tasks").rows
    assert (option.cells[0], option.cells[2]) == ("leave it", 1.0)
    hazard = dossier.table("hazards").rows[0]
    assert hazard.cells[:2] == ("pit", "no-touch")
    assert hazard.cells[3] == "not declared"


def test_a_step_that_no_phase_covers_declares_nothing_for_stopping(tmp_path: Path) -> None:
    dossier = made(tmp_path, LANES + STEPS)
    table = dossier.table("contingency-steps")
    at = [column.title for column in table.columns].index("phase")
    assert {row.cells[at] for row in table.rows} == {"no phase covers it"}
    assert not dossier.table("contingency-phases").rows


def test_nothing_that_was_not_asked_passes(tmp_path: Path) -> None:
    dossier = made(tmp_path, LANES + STEPS)
    for table in dossier.tables:
        for row in table.rows:
            assert row.answers or Verdict.PASS not in row.cells, (table.name, row)


def test_a_size_that_is_not_there_is_refused_before_anything_is_run() -> None:
    loaded = load_scene("tallowmere")
    asked = load_procedure(None, loaded)
    with pytest.raises(ValueError, match="no size 'huge'"):
        dossier_of(loaded, asked, sizes=["huge"], spread=True)


def test_the_tether_plan_has_a_row_for_each_line_that_is_worn(tmp_path: Path) -> None:
    """T2 is hooked on beside T1 and too short: the least that is left stands with it alone."""
    scene = SCENE.replace(
        "[hazards.pit]",
        '[anchors.A9]\nat = [0.3, 0.1, 0]\n[tethers.T2]\nlength = "1.2 m"\n[hazards.pit]',
    )
    begin = '[begin.workers]\nW = "lock"\n[begin.lines]\nT1 = { hook = "A0", reel = "W" }\n'
    begin += 'T2 = { hook = "A9", reel = "W" }\n'
    steps = STEPS.replace('[begin.workers]\nW = "lock"\n', begin)
    steps = steps.replace('    { do = "attach", what = "T1", to = "A0", checked = true },\n', "")
    (tmp_path / "scene.toml").write_text(scene)
    (tmp_path / "errand.toml").write_text(LANES + steps)
    loaded = load_scene(tmp_path)
    plan = dossier_of(loaded, load_procedure(None, loaded), processes=1).table("tether-plan")
    names = [column.title for column in plan.columns]
    rows = [dict(zip(names, row.cells, strict=True)) for row in plan.rows]
    told = {one["line"]: one for one in rows if one["to"] == "RA@1.5"}
    assert set(told) == {"T1", "T2"}
    assert [told[one]["hooked to"] for one in ("T1", "T2")] == ["A0", "A9"]
    assert [told[one]["may be used"] for one in ("T1", "T2")] == pytest.approx([9.0, 0.2])
    assert told["T1"]["left"] is None
    assert told["T2"]["left"] == pytest.approx(0.2 - told["T2"]["runs"])
    assert {one["verdict"] for one in told.values()} == {Verdict.FAIL}
