"""A post with a panel and a short walk: the starter scene, with a second worker who moves."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from reach.files.procedure import LoadedProcedure, load_procedure
from reach.files.scene import LoadedScene, load_scene
from reach.files.starter import SCENE
from reach.run import Outcome, check
from reach.varying import variations_of, varied_copies

PROCEDURE = """\
format = 1
title = "Open the panel"
lanes = { W1 = "worker" }

[[steps]]
name = "stand"
lane = "W1"
start = "00:10"
duration = "5 min"
where = "SA"
restraint = "FR-A"
setting = { clocking = 0, pitch = "0 deg", roll = "0 deg", yaw = 0 }
actions = [{ do = "ingress" }]

[[steps]]
name = "left bolt"
lane = "W1"
after = ["stand"]
duration = "4 min"
actions = [{ do = "drive", fastener = "PB1", tool = "power-drive", bit = "S-16" }]

[[steps]]
name = "right bolt"
lane = "W1"
after = ["left bolt"]
duration = "4 min"
actions = [{ do = "drive", fastener = "PB2", tool = "power-drive", bit = "S-16" }]
"""

MORE = """
[workers.W2]
size = "small"
suit = "halden"
hand = "left"

[hatches.lock]
at = [-0.4, 2.4, 0]

[handrails.RB]
from = [0, 2, 0]
to = [2, 2, 0]
out = [0, 1, 0]

[handrails.RC]
from = [2.5, 2, 0]
to = [4.5, 2, 0]
out = [0, 1, 0]

[anchors.A0]
at = [0, 2, 0.1]

[tethers.T1]
length = "12 m"
anchor = "A0"
worker = "W2"
"""
WALK = """
[[steps]]
name = "walk"
lane = "W2"
route = ["RB", "RC"]
actions = [{ do = "translate", from = "lock", to = "RC@1.0", tether = "T1" }]
"""


def lookout(folder: Path) -> Path:
    """W1 (medium, right-handed) turns PB1 and PB2 from SA; W2 (small, left-handed) walks."""
    folder.mkdir()
    (folder / "scene.toml").write_text(SCENE + MORE)
    lanes = PROCEDURE.replace('{ W1 = "worker" }', '{ W1 = "worker", W2 = "worker" }')
    (folder / "procedure.toml").write_text(lanes + WALK)
    return folder


def loaded_of(folder: Path) -> tuple[LoadedScene, LoadedProcedure]:
    """Scene and procedure of a folder."""
    loaded = load_scene(folder)
    return loaded, load_procedure(None, loaded)


def checked(folder: Path, what_if: str = "", **asked: Any) -> Outcome:
    """What is found in a folder, as written or varied."""
    pair = loaded_of(folder)
    if what_if:
        pair = varied_copies(*pair, variations_of(what_if))
    return check(*pair, **asked)


def told(outcome: Outcome) -> list[tuple[object, ...]]:
    """Findings as far as they can be compared, in words and numbers."""
    return [
        (one.check, one.step, one.about, one.case, one.low, one.high, one.because, one.fix)
        for one in outcome.findings
    ]
