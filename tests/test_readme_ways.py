"""What the README shows of ways, minutes home, clocks, cranes and variations is as printed."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
from typer.testing import CliRunner

import reach.cli

README = (Path(__file__).parents[1] / "README.md").read_text()


SESSIONS = (
    "route", "no way", "returns", "clock", "crane", "sweep", "ledger", "ledger changes", "what if",
)  # fmt: skip


@pytest.mark.parametrize("name", SESSIONS)
def test_a_session_of_the_readme_is_as_printed(name: str) -> None:
    found = re.search(rf"<!-- {name} -->\n```\n\$ reach (.*?[^\\])\n(.*?)```", README, re.DOTALL)
    assert found
    typed, shown = found.groups()
    runner = CliRunner(env={"COLUMNS": "100"})
    result = runner.invoke(reach.cli.app, shlex.split(typed.replace("\\\n", " ")))
    printed = iter(result.stdout.splitlines())
    lines = [line for line in shown.splitlines() if line not in ("…", "")]
    assert len(lines) > 5
    for line in lines:  # each after the one before
        assert line in printed, line
