"""Colours of the pictures, by what they mean; each meaning also has a shape or a line of its own.

Verdicts keep the colours of the printed table: dark violet, pale blue, mid blue.  The rest are
teal and ochre families between a pale ground and ink, apart in lightness for every kind of
colour vision and on a grey print.
"""

from __future__ import annotations

from reach.finding import Verdict

INK = "#1b1a2b"
"""Text, witness lines, outlines."""

SOFT_INK = "#5a5c6e"
"""Names of things that are not asked about."""

PAPER = "#fbfaf7"
"""Panel and labels."""

GROUND = "#e9e9ea"
SKY = "#f7f6f3"
"""Lower and upper end of the background."""

STRIP = "#2a2440"
"""Title strip."""

FASTENER = "#f0a202"
"""Head and axis of the fastener: ochre with an ink edge, a ring round it."""

TOOL = "#0a6b70"
"""Tool in the hand: dark teal."""

ENVELOPE = "#5cc5b5"
"""Surface that the tool tip can reach: translucent pale teal."""

SPHERE = "#1f857b"
"""Outline of what a wrist can reach: teal, dashed."""

SIGHT = "#2b6ea6"
"""Line of sight: blue, dotted."""

FAIL = "#5b2a86"
"""What fails: violet with a white edge and a cross."""

OPEN = "#9cc9e8"
"""What is not settled: pale blue with an ink edge."""

HAZARD = "#8c5712"
"""Hazards: brown, outlined in dashes."""

SUIT = "#f2ead9"
HELMET = "#ffffff"
VISOR = "#454a78"
BACKPACK = "#b9a98f"
LEG = "#dccfb6"
BOOT = "#6b5a45"
ARM = "#d9a86b"
"""The arm that works: ochre; the suit and the idle arm are ivory."""

IDLE_ARM = "#e6dbc4"
RESTRAINT = "#3f4356"
STRUCTURE = "#8390a5"
FAR_STRUCTURE = "#dfe1e5"
"""Structure close to the worksite and far from it."""

GHOST = "#9aa4b5"
"""Structure between the viewer and the worker, drawn as a veil."""

HANDRAIL = "#b98a3a"
OTHER_FASTENER = "#6d5d34"

RAIL_USED = "#c8860d"
"""Rails that a way goes by: strong ochre; others are paler and thinner."""

RAIL_BEYOND = "#35649b"
"""Rails on the far side of a gap that is too wide: blue, darker than ochre."""

CORRIDOR = "#5cc5b5"
"""Tube that must be free: translucent pale teal."""

LINE = "#0a6b70"
TAUT = "#1b1a2b"
"""Safety line as it is led, dotted dark teal, and pulled tight, solid ink."""

CRANE, CRANE_START = "#4a6d94", "#c3cfdf"
"""Links of a crane: slate blue; as it comes from elsewhere the same, faint."""

MINUTES = ("#f4e9b8", "#b9d49a", "#6fb3a0", "#3f7f9e", "#3b4a86", "#2b1f55")
"""Minutes home from few to many: pale yellow over green and blue to dark violet, ever darker."""

CARGO = "#c8860d"
CARGO_PALE = "#e9c988"
"""A payload that is moved, at its worst moment, and at its waypoints, which are translucent."""

WAY = "#0a6b70"
"""The way of a payload: dark teal tube."""

CRANE_LINK = "#6f7fb0"
"""Links of a crane: blue grey, darker than structure."""

STAND_OFF = "#b9874a"
"""How far off a hazard is to be kept: translucent brown shell."""

CURVE = "#0a6b70"
CURVE_BETWEEN = "#bfe3dd"
"""Bound of the clearance along a way: dark teal, and what lies between it and a witness: pale."""

NO_WAY = "#9a9aa2"
"""Grips from which no rails lead home."""

VERDICT = {
    Verdict.FAIL: FAIL,
    Verdict.OPEN: OPEN,
    Verdict.REVIEW: SIGHT,
    Verdict.PASS: PAPER,
    Verdict.NOT_ASKED: PAPER,
}
"""Fill of a verdict's badge; its shape and word stand in it."""

APART = {
    "fastener": FASTENER,
    "tool": TOOL,
    "envelope": ENVELOPE,
    "fail": FAIL,
    "working arm": ARM,
    "suit": SUIT,
    "structure": STRUCTURE,
    "hazard": HAZARD,
    "visor": VISOR,
    "ink": INK,
}
"""Colours that must be told apart in one picture."""


def mixed(colour: str, other: str, share: float) -> str:
    """Return a colour with a share (0 to 1) of another one mixed in.

    Examples
    --------
    >>> mixed("#000000", "#ffffff", 0.5)
    '#808080'
    """
    parts = (
        round((1 - share) * a + share * b) for a, b in zip(rgb(colour), rgb(other), strict=True)
    )
    return "#" + "".join(f"{part:02x}" for part in parts)


def rgb(colour: str) -> tuple[int, int, int]:
    """Return red, green and blue, 0 to 255, of a colour such as ``"#f0a202"``.

    Examples
    --------
    >>> rgb(FASTENER)
    (240, 162, 2)
    """
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def graded(share: float) -> str:
    """Return the colour of `MINUTES` at a share from 0 (few) to 1 (many).

    Examples
    --------
    >>> graded(0.0) == MINUTES[0], graded(2.0) == MINUTES[-1]
    (True, True)
    """
    at = min(1.0, max(0.0, share)) * (len(MINUTES) - 1)
    k = min(int(at), len(MINUTES) - 2)
    return mixed(MINUTES[k], MINUTES[k + 1], at - k)
