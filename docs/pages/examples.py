"""Short real examples of records, cut from the demo's files and those that `reach new` writes."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from typing import NamedTuple

from reach.files.starter import PROCEDURE, SCENE

ROOT = Path(__file__).parents[2]

STARTS = {
    "Scene": (r"format = 1$",),
    "Solid": (r"\[solids\.panel\]",),
    "Hazard": (r"\[hazards\.star-sensor-hood\]",),
    "Truss": (r"\[solids\.post\.truss\]",),
    "Cylinder": (r"cylinder = ",),
    "Cone": (r"cone = ",),
    "Turn": (r"turn = \[\{",),
    "Payload": (r"\[payloads\.relay-boom\]",),
    "Placed": (r"\[payloads\.relay-boom\.poses\.seated\]",),
    "Path": (r"\[payloads\.relay-boom\.paths\.low-way\]",),
    "Leg": (r"\[payloads\.relay-boom\.paths\.low-way\.legs\.lifted\]",),
    "Guide": (r"\[guides\.",),
    "Crane": (r"\[cranes\.",),
    "Camera": (r"\[cameras\.CAM-1\]",),
    "Handrail": (r"\[handrails\.",),
    "Hatch": (r"\[hatches\.",),
    "Tether": (r"\[tethers\]",),
    "Heading": (r"\[headings\]",),
    "Anchor": (r"\[anchors\]",),
    "Socket": (r"\[sockets\.",),
    "Station": (r"\[stations\.M8\]",),
    "Rating": (r"rating = \{",),
    "Fastener": (r"\[fasteners\.PB1\]",),
    "Tolerance": (r"tolerance = \{ sigma",),
    "Worker": (r"\[workers\.R1\]", r"\[workers\."),
    "Item": (r"\[items\]",),
    "Restraint": (r"\[restraints\.foot-restraint\]",),
    "Handle": (r"handle = \{",),
    "Tool": (r"\[tools\.power-drive\]",),
    "Swing": (r"swing = \{",),
    "Bit": (r"\[bits\.",),
    "Extension": (r"\[extensions\.",),
    "Shell": (r"\[suits\.halden\.torso\]",),
    "Size": (r"\[sizes",),
    "Provenance": (r"\[restraints\.foot-restraint\.sources\]",),
    "WrittenLimit": (r"\[limits\.body_clearance\]",),
    "Procedure": (r"format = 1$",),
    "Start": (r"\[begin\]",),
    "Ends": (r"\[begin\.lines\]",),
    "Store": (r"\[stores\]",),
    "Windows": (r"\[windows\.night\]",),
    "Inhibit": (r"\[inhibits\]",),
    "TurnOrder": (r"\[orders\]",),
    "Guard": (r"\[guards\]",),
    "Clock": (r"\[clocks\]",),
    "Phase": (r"\[phases\.release\]",),
    "End": (r"\[end\]",),
    "Left": (r"\[end\.left\]",),
    "Step": (r'name = "left bolt"',),
    "Aside": (r"body = \{",),
}
"""Record -> how a line begins with which an example of it does; the first file that has one."""


class Example(NamedTuple):
    """Some lines of TOML, and the file that they stand in."""

    text: str
    file: str


@cache
def files() -> dict[str, str]:
    """Return the files that examples are taken from: shown name -> text, the shortest first."""
    found = {"scene.toml of `reach new`": SCENE, "procedure.toml of `reach new`": PROCEDURE}
    for path in (
        "scenes/tallowmere/scene.toml", "scenes/tallowmere/rig.toml",
        "scenes/brackenfall/scene.toml", "scenes/brackenfall/outing.toml",
        "scenes/brackenfall/mended.toml", "models/restraints.toml", "models/tools.toml",
        "models/suits.toml", "models/sizes.toml",
    ):  # fmt: skip
        found[path] = (ROOT / path).read_text(encoding="utf-8")
    return found


def example_of(record: str, procedure: bool, action: str = "") -> Example | None:
    """Return an example of a record, or None where no file has one.

    Parameters
    ----------
    record : str
    procedure : bool
        Whether it is one of a procedure, else of a scene.
    action : str
        What ``do`` says, of an action.
    """
    for file, text in files().items():
        if ("lanes" in text) is not procedure:
            continue
        lines = text.splitlines()
        if action and (found := _action(lines, action)):
            return Example(found, file)
        for start in STARTS.get(record, ()):
            for i, line in enumerate(lines):
                if re.match(start, line):
                    return Example(_block(lines, i), file)
    return None


def _action(lines: list[str], action: str) -> str:
    """Return the first action that does this, in one line or as a table of its own."""
    word = re.escape(action)
    for i, line in enumerate(lines):
        if found := re.search(rf'\{{ do = "{word}".*?\}}(?= ?[,\]]|,?$)', line):
            return f"actions = [{found.group()}]"
        if re.match(rf'do = "{word}"', line):
            return _table(lines, i - 1)
    return ""


def _table(lines: list[str], i: int) -> str:
    last = i + 1
    while last < len(lines) and lines[last].strip() and not lines[last].startswith("["):
        last += 1
    return "\n".join(lines[i:last])


def _block(lines: list[str], i: int) -> str:
    """Return a table to the next empty line, or a key with all of its value."""
    if lines[i].startswith("name = "):
        i -= 1
    last = i + 1
    if lines[i].startswith(("[", "format")):
        while last < len(lines) and (lines[last].strip() or _is_open(lines[i:last])):
            last += 1
    else:
        while _is_open(lines[i:last]):
            last += 1
    return "\n".join(lines[i:last])


def _is_open(lines: list[str]) -> bool:
    text = "\n".join(re.sub(r'"[^"]*"|#.*', "", line) for line in lines)
    return text.count("[") + text.count("{") > text.count("]") + text.count("}")
