"""Everything a report holds, made once: the run, the clock, the ledger, tables and cards."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reach.comparing.compare import Comparison, compare
from reach.comparing.edits import Version
from reach.dossier.basis import Basis, Spread
from reach.dossier.contents import cards_of, tables_of
from reach.dossier.records import Card, Table
from reach.dossier.spreading import spread_of
from reach.files.procedure import LoadedProcedure
from reach.files.scene import LoadedScene
from reach.kept.keeping import Kept
from reach.ledgers import Ledger, ledger_of
from reach.returns import Returns, returns_of
from reach.run import Outcome, Say, check
from reach.timetables import Timed, timed


@dataclass(frozen=True, eq=False, slots=True)
class Dossier:
    """What a planner hands over, as plain data.

    Attributes
    ----------
    outcome : Outcome
        Tables and cards name its findings by their place in ``outcome.findings``.
    timed : Timed or None
        None where the procedure has no steps.
    ledger : Ledger
    returns : Returns or None
        None where the scene has no hatch to come home through.
    tables : tuple of Table
        In the order in which they are printed.
    cards : tuple of Card
    spread : tuple of Spread
        What was run for other bodies and hands; empty where it was not asked for.
    comparison : Comparison or None
    """

    outcome: Outcome
    timed: Timed | None
    ledger: Ledger
    returns: Returns | None
    tables: tuple[Table, ...]
    cards: tuple[Card, ...]
    spread: tuple[Spread, ...] = ()
    comparison: Comparison | None = None

    def table(self, name: str) -> Table:
        """Return a table by name.

        Raises
        ------
        ValueError
            If there is none; the message names those that there are.
        """
        for table in self.tables:
            if table.name == name:
                return table
        known = ", ".join(table.name for table in self.tables)
        raise ValueError(f"no table {name!r}; there are {known}")


def dossier_of(
    loaded: LoadedScene,
    asked: LoadedProcedure,
    *,
    only: Sequence[str] | None = None,
    kept: Kept | None = None,
    processes: int = 2,
    say: Say | None = None,
    spread: bool = False,
    sizes: Sequence[str] = (),
    since: Version | None = None,
    runs: int = 0,
) -> Dossier:
    """Run the checks of a procedure once and return all that is handed over.

    Parameters
    ----------
    loaded : LoadedScene
    asked : LoadedProcedure
    only : sequence of str, optional
        Names or ids of the checks to run; what others would say is then not known.
    kept : Kept, optional
        What earlier runs found; what this one finds is put into it, the caller writes it.
    processes : int
        As of `reach.run.check`.
    say : callable, optional
        Told (done, total, words) as the work goes on.
    spread : bool
        Whether the checks that hang on the body are run for other sizes and other hands too.
    sizes : sequence of str
        Size classes for that; all of the scene where left empty.
    since : Version, optional
        An older version, for what has changed.
    runs : int
        Versions in between that may be run to find out which edit did what.

    Raises
    ------
    ValueError
        If a size is unknown.
    """
    wrong = [size for size in sizes if size not in loaded.scene.sizes]
    if wrong:
        raise ValueError(f"no size {wrong[0]!r}; there are {', '.join(loaded.scene.sizes)}")
    outcome = check(loaded, asked, only=only, kept=kept, processes=processes, say=say)
    on_clock = timed(loaded, asked, outcome)
    ledger = ledger_of(loaded, asked, outcome)
    has_home = bool(loaded.scene.hatches and loaded.scene.workers)
    home = returns_of(loaded, asked, outcome=outcome) if has_home else None
    others = spread_of(loaded, asked, sizes, kept, processes, say) if spread else ()
    comparison = _since(since, Version(loaded, asked), only, runs, kept, say)
    basis = Basis(loaded, asked, outcome, on_clock, ledger, home, others, comparison)
    return Dossier(
        outcome,
        on_clock,
        ledger,
        home,
        tables_of(basis),
        cards_of(basis),
        others,
        comparison,
    )


def _since(
    old: Version | None,
    new: Version,
    only: Sequence[str] | None,
    runs: int,
    kept: Kept | None,
    say: Say | None,
) -> Comparison | None:
    if old is None:
        return None
    return compare(old, new, only=only, runs=runs, kept=kept, say=say)
