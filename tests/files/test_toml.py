import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.files.lines import dotted, scan
from reach.files.problem import InputError, Problem, nearest, unknown
from reach.files.toml import read_toml

TEXT = '''# comment = 1
title = "a [b] # c"
"quoted.key" = 1
[sockets.SK3]
at = [0, # one
      1,
      { x = 2 },
     ]
note = """
[not.a.table]
x = 1
"""
[[steps]]
name = 'one'
[[steps]]
name = "two"
actions = [
  { do = "drive", fastener = "IB1" },
  { do = "inspect" },
]
[steps.setting]
yaw = 4
when = 2026-01-02 03:04:05
a.b.c = true
'''


@pytest.mark.parametrize(
    ("place", "line"),
    [
        (("title",), 2),
        (("quoted.key",), 3),
        (("sockets",), 4),
        (("sockets", "SK3"), 4),
        (("sockets", "SK3", "at"), 5),
        (("sockets", "SK3", "at", 1), 6),
        (("sockets", "SK3", "at", 2, "x"), 7),
        (("sockets", "SK3", "note"), 9),
        (("steps", 0), 13),
        (("steps", 0, "name"), 14),
        (("steps", 1, "name"), 16),
        (("steps", 1, "actions", 0, "fastener"), 18),
        (("steps", 1, "actions", 1, "do"), 19),
        (("steps", 1, "setting", "yaw"), 22),
        (("steps", 1, "setting", "when"), 23),
        (("steps", 1, "setting", "a", "b", "c"), 24),
    ],
)
def test_the_line_of_a_key_is_found(place, line):
    assert scan(TEXT).lines[place] == line


def test_text_in_strings_and_comments_is_no_key():
    lines = scan(TEXT).lines
    assert ("not", "a", "table") not in lines
    assert ("comment",) not in lines


def test_line_ends_of_other_systems_count_alike():
    assert scan(TEXT.replace("\n", "\r\n")).lines == scan(TEXT).lines


@given(st.text(alphabet="ab.=[]{}\"'#\n ,1\\", max_size=60))
def test_any_text_can_be_scanned(text):
    scan(text)


def test_places_are_written_as_people_count():
    assert dotted(("steps", 0, "actions", 1)) == "steps[1].actions[2]"
    assert dotted(()) == ""


def test_a_byte_order_mark_is_no_syntax_error(tmp_path):
    path = tmp_path / "scene.toml"
    path.write_bytes("\ufefftitle = 'x'".encode())
    assert read_toml(path, "scene.toml").data == {"title": "x"}


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"a = '\xff'", "scene.toml:1: is not UTF-8 text; save it as UTF-8"),
        (b"x = " + b"[" * 3000, "scene.toml: is nested too deeply"),
        (b"a = 1\n\nb = = 2", "scene.toml:3: TOML syntax: Invalid value (column 5)"),
        (b"[a]\nb = 1\n[a]\nb = 2", "scene.toml:3: a: duplicate name 'a': already given at line 1"),
        (b"a = {}\n[a]", "scene.toml:2: a: duplicate name 'a': already given at line 1"),
    ],
)
def test_what_is_no_toml_is_one_clear_problem(tmp_path, content, message):
    path = tmp_path / "scene.toml"
    path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        read_toml(path, "scene.toml")
    assert str(caught.value) == message


def test_a_missing_file_and_a_folder_are_problems(tmp_path):
    for path, message in ((tmp_path / "no.toml", "no such file"), (tmp_path, "is a folder")):
        with pytest.raises(InputError, match=message):
            read_toml(path, "x.toml")


def test_a_problem_leaves_out_what_it_does_not_know():
    assert str(Problem("a.toml", "", None, "is empty")) == "a.toml: is empty"
    assert str(Problem("a.toml", "x.y", 3, "bad")) == "a.toml:3: x.y: bad"


def test_an_error_lists_each_problem_once_and_all_of_them():
    problem, other = Problem("a", "", None, "x"), Problem("a", "", None, "y")
    assert str(InputError([problem, other, problem])) == "a: x\na: y"


def test_the_nearest_name_ignores_case_and_is_left_out_when_nothing_is_near():
    assert nearest("sk3", ["SK3", "SK4"]) == "SK3"
    assert nearest("anything", ["SK3"]) is None
    assert unknown("socket", "Q", [str(n) for n in range(20)]).endswith("10, 11 and 8 more")
