"""Compile every routine ahead of the first real question."""

from __future__ import annotations

import numpy as np

from reach.geometry import (
    burial,
    clearance,
    cylinder,
    distance,
    gap_at_pose,
    gap_found,
    payload_sweep,
    rays,
    segments,
    shells,
    sweeping,
    tree,
    winding,
)
from reach.geometry.compiled import is_cached

_ENTRIES = (
    tree._build,
    tree._moments,
    distance._point_rows,
    distance._segment_rows,
    rays._first_rows,
    rays._any_rows,
    cylinder._rows,
    winding._rows,
    winding._in_boxes,
    segments._rows,
    sweeping._rows,
    shells._shells,
    sweeping._first_not_rigid,
    payload_sweep._search_path,
    payload_sweep._span_rows,
    gap_found._show,
    gap_at_pose._search_pose,
    burial._may_be_buried,
)


def is_compiled() -> bool:
    """Return whether every query can run without compiling first.

    Looks at the kept machine code of each entry: some milliseconds.  When
    ``False``, the first queries (or :func:`warm_up`) take some seconds, once.
    """
    return all(is_cached(entry) for entry in _ENTRIES)


def warm_up() -> None:
    """Run every query once on one triangle, so that all is compiled and kept."""
    one = tree.build(np.array([[[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]]]))
    p, q = np.array([[0.2, 0.2, 0.5]]), np.array([[0.2, 0.2, 1.0]])
    distance.point_distance(one, p)
    clearance.capsule_clearance(one, p, q, 0.1)
    rays.first_hit(one, p, q)
    rays.any_hit(one, p, q)
    cylinder.cylinder_overlap(one, p, q, 0.1)
    winding.winding_number(one, p)
    winding.inside(one, p)
    segments.segment_pair_distance(p, q, q, p)
    sweeping.swept_clearance(one, np.eye(4), np.eye(4), p, q, 0.1)
    ends = np.stack([np.eye(4), np.eye(4)])
    ends[:, 2, 3] = 0.5
    payload_sweep.path_gap(one, one, ends)
    payload_sweep.gap_curve(one, one, ends, 1)
    gap_at_pose.pose_gap(one, one, ends[0])
    segments.segment_segment_distance(p[0], q[0], q[0], p[0])
