"""What became of each answer: worse, better, fallen, risen, new, gone or no longer asked."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from reach.comparing.pairing import paired
from reach.comparing.threshold import Threshold
from reach.finding import RANK, Finding, Verdict


class Change(StrEnum):
    """What became of an answer.

    *Fell* and *rose* are certain: the intervals are apart by more than the threshold.  *May have
    fallen*: they overlap, yet less is sure to be left, or one end says that more is missing.
    *Gone*: the question does not come up any more.  *No longer asked*: it does, and there is
    nothing to judge it by.
    """

    WORSE = "worse"
    BETTER = "better"
    FELL = "fell"
    ROSE = "rose"
    MAY_HAVE_FALLEN = "may have fallen"
    NEW = "new"
    GONE = "gone"
    GONE_WITH_STEP = "gone with its step"
    NOT_ASKED_NOW = "no longer asked"
    ALIKE = "alike"


FALLEN = (Change.FELL, Change.MAY_HAVE_FALLEN)
"""Margins that are less than before, for certain or perhaps, under the same verdict."""


@dataclass(frozen=True, slots=True)
class Flip:
    """One question and what became of its answer.

    Attributes
    ----------
    change : Change
    old, new : Finding or None
        None where the version does not answer it.
    """

    change: Change
    old: Finding | None
    new: Finding | None

    @property
    def told(self) -> Finding:
        """The answer that is spoken of: the new one where there is one."""
        found = self.new or self.old
        assert found is not None
        return found

    @property
    def is_worse(self) -> bool:
        """Whether a verdict is worse, a new answer does not pass, or what failed fails by more."""
        if self.change is Change.WORSE:
            return True
        if self.new is None or self.new.verdict in (Verdict.PASS, Verdict.NOT_ASKED):
            return False
        return self.change in (Change.NEW, Change.FELL)

    @property
    def is_better(self) -> bool:
        """Whether a verdict is better."""
        return self.change is Change.BETTER

    @property
    def cause(self) -> str:
        """The root of it as the finding says, else the step in which it fails or failed."""
        for finding in (self.new, self.old) if self.is_worse else (self.old, self.new):
            said = str(finding.numbers.get("cause", "")) if finding is not None else ""
            if said:
                return said
        failed = self.old if self.is_better and self.old is not None else self.told
        return f"step {failed.step}"


def flips(
    old: Sequence[Finding],
    new: Sequence[Finding],
    threshold: Threshold,
    renamed: Mapping[str, str] | None = None,
    removed: Sequence[str] = (),
) -> tuple[Flip, ...]:
    """Return what became of every answer, in the order of the new run, then what is gone.

    Parameters
    ----------
    old, new : sequence of Finding
    threshold : Threshold
    renamed : mapping of old step name -> new step name, optional
    removed : sequence of str
        Names of steps that are not there any more.
    """
    found = []
    for before, after in paired(old, new, renamed):
        change = change_of(before, after, threshold)
        if change is Change.GONE and before is not None and before.step in removed:
            change = Change.GONE_WITH_STEP
        found.append(Flip(change, before, after))
    return tuple(found)


def change_of(old: Finding | None, new: Finding | None, threshold: Threshold) -> Change:
    """Return what became of one answer; what was not asked before or after counts as no answer."""
    was, now = _judged(old), _judged(new)
    if was is None:
        return Change.ALIKE if now is None else Change.NEW
    if now is None:
        return Change.GONE if new is None else Change.NOT_ASKED_NOW
    if was.verdict is not now.verdict:
        return Change.WORSE if RANK[now.verdict] < RANK[was.verdict] else Change.BETTER
    if was.unit != now.unit:
        return Change.ALIKE
    least = threshold.of(was.unit, was.high if was.verdict is Verdict.FAIL else was.low)
    return _moved(was, now, least)


def _moved(old: Finding, new: Finding, least: float) -> Change:
    if new.high < old.low - least:
        return Change.FELL
    if new.low > old.high + least:
        return Change.ROSE
    # What a pass promises is its low end; of what does not pass both ends tell how far off it is.
    short = new.verdict is not Verdict.PASS and _below(new.high, old.high, least)
    if _below(new.low, old.low, least) or short:
        return Change.MAY_HAVE_FALLEN
    return Change.ALIKE


def _below(new: float, old: float, least: float) -> bool:
    """Return whether an end of an interval fell by more than ``least``; none is below itself."""
    return new < old - least if math.isfinite(old) else new < old


def _judged(finding: Finding | None) -> Finding | None:
    return None if finding is None or finding.verdict is Verdict.NOT_ASKED else finding
