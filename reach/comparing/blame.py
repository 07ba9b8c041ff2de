"""Which edit broke or mended which check: read first, then run; nothing is blamed unrun.

*Alone*: the old version with this one edit was checked and shows it.  *Each alone*: so do
several.  *As one*: edits that make sense only together show it.  *Together*: these edits show it,
and without any one of them it does not come up.  *Not known*: all else.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from reach.comparing.edits import Edit
from reach.comparing.flips import Change, Flip
from reach.comparing.reading import SAME_STEP, likely
from reach.comparing.trials import Trials
from reach.finding import Verdict

How = Literal["alone", "each alone", "as one", "together", "not known"]
MOST_TOGETHER = 6
"""More edits than these are not told apart where none shows a flip alone."""


@dataclass(frozen=True, slots=True)
class Blame:
    """What is behind a flip.

    Attributes
    ----------
    how : str
    edits : tuple of Edit
        With the keys that matter where they could be told apart; empty when not known.
    why : str
        Where it is not known: what stands in the way, a sentence.
    """

    how: How
    edits: tuple[Edit, ...] = ()
    why: str = ""


def blamable(flip: Flip) -> bool:
    """Return whether it is worth runs to find out which edit did it.

    It is not for a margin that may have fallen and yet passes.
    """
    if flip.new is None:
        return False
    fell = flip.change is Change.FELL
    short = flip.change is Change.MAY_HAVE_FALLEN and flip.new.verdict is not Verdict.PASS
    return flip.is_worse or flip.is_better or fell or short


def blame(flips: Sequence[Flip], trials: Trials) -> dict[int, Blame]:
    """Return what is behind each flip that can be blamed on edits, by its index.

    Parameters
    ----------
    flips : sequence of Flip
    trials : Trials
        With the edits that an answer can hang on.
    """
    asked = {k: flip for k, flip in enumerate(flips) if blamable(flip)}
    scores = {k: likely(flip, trials.edits, trials.old, trials.new) for k, flip in asked.items()}
    found = _Search(asked, scores, trials)
    found.alone()
    found.together()
    return {k: found.blame(k) for k in found.asked}


def _weight(flip: Flip) -> int:
    """Return how much a flip matters when runs are few."""
    return 4 if flip.is_worse else 2 if flip.is_better else 1


class _Search:
    """The search for what is behind each flip."""

    def __init__(
        self, asked: dict[int, Flip], scores: dict[int, list[int]], trials: Trials
    ) -> None:
        # Runs are bounded: what is worse is looked into first, then what is better.
        self.asked = dict(sorted(asked.items(), key=lambda item: -_weight(item[1])))
        self.scores, self.trials = scores, trials
        self.groups: dict[int, list[tuple[Edit, ...]]] = {k: [] for k in asked}
        """Edits (with those they need) that were run and show a flip."""
        self.joint: dict[int, tuple[Edit, ...]] = {}

    def alone(self) -> None:
        """Try one edit after another, the likeliest for most flips first.

        An edit of another step is tried only while a flip has nothing behind it.
        """
        for i in self._by_likelihood():
            edit = self.trials.edits[i]
            wanted = [k for k in self.asked if not self.groups[k] or self._is_near(k, i)]
            if not wanted:
                continue
            group = self.trials.group(edit)
            if not group or self.trials.findings(group) is None:
                continue
            for k, flip in self.asked.items():
                if group not in self.groups[k] and self.trials.shows(group, flip):
                    self.groups[k].append(group)

    def _is_near(self, k: int, i: int) -> bool:
        return self.scores[k][i] >= SAME_STEP

    def _by_likelihood(self) -> list[int]:
        edits = range(len(self.trials.edits))
        weighed = [
            [_weight(flip) * score for score in self.scores[k]] for k, flip in self.asked.items()
        ]
        best = {i: max((scores[i] for scores in weighed), default=0) for i in edits}
        total = {i: sum(scores[i] for scores in weighed) for i in edits}
        return sorted(edits, key=lambda i: (-best[i], -total[i], i))

    def together(self) -> None:
        """Look for a few edits that show together what none of them shows alone."""
        for k, flip in self.asked.items():
            if self.groups[k]:
                continue
            known = [some for some in self.joint.values() if self.trials.shows(some, flip)]
            if known:
                found = self._spared(flip, list(known[0]))
            elif self.trials.is_spent:
                continue
            else:
                edits = range(len(self.trials.edits))
                ranked = sorted(edits, key=lambda i: (-self.scores[k][i], i))
                found = self._least(flip, [self.trials.edits[i] for i in ranked])
            if found:
                self.joint[k] = found

    def _least(self, flip: Flip, ranked: list[Edit]) -> tuple[Edit, ...]:
        """Return edits that show a flip, each of them needed, or nothing.

        The likeliest are put together, twice as many each time, until they show it; then those
        that can be spared are left out again.
        """
        n = 2
        while True:
            some = self._in_order(ranked[:n])
            if self.trials.shows(some, flip):
                break
            if n >= len(ranked):
                return ()
            n *= 2
        return self._spared(flip, ranked[:n])

    def _spared(self, flip: Flip, kept: list[Edit]) -> tuple[Edit, ...]:
        """Return those of edits that show a flip together of which none can be left out.

        Halves are left out first, then quarters, at last one by one until nothing more can be.
        """
        size = max(1, len(kept) // 2)
        while True:
            before = len(kept)
            for start in reversed(range(0, len(kept), size)):
                fewer = kept[:start] + kept[start + size :]
                some = self._in_order(fewer)
                if not fewer or not self.trials.fits(some):
                    continue
                if self.trials.shows(some, flip):
                    kept = fewer
                elif size == 1 and self.trials.findings(some) is None:
                    return ()  # whether this one is needed is not known
            if size == 1 and len(kept) == before:
                return self._in_order(kept) if len(kept) <= MOST_TOGETHER else ()
            size = max(1, size // 2)

    def _in_order(self, edits: Sequence[Edit]) -> tuple[Edit, ...]:
        return tuple(edit for edit in self.trials.edits if edit in edits)

    def blame(self, k: int) -> Blame:
        """Return what was found out about one flip."""
        single = [group[0] for group in self.groups[k] if len(group) == 1]
        if len(single) == 1:
            return Blame("alone", (self._told(single[0], self.asked[k]),))
        if single:
            return Blame("each alone", tuple(single))
        if self.groups[k]:
            return Blame("as one", min(self.groups[k], key=len))
        if k in self.joint:
            found = self.joint[k]
            return Blame("together" if len(found) > 1 else "alone", found)
        return Blame("not known", why=self._why())

    def _told(self, edit: Edit, flip: Flip) -> Edit:
        """Return an edit with the one of its keys that shows a flip by itself, else all."""
        if len(edit.asks) < 2:
            return edit
        parts = [edit.only([field]) for field in edit.asks]
        good = [part for part in parts if self.trials.shows([part], flip)]
        unsure = any(self.trials.fits([p]) and self.trials.findings([p]) is None for p in parts)
        return good[0] if len(good) == 1 and not unsure else edit

    def _why(self) -> str:
        if self.trials.is_spent:
            return f"after {self.trials.n_runs} runs nothing was found that shows it"
        return f"no edit alone shows it, nor do up to {MOST_TOGETHER} together that could be tried"
