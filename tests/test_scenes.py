"""Every shipped scene is loaded and run, and what it gives is compared with its key."""

from __future__ import annotations

from pathlib import Path

import pytest

from reach.checks import CHECKS
from reach.files.people import load_population
from reach.files.procedure import load_procedure
from reach.files.question import question
from reach.files.scene import load_scene
from reach.finding import Verdict
from reach.reports.key import compare, load_key
from reach.run import check
from reach.situations import resolve

SCENES = Path(__file__).parents[1] / "scenes"
NAMES = sorted(folder.name for folder in SCENES.iterdir() if folder.is_dir())
IDS = {identity: one.NAME for one in CHECKS for identity in (one.NAME, *one.IDS)}
MENDED = sorted(SCENES.glob("*/mended.toml"))


@pytest.mark.parametrize("name", NAMES)
def test_a_scene_gives_every_row_of_its_key_and_no_other_fail(name: str) -> None:
    key = load_key(SCENES / name / "expected.csv", IDS)
    assert compare(key, check(name).findings) == []


@pytest.mark.parametrize("path", MENDED, ids=lambda path: path.parent.name)
def test_a_mended_procedure_comes_out_clean(path: Path) -> None:
    outcome = check(path.parent.name, path)
    bad = [
        f"{finding.check} {finding.step}: {finding.because}"
        for finding in outcome.findings
        if finding.verdict not in (Verdict.PASS, Verdict.NOT_ASKED)
    ]
    assert bad == []
    assert outcome.findings


def test_every_procedure_beside_a_scene_loads() -> None:
    for path in sorted(SCENES.glob("*/*.toml")):
        if path.name == "scene.toml" or "[[steps]]" not in path.read_text():
            continue
        loaded = load_scene(path.parent)
        asked = load_procedure(path, loaded)
        _, situations = resolve(loaded.scene, loaded.meshes, asked.procedure, load_population)
        assert situations, path


def test_a_bolt_out_of_reach_is_out_of_reach_for_the_small_and_the_medium_body_by_proof() -> None:
    outcome = check("brackenfall", only=["reach", "sizes"], sizes=["small", "medium", "large"])
    found = [f for f in outcome.findings if f.step.startswith("28") and f.check == "reach"]
    verdicts = {finding.case: finding.verdict for finding in found}
    assert verdicts["small"] is Verdict.FAIL
    assert verdicts["medium"] is Verdict.FAIL
    assert verdicts["large"] is not Verdict.PASS


def test_a_connector_that_no_socket_serves_is_impossible_for_every_body_by_proof() -> None:
    outcome = check("brackenfall", only=["socket"], sizes=["small", "medium", "large"])
    found = [f for f in outcome.findings if "CN2" in f.about]
    assert {f.case for f in found} == {"small", "medium", "large"}
    assert all(f.verdict is Verdict.FAIL and f.high <= -0.15 for f in found)


def test_a_bolt_beside_the_boots_is_too_near_and_one_behind_the_payload_beyond_everyone() -> None:
    """Traps of the demo: BB1 from SK4, and CB3 from SK1, which the Crane must serve."""
    scene = load_scene("brackenfall")
    near = question(
        scene, where="SK4", worker="W1", restraint="FR-1", fastener="BB1", tool="PT-1", bit="S-11",
        setting={"clocking": 1, "pitch": "-45 deg", "roll": "-15 deg", "yaw": 6},
        placed={"relay-boom": "seated"},
    )  # fmt: skip
    by_check = {f.check: f for f in check(scene, near, only=["inner", "reach"]).findings}
    assert by_check["inner"].high <= -0.10
    assert by_check["reach"].verdict is Verdict.FAIL
    far = question(
        scene, where="SK1", worker="W1", restraint="FR-1", fastener="CB3", tool="PT-1", bit="S-16",
        setting={"clocking": 0, "pitch": "+75 deg", "roll": "+45 deg", "yaw": 0},
        placed={"relay-boom": "stowed"},
    )  # fmt: skip
    by_check = {f.check: f for f in check(scene, far, only=["socket", "reach"]).findings}
    assert by_check["reach"].high <= -0.50
    assert by_check["socket"].high <= -0.10


def test_a_payload_that_no_step_places_is_said_to_be_taken_in_its_first_pose() -> None:
    scene = load_scene("brackenfall")
    asked = {
        "where": "SK4",
        "worker": "W1",
        "restraint": "FR-1",
        "setting": {"clocking": 5, "yaw": 4, "pitch": "-45 deg", "roll": "-30 deg"},
        "fastener": "IB2",
        "tool": "PT-1",
    }
    silent = check(scene, question(scene, **asked), only=["fit"])
    assert any("relay-boom is taken as stowed" in warning for warning in silent.warnings)
    told = question(scene, **asked, placed={"relay-boom": "seated"})
    assert not any("relay-boom" in w for w in check(scene, told, only=["fit"]).warnings)


def test_at_a_worksite_all_percentile_bodies_can_and_people_between_them_are_proved_not_to() -> (
    None
):
    loaded = load_scene("brackenfall")
    asked = question(
        loaded,
        where="SK4",
        worker="W1",
        restraint="FR-1",
        setting={"clocking": 0, "pitch": "-30 deg", "roll": "15 deg", "yaw": 8},
        fastener="IP2",
        tool="RW-1",
        bit="S-8",
        placed={"relay-boom": "stowed"},
    )
    (found,) = check(loaded, asked, only=["share"], population=1000).findings
    numbers = found.numbers
    assert len(numbers["percentile bodies that can"]) == 6
    assert numbers["of a stature between theirs, cannot"] > 0
    assert numbers["limiting person's room between"] < 0.0
    # The same words and numbers stand in README.md.
    readme = (SCENES.parent / "README.md").read_text()
    assert " ".join(found.because.split()) in " ".join(readme.split())
    sizes = ["small", "medium", "large"]
    given = check(loaded, asked, only=["reach", "clearance", "sight"], sizes=sizes).findings
    verdicts = {(one.case, one.check): one.verdict for one in given if one.case}
    wanted = {(size, name) for size in sizes for name in ("reach", "clearance", "sight")}
    assert all(verdicts[key] is Verdict.PASS for key in wanted)
