"""Runs of the old version with some of the edits: bounded in number, each done once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from reach.comparing.edits import Edit, Version
from reach.comparing.flips import FALLEN, Change, Flip, change_of
from reach.comparing.hybrid import hybrid
from reach.comparing.pairing import paired
from reach.comparing.threshold import Threshold
from reach.files.problem import InputError
from reach.finding import RANK, Finding, Verdict
from reach.run import Say, check

Findings = tuple[Finding, ...]
Runner = Callable[[Version, Sequence[str]], Findings]
"""Runs the named checks of a version."""

MOST_COMPANIONS = 12
"""More edits that one edit needs to make sense are not looked for."""


def run_checks(version: Version, only: Sequence[str]) -> Findings:
    """Return what some checks find in a version."""
    return check(version.scene, version.asked, only=only).findings


@dataclass(slots=True)
class Trials:
    """What the old version with some edits gives, run at most ``most`` times.

    Attributes
    ----------
    old, new : Version
    edits : tuple of Edit
        All of them; subsets are named by their indices.
    checks : tuple of str
        What is run each time.
    new_findings : tuple of Finding
        What the new version gives: the old one with all edits.
    threshold : Threshold
    most : int
        Runs allowed.
    run : callable
    say : callable or None
    n_runs : int
        Runs done.
    unfit : dict of edits -> str
        Subsets that make no sense, and why.
    broken : list of str
        Runs that came to no answer, and why.
    """

    old: Version
    new: Version
    edits: tuple[Edit, ...]
    checks: tuple[str, ...]
    new_findings: Findings
    threshold: Threshold
    most: int
    run: Runner = run_checks
    say: Say | None = None
    n_runs: int = 0
    unfit: dict[tuple[Edit, ...], str] = field(default_factory=dict)
    broken: list[str] = field(default_factory=list)
    _known: dict[tuple[Edit, ...], Findings | None] = field(default_factory=dict)
    _fits: dict[tuple[Edit, ...], int] = field(default_factory=dict)

    @property
    def is_spent(self) -> bool:
        """Whether no further run is allowed."""
        return self.n_runs >= self.most

    def fits(self, edits: Sequence[Edit]) -> bool:
        """Return whether the old version with these edits alone can be checked."""
        return self._n_problems(tuple(edits)) == 0

    def _n_problems(self, edits: tuple[Edit, ...]) -> int:
        """Return how many problems the old version with these edits alone has."""
        if edits not in self._fits:
            try:
                hybrid(self.old, self.new, edits)
                self._fits[edits] = 0
            except InputError as error:
                self._fits[edits] = len(error.problems)
                self.unfit[edits] = error.problems[0].message
            except (LookupError, ValueError) as error:  # an edit of what another edit brings
                self._fits[edits] = MOST_COMPANIONS * len(self.edits)
                self.unfit[edits] = str(error) or type(error).__name__
        return self._fits[edits]

    def fitting(self, edit: Edit) -> tuple[Edit, ...]:
        """Return an edit with those that it needs to make sense; empty where none are found."""
        mine: tuple[Edit, ...] = (edit,)
        for _ in range(MOST_COMPANIONS):
            n_problems = self._n_problems(mine)
            if n_problems == 0:
                return mine
            others = [other for other in self.edits if other not in mine]
            tries = [self._in_order((*mine, other)) for other in others]
            best = min(tries, key=self._n_problems, default=mine)
            if self._n_problems(best) > n_problems or best == mine:
                return ()
            mine = best
        return mine if self.fits(mine) else ()

    def _in_order(self, edits: Sequence[Edit]) -> tuple[Edit, ...]:
        return tuple(sorted(edits, key=self.edits.index))

    def findings(self, edits: Sequence[Edit]) -> Findings | None:
        """Return what the old version with these edits gives; None where that is not known."""
        asked = tuple(edits)
        if set(asked) >= set(self.edits):
            return self.new_findings
        if asked not in self._known:
            if self.is_spent or not self.fits(asked):
                return None
            if self.say:
                titles = ", ".join(edit.title for edit in asked)
                self.say(self.n_runs, self.most, f"trying {titles}")
            self.n_runs += 1
            try:
                version = hybrid(self.old, self.new, asked)
                self._known[asked] = self.run(version, self.checks)
            except (InputError, LookupError, ValueError) as error:
                # What two versions ask must make sense; what half of their edits ask need not.
                self._known[asked] = None
                titles = ", ".join(edit.title for edit in asked)
                self.broken.append(f"{titles}: {error}")
        return self._known[asked]

    def shows(self, edits: Sequence[Edit], flip: Flip) -> bool:
        """Return whether the old version with these edits was run and shows a flip."""
        found = self.findings(edits)
        return found is not None and self._counterpart_shows(found, edits, flip)

    def _counterpart_shows(self, found: Findings, edits: Sequence[Edit], flip: Flip) -> bool:
        target = flip.new
        assert target is not None
        names = {edit.was: edit.name for edit in self.edits if edit.part == "step" and edit.was}
        of_check = [one for one in found if one.check == target.check]
        there = next(
            (mine for mine, new in paired(of_check, self._peers(target), names) if new is target),
            None,
        )
        return there is not None and shows(flip, there, self.threshold)

    def _peers(self, target: Finding) -> Findings:
        return tuple(one for one in self.new_findings if one.check == target.check)


def shows(flip: Flip, there: Finding, threshold: Threshold) -> bool:
    """Return whether an answer in between shows a flip: as bad, or as good, as the new one."""
    new = flip.new
    if new is None or there.verdict is Verdict.NOT_ASKED:
        return False
    if flip.change is Change.BETTER:
        return RANK[there.verdict] >= RANK[new.verdict]
    if flip.change in FALLEN:
        fell = change_of(flip.old, there, threshold)
        return fell in (Change.FELL, Change.WORSE, flip.change)
    return RANK[there.verdict] <= RANK[new.verdict]
