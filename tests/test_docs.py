"""What is written for people keeps up with the program."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
import typer

from reach.cautions import CAUTIONS
from reach.checks import CHECKS
from reach.cli import app

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text()
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text()
COMMANDS = {
    command.name: command
    for command in typer.main.get_command(app).commands.values()  # type: ignore[attr-defined]
}


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_every_command_is_in_the_readme(name: str) -> None:
    assert f"reach {name}" in README


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_every_option_of_a_command_is_in_the_readme(name: str) -> None:
    options = {
        option
        for parameter in COMMANDS[name].params
        for option in parameter.opts
        if option.startswith("--") and option != "--help"
    }
    missing = sorted(option for option in options if option not in README)
    assert missing == []


@pytest.mark.parametrize("check", [check.NAME for check in CHECKS])
def test_every_check_is_in_the_readme(check: str) -> None:
    assert re.search(rf"\b{re.escape(check)}\b", README)


def test_the_readme_carries_every_caution() -> None:
    flat = " ".join(README.split())
    for caution in CAUTIONS:
        first = caution.split(".")[0].split("(")[0].strip()
        assert first in flat, first


def test_the_readme_names_the_two_commands_and_shows_a_picture() -> None:
    assert "make demo" in README
    assert "make test" in README
    picture = re.search(r"!\[[^\]]+\]\(([^)]+\.png)\)", README)
    assert picture
    assert (ROOT / picture.group(1)).is_file()


def test_every_dependency_is_explained() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    wanted = [*project["dependencies"]]
    for extra in project["optional-dependencies"].values():
        wanted += extra
    names = {re.split(r"[<>=\[; ]", line)[0].lower() for line in wanted}
    aliases = {"libigl": "libigl", "pin": "pin"}
    missing = [n for n in sorted(names) if aliases.get(n, n) not in DEVELOPERS.lower()]
    assert missing == []


def test_constraints_hold_names_and_versions_only() -> None:
    for line in (ROOT / "constraints.txt").read_text().splitlines():
        assert re.fullmatch(r"[A-Za-z0-9_.\-]+==[A-Za-z0-9_.+\-]+", line), line


def test_every_folder_of_the_package_stands_in_the_layer_table() -> None:
    folders = {p.name for p in (ROOT / "reach").iterdir() if (p / "__init__.py").is_file()}
    missing = sorted(name for name in folders if f"`{name}/`" not in DEVELOPERS)
    assert missing == []
