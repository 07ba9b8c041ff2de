"""One small scene and one server for all tests of the page."""

import os
import re
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

from reach.files.starter import write_starter

ROOT = Path(__file__).parents[2]


PLAIN = """
# A rail that leads from the socket on, so that there is a way.
[handrails.RB]
from = [0.35, 0.20, 0.30]
to = [0.50, 0.25, 1.00]

# Few settings, so that all of them are tried in no time.
[restraints.plain]
kind = "foot restraint"
holds_torque = "200 N m"
chain = [
    { name = "clocking", turn = "z", from = 0, to = "330 deg", step = "30 deg", numbered = true },
    { shift = [0, 0, 0.35] },
]
"""


@dataclass(frozen=True)
class Served:
    """A page that is being served: its address with and without the token."""

    address: str
    root: str
    token: str
    out: Path
    pid: int


@pytest.fixture(scope="package")
def osier(tmp_path_factory):
    """The starter scene, with a second procedure whose right bolt is turned first."""
    folder = tmp_path_factory.mktemp("page") / "osier"
    write_starter(folder)
    with (folder / "scene.toml").open("a") as scene:
        scene.write(PLAIN)
    text = (folder / "procedure.toml").read_text()
    swapped = text.replace('fastener = "PB1"', "swap").replace(
        'fastener = "PB2"', 'fastener = "PB1"'
    )
    (folder / "other.toml").write_text(swapped.replace("swap", 'fastener = "PB2"'))
    return folder


@pytest.fixture(scope="package")
def served(osier, tmp_path_factory):
    """The page of the starter scene in a process of its own; it must end by itself when asked."""
    out = tmp_path_factory.mktemp("page-out") / "exports"
    command = [sys.executable, "-m", "reach", "view", str(osier), "--no-open", "--out", str(out)]
    command += ["--with", "other.toml"]
    log = tmp_path_factory.mktemp("page-log") / "log.txt"
    with log.open("w") as errors:
        process = subprocess.Popen(
            command, cwd=ROOT, stderr=subprocess.PIPE, text=True, env={**os.environ}
        )
        found = None
        for line in process.stderr:
            errors.write(line)
            found = re.search(r"(http://127\.0\.0\.1:\d+)/\?token=(\S+)", line)
            if found:
                break
        assert found, log.read_text()
        yield Served(found[0], found[1], found[2], out, process.pid)
        process.send_signal(2)
        rest = process.communicate(timeout=20)[1]
        assert process.returncode == 0, rest
        assert "Traceback" not in rest, rest
