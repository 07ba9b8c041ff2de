"""People who hold a payload: postures with both hands on grips, margins, the body that results.

`grasped_of` says how a worker of a situation holds one or two grips, `body_of` what room the
body takes up while it does, or at rest.
"""

from reach.grasping.bars import (
    Bar,
    bars_of,
    moved_around,
    riding,
    trees_of,
    without_direction,
)
from reach.grasping.bodies import body_of
from reach.grasping.grasped import Grasped, bare_hands, grasped_of
from reach.grasping.margins import DIRECTIONS, MOST, Margin, short_of

__all__ = [
    "DIRECTIONS",
    "MOST",
    "Bar",
    "Grasped",
    "Margin",
    "bare_hands",
    "bars_of",
    "body_of",
    "grasped_of",
    "moved_around",
    "riding",
    "short_of",
    "trees_of",
    "without_direction",
]
