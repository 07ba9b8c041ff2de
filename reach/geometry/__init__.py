"""Exact geometry on triangles: poses, one search tree, distances, sweeps, rays, inside.

Arrays in, arrays out, in metres and one frame, usually world.  Batch queries
take one row or many and answer the same bits on any number of threads.
Routines whose names end in ``_one`` or ``2`` are for compiled callers.

Numbers are float64 and not rounded outward: for a guaranteed bound subtract
1e-9 m from a distance.
"""

from reach.geometry.clearance import capsule_clearance
from reach.geometry.compiled import awake, compiled, in_chunks, on_one_core, on_waking
from reach.geometry.cylinder import cylinder_overlap, cylinder_overlap_one
from reach.geometry.distance import (
    Nearest,
    point_distance,
    point_tree_distance2,
    segment_distance,
    segment_tree_distance2,
)
from reach.geometry.gap_at_pose import pose_gap
from reach.geometry.gap_found import SweptGap
from reach.geometry.payload_sweep import (
    GapCurve,
    PathGap,
    gap_curve,
    path_gap,
    swept_gap,
)
from reach.geometry.pose import (
    angle_between,
    frame_from_axes,
    inverse,
    mirrored_pose,
    pose_of,
    rotation_about,
    rotation_x,
    rotation_y,
    rotation_z,
    transform_directions,
    transform_points,
)
from reach.geometry.rays import Hit, any_hit, any_hit_one, first_hit, first_hit_one
from reach.geometry.segments import segment_pair_distance, segment_segment_distance
from reach.geometry.sweeping import Swept, swept_clearance
from reach.geometry.tree import STACK, Tree, build
from reach.geometry.tube import Tube, tube_clearance
from reach.geometry.warmup import is_compiled, warm_up
from reach.geometry.winding import inside, winding_number, winding_number_one

__all__ = [
    "STACK",
    "GapCurve",
    "Hit",
    "Nearest",
    "PathGap",
    "Swept",
    "SweptGap",
    "Tree",
    "Tube",
    "angle_between",
    "any_hit",
    "any_hit_one",
    "awake",
    "build",
    "capsule_clearance",
    "compiled",
    "cylinder_overlap",
    "cylinder_overlap_one",
    "first_hit",
    "first_hit_one",
    "frame_from_axes",
    "gap_curve",
    "in_chunks",
    "inside",
    "inverse",
    "is_compiled",
    "mirrored_pose",
    "on_one_core",
    "on_waking",
    "path_gap",
    "point_distance",
    "point_tree_distance2",
    "pose_gap",
    "pose_of",
    "rotation_about",
    "rotation_x",
    "rotation_y",
    "rotation_z",
    "segment_distance",
    "segment_pair_distance",
    "segment_segment_distance",
    "segment_tree_distance2",
    "swept_clearance",
    "swept_gap",
    "transform_directions",
    "transform_points",
    "tube_clearance",
    "warm_up",
    "winding_number",
    "winding_number_one",
]
