"""In which order findings are read: what cannot be done first, what passes last."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from reach.finding import Finding, Verdict
from reach.reports.margin import margin_text

UNREACHABLE = (
    "reach", "socket", "settings", "inner", "two-handed", "share", "route", "grips", "crane-reach",
)  # fmt: skip
"""Checks whose fails make up the list of unreachable points."""

CLEARANCE = (
    "clearance", "access", "glove", "corridor", "stand-off", "passing", "helmets", "meeting",
    "pinch", "sweep", "bystander", "links",
)  # fmt: skip
"""Checks whose fails make up the list of clearance violations."""

UNSETTLED = (Verdict.OPEN, Verdict.REVIEW)


@dataclass(frozen=True, slots=True)
class Section:
    """Findings that are listed under one heading.

    Attributes
    ----------
    title : str
    findings : tuple of Finding
        Worst verdict first, else in the order given.
    none : str
        What to print when the list is empty; itself empty when the heading is then left out.
    """

    title: str
    findings: tuple[Finding, ...]
    none: str = ""


@dataclass(frozen=True, slots=True)
class Entry:
    """Variations of one question that got the same answer in the same words."""

    cases: tuple[str, ...]
    margins: tuple[str, ...]
    because: str
    fix: str

    @property
    def said(self) -> str:
        """The cases with their margins, joined where the margin is the same."""
        return "; ".join(joined(zip(self.cases, self.margins, strict=True)))


@dataclass(frozen=True, slots=True)
class Group:
    """One question (check, step, names) with one verdict, and what was said for each case.

    ``check`` names several, with commas, where they say the very same; so does ``step`` where
    ``n_steps`` is more than one.  ``findings`` are all that it was made from.
    """

    check: str
    step: str
    about: tuple[str, ...]
    verdict: Verdict
    entries: tuple[Entry, ...]
    n_steps: int = 1
    findings: tuple[Finding, ...] = field(default=(), compare=False)


@dataclass(frozen=True, slots=True)
class Block:
    """What is listed together.

    Attributes
    ----------
    cause : str
        What all of it comes from, a sentence; empty where nothing joins it.
    n : int
        How many findings it holds.
    groups : tuple of Group
    """

    cause: str
    n: int
    groups: tuple[Group, ...]


def sections(findings: Sequence[Finding]) -> tuple[Section, ...]:
    """Return what does not pass, cut into lists, in the order in which it is to be read."""
    fails = [finding for finding in findings if finding.verdict is Verdict.FAIL]
    listed = UNREACHABLE + CLEARANCE
    open_first = sorted(
        (finding for finding in findings if finding.verdict in UNSETTLED),
        key=lambda finding: UNSETTLED.index(finding.verdict),
    )
    return (
        Section("UNREACHABLE", _of(fails, UNREACHABLE), _none(findings, UNREACHABLE)),
        Section("CLEARANCE VIOLATIONS", _of(fails, CLEARANCE), _none(findings, CLEARANCE)),
        Section("OTHER FAILS", tuple(f for f in fails if f.check not in listed)),
        Section("UNKNOWN: OPEN OR UNDER REVIEW", tuple(open_first), "none"),
    )


def _of(findings: Iterable[Finding], checks: tuple[str, ...]) -> tuple[Finding, ...]:
    return tuple(finding for finding in findings if finding.check in checks)


def _none(findings: Iterable[Finding], checks: tuple[str, ...]) -> str:
    asked = [f for f in _of(findings, checks) if f.verdict is not Verdict.NOT_ASKED]
    n_unsettled = sum(finding.verdict in UNSETTLED for finding in asked)
    if not asked:
        return "not checked"
    return f"none proved, {n_unsettled} still unknown (below)" if n_unsettled else "none"


def grouped(findings: Iterable[Finding], units: str = "si") -> tuple[Group, ...]:
    """Return findings gathered by question and verdict; cases in the same words are one entry.

    Checks that say the same of the same step, cases and margins included, are one group.
    """
    gathered: dict[tuple[object, ...], list[Finding]] = {}
    for finding in findings:
        key = (finding.check, finding.step, finding.about, finding.verdict)
        gathered.setdefault(key, []).append(finding)
    alike: dict[tuple[object, ...], list[Group]] = {}
    for same in gathered.values():
        one = same[0]
        entries = _entries(same, units)
        group = Group(one.check, one.step, one.about, one.verdict, entries, 1, tuple(same))
        alike.setdefault((group.step, group.about, group.verdict, group.entries), []).append(group)
    return tuple(
        replace(
            groups[0],
            check=", ".join(group.check for group in groups),
            findings=_all(groups),
        )
        for groups in alike.values()
    )


def blocks(findings: Iterable[Finding], units: str = "si") -> tuple[Block, ...]:
    """Return findings with what joins them: those that share a cause first, then all others.

    Under a cause, steps in which the same is said of the same things are told once, with the
    fix of the first.  A cause that one finding alone has joins nothing.
    """
    every = tuple(findings)
    n_of = Counter(finding.cause for finding in every)
    joined_by: dict[str, list[Finding]] = {}
    rest = []
    for finding in every:
        if finding.cause and n_of[finding.cause] > 1:
            joined_by.setdefault(finding.cause, []).append(finding)
        else:
            rest.append(finding)
    found = [
        Block(cause, len(some), _over_steps(grouped(some, units)))
        for cause, some in joined_by.items()
    ]
    return (*found, Block("", len(rest), grouped(rest, units))) if rest else tuple(found)


def shared_causes(findings: Iterable[Finding]) -> dict[str, tuple[Finding, ...]]:
    """Return what several findings that do not pass come from, most of them first."""
    joined_by: dict[str, list[Finding]] = {}
    for finding in findings:
        if finding.cause and finding.verdict in (Verdict.FAIL, *UNSETTLED):
            joined_by.setdefault(finding.cause, []).append(finding)
    several = {cause: tuple(some) for cause, some in joined_by.items() if len(some) > 1}
    return dict(sorted(several.items(), key=lambda one: -len(one[1])))


def _over_steps(groups: Iterable[Group]) -> tuple[Group, ...]:
    """Return groups with those that say the same in several steps as one."""
    alike: dict[tuple[object, ...], list[Group]] = {}
    for group in groups:
        said = tuple(replace(entry, fix="") for entry in group.entries)
        alike.setdefault((group.check, group.about, group.verdict, said), []).append(group)
    return tuple(
        replace(
            same[0],
            step=", ".join(one.step for one in same),
            n_steps=len(same),
            findings=_all(same),
        )
        for same in alike.values()
    )


def _all(groups: Iterable[Group]) -> tuple[Finding, ...]:
    return tuple(finding for group in groups for finding in group.findings)


def _entries(findings: Iterable[Finding], units: str) -> tuple[Entry, ...]:
    alike: dict[tuple[str, str], list[Finding]] = {}
    for finding in findings:
        alike.setdefault((finding.because, finding.fix), []).append(finding)
    return tuple(
        Entry(
            cases=tuple(finding.case for finding in same),
            margins=tuple(margin_text(f.low, f.high, f.unit, units) for f in same),
            because=because,
            fix=fix,
        )
        for (because, fix), same in alike.items()
    )


def joined(pairs: Iterable[tuple[str, str]]) -> list[str]:
    """Return "case, case: text" for every different text, in order.

    Examples
    --------
    >>> joined([("small", "0.1 m"), ("medium", "0.2 m"), ("large", "0.1 m"), ("", "0.3 m")])
    ['small, large: 0.1 m', 'medium: 0.2 m', '0.3 m']
    """
    cases_of: dict[str, list[str]] = {}
    for case, text in pairs:
        cases_of.setdefault(text, []).append(case)
    named = ((", ".join(case for case in cases if case), text) for text, cases in cases_of.items())
    return [f"{cases}: {text}" if cases else text for cases, text in named]
