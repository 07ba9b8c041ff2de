"""Runs of the old version with some of the edits: bounded in number, each done once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from reach.comparing.edits import Edit, Version
from reach.comparing.fitting import Fitting
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
    unfit : dict of Edit -> str
        Edits that make no sense, nor with others that were looked for, and why.
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
    unfit: dict[Edit, str] = field(default_factory=dict)
    broken: list[str] = field(default_factory=list)
    _known: dict[tuple[Edit, ...], Findings | None] = field(default_factory=dict)
    fitting: Fitting = field(init=False)

    def __post_init__(self) -> None:
        self.fitting = Fitting(self.old, self.new, self.edits)

    @property
    def is_spent(self) -> bool:
        """Whether no further run is allowed."""
        return self.n_runs >= self.most

    def fits(self, edits: Sequence[Edit]) -> bool:
        """Return whether the old version with these edits alone can be checked."""
        return not self.fitting.problems(edits)

    def group(self, edit: Edit) -> tuple[Edit, ...]:
        """Return an edit with those that it needs to make sense; empty where none are found."""
        group = self.fitting.group(edit)
        if not group:
            self.unfit[edit] = self.fitting.problems([edit])[0].message
        return group

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
