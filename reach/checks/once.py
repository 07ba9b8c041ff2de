"""Questions that stay the same over many steps: asked where they first come up."""

from __future__ import annotations

import importlib
from collections.abc import Callable, Hashable, Iterable, Iterator
from typing import Any

from reach.kept.noting import asked_whole
from reach.motions import is_on
from reach.site import Site, Situation

Key = Callable[..., Hashable]


def firsts(
    site: Site, situations: tuple[Situation, ...], key: Key, *more: str | float
) -> Iterator[Situation]:
    """Yield the situations in which a question comes up first in the whole procedure.

    Parameters
    ----------
    situations : tuple of Situation
        Those of one step; situations of no procedure are all yielded.
    key : callable (site, situation, *more)
        What makes it the same question; None where it is not asked at all.  It has to stand in
        a module by its name.
    more : plain values
    """
    name = f"{key.__module__}:{key.__qualname__}"
    for situation in situations:
        if _is_first(site, situation, name, *more):
            yield situation


@asked_whole
def _is_first(site: Site, situation: Situation, name: str, *more: str | float) -> bool:
    module, _, function = name.partition(":")
    key: Key = getattr(importlib.import_module(module), function)
    asked = key(site, situation, *more)
    if asked is None:
        return False
    # Situations of no procedure have no first one among those of the procedure.
    first = _firsts(site, key, name, more)
    return id(situation) not in known_of(site) or first[asked] is situation


def moved_places(site: Site, situation: Situation, places: Iterable[str]) -> tuple[bytes, ...]:
    """Return what tells places on payloads apart from themselves once these have been moved."""
    world_from = situation.surroundings.world_from
    return tuple(
        world_from[payload].round(9).tobytes()
        for place in places
        for payload in site.scene.payloads
        if is_on(site.scene, payload, place)
    )


def known_of(site: Site) -> frozenset[int]:
    """Return the identities of all situations of the procedure."""
    key = ("situations of the procedure", site.asked)
    if key not in site.memo:
        site.memo[key] = frozenset(map(id, site.asked))
    known: frozenset[int] = site.memo[key]
    return known


def _firsts(
    site: Site, key: Key, name: str, more: tuple[str | float, ...]
) -> dict[Hashable, Situation]:
    """Return the first situation of each question."""
    entry = ("firsts", name, more, site.asked)
    if entry not in site.memo:
        first: dict[Any, Situation] = {}
        for situation in site.asked:
            first.setdefault(key(site, situation, *more), situation)
        site.memo[entry] = first
    found: dict[Hashable, Situation] = site.memo[entry]
    return found
