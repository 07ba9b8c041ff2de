"""Serial arms such as cranes: where they are, how they reach a pose, how near they come.

Arrays in, arrays out, in metres and radians, in the base frame of the arm unless a world
is given.  `chain_of` makes the flat form all else takes.
"""

from reach.arm.bound import full_reach, shortage
from reach.arm.chain import Chain, chain_of
from reach.arm.clearance import SelfGap, self_clearance, structure_clearance
from reach.arm.covers import Covers, LinkCapsules, covers_of, link_capsules
from reach.arm.forward import piece_poses, tip_jacobian, tip_poses
from reach.arm.motion import GapBracket, duration, posture_at, self_gap, structure_gap
from reach.arm.solving import Posture, Reached, Solved, describe, posture_for, solutions
from reach.arm.starts import Starts, starts_of

__all__ = [
    "Chain",
    "Covers",
    "GapBracket",
    "LinkCapsules",
    "Posture",
    "Reached",
    "SelfGap",
    "Solved",
    "Starts",
    "chain_of",
    "covers_of",
    "describe",
    "duration",
    "full_reach",
    "link_capsules",
    "piece_poses",
    "posture_at",
    "posture_for",
    "self_clearance",
    "self_gap",
    "shortage",
    "solutions",
    "starts_of",
    "structure_clearance",
    "structure_gap",
    "tip_jacobian",
    "tip_poses",
]
