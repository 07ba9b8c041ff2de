"""Other bodies, other hands and an older version, on the mast: cheap enough to be run whole."""

from __future__ import annotations

import pytest

from reach.comparing.edits import Version
from reach.dossier.dossier import Dossier, dossier_of
from reach.dossier.records import Cell
from reach.files.procedure import load_procedure
from reach.files.scene import load_scene
from reach.finding import Verdict

FEW = ("reach", "clearance", "torque")


def rows(dossier: Dossier, name: str) -> list[dict[str, Cell]]:
    table = dossier.table(name)
    titles = [column.title for column in table.columns]
    return [dict(zip(titles, row.cells, strict=True)) for row in table.rows]


@pytest.fixture(scope="module")
def varied() -> Dossier:
    loaded = load_scene("tallowmere")
    old = load_procedure(None, loaded)
    new = load_procedure("mended.toml", loaded)
    told: list[str] = []
    made = dossier_of(
        loaded,
        new,
        only=FEW,
        processes=1,
        spread=True,
        sizes=(),
        since=Version(loaded, old),
        say=lambda done, total, words: told.append(words),
    )
    assert any(words.startswith("R1 is left-handed:") for words in told)
    return made


def test_each_hand_is_run_for_its_own_worker_alone(varied):
    told = [one for one in rows(varied, "differences") if one["run for"] == "R1 is left-handed"]
    assert told
    assert {one["worker"] for one in told} == {"R1"}
    assert {one["better hand"] for one in told} == {"left"}
    assert not any(one["run for"] == "other sizes and hands" for one in rows(varied, "differences"))


def test_every_size_of_the_scene_has_a_column_among_the_settings(varied):
    titles = [column.title for column in varied.table("restraint-settings").columns]
    sizes = list(varied.outcome.site.scene.sizes)
    assert [f"margin of reach, {size}" for size in sizes] == [
        title for title in titles if title.startswith("margin of reach, ")
    ]
    assert ("other sizes" in titles) is (not sizes)


def test_verdicts_of_other_bodies_come_from_their_own_run(varied):
    for spread in varied.spread:
        assert spread.outcome is not None
        for one in rows(varied, "differences"):
            if one["run for"] == spread.words and one["verdict"] is Verdict.FAIL:
                bad = [each.because for each in spread.outcome.findings]
                assert one["what stands in the way"] in bad


def test_changes_name_what_got_better_and_the_edit_key_by_key(varied):
    told = rows(varied, "changes")
    better = [one for one in told if one["what changed"] == "better"]
    assert {(one["check or part"], one["step or record"]) for one in better} >= {
        ("torque", "6 PB1"), ("reach", "7 TB1")
    }  # fmt: skip
    for one in better:
        assert str(one["it was"]).startswith("fail")
        assert str(one["it is"]).startswith("pass")
        assert one["verdict"] is Verdict.PASS
    edits = [one for one in told if str(one["what changed"]).startswith("edit")]
    assert edits
    assert any(one["step or record"] == "7 TB1" for one in edits)
