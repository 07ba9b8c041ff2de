"""How far a motion carries the capsules of an arm: bounds that make gaps between moments sure.

A motion is ``q(s) = start + s (end - start)``.  A point that joint j turns moves by its axis
cross the arm from the joint, times the joint's way; turned once more by a joint k nearer to
the base, that changes by no more than its own size times k's way.  Both are summed.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reach.arm.bound import spans
from reach.arm.chain import Chain, Floats
from reach.arm.covers import Covers
from reach.arm.forward import piece_poses


def farthest(chain: Chain, covers: Covers) -> Floats:
    """Return how far a capsule's axis moves at most a unit of each joint, shape (m, n_joints).

    For a joint that turns, the distance of its farther end from the joint, which is at most
    the sum of the links between (m a rad); for one that slides 1; 0 for joints behind it.
    """
    greatest = spans(chain)[1]
    own = np.maximum(np.linalg.norm(covers.p, axis=1), np.linalg.norm(covers.q, axis=1))
    slid = np.where(chain.slides, np.maximum(np.abs(chain.lower), np.abs(chain.upper)), 0.0)
    own += np.concatenate([[0.0], slid])[covers.piece]
    found = np.zeros((len(own), chain.n))
    for j in range(chain.n):
        # Piece k + 1 follows joint k: from joint j it is the spans j to k - 1 away.
        far = np.concatenate([[0.0], np.cumsum(greatest[j:])])
        behind = covers.piece >= j + 1
        distance = own[behind] + far[covers.piece[behind] - (j + 1)]
        found[behind, j] = 1.0 if chain.slides[j] else distance
    return found


def steady_and_bend(
    chain: Chain, way: Floats, far: Floats, counts: NDArray[np.bool_]
) -> tuple[Floats, Floats]:
    """Return the greatest speed of capsules over a whole motion, and how fast it can change.

    Parameters
    ----------
    chain : Chain
    way : ndarray, shape (n_joints,) or (p, 1, n_joints), rad or m
        From start to end, of one motion or of several.
    far : ndarray, shape (m, n_joints)
        As `farthest` returns it.
    counts : ndarray of bool, shape (m, n_joints)
        Joints whose motion matters: all, or those between the links of a pair.

    Returns
    -------
    speed, bend : ndarray, shape (m,) or (p, m), m a whole motion and its square
        No end of an axis is faster than ``speed``, nor is its second derivative larger
        than ``bend``.
    """
    each = np.abs(way) * far * counts
    turns = np.where(chain.slides, 0.0, np.abs(way)) * counts
    before = np.cumsum(turns, axis=-1) - turns
    return each.sum(axis=-1), (each * (turns + 2.0 * before)).sum(axis=-1)


def velocities(chain: Chain, q: Floats, way: Floats, covers: Covers) -> Floats:
    """Return what each joint adds to the velocity of the ends of the axes.

    Parameters
    ----------
    chain : Chain
    q : ndarray, shape (n, n_joints), rad or m
        Postures on the motion.
    way : ndarray, shape (n_joints,) or (n, n_joints), rad or m
        From start to end, signed; one for each posture where they differ.
    covers : Covers

    Returns
    -------
    added : ndarray, shape (n, m, 2, n_joints, 3), m a whole motion, base frame
    """
    poses = piece_poses(chain, q)
    own = poses[:, covers.piece]
    ends = np.stack(
        [np.einsum("nmij,mj->nmi", own[..., :3, :3], end) for end in (covers.p, covers.q)], axis=2
    )
    ends += own[:, :, None, :3, 3]
    axes, origins = poses[:, 1:, :3, 2], poses[:, 1:, :3, 3]
    arms = ends[:, :, :, None, :] - origins[:, None, None]
    along = np.broadcast_to(axes[:, None, None], arms.shape)
    added = np.where(chain.slides[:, None], along, np.cross(along, arms))
    moved = np.arange(chain.n) < covers.piece[:, None]
    ways = np.atleast_2d(way)[:, None] * moved
    return np.asarray(added * ways[:, :, None, :, None])
