"""A small run with a fail, a pass and something not asked, as a dossier and as written files."""

from __future__ import annotations

from pathlib import Path

import pytest

from reach.dossier.dossier import Dossier, dossier_of
from reach.files.procedure import load_procedure
from reach.files.scene import load_scene
from reach.files.starter import PROCEDURE, write_starter
from reach.folder import Written, write_report

EVIL = '<script>alert("x")</script> & =1+1'
"""A title that would do harm if it were not escaped."""

MORE_FASTENERS = """
[fasteners.PB4]
title = "Bolt that nobody reaches from here"
at = [0.55, 2.20, 1.60]
axis = [-1, 0, 0]
head = "16 mm"
tools = ["power-drive"]
"""

MORE_STEPS = """
[[steps]]
name = "too far"
lane = "W1"
where = "SA"
restraint = "FR-A"
setting = { clocking = 0, pitch = "0 deg", roll = "0 deg", yaw = 0 }
actions = [{ do = "drive", fastener = "PB4", tool = "power-drive", bit = "S-16" }]
"""


@pytest.fixture(scope="session")
def yard(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("yard")
    write_starter(folder)
    text = (folder / "scene.toml").read_text(encoding="utf-8")
    title = next(line for line in text.splitlines() if line.startswith("title"))
    text = text.replace(title, f"title = '{EVIL}'", 1)
    (folder / "scene.toml").write_text(text + MORE_FASTENERS, encoding="utf-8")
    (folder / "procedure.toml").write_text(PROCEDURE + MORE_STEPS, encoding="utf-8")
    return folder


@pytest.fixture(scope="session")
def dossier(yard) -> Dossier:
    loaded = load_scene(yard)
    return dossier_of(loaded, load_procedure(None, loaded))


@pytest.fixture(scope="session")
def folder(tmp_path_factory) -> Path:
    return tmp_path_factory.mktemp("handed over")


@pytest.fixture(scope="session")
def written(dossier, folder) -> Written:
    """The report with pictures, in both systems of units."""
    return write_report(dossier, folder, units="both")


@pytest.fixture(scope="session")
def page(written, folder) -> str:
    assert (folder / "report.html") in written.files, written.absent
    return (folder / "report.html").read_text(encoding="utf-8")
