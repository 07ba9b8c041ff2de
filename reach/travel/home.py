"""The way home: how long until someone who cannot move is back in the lock, or goes by themself.

A partner leaves their restraint, goes to the casualty, frees them and brings them to the hatch
along rails, changing safety lines on the way.  Rates and times are limits of the scene.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.rails.graph import RailGraph
from reach.rails.route import Route, all_lengths, best_route
from reach.site import Site, Situation
from reach.travel.ground import graph_in, on_crane, spot_in

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Rates:
    """What a way home is reckoned with, from the limits of the scene: s, m/s, swaps."""

    leave: float
    free: float
    swap: float
    lock: float
    alone: float
    partner: float
    casualty: float

    def brought(self, way: Array | float, to_partner: Array | float, swaps: int) -> Array:
        """Return seconds until both are in the lock.

        Parameters
        ----------
        way : array_like, m
            From the casualty to the hatch.
        to_partner : array_like, m
            From the partner to the casualty.
        swaps : int
            Swaps of safety lines, of both together.

        Examples
        --------
        >>> rates = Rates(120, 120, 90, 630, 0.15, 0.15, 0.04)
        >>> round(float(rates.brought(25.7, 0.7, 1)) / 60, 1)
        26.8
        """
        fixed = self.leave + self.free + swaps * self.swap + self.lock
        moving = np.asarray(to_partner) / self.partner + np.asarray(way) / self.casualty
        return np.asarray(fixed + moving)

    def by_oneself(self, way: Array | float) -> Array:
        """Return seconds until someone who moves by themself is in the lock."""
        return np.asarray(np.asarray(way) / self.alone + self.lock)


def rates_of(site: Site) -> Rates:
    """Return the rates in force."""
    names = (
        "leave_restraint", "free_casualty", "swap_time", "lock_time",
        "pace_free", "partner_pace", "casualty_pace",
    )  # fmt: skip
    return Rates(*(site.limit(name).value for name in names))


@dataclass(frozen=True, eq=False)
class Return:
    """The way home of one worker from one place.

    Attributes
    ----------
    worker, place, hatch : str
    way : Route
        To the hatch.
    alone : float, s
        By themself.
    partner, partner_place : str
        Empty without one.
    to_partner : float, m
        Along rails; inf where no rails lead from the partner's place.
    swaps : int
    swaps_known : bool
        Whether they are counted from the lines worn, not taken from the limit.
    brought : float, s
        By the partner; inf where the partner cannot come.
    fewest_swaps : int
        With several lines on one suit those that do not serve may be let go, not changed.
    """

    worker: str
    place: str
    hatch: str
    way: Route
    alone: float
    partner: str
    partner_place: str
    to_partner: float
    swaps: int
    swaps_known: bool
    brought: float
    fewest_swaps: int


def hatches(site: Site) -> tuple[str, ...]:
    """Return the names of the hatches of the scene."""
    return tuple(site.scene.hatches)


def way_home(site: Site, situation: Situation, place: str) -> tuple[str, Route] | None:
    """Return the nearest hatch along rails and the way there, if there is one."""
    if place in site.scene.hatches:
        return None
    best: tuple[str, Route] | None = None
    for hatch in hatches(site):
        route = best_route(graph_in(site, situation, (place, hatch)), place, hatch)
        if route is not None and (best is None or route.length < best[1].length):
            best = hatch, route
    return best


def return_of(site: Site, situation: Situation, swaps: int | None = None) -> Return | None:
    """Return the way home of the worker of a situation, None where there is none.

    The partner is the one of the others who is there soonest.
    """
    place = situation.at
    home = way_home(site, situation, place)
    if home is None:
        return None
    hatch, way = home
    rates = rates_of(site)
    partners = [
        (along_rails(site, situation, other, place), name, other)
        for name, other in situation.others.items()
    ]
    away, partner, where = min(partners, default=(np.inf, "", ""))
    both = [situation.worker] + ([partner] if partner else [])
    counted = swaps_of(site, situation, both, hatch)
    known = swaps is None and counted is not None
    fewest = 0
    if swaps is not None:
        fewest = swaps
    elif counted is not None:
        fewest, swaps = counted
    else:
        swaps = round(site.limit("swaps").value)
    return Return(
        situation.worker,
        place,
        hatch,
        way,
        float(rates.by_oneself(way.length)),
        partner,
        where,
        away,
        swaps,
        known,
        float(rates.brought(way.length, away, swaps)) if np.isfinite(away) else np.inf,
        fewest,
    )


def along_rails(site: Site, situation: Situation, other: str, place: str) -> float:
    """Return how far two places are apart along rails, m; inf where no rails lead there."""
    if other == place:
        return 0.0
    route = best_route(graph_in(site, situation, (other, place)), other, place)
    return np.inf if route is None else route.length


def swaps_of(
    site: Site, situation: Situation, workers: Iterable[str], hatch: str
) -> tuple[int, int] | None:
    """Return how many lines must be changed on the way home; None where nothing is known.

    A line whose anchor is within reach of the hatch serves to the end; any other takes a swap, and
    one from the tip of a crane, which may be anywhere, may take one.
    Of several on one suit one that serves is enough, and one swap if none does: the fewest; that
    each of the others takes one: the most.
    """
    home = np.asarray(spot_in(site, situation, hatch).point)
    span = site.limit("place_span").value
    fewest = most = 0
    for worker in workers:
        lines = situation.worn_by(worker)
        if not lines:
            return None
        fixed = [line.anchor for line in lines if not on_crane(site, line.anchor)]
        anchors = [np.asarray(spot_in(site, situation, one).point) for one in fixed]
        n_bad = sum(float(np.linalg.norm(anchor - home)) > span for anchor in anchors)
        fewest += n_bad == len(lines)
        most += n_bad + len(lines) - len(fixed)
    return fewest, most


@dataclass(frozen=True, eq=False)
class Map:
    """The way home from every grip of the scene.

    Attributes
    ----------
    graph : RailGraph
    hatch : str
    length : ndarray, shape (n_grips,), m
        To the nearest hatch; inf where no way leads there.
    alone, brought : ndarray, shape (n_grips,), s
        By oneself, and by a partner who starts ``partner_place``.
    """

    graph: RailGraph
    length: Array
    alone: Array
    brought: Array
    swaps: int
    partner_place: str


def home_map(site: Site, situation: Situation, swaps: int, partner_place: str = "") -> Map:
    """Return the times home from every grip, for the body of a situation.

    Parameters
    ----------
    swaps : int
    partner_place : str
        Where the partner starts; empty for beside the casualty.
    """
    names = (*hatches(site), *([partner_place] if partner_place else []))
    graph = graph_in(site, situation, names)
    n = graph.n_grips
    length = np.full(n, np.inf)
    for hatch in hatches(site):
        length = np.minimum(length, all_lengths(graph, hatch)[0][:n])
    away = all_lengths(graph, partner_place)[0][:n] if partner_place else np.zeros(n)
    rates = rates_of(site)
    return Map(
        graph, length, rates.by_oneself(length), rates.brought(length, away, swaps), swaps,
        partner_place,
    )  # fmt: skip
