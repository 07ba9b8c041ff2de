"""The comparison that README.md shows is what is printed, files made as it says."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
from typer.testing import CliRunner

import reach.cli

ROOT = Path(__file__).parents[2]
SHOWN = re.compile(
    r"<!-- compare -->\n```\n\$ sed 's/(.*?)/(.*?)/' \\\n\s+(\S+) > (\S+)\n"
    r"\$ reach (.*?)\n(.*?)```",
    re.DOTALL,
)


def test_the_comparison_in_the_readme_is_as_printed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = SHOWN.search((ROOT / "README.md").read_text())
    assert found
    old, new, source, target, typed, shown = found.groups()
    text = (ROOT / source).read_text()
    assert text.count(old) == 1
    (tmp_path / target).write_text(text.replace(old, new))
    monkeypatch.chdir(tmp_path)
    result = CliRunner(env={"COLUMNS": "100"}).invoke(reach.cli.app, shlex.split(typed))
    assert result.exit_code == 1
    printed = iter(result.stdout.splitlines())
    lines = [line for line in shown.splitlines() if line not in ("…", "")]
    assert len(lines) > 20
    for line in lines:  # each after the one before
        assert line in printed, line
