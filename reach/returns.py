"""Minutes back to the lock: from every grip, every place of work and every step of a procedure."""

from __future__ import annotations

import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from reach.files.moves_question import home_question
from reach.files.people import load_population
from reach.files.procedure import LoadedProcedure
from reach.files.scene import LoadedScene
from reach.finding import Limit
from reach.rails.route import all_lengths
from reach.run import Outcome, outcome_of
from reach.site import Site, Situation
from reach.situations import resolve
from reach.travel.choices import span_limit
from reach.travel.ground import graph_in
from reach.travel.home import Map, Return, hatches, home_map, rates_of, return_of

RATES = (
    "pace_free", "partner_pace", "casualty_pace", "leave_restraint", "free_casualty", "swap_time",
    "lock_time",
)  # fmt: skip
"""Limits that the times are reckoned with."""

FAILS, UNKNOWN = 1, 3


@dataclass(frozen=True, slots=True)
class Home:
    """The way home from one place of work.

    Attributes
    ----------
    place : str
    length : float, m
        Along rails to the hatch; inf where no rails lead there.
    to_partner : float, m
        From the partner; inf where no rails lead from them.
    alone, brought : float, s
    """

    place: str
    length: float
    to_partner: float
    alone: float
    brought: float


@dataclass(frozen=True, slots=True)
class Late:
    """One step of a procedure: where it leaves its worker, and how they get home.

    Attributes
    ----------
    step, worker, case, place : str
    home : Return or None
        None where no rails lead home.
    limit : float, s
    """

    step: str
    worker: str
    case: str
    place: str
    home: Return | None
    limit: float

    @property
    def margin(self) -> float | None:
        """Seconds left of the rule; None where it is not known."""
        if self.home is None or not np.isfinite(self.home.brought):
            return None
        return self.limit - self.home.brought


@dataclass(frozen=True, eq=False)
class Returns:
    """Times home.

    Attributes
    ----------
    situation : Situation
        The body that spans least of those asked about.
    map : Map
        From every grip.
    places : tuple of Home
    steps : tuple of Late
        Empty without a procedure.
    swaps : int
    limit : Limit
        The rule.
    rates : tuple of Limit
    outcome : Outcome
        Without findings: what the times rest on.
    """

    situation: Situation
    map: Map
    places: tuple[Home, ...]
    steps: tuple[Late, ...]
    swaps: int
    limit: Limit
    rates: tuple[Limit, ...]
    outcome: Outcome

    @property
    def site(self) -> Site:
        """The scene made computable."""
        return self.outcome.site

    @property
    def unknown(self) -> tuple[str, ...]:
        """Names of the steps of which it is not known how their workers are brought in."""
        return tuple(dict.fromkeys(step.step for step in self.steps if step.margin is None))

    @property
    def exit_code(self) -> int:
        """1 when a step is beyond the rule, 3 when none is but one is not known, else 0.

        Without a procedure 3 when no grip leads home; with one that leaves nobody anywhere, 3.
        """
        if self.outcome.procedure:
            margins = [step.margin for step in self.steps if step.margin is not None]
            if min(margins, default=0.0) < 0.0:
                return FAILS
            return 0 if margins and not self.unknown else UNKNOWN
        return 0 if np.isfinite(self.map.length).any() else UNKNOWN


def returns_of(
    loaded: LoadedScene,
    procedure: LoadedProcedure | None = None,
    *,
    workers: Sequence[str] = (),
    sizes: Sequence[str] | None = None,
    swaps: int | None = None,
    partner: str = "",
    outcome: Outcome | None = None,
) -> Returns:
    """Return the times home of a scene, and of the steps of a procedure.

    Parameters
    ----------
    loaded : LoadedScene
    procedure : LoadedProcedure, optional
    workers : sequence of str
        All of the scene where left empty.
    sizes : sequence of str, optional
        Size classes instead of each worker's own body.
    swaps : int, optional
        Of safety lines; else the scene's own number, and those counted in a procedure.
    partner : str
        Where the partner starts; empty for beside the casualty.
    outcome : Outcome, optional
        A run of the procedure for the same bodies, where there is one.

    Raises
    ------
    InputError
        If the scene has no hatch, or a worker is unknown.
    """
    began = time.perf_counter()
    names = list(workers) or list(loaded.scene.workers)
    asked = home_question(loaded, names)
    site, standing = resolve(loaded.scene, loaded.meshes, asked.procedure, load_population, sizes)
    least = min(standing, key=lambda situation: span_limit(site, situation))
    counted = round(site.limit("swaps").value) if swaps is None else swaps
    steps: tuple[Late, ...] = ()
    situations = standing
    if procedure is not None:
        if outcome is None:
            resolved = resolve(
                loaded.scene, loaded.meshes, procedure.procedure, load_population, sizes
            )
        else:
            resolved = outcome.site, outcome.situations
        steps, situations = _steps(*resolved, names, swaps), resolved[1]
    told = procedure or replace(asked, procedure=asked.procedure.model_copy(update={"title": ""}))
    run = outcome_of(loaded, told, site, situations, (), (), time.perf_counter() - began)
    return Returns(
        least,
        home_map(site, least, counted, partner),
        _worst(places_of(site, one, counted, partner) for one in standing),
        steps,
        counted,
        site.limit("return_time"),
        tuple(site.limit(name) for name in RATES),
        run,
    )


def places_of(site: Site, situation: Situation, swaps: int, partner: str) -> tuple[Home, ...]:
    """Return the way home from every socket, station and anchor."""
    scene = site.scene
    places = [*scene.sockets, *scene.stations, *scene.anchors]
    ends = [*hatches(site), *([partner] if partner else [])]
    graph = graph_in(site, situation, (*ends, *places))
    rates = rates_of(site)
    home = np.min([all_lengths(graph, hatch)[0] for hatch in hatches(site)], axis=0)
    away = all_lengths(graph, partner)[0] if partner else np.zeros(len(graph.points))
    found = []
    for place in places:
        node = graph.node_of(place)
        length = float(home[node])
        apart = 0.0 if place == partner else float(away[node])
        found.append(
            Home(
                place,
                length,
                apart,
                float(rates.by_oneself(length)),
                float(rates.brought(length, apart, swaps)),
            )
        )
    return tuple(found)


def _worst(each: Iterable[tuple[Home, ...]]) -> tuple[Home, ...]:
    """Return for every place the body that is brought home latest: stations depend on it."""
    return tuple(max(same, key=lambda home: home.brought) for same in zip(*each, strict=True))


def _steps(
    site: Site, situations: Sequence[Situation], workers: Sequence[str], swaps: int | None
) -> tuple[Late, ...]:
    """Return one row for each place at which a step leaves a worker."""
    limit = site.limit("return_time").value
    rows: dict[tuple[str, str, str, str], Late] = {}
    for one in situations:
        key = one.step, one.worker, one.case, one.at
        is_home = not one.at or one.at in site.scene.hatches
        if one.worker in workers and not is_home and key not in rows:
            rows[key] = Late(*key, return_of(site, one, swaps), limit)
    return tuple(rows.values())
