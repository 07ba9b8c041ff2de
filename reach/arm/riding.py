"""What rides on the tip of an arm, as capsules beside those of its links; and what is nearest."""

from __future__ import annotations

from collections.abc import Collection
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from reach.arm.bound import ROUNDING
from reach.arm.chain import Chain, Floats
from reach.arm.clearance import asked_capsules, structure_gaps
from reach.arm.covers import Covers, covers_of, link_capsules
from reach.geometry import Tree, segment_distance, transform_points


class NearestPart(NamedTuple):
    """Which part of an arm is nearest to structure in a posture.

    Attributes
    ----------
    gap : float, m
        Below 0 the cover goes into the structure.
    part : int
        Number of the link; from the number of links on, what rides on the tip.
    name : str
        Its name as `part_name` has it; empty where nothing is asked.
    on_arm, on_structure : ndarray, shape (3,), m, world
        On the cover, and on a triangle; ``abs(gap)`` apart but where the axis of the cover
        crosses the structure, and both are where it does.
    face : int
        Row of the triangle, -1 where nothing is asked.
    """

    gap: float
    part: int
    name: str
    on_arm: Floats
    on_structure: Floats
    face: int


def with_rider(chain: Chain, covers: Covers, capsules_tip: tuple[ArrayLike, ArrayLike]) -> Covers:
    """Return covers with capsules added that ride on the tip: boots, a body, a payload.

    Gaps to structure and between links then count them in.  They are compared with all links
    but those of the piece they ride on; no ``without`` leaves them out.

    Parameters
    ----------
    chain : Chain
    covers : Covers
        As `covers_of` makes them; may hold riders already, the new ones are numbered on.
    capsules_tip : tuple of array_like
        Ends, shape (k, 2, 3), m, in the frame of the tip link, and radii, shape (k,), m.

    Returns
    -------
    covers : Covers
        Capsule i of the first riders has the link number ``len(chain.arm.links) + i``.

    Raises
    ------
    ValueError
        If shapes do not fit, a number is not finite or a radius is negative.
    """
    ends = np.asarray(capsules_tip[0], dtype=np.float64)
    radii = np.asarray(capsules_tip[1], dtype=np.float64)
    if ends.ndim != 3 or ends.shape[1:] != (2, 3) or radii.shape != (len(ends),):
        raise ValueError(
            f"capsules are ends of shape (k, 2, 3) and k radii, not {ends.shape} and {radii.shape}"
        )
    if not (np.isfinite(ends).all() and np.isfinite(radii).all() and (radii >= 0.0).all()):
        raise ValueError("a capsule is not finite or has a negative radius")
    held = transform_points(chain.piece_from_link[-1], ends.reshape(-1, 3)).reshape(-1, 2, 3)
    first = max([len(chain.arm.links), *(covers.link + 1)])
    return Covers(
        np.append(covers.link, np.arange(first, first + len(ends))),
        np.append(covers.piece, np.full(len(ends), chain.piece_of_link[-1])),
        np.concatenate([covers.p, held[:, 0]]),
        np.concatenate([covers.q, held[:, 1]]),
        np.append(covers.radius, radii + ROUNDING),
    )


def part_name(chain: Chain, part: int) -> str:
    """Return the name of a link, or of what rides: ``rider 0``, ``rider 1``, ..."""
    n_links = len(chain.arm.links)
    return chain.arm.links[part].name if part < n_links else f"rider {part - n_links}"


def nearest_at(
    chain: Chain,
    q: ArrayLike,
    tree: Tree,
    covers: Covers | None = None,
    world_from_base: ArrayLike | None = None,
    without: Collection[str] | None = None,
) -> NearestPart:
    """Return which link, or what rides, is nearest to structure in one posture, and where.

    Parameters
    ----------
    chain : Chain
    q : array_like, shape (n_joints,), rad or m
    tree : Tree
        Structure, in the world.
    covers, world_from_base, without
        As `structure_clearance` has them.
    """
    asked = asked_capsules(chain, covers or covers_of(chain), without)
    if not len(asked.link):
        nowhere = np.full(3, np.nan)
        return NearestPart(np.inf, -1, "", nowhere, nowhere, -1)
    gaps = structure_gaps(chain, q, tree, asked, world_from_base)[0]
    k = int(gaps.argmin())
    there = link_capsules(chain, q, asked, world_from_base)
    near = segment_distance(tree, there.p[0, k], there.q[0, k])
    on_axis, on_mesh, radius = near.on_query[0], near.on_mesh[0], asked.radius[k]
    distance = float(near.distance[0])
    towards = (on_mesh - on_axis) / distance if distance > 0.0 else np.zeros(3)
    # An axis wholly inside a solid: the far side of the cover is the deepest.
    side = -1.0 if gaps[k] < -radius else 1.0
    part = int(asked.link[k])
    return NearestPart(
        float(gaps[k]), part, part_name(chain, part), on_axis + side * radius * towards, on_mesh,
        int(near.face[0]),
    )  # fmt: skip
