"""Serial arms such as cranes: where they are, how they reach a pose, how near they come.

Arrays in, arrays out, in metres and radians, in the base frame of the arm unless a world
is given.  `chain_of` makes the flat form all else takes.
"""

from reach.arm.bound import full_reach, shortage
from reach.arm.chain import Chain, chain_of
from reach.arm.clearance import SelfGap, self_clearance, structure_clearance
from reach.arm.covers import Covers, LinkCapsules, covers_of, link_capsules
from reach.arm.following import Followed, follow, follow_all
from reach.arm.forward import piece_poses, tip_jacobian, tip_poses
from reach.arm.gaps import GapBracket, chain_gap, self_chain_gap, self_gap, structure_gap
from reach.arm.margins import Tightest, best_posture, gap_to_limits, tightest
from reach.arm.motion import duration, posture_at
from reach.arm.riding import NearestPart, nearest_at, part_name, with_rider
from reach.arm.solving import Posture, Reached, Solved, describe, posture_for, solutions
from reach.arm.starts import Starts, starts_of
from reach.arm.turned_round import turned_round

__all__ = [
    "Chain",
    "Covers",
    "Followed",
    "GapBracket",
    "LinkCapsules",
    "NearestPart",
    "Posture",
    "Reached",
    "SelfGap",
    "Solved",
    "Starts",
    "Tightest",
    "best_posture",
    "chain_gap",
    "chain_of",
    "covers_of",
    "describe",
    "duration",
    "follow",
    "follow_all",
    "full_reach",
    "gap_to_limits",
    "link_capsules",
    "nearest_at",
    "part_name",
    "piece_poses",
    "posture_at",
    "posture_for",
    "self_chain_gap",
    "self_clearance",
    "self_gap",
    "shortage",
    "solutions",
    "starts_of",
    "structure_clearance",
    "structure_gap",
    "tightest",
    "tip_jacobian",
    "tip_poses",
    "turned_round",
    "with_rider",
]
