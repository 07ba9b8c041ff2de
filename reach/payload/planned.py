"""A blank way of a payload, planned: what is asked of such a carriage is asked of the found way."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from reach.model.carrying import Leg
from reach.paths import Cargo, Found, Obstacle, find_path
from reach.payload.parts import parts_of
from reach.payload.things import things_of
from reach.site import Carriage, Site

MOTIONS = 60_000
"""Motions that a search may try; it counts motions, so that its answer depends on no clock."""

SECONDS = 300.0
"""When a search is given up all the same."""


def settled(site: Site, carriage: Carriage, seed: int = 0) -> tuple[Carriage, Found | None]:
    """Return a carriage with its way, and what a search for it came to.

    Parameters
    ----------
    site : Site
        Keeps the answer: the first one asked for of a carriage is given again, whatever the seed.
    carriage : Carriage
    seed : int
        The same seed gives the same way.

    Returns
    -------
    carriage : Carriage
        With found poses, named ``found 1`` and so on, in place of a blank way; as it was where
        its way is written or none was found.
    found : Found or None
        None where the way is written.
    """
    if not carriage.is_blank:
        return carriage, site.memo.get(("found", carriage))
    key = ("settled", carriage)
    if key not in site.memo:
        found = _found(site, carriage, seed)
        made = carriage if found.poses is None else _along(carriage, found.poses)
        if made is not carriage:
            site.memo["found", made] = found
        site.memo[key] = made, found
    return site.memo[key]  # type: ignore[no-any-return]


def with_ways(site: Site) -> Site:
    """Return a site whose blank carriages have the ways that were found; others stay blank."""
    if not any(one.is_blank for one in site.carriages):
        return site
    return replace(site, carriages=tuple(settled(site, one)[0] for one in site.carriages))


def told(site: Site) -> list[str]:
    """Return a sentence for each carriage of a site that goes a found way."""
    said: dict[str, None] = {}
    for one in site.carriages:
        found = site.memo.get(("found", one))
        if found is not None:
            n = len(one.poses) - 2
            said[
                f"step {one.step} leaves the way of {one.payload} blank; one through {n} new "
                f"pose{'' if n == 1 else 's'} was found and is what is checked "
                f"({found.motions} of at most {MOTIONS} motions tried)"
            ] = None
    return list(said)


def _found(site: Site, carriage: Carriage, seed: int) -> Found:
    """Return what a search came to: the first leg says about which point the payload turns."""
    parts = parts_of(site, carriage)
    # Facets lie inside round surfaces: what they leave off is kept on top.
    obstacles = [Obstacle(one.name, one.tree, one.stand_off + one.error)
                 for one in things_of(site, carriage)]  # fmt: skip
    corners = np.concatenate([part.tree.bounds for part in parts])
    cargo = Cargo(
        tuple(part.tree for part in parts),
        tuple(part.error for part in parts),
        0.5 * (corners.min(axis=0) + corners.max(axis=0)),
    )
    return find_path(
        obstacles,
        cargo,
        carriage.poses[0],
        carriage.poses[-1],
        seed=seed,
        seconds=SECONDS,
        motions=MOTIONS,
        about=carriage.legs[0].about,
    )


def _along(carriage: Carriage, poses: np.ndarray) -> Carriage:
    between = [f"found {k}" for k in range(1, len(poses) - 1)]
    leg = Leg(about=carriage.legs[0].about)
    return replace(
        carriage,
        names=(carriage.names[0], *between, carriage.names[-1]),
        poses=poses,
        legs=(leg,) * (len(poses) - 1),
        is_blank=False,
    )
