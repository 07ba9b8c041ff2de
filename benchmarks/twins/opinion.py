"""What a check said and what its twin says, and what the two together count as."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

ODD = ("wrong pass", "silent", "wrong fail")
SATISFIED, VIOLATED, UNKNOWN = "satisfied", "violated", "unknown"

KINDS = (
    "wrong pass",
    "silent",
    "wrong fail",
    "open, satisfied",
    "open, violated",
    "open",
    "pass",
    "fail",
    "not asked",
)
"""What a case can count as; the first two are what is hunted for, *silent* is a violation of
which the check says nothing."""


@dataclass(frozen=True)
class Opinion:
    """One question: the verdict of the check and what its twin found.

    Attributes
    ----------
    check, about : str
    verdict : str
        Of the check: the worst over its findings about this.
    twin : str
        `SATISFIED`, `VIOLATED` or `UNKNOWN`.
    note : str
        What the twin saw.
    known : str
        Why a difference is understood, where it is.
    """

    check: str
    about: str
    verdict: str
    twin: str
    note: str = ""
    known: str = ""

    @property
    def kind(self) -> str:
        """What it counts as."""
        if self.verdict == "pass":
            return "wrong pass" if self.twin == VIOLATED else "pass"
        if self.verdict == "fail":
            return "wrong fail" if self.twin == SATISFIED else "fail"
        if self.verdict in ("open", "review"):
            return "open" if self.twin == UNKNOWN else f"open, {self.twin}"
        return "silent" if self.twin == VIOLATED else "not asked"

    @property
    def is_odd(self) -> bool:
        """Whether it is to be looked at by a person."""
        return self.kind in ODD and not self.known


ORDER = ("fail", "open", "review", "pass", "not asked")


def worst(findings: Iterable[Any]) -> str:
    """Return the worst verdict of findings; ``"not asked"`` where there are none."""
    said = {str(one.verdict) for one in findings}
    return next((verdict for verdict in ORDER if verdict in said), "not asked")


def opinion(
    check: str,
    about: str,
    findings: Sequence[Any],
    good: bool | None,
    note: str = "",
    known: str = "",
) -> Opinion:
    """Return the opinion on some findings about one thing; ``good`` is the twin's."""
    twin = UNKNOWN if good is None else SATISFIED if good else VIOLATED
    return Opinion(check, about, worst(findings), twin, note, known)


@dataclass
class Tally:
    """Counts by check."""

    counts: dict[str, Counter[str]] = field(default_factory=dict)

    def add(self, some: Iterable[Opinion]) -> None:
        """Count opinions."""
        for one in some:
            counter = self.counts.setdefault(one.check, Counter())
            counter["cases"] += 1
            counter[f"{one.kind}, known" if one.known and one.kind in ODD else one.kind] += 1

    def table(self) -> str:
        """Return the counts as text, a line a check."""
        columns = ("cases", *KINDS)
        known = sorted({k for c in self.counts.values() for k in c} - set(columns))
        names = (*columns, *known)
        width = max([len(one) for one in self.counts] + [5])
        head = " ".join([f"{'check':<{width}}", *(f"{one:>{max(6, len(one))}}" for one in names)])
        rows = [
            " ".join([f"{check:<{width}}", *(f"{c[n]:>{max(6, len(n))}}" for n in names)])
            for check, c in sorted(self.counts.items())
        ]
        total = sum(self.counts.values(), Counter())
        foot = " ".join([f"{'all':<{width}}", *(f"{total[n]:>{max(6, len(n))}}" for n in names)])
        return "\n".join([head, *rows, foot])
