"""Question. Can a worker get on the tip of the crane, or off it, from the nearest rail?

Asked where a worker comes to a place on a crane from somewhere else, or leaves it: by a move along
rails, or because one step, or a ride, leaves them elsewhere than the next one finds them. Riding
from place to place is no boarding. Each place is asked once for each worker and body.

Margin. Metres between what is spanned from a rail and the distance from the nearest rail that may
be held to the middle of the trunk of a body that stands on the plate: exact.

Limit. ``place_span``. Rails that are blocked, gone, no-touch, unrated or rated too low do not
count, nor grips on a payload.

Blind spots. The distance is to the middle of an upright trunk; whether the body passes, what it
holds on to while the boots go in, and that the crane stands still is not looked at. Where a hand
of the worker who stands there was found to hold a rail, it is said. Who gets on or off in steps
that ask nothing of the body is asked with their next action that does; without one, nothing is.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from reach.checks.craning import the
from reach.checks.once import known_of
from reach.checks.wording import SURE, enough, finding_on, not_asked, point, who
from reach.crane.at_rest import crane_named
from reach.finding import Finding, Mark
from reach.holding import Hold, hold_of, rails_of
from reach.kept.noting import asked_whole
from reach.model.procedure import Ingress
from reach.rails.records import Rail
from reach.site import Site, Situation
from reach.travel.ground import rails_in, spot_in
from reach.units import text_of

NAME = "boarding"
IDS = ("M3",)


class _Boarding(NamedTuple):
    """A worker who gets on a crane, or off it, at a place."""

    situation: Situation
    place: str
    is_on: bool


def find(site: Site, situations: Sequence[Situation]) -> list[Finding]:
    """Return one finding for each place on a crane that a worker gets on or off, and each body."""
    known = known_of(site)
    if all(id(situation) in known for situation in situations):
        firsts = [one for situation in situations for one in _first_boardings(site, situation)]
    else:  # situations of no procedure
        firsts = _firsts(site, _boardings(site, situations))
    return [_finding(site, boarding) for boarding in firsts]


@asked_whole
def _first_boardings(site: Site, situation: Situation) -> tuple[_Boarding, ...]:
    """Return what a situation boards for the first time in the procedure."""
    key = ("boardings", site.asked)
    if key not in site.memo:
        site.memo[key] = _firsts(site, _boardings(site, site.asked))
    return tuple(one for one in site.memo[key] if one.situation is situation)


def _firsts(site: Site, boardings: Iterable[_Boarding]) -> list[_Boarding]:
    """Return those of a worker, body and place that come first."""
    found: dict[object, _Boarding] = {}
    for one in boardings:
        who = (one.situation.worker, one.situation.case)
        found.setdefault((who, one.place, one.is_on, _left_at(site, one)), one)
    return list(found.values())


def _left_at(site: Site, boarding: _Boarding) -> bytes:
    """Return what tells one place from another of the same name: where a path has left the tip."""
    world_from = boarding.situation.surroundings.world_from
    is_fixed = boarding.place in site.scene.stations or boarding.place not in world_from
    return b"" if is_fixed else world_from[boarding.place].round(9).tobytes()


def _boardings(site: Site, situations: Sequence[Situation]) -> Iterator[_Boarding]:
    """Yield who comes to a crane or leaves it, in the order of the procedure."""
    at_first: set[tuple[str, str]] = set()
    for one in situations:
        way = one.since
        if (one.worker, one.case) not in at_first:
            at_first.add((one.worker, one.case))
            # Where nothing says where they come from, getting into a restraint is getting on.
            if len(way) == 1 and one.passage is None and isinstance(one.action, Ingress):
                way = ("", *way)
        for start, stop in pairwise(way):
            yield from _between(site, one, start, stop)
        if one.passage is not None:
            start, stop = one.passage.start, one.passage.stop
            if crane_named(site, start):
                yield _Boarding(one, start, False)
            if crane_named(site, stop):
                yield _Boarding(one, stop, True)


def _between(site: Site, situation: Situation, start: str, stop: str) -> Iterator[_Boarding]:
    """Yield what somebody who was at one place, and is at another then, has got off and on."""
    there, here = crane_named(site, start), crane_named(site, stop)
    if here and here != there:
        yield _Boarding(situation, stop, True)
    if there and here != there:
        yield _Boarding(situation, start, False)


def _finding(site: Site, boarding: _Boarding) -> Finding:
    situation, place, is_on = boarding
    scene, around = site.scene, situation.surroundings
    if place not in scene.stations and place not in around.world_from:
        because = f"Where {place} is by then is not known."
        return not_asked(NAME, situation, because)
    rails = [rail for rail in rails_in(site, around) if rail.usable]
    if not rails:
        return not_asked(NAME, situation, "The scene has no rail that may be held.")
    trunk = np.asarray(spot_in(site, situation, place).point)
    nearest = [_nearest(rail, trunk) for rail in rails]
    away = [float(np.linalg.norm(one - trunk)) for one in nearest]
    k = int(np.argmin(away))
    span = site.limit("place_span")
    left = span.value - away[k]
    stands_there = situation.place is not None and situation.place.name == place
    hold = _held(site, situation) if is_on and stands_there else None
    doing = "gets on" if is_on else "gets off"
    because = (
        f"{who(situation)} {doing} {the(crane_named(site, place))} at {place}: the middle of the "
        f"trunk is {text_of(away[k], 'm')} from {rails[k].name}, {text_of(span.value, 'm')} are "
        f"spanned{_held_words(hold)}."
    )
    fix = ""
    if left < 0.0:
        fix = f"Bring {place} at least {enough(-left)} nearer to {rails[k].name}."
    mark = Mark(
        "segment", (point(nearest[k]), point(trunk)), f"from {rails[k].name} to {place}",
        bad=left < 0.0,
    )  # fmt: skip
    numbers = {"distance": away[k], "rail": rails[k].name, "place": place}
    if hold is not None:
        numbers |= {"held rail": hold.rail, "hand": hold.hand}
    return finding_on(
        NAME, situation, because, left - SURE, left + SURE, "m", (span,), fix, (mark,), numbers
    )


def _nearest(rail: Rail, to: np.ndarray) -> np.ndarray:
    """Return the point of a rail nearest to another, m, world."""
    start, way = np.asarray(rail.start), np.subtract(rail.stop, rail.start)
    length = float(way @ way)
    share = 0.0 if length <= 0.0 else min(1.0, max(0.0, float((to - start) @ way) / length))
    return np.asarray(start + share * way)


def _held(site: Site, situation: Situation) -> Hold | None:
    """Return what a hand of the worker who stands there holds, None where nothing was found."""
    place = situation.place
    if place is None or place.world_from_boots is None or not isinstance(situation.action, Ingress):
        return None
    rails = rails_of(site, situation)
    if not rails:
        return None
    key = (
        "hold", place.world_from_boots.tobytes(), situation.worker, situation.case,
        id(situation.surroundings),
    )  # fmt: skip
    if key not in site.memo:
        site.memo[key] = hold_of(site, situation, rails)
    hold: Hold = site.memo[key]
    return hold if hold.hand else None


def _held_words(hold: Hold | None) -> str:
    return "" if hold is None else f"; the {hold.hand} hand then holds {hold.rail}"
