"""The one kind of answer: a signed margin known to lie in an interval, and why.

The margin is >= 0 when good.  The verdict is derived from the interval, nobody sets it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from reach.model.provenance import Provenance


class Verdict(StrEnum):
    """What an interval says; ordered by `RANK`, worst first."""

    FAIL = "fail"
    OPEN = "open"
    REVIEW = "review"
    PASS = "pass"
    NOT_ASKED = "not asked"


RANK = {verdict: rank for rank, verdict in enumerate(Verdict)}

NARROW = {
    "m": 0.02, "rad": math.radians(1.0), "N m": 0.1, "N": 1.0, "s": 1.0, "m/s": 0.005, "": 0.02,
}  # fmt: skip
"""An interval across zero that is not wider than this is *review*, a wider one *open*."""


MARK_POINTS = {"point": 1, "segment": 2, "sphere": 1, "capsule": 2}
"""Kind of mark -> number of points that it needs."""


@dataclass(frozen=True, slots=True)
class Mark:
    """World geometry that shows why.

    Attributes
    ----------
    kind : str
        ``"point"``, ``"segment"``, ``"sphere"`` or ``"capsule"``.
    points : tuple of (x, y, z), m, world
        One point, or two ends.
    radius : float, m
        For spheres and capsules, else 0.
    label : str
        What it is, in words.
    bad : bool
        True when it shows what fails.
    """

    kind: str
    points: tuple[tuple[float, float, float], ...]
    label: str
    radius: float = 0.0
    bad: bool = False

    def __post_init__(self) -> None:
        if len(self.points) != MARK_POINTS.get(self.kind):
            raise ValueError(f"a mark of kind {self.kind!r} with {len(self.points)} points")


@dataclass(frozen=True, slots=True)
class Limit:
    """The value a margin is measured against, with who set it."""

    name: str
    value: float
    unit: str
    source: Provenance


@dataclass(frozen=True, slots=True)
class Finding:
    """One answer of one check about one step.

    Attributes
    ----------
    check : str
        Plain name of the check, for example ``"reach"``.
    step : str
        Name of the step asked about.
    about : tuple of str
        Names concerned, the worker first, then the fastener, then tool and place.
    case : str
        The variation, for example the size class.
    because : str
        One sentence that stands alone and ends in a full stop.
    low, high : float
        The margin lies in [low, high], in ``unit``; nan when nothing was asked.
    unit : str
        SI unit: ``"m"``, ``"rad"``, ``"N m"`` or ``""``.
    limits : tuple of Limit
        What the margin is measured against; the first one decides.
    fix : str
        The smallest change that would mend a fail, or empty.
    marks : tuple of Mark
    numbers : dict
        Further evidence by name: tiers tried, angles, shares; SI.  ``"answer"`` and ``"cause"``
        are what `answer` and `cause` give.
    """

    check: str
    step: str
    about: tuple[str, ...]
    case: str
    because: str
    low: float
    high: float
    unit: str
    limits: tuple[Limit, ...] = ()
    fix: str = ""
    marks: tuple[Mark, ...] = ()
    numbers: dict[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if math.isnan(self.low) != math.isnan(self.high):
            raise ValueError(f"{self.check}: only one end of the margin is nan")
        if self.low > self.high:
            raise ValueError(f"{self.check}: margin [{self.low}, {self.high}] runs backwards")
        if not self.because.endswith("."):
            raise ValueError(f"{self.check}: 'because' must be a sentence: {self.because!r}")

    @property
    def answer(self) -> str:
        """Which of several answers of its check this is, or what it says in a few words."""
        return str(self.numbers.get("answer", ""))

    @property
    def cause(self) -> str:
        """What it comes from, a sentence that findings with the same root share, or nothing."""
        return str(self.numbers.get("cause", ""))

    @property
    def verdict(self) -> Verdict:
        """Pass, fail, review, open or not asked, from the interval alone."""
        if math.isnan(self.low):
            return Verdict.NOT_ASKED
        if self.low >= 0.0:
            return Verdict.PASS
        if self.high < 0.0:
            return Verdict.FAIL
        if self.high - self.low <= NARROW.get(self.unit, 0.0):
            return Verdict.REVIEW
        return Verdict.OPEN


def count_of(findings: Iterable[Finding]) -> dict[Verdict, int]:
    """Return how many findings have each verdict, worst verdict first, zeros included."""
    counts = dict.fromkeys(Verdict, 0)
    for finding in findings:
        counts[finding.verdict] += 1
    return counts


def worst_of(findings: Iterable[Finding]) -> Verdict:
    """Return the worst verdict; not asked when nothing was judged."""
    return min((one.verdict for one in findings), key=RANK.__getitem__, default=Verdict.NOT_ASKED)


def exit_code(findings: Iterable[Finding]) -> int:
    """Return 0 all pass, 1 something fails, 3 nothing fails but not everything is known.

    Findings that were not asked anything count for nothing, and a run without any other
    finding gives 3: an empty run is not a pass.  (2, unreadable input, is given by the
    command line.)
    """
    return code_of(count_of(findings))


def code_of(counts: Mapping[Verdict, int]) -> int:
    """Return the exit code for so many findings of each verdict.

    Examples
    --------
    >>> code_of({Verdict.PASS: 2}), code_of({Verdict.PASS: 2, Verdict.OPEN: 1}), code_of({})
    (0, 3, 3)
    """
    if counts.get(Verdict.FAIL):
        return 1
    unsettled = counts.get(Verdict.OPEN) or counts.get(Verdict.REVIEW)
    return 3 if unsettled or not counts.get(Verdict.PASS) else 0
