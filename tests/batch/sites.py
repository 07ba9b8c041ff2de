"""Small scenes for batches: the starter scene, with one worker or two and two bolts to turn."""

from __future__ import annotations

from collections.abc import Generator, Iterator
from pathlib import Path

from reach.batch.perform import perform
from reach.batch.task import Ended, Task
from reach.files.starter import SCENE

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

SECOND_WORKER = """
[workers.W2]
size = "small"
suit = "halden"
hand = "left"
"""


def site(folder: Path, bolt_y: float = 0.15, torque: str = "20 N m") -> Path:
    """One worker, two bolts, one of which is given; the tool gives it at most 34 N m."""
    folder.mkdir(parents=True)
    scene = SCENE.replace("[0.55, 0.15, 1.60]", f"[0.55, {bolt_y}, 1.60]")
    (folder / "scene.toml").write_text(scene.replace('"20 N m"', f'"{torque}"', 1))
    (folder / "procedure.toml").write_text(PROCEDURE)
    return folder


def site_of_two(folder: Path) -> Path:
    """W1 (medium, right-handed) takes PB1; W2 (small, left-handed) takes PB2."""
    site(folder)
    file = folder / "scene.toml"
    file.write_text(file.read_text().replace("\n# Limits", f"{SECOND_WORKER}\n# Limits"))
    head, *steps = PROCEDURE.split("[[steps]]\n")
    head = head.replace('{ W1 = "worker" }', '{ W1 = "worker", W2 = "worker" }')
    place = "\n".join(
        line for line in steps[0].splitlines() if line[:5] in ("where", "restr", "setti")
    )
    right = steps[2].replace('lane = "W1"', f'lane = "W2"\n{place}')
    text = "[[steps]]\n".join([head, *steps[:2], right])
    (folder / "procedure.toml").write_text(text)
    return folder


def broken_site(folder: Path) -> Path:
    """A scene with two mistakes."""
    site(folder)
    file = folder / "scene.toml"
    file.write_text(
        file.read_text().replace("bays = 4", "bayz = 4").replace('"20 N m"', '"20 N n"', 1)
    )
    return folder


def in_this_process(tasks: Iterator[Task | None], jobs: int) -> Generator[Ended | None, None, None]:
    """Stands in for worker processes where a test is not about them: they start slowly."""
    yield from (perform(task) if task else None for task in tasks)


def contents(out: Path) -> dict[str, bytes]:
    """Every file below a folder."""
    files = (path for path in out.rglob("*") if path.is_file())
    return {path.relative_to(out).as_posix(): path.read_bytes() for path in files}
