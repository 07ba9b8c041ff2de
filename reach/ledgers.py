"""The ledger of a procedure, to be told: its steps in order, how everything stands after each."""

from __future__ import annotations

from dataclasses import dataclass

from reach.files.people import load_population
from reach.files.procedure import LoadedProcedure
from reach.files.scene import LoadedScene
from reach.lasting import outing_of
from reach.ledger import Outing
from reach.ledger.facts import Fact, changed_in, facts_at
from reach.run import Outcome
from reach.situations import resolve


@dataclass(frozen=True, eq=False, slots=True)
class Entry:
    """How everything stands after one step, or before all of them.

    Attributes
    ----------
    step, lane : str
        Empty for the beginning.
    begin, end : float, s
        Since the start of the procedure, as written.
    facts : tuple of Fact
        All of them, at the end of the step.
    changes : tuple of (Fact, Fact)
        What the step changed: as it was, and as it is then.
    """

    step: str
    lane: str
    begin: float
    end: float
    facts: tuple[Fact, ...]
    changes: tuple[tuple[Fact, Fact], ...] = ()


@dataclass(frozen=True, eq=False, slots=True)
class Ledger:
    """A whole procedure, entry by entry.

    Attributes
    ----------
    title, procedure : str
    entries : tuple of Entry
        The beginning first, then the steps in the order in which they end.
    inputs : tuple of (file as given, sha256)
    is_declared : bool
        Whether the procedure says how the outing begins.
    """

    title: str
    procedure: str
    entries: tuple[Entry, ...]
    inputs: tuple[tuple[str, str], ...]
    is_declared: bool

    def after(self, step: str) -> Entry:
        """Return the entry of a step."""
        return next(entry for entry in self.entries if entry.step == step)


def ledger_of(
    loaded: LoadedScene, asked: LoadedProcedure, outcome: Outcome | None = None
) -> Ledger:
    """Return the ledger of a procedure that was read with its scene.

    Parameters
    ----------
    loaded : LoadedScene
    asked : LoadedProcedure
    outcome : Outcome, optional
        A run of theirs, where there is one: its outing is told.
    """
    outing = None if outcome is None else outcome.outing
    if outing is None:
        site, situations = resolve(
            loaded.scene, loaded.meshes, asked.procedure, load_population, arms=loaded.arms
        )
        outing = outing_of(site, situations, asked.procedure)
    files = dict(loaded.files) | (asked.files or {asked.file: asked.sha256})
    return Ledger(
        title=loaded.scene.title or loaded.name,
        procedure=asked.procedure.title,
        entries=tuple(_entries(outing)),
        inputs=tuple(sorted(files.items())),
        is_declared=outing.is_declared,
    )


def _entries(outing: Outing) -> list[Entry]:
    entries = [Entry("", "", 0.0, 0.0, facts_at(outing, 0))]
    last = {step.name: outing.rank(outing.deeds_in(step.name)[-1]) for step in outing.steps}
    for step in sorted(outing.steps, key=lambda one: last[one.name]):
        span = outing.spans[step.name]
        facts = facts_at(outing, last[step.name] + 1)
        entries.append(
            Entry(step.name, step.lane, span.begin, span.end, facts, changed_in(outing, step.name))
        )
    return entries
