"""The user's guide keeps up with the program: made pages, sessions, links, nothing left out."""

from __future__ import annotations

import importlib.util
import re
import shlex
import subprocess
import sys
import tomllib
from contextlib import chdir
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from reach.cautions import CAUTIONS
from reach.checks import CHECKS
from reach.cli import app
from reach.files.schema import meanings
from reach.model.limits import LIMITS
from reach.model.runs import RunList
from reach.settings import wording as settings
from reach.units import SI, UNITS

ROOT = Path(__file__).parents[1]
DOCS = ROOT / "docs"
GUIDE = (DOCS / "guide.md").read_text(encoding="utf-8")
README = (ROOT / "README.md").read_text(encoding="utf-8")
COMMANDS = {
    command.name: command
    for command in typer.main.get_command(app).commands.values()  # type: ignore[attr-defined]
}


def loaded():
    """The script that makes the pages, as a module."""
    spec = importlib.util.spec_from_file_location("write_pages", DOCS / "write.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules["write_pages"] = module
    spec.loader.exec_module(module)
    return module


write = loaded()
QUICK = write.quick_pages()


@pytest.fixture(scope="module")
def sessions():
    """Every session of the page on commands, run once."""
    return write.sessions.run_all()


def page(name):
    return (DOCS / name).read_text(encoding="utf-8")


MADE_ANEW = "is out of date: run `python docs/write.py`"


@pytest.mark.parametrize("name", sorted(QUICK))
def test_a_page_is_what_the_program_makes_of_itself_now(name):
    assert page(name) == QUICK[name], f"docs/{name} {MADE_ANEW}"


def test_the_page_on_commands_shows_what_the_commands_print_now(sessions):
    made = write.commands.pages(sessions)["commands.md"]
    assert page("commands.md") == made, f"docs/commands.md {MADE_ANEW}"


def test_every_command_has_a_session_or_says_why_not():
    told = {*write.sessions.SESSIONS, *write.sessions.LONG}
    assert set(COMMANDS) - told == set()
    assert told - set(COMMANDS) == set()
    assert not set(write.sessions.SESSIONS) & set(write.sessions.LONG)
    assert all(len(why) > 20 for why in write.sessions.LONG.values())


def test_a_session_ends_without_an_error_and_says_something(sessions):
    for name, shown in sessions.items():
        typed, *printed = shown.splitlines()
        assert typed.startswith("$ "), name
        assert any(line.strip(" …") for line in printed), name
        assert "Traceback" not in shown, name


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_every_command_and_option_is_on_its_page(name):
    text = page("commands.md")
    section = text.partition(f"\n## reach {name}\n")[2].partition("\n## ")[0]
    assert section
    for parameter in COMMANDS[name].params:
        for option in (*parameter.opts, *parameter.secondary_opts):
            if option.startswith("-") and option != "--help":
                assert f"`{option}`" in section, option


@pytest.mark.parametrize("check", [*CHECKS, settings], ids=lambda check: check.NAME)
def test_every_check_has_its_four_paragraphs(check):
    section = page("checks.md").partition(f"\n## {check.NAME}\n")[2].partition("\n## ")[0]
    for word in ("Question.", "Margin.", "Limit.", "Blind spots."):
        assert f"**{word}** " in section
    assert all(one in section for one in check.IDS)


def test_every_limit_stands_with_value_source_and_mark():
    section = page("checks.md").partition("\n## All limits\n")[2]
    shipped = tomllib.loads((ROOT / "models" / "limits.toml").read_text("utf-8"))["limits"]
    rows = dict(re.findall(r"^\| `([a-z_]+)` \| (.*) \|$", section, re.MULTILINE))
    assert list(rows) == list(LIMITS)
    for name, row in rows.items():
        _, value, source, mark, users = re.split(r" (?<!\\)\| ", row)[:5]
        assert str(shipped[name]["value"]) in value
        assert source.startswith(shipped[name]["source"][:20])
        assert mark == shipped[name]["mark"]
        assert users


def test_every_key_of_every_record_is_on_a_page():
    text = page("scene.md") + page("procedure.md") + page("runs.md")
    for record, keys in meanings().items():
        section = text.partition(f"\n## {record}\n")[2].partition("\n## ")[0]
        for key, meaning in keys.items():
            assert f"| `{key}` |" in section, f"{record}.{key}"
            assert meaning.split("<")[0].split("`")[0][:40] in section, f"{record}.{key}"


def examples(name):
    return re.findall(r"```toml\n(.*?)```", page(name), re.DOTALL)


@pytest.mark.parametrize(("name", "least"), [("scene.md", 35), ("procedure.md", 30)])
def test_examples_are_toml_and_there_are_many(name, least):
    found = examples(name)
    assert len(found) >= least
    assert all(tomllib.loads(text) for text in found)


def test_the_list_of_runs_that_is_shown_is_one():
    (shown,) = examples("runs.md")
    runs = RunList.model_validate(tomllib.loads(shown)).runs
    assert [run.scene for run in runs] == ["sites/north", "sites/south"]


def anchors(text):
    """The anchors of a page's headings; code is none of it."""
    plain = re.sub(r"```.*?```", "", text, flags=re.DOTALL)
    return {write.checks.anchor(head) for head in re.findall(r"^#+ (.+)$", plain, re.MULTILINE)}


PAGES = ["README.md", *(f"docs/{path.name}" for path in sorted(DOCS.glob("*.md")))]


@pytest.mark.parametrize("name", PAGES)
def test_every_link_leads_somewhere(name):
    path = ROOT / name
    text = re.sub(r"```.*?```", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
    for target in re.findall(r"\]\(([^)\s]+)\)", text):
        file, _, place = target.partition("#")
        assert not file.startswith(("http:", "https:", "/")), target
        there = (path.parent / file).resolve() if file else path
        assert there.exists(), f"{name}: {target}"
        if place:
            assert place in anchors(there.read_text(encoding="utf-8")), f"{name}: {target}"


def test_all_pages_are_reachable_from_the_readme():
    seen, waiting = set(), [ROOT / "README.md"]
    while waiting:
        path = waiting.pop()
        if path in seen or path.suffix != ".md":
            continue
        seen.add(path)
        for target in re.findall(r"\]\(([^)#\s]+)", path.read_text(encoding="utf-8")):
            waiting.append((path.parent / target).resolve())
    assert set(DOCS.glob("*.md")) <= seen


def test_notebooks_are_named_in_the_guide():
    for path in (ROOT / "notebooks").glob("*.ipynb"):
        assert f"notebooks/{path.name}" in GUIDE


def test_the_guide_carries_every_caution_word_for_word():
    told = GUIDE.partition("<!-- cautions -->\n")[2].strip().splitlines()
    assert told == [
        f"{number}. {caution.replace(' (hash {hash})', '')}"
        for number, caution in enumerate(CAUTIONS, start=1)
    ]


def test_the_guide_lists_the_units_that_are_read():
    rows = re.findall(
        r"^\| ([a-z]+) \| ([^|]+) \| ([^|]+) \|$",
        GUIDE.partition("<!-- units -->\n")[2].partition("\n\n")[0],
        re.MULTILINE,
    )
    listed = {kind: (si.strip(), others.strip()) for kind, si, others in rows if kind in UNITS}
    wanted = {
        kind: (SI[kind], ", ".join(units))
        for kind, units in UNITS.items()
        if kind not in ("turning", "ratio")
    }
    assert listed == wanted


def test_sessions_of_the_guide_are_as_printed(tmp_path):
    """Each line that is shown stands in the output, after the one before."""
    blocks = re.findall(r"<!-- session -->\n```\n(.*?)```", GUIDE, re.DOTALL)
    assert len(blocks) >= 3
    runner = CliRunner(env={"COLUMNS": write.sessions.WIDTH, "NO_COLOR": "1"})
    with chdir(tmp_path):
        for block in blocks:
            for typed, shown in re.findall(r"^\$ (.+)\n((?:(?!\$ ).*\n)*)", block, re.MULTILINE):
                if not typed.startswith("reach "):
                    subprocess.run(typed, shell=True, check=True)
                    continue
                result = runner.invoke(app, shlex.split(typed)[1:])
                printed = iter(write.sessions.steady(result.stdout).splitlines())
                for line in (line for line in shown.splitlines() if line not in ("…", "")):
                    assert line in printed, line


def test_the_wheel_takes_the_meanings_along():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    built = project["tool"]["hatch"]["build"]["targets"]
    # Whatever lies in the package goes along, unless it is excluded or not in version control.
    assert built["wheel"]["packages"] == ["reach"]
    assert not {"exclude", "only-include", "include"} & set(built["wheel"])
    assert (ROOT / "reach" / "files" / "meanings.toml").is_file()
    ignored = (ROOT / ".gitignore").read_text("utf-8").split()
    assert not any(Path("meanings.toml").match(line) for line in ignored)
    assert "docs" in built["sdist"]["include"]
