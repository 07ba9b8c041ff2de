"""A blank way of a payload, planned: what is asked of such a carriage is asked of the found way."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from reach.geometry import path_gap
from reach.model.carrying import Leg
from reach.paths import Cargo, Found, Obstacle, find_path
from reach.paths.finding import FOUND, NOT_FOUND
from reach.payload.asked import is_meant
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
        With found poses, named ``found-way-1`` and so on, in place of a blank way; as it was where
        its way is written or none was found.
    found : Found or None
        None where the way is written, or what is moved has no size.
    """
    if not carriage.is_blank or not parts_of(site, carriage):
        return carriage, site.memo.get(("found", carriage))
    key = ("settled", carriage)
    if key not in site.memo:
        found = _way_found(site, carriage, seed)
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


def _way_found(site: Site, carriage: Carriage, seed: int) -> Found:
    key = ("way found", carriage, seed)
    if key not in site.memo:
        site.memo[key] = _found(site, carriage, seed)
    found: Found = site.memo[key]
    return found


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
    found = find_path(
        obstacles,
        cargo,
        carriage.poses[0],
        carriage.poses[-1],
        seed=seed,
        seconds=SECONDS,
        motions=MOTIONS,
        about=carriage.legs[0].about,
    )
    return found if found.reason in (FOUND, NOT_FOUND) else _proved(site, carriage, found)


def _proved(site: Site, carriage: Carriage, found: Found) -> Found:
    """Return that a start or goal is too near only where true surfaces prove it.

    The search adds what facets leave off, and knows neither seats nor hazards that may be off.
    """
    which = found.reason.split()[0]
    place = 0 if which == "start" else -1
    pose, leg = carriage.poses[place], range(len(carriage.legs))[place]
    for part in parts_of(site, carriage):
        for thing in things_of(site, carriage):
            if is_meant(site, carriage, part, thing, leg) or not thing.is_sure:
                continue
            there = path_gap(thing.tree, part.tree, np.array([pose, pose])).gap.high
            gap = there + part.excess + thing.excess
            if gap <= 0.0 or gap < thing.stand_off:
                how = "in contact" if gap <= 0.0 else "too near"
                return replace(found, reason=f"{which} {how}", obstacle=thing.name, gap=gap)
    return replace(found, reason=NOT_FOUND, obstacle="", gap=math.nan)


def _along(carriage: Carriage, poses: np.ndarray) -> Carriage:
    between = [f"found-way-{k}" for k in range(1, len(poses) - 1)]
    leg = Leg(about=carriage.legs[0].about)
    return replace(
        carriage,
        names=(carriage.names[0], *between, carriage.names[-1]),
        poses=poses,
        legs=(leg,) * (len(poses) - 1),
        is_blank=False,
        is_found=True,
    )
