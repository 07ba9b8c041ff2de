"""Geometry of safety lines: pulled tight, near edges, crossing, swinging, slack.

Arrays in, in metres and one frame; small frozen records out.  What each answer
proves, and what it is blind to, stands at the head of its module.
"""

from reach.lines.crossing import Approach, Crossing, approaches, crossings
from reach.lines.edges import Touch, touches
from reach.lines.entangling import Crossings, gauss_integral, seen_crossings
from reach.lines.moving import MovingLine
from reach.lines.slack import SlackGap, slack_gap
from reach.lines.swing import Swing, swing
from reach.lines.taut import Taut, taut

__all__ = [
    "Approach",
    "Crossing",
    "Crossings",
    "MovingLine",
    "SlackGap",
    "Swing",
    "Taut",
    "Touch",
    "approaches",
    "crossings",
    "gauss_integral",
    "seen_crossings",
    "slack_gap",
    "swing",
    "taut",
    "touches",
]
