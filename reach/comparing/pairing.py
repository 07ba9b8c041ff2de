"""Findings of two runs that answer the same question, one to one."""

from __future__ import annotations

import re
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import replace

from reach.finding import Finding

Pair = tuple[Finding | None, Finding | None]
"""The answer before and the one after; None where there is none."""

_NUMBER = re.compile(r"\d+(?:\.\d+)?")


def paired(
    old: Sequence[Finding], new: Sequence[Finding], renamed: Mapping[str, str] | None = None
) -> list[Pair]:
    """Return the findings of two runs as pairs, in the order of the new run, then what is gone.

    Answers about the same names come first.  Then a step's answers of one check are matched
    where it is done from another place, with another tool or by somebody else: those that have
    most names in common.  At last the same question may be asked in another step, for some are
    asked only where they come up first.

    Parameters
    ----------
    old, new : sequence of Finding
    renamed : mapping of old step name -> new step name, optional
    """
    names = renamed or {}
    match = _Match([replace(one, step=names.get(one.step, one.step)) for one in old], list(new))
    match.by(lambda f: (f.check, f.step, f.about, f.case, f.answer, f.because))
    match.by(lambda f: (f.check, f.step, f.about, f.case, f.answer))
    match.by(lambda f: (f.check, f.step, f.about, f.case, _answer(f)))
    match.by(lambda f: (f.check, f.step, f.case, _answer(f)))
    match.by(lambda f: (f.check, f.step, _answer(f)))
    match.by(lambda f: (f.check, f.about, f.case, _answer(f)))
    before = dict(match.found)
    pairs: list[Pair] = [
        (old[before[j]] if j in before else None, one) for j, one in enumerate(new)
    ]
    gone = set(range(len(old))) - set(before.values())
    return pairs + [(old[i], None) for i in sorted(gone)]


class _Match:
    """Which old finding goes with which new one, found round by round."""

    def __init__(self, old: list[Finding], new: list[Finding]) -> None:
        self.old, self.new = old, new
        self.found: dict[int, int] = {}
        """Index of the new finding -> index of the old one."""

    def by(self, key: Callable[[Finding], Hashable]) -> None:
        """Match what is left and has the same key, most names in common first."""
        taken = set(self.found.values())
        left: dict[Hashable, list[int]] = {}
        for i, one in enumerate(self.old):
            if i not in taken:
                left.setdefault(key(one), []).append(i)
        came: dict[Hashable, list[int]] = {}
        for j, one in enumerate(self.new):
            if j not in self.found and key(one) in left:
                came.setdefault(key(one), []).append(j)
        for asked, indices in came.items():
            self._nearest(left[asked], indices)

    def _nearest(self, left: list[int], came: list[int]) -> None:
        ranked = sorted(
            ((-_in_common(self.old[i], self.new[j]), i, j) for i in left for j in came),
        )
        taken: set[int] = set()
        for _, i, j in ranked:
            if i not in taken and j not in self.found:
                self.found[j] = i
                taken.add(i)


def _in_common(a: Finding, b: Finding) -> float:
    """Return how many names two findings share, those in the same place a little more."""
    shared = len(set(a.about) & set(b.about))
    return shared + 0.1 * sum(x == y for x, y in zip(a.about, b.about, strict=False))


def _answer(finding: Finding) -> str:
    """Return which of the answers of its check a finding is, whatever its numbers say."""
    return _NUMBER.sub("", finding.answer)
