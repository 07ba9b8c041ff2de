"""One socket for everything asked, with a setting of its own for each target."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from reach.plan.grid import Grid, TableOf, grid_of
from reach.plan.ranking import Served, Stands, rank
from reach.site import Site, Situation

MOST = 256
"""Settings tried by postures for each target."""

PATIENCE = 32
"""Settings tried without a better one before the look at one target ends."""

TOP = 3
"""Settings to choose among for each target."""

MOST_ROWS = 400
"""Settings searched for each target, those deepest inside the outer bound."""


@dataclass(frozen=True, eq=False, slots=True)
class PerTarget:
    """A socket and the best setting found for each target, None where none was found."""

    socket: str
    settings: dict[str, Served | None]

    @property
    def worst(self) -> float:
        """The least margin of reach, m; -inf when a target has no setting."""
        return min(one.worst if one else -math.inf for one in self.settings.values())


def per_target(
    site: Site,
    asks: Sequence[Situation],
    grid: Grid,
    table_of: TableOf,
    pick: Callable[[Sequence[Situation], Sequence[Served]], Served],
    stands: Stands | None = None,
) -> tuple[PerTarget, ...]:
    """Return the sockets that no single target excludes, the best first.

    Parameters
    ----------
    asks : sequence of Situation
        One for each target and body.
    grid : Grid
        Of the same asks.
    pick : callable
        Chooses among the best settings of one target.
    stands : callable, optional
        See `reach.plan.ranking.rank`.
    """
    targets: dict[str, list[Situation]] = {}
    for ask in asks:
        assert ask.head is not None
        targets.setdefault(ask.head.name, []).append(ask)
    found = []
    for socket in grid.sockets:
        if float(grid.alone[socket].max()) > 0.0:
            continue
        settings: dict[str, Served | None] = {}
        for target, mine in targets.items():
            one = grid_of(site, mine, grid.restraint, table_of, [socket], most=MOST_ROWS)
            served = rank(site, one, mine, TOP, MOST, stands=stands, patience=PATIENCE).served
            settings[target] = pick(mine, served) if served else None
        if any(settings.values()):
            found.append(PerTarget(socket, settings))

    def place(one: PerTarget) -> tuple[int, float]:
        return sum(setting is None for setting in one.settings.values()), -one.worst

    return tuple(sorted(found, key=place))
