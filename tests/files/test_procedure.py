import math

import pytest

from reach.files.kit import hardware
from reach.files.problem import InputError
from reach.files.procedure import load_procedure
from reach.files.question import question, setting_of
from reach.files.scene import load_scene
from reach.model.procedure import Drive, Ingress

STEPS = """\
name,lane,start,after,where,restraint,setting.clocking,setting.pitch,setting.roll,setting.yaw,do,fastener,tool,bit
in,W1,00:10,,SA,FR-A,1,30 deg,0,4,ingress,,,
turn,W1,01:00:30,in,,,,,,,drive,PB1,power-drive,S-16
,,,,,,,,,,inspect,PB2,,
"""


@pytest.fixture
def loaded(starter):
    return load_scene(starter)


def test_the_procedure_of_the_scene_is_the_default(loaded):
    default = load_procedure(None, loaded)
    assert default.file == "site/procedure.toml"
    assert load_procedure("procedure.toml", loaded).procedure == default.procedure
    assert load_procedure(loaded.folder / "procedure.toml", loaded) == default
    assert list(default.files) == [default.file]


def test_a_scene_without_a_procedure_says_what_to_do(scene_file):
    loaded = load_scene(scene_file(""))
    with pytest.raises(InputError, match="the scene names no procedure; give one"):
        load_procedure(None, loaded)


def test_a_missing_procedure_is_named_as_typed(loaded):
    with pytest.raises(InputError, match=r"^other/p\.toml: there is no such file$"):
        load_procedure("other/p.toml", loaded)


def test_steps_can_be_a_table(loaded):
    path = loaded.folder / "long.toml"
    path.write_text('format = 1\nlanes = { W1 = "worker" }\n[tables]\nsteps = "steps.csv"\n')
    (loaded.folder / "steps.csv").write_text(STEPS)
    procedure = load_procedure(path, loaded)
    first, second = procedure.procedure.steps
    assert first.start == 600.0
    assert first.setting == {
        "clocking": 1,
        "pitch": pytest.approx(math.pi / 6),
        "roll": 0,
        "yaw": 4,
    }
    assert first.actions == (Ingress(do="ingress"),)
    assert second.start == 3630.0
    assert second.after == ("in",)
    assert [action.do for action in second.actions] == ["drive", "inspect"]
    assert set(procedure.files) == {"site/long.toml", "site/steps.csv"}


def test_problems_of_a_table_of_steps_name_row_and_column(loaded):
    path = loaded.folder / "long.toml"
    path.write_text('format = 1\nlanes = { W1 = "worker" }\n[tables]\nsteps = "steps.csv"\n')
    text = STEPS.replace("SA", "SB").replace("30 deg", "31 deg").replace("PB2", "PB3")
    (loaded.folder / "steps.csv").write_text(text.replace("power-drive", "power-dive"))
    with pytest.raises(InputError) as caught:
        load_procedure(path, loaded)
    assert [str(problem).split(": ")[:2] for problem in caught.value.problems] == [
        ["site/steps.csv:2", "where"],
        ["site/steps.csv:2", "setting.pitch"],
        ["site/steps.csv:3", "tool"],
        ["site/steps.csv:4", "fastener"],
    ]


def test_a_question_is_a_procedure_of_one_step(loaded):
    asked = question(
        loaded,
        worker="W1",
        where="SA",
        restraint="FR-A",
        setting=setting_of("clocking=0, pitch=0 deg, roll=0, yaw=0"),
        fastener="PB1",
        tool="power-drive",
        bit="S-16",
        hand="left",
    )
    (step,) = asked.procedure.steps
    drive = Drive(do="drive", fastener="PB1", tool="power-drive", bit="S-16", hand="left")
    assert step.actions == (drive,)
    assert (asked.file, asked.files) == ("command line", {})


def test_a_question_fills_what_leaves_no_doubt(loaded):
    asked = question(loaded, where="SA", restraint="FR-A", fastener="PB1")
    (step,) = asked.procedure.steps
    assert (step.lane, step.setting) == ("W1", None)
    assert step.actions == (Drive(do="drive", fastener="PB1", tool="power-drive", bit="S-16"),)
    (step,) = question(loaded, where="SA", restraint="FR-A").procedure.steps
    assert step.actions == (Ingress(do="ingress"),)


def test_a_question_lists_all_that_does_not_fit(loaded):
    with pytest.raises(InputError) as caught:
        question(
            loaded,
            worker="W2",
            where="SB",
            restraint="FR-B",
            fastener="PB3",
            tool="power-dive",
            bit="S-17",
            setting={"yaw": 1},
        )
    assert [problem.place for problem in caught.value.problems] == [
        "worker",
        "where",
        "restraint",
        "fastener",
        "tool",
        "bit",
    ]


def test_another_question_has_another_digest(loaded):
    digests = {
        question(loaded, where="SA", restraint="FR-A", fastener=name).sha256
        for name in ("PB1", "PB2", "PB1")
    }
    assert len(digests) == 2


def test_a_wrong_bit_head_is_left_to_the_checks(loaded):
    asked = question(loaded, where="SA", restraint="FR-A", fastener="PB1", bit="S-8")
    assert asked.procedure.steps[0].actions[0].bit == "S-8"


@pytest.mark.parametrize("text", ["clocking", "clocking=", "=1", "a=1, a=2"])
def test_a_setting_typed_wrong_is_refused(text):
    with pytest.raises(ValueError, match=r"needs joint=value|given twice"):
        setting_of(text)


def test_hardware_is_found_by_its_own_name_and_by_item(loaded):
    scene = loaded.scene
    assert hardware(scene, "restraints", "FR-A") is scene.restraints["foot-restraint"]
    assert hardware(scene, "tools", "FR-A") is None
    assert hardware(scene, "tools", "nothing") is None
