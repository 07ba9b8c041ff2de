"""One small run that all picture tests share: a pass, a fail and a hidden head."""

from __future__ import annotations

import gc

import pytest

from reach.files.starter import PROCEDURE, write_starter
from reach.run import Outcome, check

MORE_FASTENERS = """
[fasteners.PB3]
title = "Bolt on the far side of the panel"
at = [0.70, 0.1, 1.60]
axis = [1, 0, 0]
head = "16 mm"
tools = ["power-drive"]

[fasteners.PB4]
title = "Bolt that nobody reaches from here"
at = [0.55, 2.20, 1.60]
axis = [-1, 0, 0]
head = "16 mm"
tools = ["power-drive"]

[hazards.cable]
kind = "no-touch"
box = [0.1, 0.1, 0.4]
at = [0.5, 0.9, 1.4]
stand_off = 0.1
"""

MORE_STEPS = """
[[steps]]
name = "too far"
lane = "W1"
where = "SA"
restraint = "FR-A"
setting = { clocking = 0, pitch = "0 deg", roll = "0 deg", yaw = 0 }
actions = [{ do = "drive", fastener = "PB4", tool = "power-drive", bit = "S-16" }]

[[steps]]
name = "behind"
lane = "W1"
where = "SA"
restraint = "FR-A"
setting = { clocking = 0, pitch = "0 deg", roll = "0 deg", yaw = 0 }
actions = [{ do = "inspect", fastener = "PB3" }]
"""


@pytest.fixture(scope="session")
def outcome(tmp_path_factory) -> Outcome:
    folder = tmp_path_factory.mktemp("worksite")
    write_starter(folder)
    text = (folder / "scene.toml").read_text()
    rail = text[text.index("[handrails.RA]") : text.index("# Items are pieces")]
    # A rail is nearly as ochre as the fastener, whose pixels are counted.
    (folder / "scene.toml").write_text(text.replace(rail, "") + MORE_FASTENERS)
    (folder / "procedure.toml").write_text(PROCEDURE + MORE_STEPS)
    return check(folder)


@pytest.fixture(autouse=True)
def closed():
    yield
    import pyvista as pv

    pv.close_all()
    gc.collect()
