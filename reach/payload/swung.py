"""What rides on a crane that moves by itself: joints turn evenly, boots run no straight way."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from reach.arm import Chain, tip_poses
from reach.arm.asked import way_of
from reach.arm.straying import strays
from reach.geometry import inverse
from reach.payload.crane_way import crane_way_of
from reach.payload.track import Track
from reach.site import Carriage, Site

Array = NDArray[np.float64]

OFF = 5e-3
"""The way is cut until the tip, and what is a few metres from it, is off by less (m)."""

_FAR = 3.0
_MOST_CUTS = 512


def swung_track(site: Site, carriage: Carriage) -> Track | None:
    """Return the motions of the boots on a crane's tip (kept on the site).

    None where no way of the joints is known.
    """
    key = ("swung", carriage)
    if key not in site.memo:
        site.memo[key] = _swung(site, carriage)
    found: Track | None = site.memo[key]
    return found


def _swung(site: Site, carriage: Carriage) -> Track | None:
    way, held = crane_way_of(site, carriage), carriage.payload_from_tip
    if way is None or held is None or len(way.q) < 2:
        return None
    cuts = 8
    while True:
        q, at = _finer(way.q, way.at, cuts)
        tips = tip_poses(way.chain, q)
        off, off_turn = _off(way.chain, tips, q)
        if off + _FAR * off_turn <= OFF or cuts >= _MOST_CUTS:
            break
        cuts *= 2
    boots = way.world_from_base @ tips @ inverse(held)
    # The tip's origin runs straight in each of these motions.
    about = np.tile(held[:3, 3], (len(boots) - 1, 1))
    lever = float(np.linalg.norm(held[:3, 3]))
    return Track(boots, about, at, off + off_turn * lever, off_turn)


def _finer(q: Array, at: Array, cuts: int) -> tuple[Array, Array]:
    """Return postures and places with each piece of the way cut into so many."""
    share = np.arange(cuts)[:, None] / cuts
    rows = [a + share * (b - a) for a, b in pairwise(q)]
    places = [a + share[:, 0] * (b - a) for a, b in pairwise(at)]
    return np.vstack([*rows, q[-1:]]), np.append(np.concatenate(places), at[-1])


def _off(chain: Chain, tips: Array, q: Array) -> tuple[float, float]:
    """Return how far the tip is off motions that are straight and even (m, rad), at most."""
    way = way_of(chain, tips, None, np.zeros(3))
    off, off_turn = strays(chain, way, np.arange(len(q), dtype=float), q)
    return float(off.max()), float(off_turn.max())
