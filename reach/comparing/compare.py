"""Two versions compared: edits, what became of every answer, and what is behind it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from reach.comparing.blame import Blame, blamable, blame
from reach.comparing.edits import Edit, Version, edits_between
from reach.comparing.flips import Change, Flip, flips
from reach.comparing.threshold import Threshold, threshold_of
from reach.comparing.trials import Trials
from reach.finding import Verdict
from reach.kept.keeping import Kept
from reach.run import Outcome, Say, check

RUNS = 24
"""Runs spent on finding out which edit did it, where nothing else is asked."""


@dataclass(frozen=True, eq=False, slots=True)
class Comparison:
    """What changed between two versions and what that does to the answers.

    Attributes
    ----------
    old, new : Outcome
    versions : tuple of Version
        The old one and the new one.
    edits : tuple of Edit
    flips : tuple of Flip
        One a question, in the order of the new version; what is gone last.
    blames : mapping of index in ``flips`` -> Blame
        Of those that are worse, better or fell.
    threshold : Threshold
    sought : bool
        Whether it was asked for which edit did what.
    n_runs : int
        Runs of versions in between.
    notes : tuple of str
        What could not be tried, and why.
    """

    old: Outcome
    new: Outcome
    versions: tuple[Version, Version]
    edits: tuple[Edit, ...]
    flips: tuple[Flip, ...]
    threshold: Threshold
    blames: Mapping[int, Blame] = field(default_factory=dict)
    sought: bool = False
    n_runs: int = 0
    notes: tuple[str, ...] = ()

    @property
    def worse(self) -> tuple[int, ...]:
        """Indices of the flips for the worse."""
        return tuple(k for k, flip in enumerate(self.flips) if flip.is_worse)

    @property
    def better(self) -> tuple[int, ...]:
        """Indices of the flips for the better."""
        return tuple(k for k, flip in enumerate(self.flips) if flip.is_better)

    def of(self, *changes: Change) -> tuple[int, ...]:
        """Return the indices of the flips that are neither worse nor better and so changed."""
        return tuple(
            k
            for k, flip in enumerate(self.flips)
            if flip.change in changes and not flip.is_worse and not flip.is_better
        )

    @property
    def is_unsure(self) -> bool:
        """Whether something is asked no more, or does not pass and may be short of more.

        A question that does not come up any more is told, and makes nothing unsure.
        """
        fallen = (self.flips[k].new for k in self.of(Change.MAY_HAVE_FALLEN))
        short = any(one is not None and one.verdict is not Verdict.PASS for one in fallen)
        return short or bool(self.of(Change.NOT_ASKED_NOW))

    @property
    def exit_code(self) -> int:
        """1 when something got worse, 3 when nothing did for certain but it is unsure, else 0."""
        if self.worse:
            return 1
        return 3 if self.is_unsure else 0


def compare(
    old: Version,
    new: Version,
    *,
    only: Sequence[str] | None = None,
    threshold: Threshold | None = None,
    runs: int = RUNS,
    say: Say | None = None,
    kept: Kept | None = None,
) -> Comparison:
    """Compare two versions of a scene with its procedure.

    Parameters
    ----------
    old, new : Version
    only : sequence of str, optional
        Names or ids of the checks to run.
    threshold : Threshold, optional
        By how much a margin must fall or rise to be told.
    runs : int
        Versions in between that may be run to find out which edit did what; 0 for none.
    say : callable, optional
        Told (done, total, words) as the work goes on.
    kept : Kept, optional
        What earlier runs of either version found, as `reach.run.check` takes it.

    Raises
    ------
    InputError, ValueError
        As `reach.run.check` does.
    """
    least = threshold or threshold_of(None)
    edits = edits_between(old, new)
    before = check(old.scene, old.asked, only=only, say=_prefixed(say, "old"), kept=kept)
    after = check(new.scene, new.asked, only=only, say=_prefixed(say, "new"), kept=kept)
    steps = [edit for edit in edits if edit.part == "step"]
    found = flips(
        before.findings,
        after.findings,
        least,
        {edit.was: edit.name for edit in steps if edit.was},
        [edit.name for edit in steps if "removed" in edit.kinds],
    )
    trials = Trials(
        old=old,
        new=new,
        edits=tuple(edit for edit in edits if not edit.is_wording),
        checks=tuple(dict.fromkeys(flip.told.check for flip in found if blamable(flip))),
        new_findings=after.findings,
        threshold=least,
        most=runs,
        say=say,
    )
    blames = blame(found, trials) if runs > 0 and trials.checks else {}
    return Comparison(
        old=before,
        new=after,
        versions=(old, new),
        edits=edits,
        flips=found,
        threshold=least,
        blames=blames,
        sought=runs > 0,
        n_runs=trials.n_runs,
        notes=_notes(trials, blames),
    )


def _prefixed(say: Say | None, word: str) -> Say | None:
    if say is None:
        return None

    def told(done: int, total: int, words: str) -> None:
        say(done, total, f"{word}: {words}")

    return told


def _notes(trials: Trials, blames: Mapping[int, Blame]) -> tuple[str, ...]:
    """Return which edits could not be tried, where some answer has nothing behind it."""
    if all(one.how != "not known" for one in blames.values()):
        return ()
    unfit = [f"{edit.title}, without others: {why}" for edit, why in trials.unfit.items()]
    return (*unfit, *(f"could not be checked: {why}" for why in trials.broken))
