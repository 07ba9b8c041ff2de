"""What the tables are made from: a run, its clock, its ledger, its ways home, its files."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field

from reach.comparing.compare import Comparison
from reach.files.procedure import LoadedProcedure
from reach.files.scene import LoadedScene
from reach.finding import Finding, Verdict, worst_of
from reach.ledger import Outing
from reach.ledgers import Ledger
from reach.model.procedure import Procedure
from reach.model.scene import Scene
from reach.returns import Returns
from reach.run import Outcome
from reach.site import Site
from reach.timetables import Timed


@dataclass(frozen=True, eq=False, slots=True)
class Spread:
    """The checks that hang on the body, run for other bodies or other hands.

    Attributes
    ----------
    words : str
        What is otherwise, such as ``"small, medium, large"`` or ``"W1 is left-handed"``.
    kind : str
        ``"sizes"`` or ``"hands"``.
    worker : str
        Whose hand is the other one; empty for sizes, which all workers have in turn.
    outcome : Outcome or None
    why : str
        Why there is no outcome, where there is none.
    """

    words: str
    kind: str
    worker: str
    outcome: Outcome | None
    why: str = ""


@dataclass(frozen=True, eq=False, slots=True)
class Basis:
    """All that tables and cards are made from; findings are named by their place in the run.

    Attributes
    ----------
    loaded : LoadedScene
    asked : LoadedProcedure
    outcome : Outcome
    timed : Timed or None
        None where the procedure has no steps.
    ledger : Ledger
    returns : Returns or None
        None where the scene has no hatch.
    spread : tuple of Spread
        Empty where it was not asked for.
    comparison : Comparison or None
        With an older version, where one was given.
    """

    loaded: LoadedScene
    asked: LoadedProcedure
    outcome: Outcome
    timed: Timed | None
    ledger: Ledger
    returns: Returns | None
    spread: tuple[Spread, ...] = ()
    comparison: Comparison | None = None
    memo: dict[str, dict[str, list[int]]] = field(default_factory=dict)

    @property
    def scene(self) -> Scene:
        """The scene, as it was read."""
        return self.loaded.scene

    @property
    def procedure(self) -> Procedure:
        """The procedure, as it was read."""
        return self.asked.procedure

    @property
    def site(self) -> Site:
        """The scene made computable."""
        return self.outcome.site

    @property
    def outing(self) -> Outing | None:
        """The procedure on the clock and in the ledger."""
        return self.outcome.outing

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All findings of the run."""
        return self.outcome.findings

    def answers(
        self,
        step: str | Iterable[str] | None = None,
        checks: Iterable[str] | None = None,
        names: Iterable[str] | None = None,
        where: Callable[[Finding], bool] | None = None,
    ) -> tuple[int, ...]:
        """Return the places of the findings about steps, by checks, about any of some names.

        What is left out does not restrict.

        Parameters
        ----------
        step : str or iterable of str, optional
        checks, names : iterable of str, optional
        where : callable, optional
            What else must be so.
        """
        steps = [step] if isinstance(step, str) else step
        of = None if checks is None else set(checks)
        wanted = None if names is None else set(names)
        return tuple(
            k
            for k, one in self._of_steps(steps)
            if (of is None or one.check in of)
            and (wanted is None or wanted & set(one.about))
            and (where is None or where(one))
        )

    def _of_steps(self, steps: Iterable[str] | None) -> Iterator[tuple[int, Finding]]:
        """Yield the findings of some steps, or of all, each with its place, in order."""
        if steps is None:
            yield from enumerate(self.findings)
            return
        by_step = self._places("step", lambda one: (one.step,))
        for k in sorted(k for step in set(steps) for k in by_step.get(step, ())):
            yield k, self.findings[k]

    def measured(self, limit: str) -> tuple[int, ...]:
        """Return the places of the findings that name a limit."""
        by_limit = self._places("limit", lambda one: {each.name for each in one.limits})
        return tuple(by_limit.get(limit, ()))

    def _places(self, what: str, names: Callable[[Finding], Iterable[str]]) -> dict[str, list[int]]:
        """Return name -> places of the findings that have it, gathered once."""
        if what not in self.memo:
            found: dict[str, list[int]] = {}
            for k, one in enumerate(self.findings):
                for name in names(one):
                    found.setdefault(name, []).append(k)
            self.memo[what] = found
        return self.memo[what]

    def verdict(self, answers: Iterable[int]) -> Verdict:
        """Return the worst verdict of findings; not asked where there is none."""
        return worst_of(self.findings[k] for k in answers)
