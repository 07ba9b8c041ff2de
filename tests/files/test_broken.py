"""Every broken input gives exactly the problems that its header names, all together."""

import re
from pathlib import Path

import pytest

from reach.files.problem import InputError
from reach.files.procedure import load_procedure
from reach.files.scene import load_scene

BROKEN = Path(__file__).parents[1] / "broken"
SCENES = sorted(BROKEN.glob("*.toml"))
WORKSITE = BROKEN / "worksite"
PROCEDURES = sorted(set(WORKSITE.glob("*.toml")) - {WORKSITE / "scene.toml"})
USED_BY_OTHERS = {"more.toml"}
_EXPECT = "# expect: "


def expected(path: Path) -> list[str]:
    lines = path.read_text(encoding="utf-8").splitlines()
    return [line.removeprefix(_EXPECT) for line in lines if line.startswith(_EXPECT)]


@pytest.mark.parametrize("path", SCENES, ids=lambda path: path.stem)
def test_a_broken_scene_gives_the_problems_it_names(path):
    if path.name in USED_BY_OTHERS:
        pytest.skip("is used by another broken scene")
    with pytest.raises(InputError) as caught:
        load_scene(path)
    assert str(caught.value).splitlines() == expected(path)


@pytest.mark.parametrize("path", PROCEDURES, ids=lambda path: path.stem)
def test_a_broken_procedure_gives_the_problems_it_names(path):
    loaded = load_scene(WORKSITE)
    with pytest.raises(InputError) as caught:
        load_procedure(path, loaded)
    assert str(caught.value).splitlines() == expected(path)


@pytest.mark.parametrize("path", [*SCENES, *PROCEDURES], ids=lambda path: path.stem)
def test_every_broken_file_names_what_it_must_give(path):
    assert path.name in USED_BY_OTHERS or expected(path)


def test_a_line_is_never_a_guess():
    """Where a problem names a key that is written in the file, its line holds that key."""
    n_checked = 0
    for path in [*SCENES, *PROCEDURES]:
        lines = path.read_text(encoding="utf-8").splitlines()
        for text in expected(path):
            match = re.match(rf"\w+/{re.escape(path.name)}:(\d+): ([\w.\[\]-]+): (.*)", text)
            if match and "is missing" not in match[3]:
                key = match[2].rstrip("]0123456789").rstrip("[").split(".")[-1]
                line = lines[int(match[1]) - 1]
                assert key in line or re.search(r"\]$", match[2]), text
                n_checked += 1
    assert n_checked > 50
