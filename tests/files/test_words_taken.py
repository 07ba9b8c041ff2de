"""Rows, angles and heads of files that were passed over, or taken for something else."""

import pytest

from reach.files.problem import InputError
from reach.files.scene import load_scene

TABLES = '[tables]\nanchors = "a.csv"\n'
HEAD = "name,at.x,at.y,at.z\n"


def anchors(scene_file, rows: str) -> dict:
    folder = scene_file(TABLES)
    (folder / "a.csv").write_text(rows, encoding="utf-8")
    return {name: one.at for name, one in load_scene(folder).scene.anchors.items()}


def test_a_quotation_mark_in_a_remark_of_a_table_hides_no_row(scene_file):
    """Rows between two such remarks were taken for a part of the first one."""
    rows = HEAD + '#x,"b\nA,1,1,1\n  # y,"\nB,2,2,2\n'
    assert anchors(scene_file, rows) == {"A": (1, 1, 1), "B": (2, 2, 2)}


def test_a_name_in_quotation_marks_may_begin_like_a_remark(scene_file):
    """Its row was left out."""
    assert list(anchors(scene_file, HEAD + '"#3",1,1,1\n#4,1,1,1\n')) == ["#3"]


def test_a_cell_of_two_lines_may_go_on_like_a_remark_and_lines_are_told(scene_file):
    rows = 'name,at.x,at.y,at.z,title\n# remark\n\nA,1,1,1,"one\n# two"\nB,x,1,1,\n'
    with pytest.raises(InputError, match=r"a.csv:6: at.x: needs a length such as"):
        anchors(scene_file, rows)
    assert list(anchors(scene_file, rows.replace(",x,", ",2,"))) == ["A", "B"]


def test_a_number_of_a_table_with_a_stroke_is_none(scene_file):
    with pytest.raises(InputError, match=r"a.csv:2: at.x: unknown unit '_0' in '1_0'"):
        anchors(scene_file, HEAD + "A,1_0,0,0\n")


@pytest.mark.parametrize(
    ("angle", "is_read"), [("90", False), ('"90 rad"', True), ("6.2831", True)]
)
def test_a_bare_angle_of_more_than_a_turn_is_asked_for_its_unit(scene_file, angle, is_read):
    """90 was 90 rad, which is 116.6 deg."""
    turn = f"turn = [{{ axis = [0, 0, 1], angle = {angle} }}]\n"
    folder = scene_file(f"[solids.a]\nbox = [1, 1, 1]\n{turn}")
    if is_read:
        load_scene(folder)
    else:
        with pytest.raises(InputError) as caught:
            load_scene(folder)
        (problem,) = caught.value.problems
        assert str(problem) == (
            "site/scene.toml:4: solids.a.turn[1].angle: 90 is in rad, more than a whole turn; "
            "write '90 deg' or '90 rad'"
        )


def test_a_used_file_with_a_procedure_is_refused(scene_file):
    """It was passed over."""
    scene_file('procedure = "p.toml"\n', "more.toml")
    folder = scene_file('use = ["more.toml"]\n')
    with pytest.raises(InputError, match=r"more.toml:2: procedure: only the scene file itself may"):
        load_scene(folder)
