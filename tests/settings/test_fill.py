"""Blank settings are filled in: comments and layout stay; the copy is checked as any other."""

import difflib
import re

import pytest
from typer.testing import CliRunner

import reach.cli

PLAIN = """format = 1
solids = { panel = { box = [0.05, 1.6, 1.0], at = [0.735, 0.0, 1.65] } }
sockets = { SA = { at = [0, 0, 0], axis = [0, 0, 1], zero = [1, 0, 0] } }
handrails = { bar = { from = [0.45, -0.2, 1.1], to = [0.45, 0.2, 1.1] } }
procedure = "procedure.toml"
use = ["shipped:tools", "shipped:sizes", "shipped:suits", "shipped:limits"]
[restraints.stand]
kind = "foot restraint"
holds_torque = 200.0
boot_twist = "20 deg"
chain = [
  { name = "clocking", turn = "z", from = "-60 deg", to = "60 deg", step = "60 deg" },
  { shift = [0.0, 0.0, 0.35] },
  { name = "pitch", turn = "y", from = "-30 deg", to = "30 deg", step = "30 deg" },
]
[fasteners]
B1 = { at = [0.7, -0.2, 1.65], axis = [-1, 0, 0], torque = 20.0 }
B2 = { at = [0.7, 0.2, 1.6], axis = [-1, 0, 0], torque = 20.0 }
FAR = { at = [3.7, 0.2, 1.6], axis = [-1, 0, 0], torque = 20.0 }
[workers]
W1 = { size = "medium", hand = "right", suit = "halden" }
"""
STEPS = """# What is asked.
format = 1
lanes = { W1 = "worker" }

[[steps]]
name = "left"   # the first one
lane = "W1"
where = "SA"
restraint = "stand"   # set by the search
# turned by hand later
actions = [{ do = "drive", fastener = "B1", tool = "power-drive", bit = "S-16" }]

  [[steps]]
  name = "right"
  lane = "W1"
  actions = [
    { do = "drive", fastener = "B2", tool = "power-drive", bit = "S-16" },  # one a line
  ]
# the end
"""
ROWS = """# a table of steps
name,lane,where,restraint,do,fastener,tool,bit
left,W1,SA,stand,drive,B1,power-drive,S-16
# between
right,W1,,,drive,B2,power-drive,S-16
"""


@pytest.fixture
def yard(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("REACH_CACHE", str(tmp_path / "cache"))
    folder = tmp_path / "yard"
    folder.mkdir()
    (folder / "scene.toml").write_text(PLAIN)
    (folder / "procedure.toml").write_text(STEPS)
    return folder


def call(*words):
    return CliRunner().invoke(reach.cli.app, list(words))


def added(before, after):
    """Lines of a diff that are not the same, without its head."""
    lines = difflib.ndiff(before.splitlines(True), after.splitlines(True))
    return [line for line in lines if line[:2] in ("+ ", "- ")]


def test_only_lines_of_settings_are_put_in_and_the_copy_passes(yard):
    copy = yard / "filled.toml"
    result = call("check", "yard", "--fill", str(copy))
    assert result.exit_code == 0, result.output
    changes = added(STEPS, copy.read_text())
    assert len(changes) == 1
    assert re.fullmatch(r'\+ setting = \{ clocking = ".*deg", pitch = ".*deg" \}\n', changes[0])
    assert (yard / "procedure.toml").read_text() == STEPS
    again = call("check", "yard", str(copy))
    assert again.exit_code == 0
    assert "OPEN 0" in again.stdout


def test_line_ends_of_the_other_system_are_kept(yard):
    source, copy = yard / "procedure.toml", yard / "filled.toml"
    source.write_bytes(STEPS.replace("\n", "\r\n").encode())
    assert call("check", "yard", "--fill", str(copy)).exit_code == 0
    written = copy.read_bytes()
    assert written.count(b"\r\n") == written.count(b"\n") == STEPS.count("\n") + 1


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_steps_in_a_table_get_columns_and_a_table_beside_the_copy(yard, end):
    head = '# kept\nformat = 1\nlanes = { W1 = "worker" }\n[tables]\nsteps = "steps.csv"  # kept\n'
    (yard / "procedure.toml").write_text(head)
    (yard / "steps.csv").write_bytes(ROWS.replace("\n", end).encode())
    copy = yard / "filled.toml"
    result = call("check", "yard", "--fill", str(copy))
    assert result.exit_code == 0, result.output
    assert copy.read_text() == head.replace("steps.csv", "filled-steps.csv")
    rows = (yard / "filled-steps.csv").read_bytes().decode()
    assert rows.count("\r\n") == (rows.count("\n") if end == "\r\n" else 0)
    lines = rows.splitlines()
    assert lines[0] == "# a table of steps"
    assert lines[3] == "# between"
    assert lines[1].endswith("bit,setting.clocking,setting.pitch")
    assert lines[2].startswith("left,W1,SA,stand,drive,B1,power-drive,S-16,")
    assert "deg" in lines[2]
    assert call("check", "yard", str(copy)).exit_code == 0


def test_a_copy_in_another_folder_takes_all_tables_along(yard):
    tables = '[tables]\nitems = "kit.csv"  # kept\nsteps = "steps.csv"\n'
    (yard / "procedure.toml").write_text(f'format = 1\nlanes = {{ W1 = "worker" }}\n{tables}')
    (yard / "steps.csv").write_text(ROWS)
    (yard / "kit.csv").write_text("item,in\n")
    other = yard.parent / "elsewhere"
    other.mkdir()
    # An outing with nobody tied to anything fails as a whole: what is filled is asked alone.
    result = call("check", "yard", "--fill", str(other / "filled.toml"), "--only", "reach")
    assert result.exit_code == 0, result.output
    found = {path.name for path in other.iterdir()}
    assert found == {"filled.toml", "filled-items.csv", "filled-steps.csv"}
    assert 'items = "filled-items.csv"  # kept' in (other / "filled.toml").read_text()
    assert (other / "filled-items.csv").read_text() == "item,in\n"
    again = call("check", "yard", str(other / "filled.toml"), "--only", "reach")
    assert again.exit_code == 0


def test_nothing_blank_is_said_and_the_copy_is_the_same(yard):
    first, second = yard / "filled.toml", yard / "again.toml"
    call("check", "yard", "--fill", str(first))
    result = call("check", "yard", str(first), "--fill", str(second))
    assert "No setting is blank." in result.stderr
    assert second.read_bytes() == first.read_bytes()


STAND = """[[steps]]
name = "stand"
lane = "W1"
where = "SA"
restraint = "stand"
actions = [{ do = "ingress" }]
"""
GIVEN = 'setting = { clocking = "60 deg", pitch = "0 deg" }\n'


def filled(yard, text):
    """The copy of a procedure, and what the call said."""
    (yard / "procedure.toml").write_text(text)
    result = call("check", "yard", "--fill", str(yard / "filled.toml"))
    return result, (yard / "filled.toml").read_text()


def test_a_place_where_nothing_is_turned_gets_a_setting_by_which_getting_in_passes(yard):
    result, copy = filled(yard, STEPS.split("[[steps]]")[0] + STAND)
    assert "by which getting in passes" in result.stderr
    assert copy.count("setting = ") == 1
    assert result.exit_code == 0, result.output


def test_getting_in_takes_the_setting_that_a_later_step_gives_there(yard):
    turn = STEPS.split("[[steps]]")[1].replace("# set by", f"\n{GIVEN}# set by")
    result, copy = filled(yard, STEPS.split("[[steps]]")[0] + STAND + "[[steps]]" + turn)
    assert "SA (stand): clocking +60 deg, pitch +0 deg, as other steps need it" in result.stderr
    lines = [line for line in copy.splitlines() if line.startswith("setting")]
    assert lines[0].replace("+", "") == lines[1]
    assert result.exit_code == 0, result.output


def test_getting_in_takes_the_setting_that_is_found_for_a_later_visit(yard):
    scene = (yard / "scene.toml").read_text()
    second = ", SB = { at = [0, 0.3, 0], axis = [0, 0, 1], zero = [1, 0, 0] } }\nhandrails"
    (yard / "scene.toml").write_text(scene.replace(" }\nhandrails", second))
    away = STAND.replace("SA", "SB").replace('"stand"\nlane', '"away"\nlane') + GIVEN
    result, copy = filled(
        yard, STEPS.split("[[steps]]")[0] + STAND + away + "[[steps]]" + STEPS.split("[[steps]]")[1]
    )
    assert "as other steps need it there" in result.stderr
    lines = [line for line in copy.splitlines() if line.startswith("setting")]
    assert lines[0] == lines[2] and len(lines) == 3
    assert result.exit_code == 0, result.output


def test_where_nobody_can_stand_getting_in_stays_blank_and_is_said(yard):
    scene = (yard / "scene.toml").read_text()
    wall = "solids = { wall = { box = [1.0, 1.0, 0.3], at = [0, 0, 1.4] },"
    (yard / "scene.toml").write_text(scene.replace("solids = {", wall))
    text = STEPS.split("[[steps]]")[0] + STAND
    result, copy = filled(yard, text)
    assert "no setting was found by which getting in passes" in result.stderr
    assert copy == text
    assert result.exit_code == 3


def test_a_target_that_no_setting_serves_stays_blank_and_is_never_a_pass(yard):
    (yard / "procedure.toml").write_text(STEPS.replace('"B1"', '"FAR"').replace('"B2"', '"FAR"'))
    result = call("check", "yard", "--fill", str(yard / "filled.toml"))
    assert "no setting was found for left, right" in result.stderr
    assert result.exit_code in (1, 3)


def refused(yard, result, *words):
    assert result.exit_code == 2
    assert result.stdout == ""
    for word in words:
        assert word in result.stderr
    assert (yard / "procedure.toml").exists()
    assert not (yard / "filled.toml").exists()


def test_the_procedure_itself_is_not_written_over(yard):
    result = call("check", "yard", "--fill", str(yard / "procedure.toml"))
    refused(yard, result, "is read by this run")
    assert (yard / "procedure.toml").read_text() == STEPS


def test_a_folder_that_is_not_there_is_refused_before_any_work(yard, monkeypatch):
    def work(*args):
        raise AssertionError("worked")

    monkeypatch.setattr("reach.settings.fill.fill", work)
    refused(yard, call("check", "yard", "--fill", str(yard / "no" / "filled.toml")), "no folder")


def test_steps_written_in_one_line_are_refused_with_what_to_do(yard):
    drive = '{ do = "drive", fastener = "B1", tool = "power-drive", bit = "S-16" }'
    (yard / "procedure.toml").write_text(
        'format = 1\nlanes = { W1 = "worker" }\nsteps = [{ name = "left", lane = "W1", '
        f'where = "SA", restraint = "stand", actions = [{drive}] }}]\n'
    )
    result = call("check", "yard", "--fill", str(yard / "filled.toml"))
    refused(yard, result, "step 'left'", "write it as [[steps]]")
