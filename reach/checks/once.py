"""Questions that stay the same over many steps: asked where they first come up."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator

from reach.site import Site, Situation

Key = Callable[[Situation], Hashable]


def firsts(site: Site, situations: tuple[Situation, ...], key: Key) -> Iterator[Situation]:
    """Yield the situations in which a question comes up first in the whole procedure.

    Parameters
    ----------
    situations : tuple of Situation
        Those of one step; situations of no procedure are all yielded.
    key : callable
        What makes it the same question; None where it is not asked at all.
    """
    first: dict[Hashable, Situation] = {}
    for situation in site.asked:
        first.setdefault(key(situation), situation)
    known = set(map(id, site.asked))
    for situation in situations:
        asked = key(situation)
        if asked is not None and (id(situation) not in known or first[asked] is situation):
            yield situation
