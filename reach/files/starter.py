"""A small scene to start from, with comments: written whole into an empty folder."""

from __future__ import annotations

from pathlib import Path

from reach.files.problem import InputError, Problem
from reach.files.results import Together, make_folder
from reach.files.writing import sweep

SCENE = """\
# A worksite to start from: change it piece by piece and run `reach check .` after each change.
#
# Numbers are SI (m, rad, kg, N, N m, s); text with a unit works too: "24 in", "15 deg".
# Every thing has a name of its own and stands in a frame: "world" or another thing (key `in`).
format = 1
title = "Osier depot: panel on the north post"
procedure = "procedure.toml"

# Kinds of hardware, size classes and suits that come with the program.
use = ["shipped:tools", "shipped:restraints", "shipped:sizes", "shipped:suits"]

# Structure: hands, helmets and tools must stay clear of it, and it hides what is behind it.
[solids.post]
title = "Open lattice post, standing up along z"
at = [0.85, 0, -0.3]
turn = [{ axis = [0, 1, 0], angle = "-90 deg" }]  # the beam runs along x before it is turned

[solids.post.truss]
bays = 4
bay = 0.6
width = 0.3
height = 0.3
chord = 0.02  # radii of the tubes
batten = 0.012
diagonal = 0.01

[solids.panel]
title = "Panel on the post, facing the worker"
at = [0.62, 0, 1.6]
box = [0.06, 0.5, 0.5]

[solids.bracket]
title = "Arm that carries the socket"
at = [0.40, 0, -0.05]
box = [0.90, 0.10, 0.10]

# A socket takes a restraint: `axis` points out of it, `zero` is where clocking 0 points.
[sockets.SA]
at = [0, 0, 0]
axis = [0, 0, 1]
zero = [1, 0, 0]
tolerance = { box = "3 mm" }  # how far it may be off each way; or { sigma = "1 mm" }

# A rated rail: something to hold while the boots go into the restraint and come out of it.
[handrails.RA]
from = [0.55, 0.27, 1.40]
to = [0.55, 0.27, 1.80]

# Items are pieces that exist once: FR-A is a foot restraint of the shipped kind.
[items]
FR-A = { is = "foot-restraint" }
PD-A = { is = "power-drive", takes = 2 }  # takes: slots of a bag that it fills
B16-A = { is = "S-16" }
BG-A = { slots = 4, note = "tool bag" }

# What tethers hook to, and the safety lines: all the line there is, hook to hook.
[anchors]
AN-A = { at = [0.2, 0.1, 0], rating = "2 kN" }
AN-B = { at = [0.2, -0.1, 0], rating = "2 kN" }

[tethers]
LN-A = { length = "20 m", anchor = "AN-A", worker = "W1" }
LN-B = { length = "10 m", anchor = "AN-B" }

# A fastener is where its head is; `axis` points away from the structure, towards the worker.
[fasteners.PB1]
title = "Panel bolt, left"
at = [0.55, 0.15, 1.60]
axis = [-1, 0, 0]
head = "16 mm"
torque = "20 N m"
push = "20 N"  # how hard it is pushed home; most_push says what it bears
turns = 12
tools = ["power-drive"]

[fasteners.PB2]
title = "Panel bolt, right"
at = [0.55, -0.15, 1.60]
axis = [-1, 0, 0]
head = "16 mm"
torque = "20 N m"
push = "20 N"
turns = 12
tools = ["power-drive"]

[workers.W1]
size = "medium"  # or percentile = 30 with sex = "female", measurements of the person, population
suit = "halden"
hand = "right"

# Limits that are left out are the shipped ones; each is printed with its source.
[limits.body_clearance]
value = "0.08 m"
source = "your own rule"
mark = "entered by the user"
"""

PROCEDURE = """\
# What is asked: steps in lanes.  A lane of kind "worker" has the name of a worker in the scene.
format = 1
title = "Open the panel"
lanes = { W1 = "worker", IN = "inside lead" }

# How everything is at the start: who is where, what is in or on what, where both ends of each
# line are.  A long list of items goes into a table: [tables] with items = "stowage.csv".
[begin]
workers = { W1 = "SA" }
items = { FR-A = "SA", BG-A = "AN-A", PD-A = "BG-A", B16-A = "BG-A" }
lines = { LN-A = { hook = "AN-A", reel = "W1" }, LN-B = { hook = "AN-B", reel = "AN-A" } }

# What runs down: turns of a battery, of which a share must stay.
[stores]
PD-A = { turns = 150, reserve = 0.2 }

# Barriers that somebody confirms, times in which work is allowed, and what a fastener waits for.
[inhibits]
panel-off = { title = "Panel without power" }

[windows]
contact = { spans = [["00:05", "01:00"]], margin = "2 min" }

[guards]
PB1 = { inhibits = ["panel-off"], window = "contact" }
PB2 = { after = ["PB1"], window = "contact" }

# How everything has to be at the end; what stays outside has an owner and a date.
[end]
items = { FR-A = "SA", BG-A = "AN-A", PD-A = "BG-A", B16-A = "BG-A" }
lines = { LN-A = { hook = "AN-A", reel = "AN-A" }, LN-B = { hook = "AN-B", reel = "W1" } }

[end.left]
FR-A = { owner = "next outing", until = "next outing" }
BG-A = { owner = "next outing", until = "next outing" }
PD-A = { owner = "next outing", until = "next outing" }
B16-A = { owner = "next outing", until = "next outing" }

[[steps]]
name = "stand"
lane = "W1"
start = "00:10"  # hours and minutes since the start
duration = "5 min"
with = ["IN"]  # other lanes that are in it from begin to end
where = "SA"
restraint = "FR-A"
# One value for each joint: the detent number of a numbered joint, the angle of any other.
setting = { clocking = 0, pitch = "0 deg", roll = "0 deg", yaw = 0 }
actions = [
    { do = "ingress" },
    # Another line: first the new one on and its hook checked, then the old one off, parked.
    { do = "attach", what = "LN-B", to = "W1", checked = true },
    { do = "release", what = "LN-A", from = "W1", to = "AN-A" },
    { do = "pick up", items = ["BG-A"] },
    { do = "confirm", inhibit = "panel-off" },
]

# A step without `where` goes on from where the worker was left.
[[steps]]
name = "left bolt"
lane = "W1"
after = ["stand"]
duration = "4 min"
actions = [{ do = "drive", fastener = "PB1", tool = "PD-A", bit = "B16-A" }]

[[steps]]
name = "right bolt"
lane = "W1"
after = ["left bolt"]
between = ["3 min", "6 min"]  # how long it takes at least and at most
duration = "4 min"
actions = [
    { do = "drive", fastener = "PB2", tool = "PD-A", bit = "B16-A" },
    { do = "glove check" },
    { do = "stow", items = ["BG-A"], to = "AN-A" },
]
"""

FILES = {"scene.toml": SCENE, "procedure.toml": PROCEDURE}


def write_starter(folder: str | Path) -> list[Path]:
    """Write the starter scene into a new or empty folder and return the files written.

    Raises
    ------
    InputError
        If the folder holds anything, or it cannot be made; nothing is written then.
    """
    target = Path(folder)
    if target.exists() and not target.is_dir():
        raise InputError([Problem(str(folder), "", None, "is a file; give a new folder")])
    is_new = not target.exists()
    make_folder(target)
    sweep(target)
    if not is_new and not _is_unfinished(target):
        message = "the folder is not empty; give a new or empty folder"
        raise InputError([Problem(str(folder), "", None, message)])
    paths = [target / name for name in FILES]
    try:
        with Together() as together:
            for path, text in zip(paths, FILES.values(), strict=True):
                together.add(path, text)
    except InputError:
        if is_new:
            target.rmdir()
        raise
    return paths


def _is_unfinished(target: Path) -> bool:
    """Return whether a folder is empty, or holds what a killed run left of the starter."""
    there = list(target.iterdir())
    return len(there) < len(FILES) and all(
        path.is_file() and path.read_bytes() == FILES.get(path.name, "").encode() for path in there
    )
