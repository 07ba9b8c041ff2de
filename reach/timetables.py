"""A procedure on the clock: its timetable, what the checks of the clock say, and the way home."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import NamedTuple

from reach.clock import Bingo, CutOrder, Return, Timetable, bingo, timetable
from reach.clock.tasks import SAME
from reach.files.procedure import LoadedProcedure
from reach.files.scene import LoadedScene
from reach.finding import Finding, Limit, exit_code
from reach.ledger import Outing, names
from reach.model.travel import rail_spot
from reach.run import Outcome, check
from reach.site import Site, Situation
from reach.timing import chance_words, cuts_of, draws_of
from reach.travel.home import rates_of, way_home

CHECKS_OF_THE_CLOCK = ("outing", "glove-check", "window", "unpowered", "device", "lanes")


class Tight(NamedTuple):
    """A place that is left at a moment (s), and when it must be left at the latest (s)."""

    place: str
    left: float
    by: float


@dataclass(frozen=True, eq=False)
class Homeward:
    """The latest moment at which a worker may start home by themself.

    Attributes
    ----------
    worker : str
    bingo : Bingo
    returns : tuple of Return
        How long home takes (s), lock included, from each moment at which that changes.
    lost : tuple of str
        Places on the way of the worker from which no rails lead home; left out.
    limit : float, s
        When everyone must be in.
    """

    worker: str
    bingo: Bingo
    returns: tuple[Return, ...]
    lost: tuple[str, ...]
    limit: float

    @property
    def tightest(self) -> Tight | None:
        """The place that is left latest by what home takes from there; the last one apart."""
        left = [
            Tight(one.place, after.since, self.limit - one.takes)
            for one, after in pairwise(self.returns)
        ]
        return min(left, key=lambda tight: tight.by - tight.left, default=None)


@dataclass(frozen=True, eq=False)
class Timed:
    """A procedure on the clock.

    Attributes
    ----------
    outcome : Outcome
        With the findings of the checks of the clock.
    outing : Outing
    table : Timetable
        Written starts as 'not before'.
    limit : Limit
        When all must be over.
    homeward : tuple of Homeward
    cuts : CutOrder
        What to cut so that it ends by the limit.
    chance : str
        How likely it is to end by the limit, in words; empty where durations are one number.
    """

    outcome: Outcome
    outing: Outing
    table: Timetable
    limit: Limit
    homeward: tuple[Homeward, ...]
    cuts: CutOrder
    chance: str

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What the checks of the clock say."""
        return self.outcome.findings

    @property
    def exit_code(self) -> int:
        """1 when a check of the clock fails, 3 when none does but not all is known, else 0."""
        return exit_code(self.findings)


def timed(
    loaded: LoadedScene, procedure: LoadedProcedure, outcome: Outcome | None = None
) -> Timed | None:
    """Return a procedure on the clock; None where it has no steps.

    Parameters
    ----------
    loaded : LoadedScene
    procedure : LoadedProcedure
    outcome : Outcome, optional
        A run of all checks of theirs, where there is one: only those of the clock are told.
    """
    if outcome is None:
        outcome = check(loaded, procedure, only=CHECKS_OF_THE_CLOCK)
    else:
        outcome = _of_the_clock(outcome)
    outing = outcome.outing
    if outing is None or not outing.steps:
        return None
    limit, draws = outcome.site.limit("outing_time"), draws_of(outing)
    chance = "" if draws is None else chance_words(draws.at() <= limit.value + SAME)[0]
    return Timed(
        outcome,
        outing,
        timetable(outing.tasks),
        limit,
        tuple(homeward(outcome.site, outing, worker, limit.value) for worker in outing.workers),
        cuts_of(outing, limit.value),
        chance,
    )


def _of_the_clock(outcome: Outcome) -> Outcome:
    """Return a run as if only the checks of the clock had been asked for."""
    return replace(
        outcome,
        findings=tuple(one for one in outcome.findings if one.check in CHECKS_OF_THE_CLOCK),
        not_asked=tuple(one for one in outcome.not_asked if one[0] in CHECKS_OF_THE_CLOCK),
    )


def homeward(site: Site, outing: Outing, worker: str, limit: float) -> Homeward:
    """Return when a worker must start home at the latest, by themself along rails.

    Who is at a place from which no rails lead home counts as at the place before.
    """
    mine = [one for one in site.asked if one.worker == worker]
    found: list[Return] = []
    lost: list[str] = []
    for moment, place in _places(outing, worker):
        there = next((one for one in mine if one.at == place), mine[0] if mine else None)
        takes = _home(site, there, place)
        if takes is None:
            lost.append(place)
        elif found and found[-1].since >= moment - SAME:
            found[-1] = Return(found[-1].since, takes, place)
        else:
            found.append(Return(moment, takes, place))
    told = bingo(limit, found) if found else Bingo(None, None, ())
    return Homeward(worker, told, tuple(found), tuple(dict.fromkeys(lost)), limit)


def _places(outing: Outing, worker: str) -> list[tuple[float, str]]:
    """Return where a worker comes to, as written, and when (s)."""
    name, before = names.place(worker), outing.start.get(names.place(worker))
    found = [(0.0, str(before))] if before is not None else []
    for deed, after in zip(outing.deeds, outing.states[1:], strict=True):
        place = after.get(name)
        if place is not None and place != (found[-1][1] if found else None):
            found.append((deed.moment, str(place)))
    return found


def _home(site: Site, asked: Situation | None, place: str) -> float | None:
    """Return how long it takes from a place until the lock is closed, s; None without a way."""
    rates = rates_of(site)
    if place in site.scene.hatches:
        return rates.lock
    if asked is None or not site.scene.hatches or not _is_known(site, asked, place):
        return None
    key = "home by oneself", place, asked.body, id(asked.surroundings)
    if key not in site.memo:
        home = way_home(site, asked, place)
        site.memo[key] = None if home is None else float(rates.by_oneself(home[1].length))
    found: float | None = site.memo[key]
    return found


def _is_known(site: Site, asked: Situation, place: str) -> bool:
    """Return whether a place is somewhere: where a path leaves a crane's tip is known to some."""
    scene = site.scene
    named = (scene.stations, scene.sockets, scene.anchors, scene.handholds)
    on_rail = rail_spot(place)[0] in scene.handrails
    return on_rail or place in asked.surroundings.world_from or any(place in one for one in named)
