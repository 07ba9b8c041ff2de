"""How far the links of an arm stay from each other and from structure, at rest."""

from __future__ import annotations

from collections.abc import Collection
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.arm.chain import Chain, Floats
from reach.arm.covers import Covers, covers_of, link_capsules
from reach.geometry import Tree, capsule_clearance, segment_pair_distance


class SelfGap(NamedTuple):
    """The smallest gap between links of an arm.

    Attributes
    ----------
    gap : ndarray, shape (n,), m
        Between the covers: the links are at least so far apart; below 0 the covers meet,
        which the links need not.  Infinite where no two links are compared.
    first, second : ndarray of int, shape (n,)
        The two links, -1 where none are compared; a number that no link has is what rides
        on the tip (`riding.with_rider`).
    """

    gap: Floats
    first: NDArray[np.int64]
    second: NDArray[np.int64]


def compared_pairs(chain: Chain, covers: Covers) -> NDArray[np.int64]:
    """Return which capsules are compared with each other, shape (k, 2).

    Those of pieces that are neither the same nor neighbours; pieces without geometry between
    two others do not keep them from being neighbours.  What rides on the tip is no part of a
    joint and is compared with neighbours too.
    """
    order = {int(piece): n for n, piece in enumerate(np.unique(covers.piece))}
    rank = np.array([order[int(piece)] for piece in covers.piece], np.int64)
    apart = rank[None, :] - rank[:, None]
    rides = covers.link >= len(chain.arm.links)
    first, second = np.nonzero(apart > np.where(rides, 0, 1)[None, :])
    return np.column_stack([first, second])


def pair_gaps(chain: Chain, q: ArrayLike, covers: Covers, pairs: NDArray[np.int64]) -> Floats:
    """Return the gap of each pair of capsules in each posture, shape (n, k), m."""
    there = link_capsules(chain, q, covers)
    a, b = pairs[:, 0], pairs[:, 1]
    ends = [x.reshape(-1, 3) for x in (there.p[:, a], there.q[:, a], there.p[:, b], there.q[:, b])]
    apart = segment_pair_distance(*ends).reshape(-1, len(pairs))
    return np.asarray(apart - (covers.radius[a] + covers.radius[b]))


def self_clearance(chain: Chain, q: ArrayLike, covers: Covers | None = None) -> SelfGap:
    """Return the smallest gap between links that are not neighbours.

    Parameters
    ----------
    chain : Chain
    q : array_like, shape (n, n_joints) or (n_joints,), rad or m
    covers : Covers, optional
        Made with `covers_of` where not given.
    """
    covers = covers or covers_of(chain)
    pairs = compared_pairs(chain, covers)
    n = len(np.atleast_2d(np.asarray(q)))
    if not len(pairs):
        none = np.full(n, -1)
        return SelfGap(np.full(n, np.inf), none, none)
    gaps = pair_gaps(chain, q, covers, pairs)
    nearest = gaps.argmin(axis=1)
    links = covers.link[pairs[nearest]]
    return SelfGap(gaps[np.arange(n), nearest], links[:, 0], links[:, 1])


def asked_capsules(chain: Chain, covers: Covers, without: Collection[str] | None) -> Covers:
    """Return the capsules of the links, and of what rides, that are compared with structure.

    Raises
    ------
    ValueError
        If a link in ``without`` is not there.
    """
    names = [link.name for link in chain.arm.links]
    left_out = {chain.arm.base} if without is None else set(without)
    if missing := sorted(left_out - set(names)):
        raise ValueError(f"{chain.arm.name} has no link {missing[0]!r}; it has {', '.join(names)}")
    asked = np.array([link >= len(names) or names[link] not in left_out for link in covers.link])
    asked = asked.astype(bool)
    return Covers(*(each[asked] for each in covers))


def structure_gaps(
    chain: Chain, q: ArrayLike, tree: Tree, covers: Covers, world_from_base: ArrayLike | None
) -> Floats:
    """Return the gap of each capsule to structure in each posture, shape (n, m), m."""
    there = link_capsules(chain, q, covers, world_from_base)
    n, m = there.p.shape[:2]
    gaps = capsule_clearance(
        tree, there.p.reshape(-1, 3), there.q.reshape(-1, 3), np.tile(there.radius, n)
    )
    return gaps.reshape(n, m)


def structure_clearance(
    chain: Chain,
    q: ArrayLike,
    tree: Tree,
    covers: Covers | None = None,
    world_from_base: ArrayLike | None = None,
    without: Collection[str] | None = None,
) -> Floats:
    """Return how far each link is from structure at least.

    Parameters
    ----------
    chain : Chain
    q : array_like, shape (n, n_joints) or (n_joints,), rad or m
    tree : Tree
        Structure, in the world.
    covers : Covers, optional
        Made with `covers_of` where not given.
    world_from_base : array_like, shape (4, 4), optional
        Where the arm stands; its base frame is the world where not given.
    without : collection of str, optional
        Links left out; the base where not given, for it is bolted to the structure.

    Returns
    -------
    gap : ndarray, shape (n, n_links), m
        From the cover: the link is at least so far; below 0 the cover goes into the
        structure, which the link need not.  Infinite for links without geometry or left out.
        What rides on the tip (`riding.with_rider`) has further columns, one a capsule.

    Raises
    ------
    ValueError
        If a link left out is not there.
    """
    asked = asked_capsules(chain, covers or covers_of(chain), without)
    gaps = structure_gaps(chain, q, tree, asked, world_from_base)
    n_parts = max([len(chain.arm.links), *(asked.link + 1)])
    least = np.full((len(gaps), n_parts), np.inf)
    for k, link in enumerate(asked.link):
        least[:, link] = np.minimum(least[:, link], gaps[:, k])
    return least
