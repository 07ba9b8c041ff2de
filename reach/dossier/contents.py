"""All tables and cards of a dossier, in the order in which they are printed."""

from __future__ import annotations

from collections.abc import Callable

from reach.dossier.basis import Basis
from reach.dossier.records import Card, Table

MAKERS: tuple[Callable[[Basis], Table], ...] = ()
"""One maker for each table, in the order of print."""


def tables_of(basis: Basis) -> tuple[Table, ...]:
    """Return all tables of a dossier."""
    return tuple(make(basis) for make in MAKERS)


def cards_of(basis: Basis) -> tuple[Card, ...]:
    """Return the worksite cards of a dossier."""
    return ()
