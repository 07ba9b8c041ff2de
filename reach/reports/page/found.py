"""What was found, ready for the page: lists by root cause, passes by step, what was not asked."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from reach.finding import Finding, Limit, Verdict
from reach.model.provenance import Provenance
from reach.reports.margin import margin_text
from reach.reports.order import UNSETTLED, Group, blocks, grouped, sections, shared_causes
from reach.reports.page.anchors import Anchors
from reach.run import Outcome
from reach.units import text_of


@dataclass(frozen=True, slots=True)
class Measure:
    """A limit that a margin is measured against: what it is called, how much, where it stands."""

    name: str
    value: str
    mark: str
    link: str


@dataclass(frozen=True, slots=True)
class Said:
    """What is said of some bodies in the same words.

    Attributes
    ----------
    margins, because, fix : str
    ids : tuple of str
        Anchors of the findings.
    measures : tuple of Measure
    """

    margins: str
    because: str
    fix: str
    ids: tuple[str, ...]
    measures: tuple[Measure, ...]


@dataclass(frozen=True, slots=True)
class Question:
    """One question with one verdict.

    Attributes
    ----------
    verdict : Verdict
    check, steps, about : str
    said : tuple of Said
    pictures : tuple of (words, link)
    """

    verdict: Verdict
    check: str
    steps: str
    about: str
    said: tuple[Said, ...]
    pictures: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Cause:
    """Questions with the same root, or with none in common."""

    cause: str
    n: int
    questions: tuple[Question, ...]


@dataclass(frozen=True, slots=True)
class Listed:
    """One heading with what stands under it; ``none`` is said where nothing does."""

    title: str
    link: str
    n: int
    none: str
    causes: tuple[Cause, ...]


@dataclass(frozen=True, slots=True)
class Pass:
    """One finding that passes, as a row.

    Attributes
    ----------
    id, check, about, case, left, because : str
    measures : tuple of Measure
    """

    id: str
    check: str
    about: str
    case: str
    left: str
    because: str
    measures: tuple[Measure, ...]


def listed(outcome: Outcome, anchors: Anchors, units: str) -> tuple[Listed, ...]:
    """Return what does not pass, in the order in which it is to be read."""
    found = []
    for section in sections(outcome.findings):
        if not section.findings and not section.none:
            continue
        causes = tuple(
            Cause(
                block.cause,
                block.n,
                tuple(question(group, anchors, units) for group in block.groups),
            )
            for block in blocks(section.findings, units)
        )
        title = section.title.capitalize()
        n = len(section.findings)
        found.append(Listed(title, anchors.heading(title), n, section.none, causes))
    return tuple(found)


def passes(outcome: Outcome, anchors: Anchors, units: str) -> dict[str, list[Pass]]:
    """Return what passes, by step."""
    found: dict[str, list[Pass]] = {}
    for one in outcome.findings:
        if one.verdict is Verdict.PASS:
            check = f"{one.check}: {one.answer}" if one.answer else one.check
            row = Pass(
                anchors.finding(one),
                check,
                " · ".join(one.about),
                one.case,
                margin_text(one.low, one.high, one.unit, units),
                one.because,
                measures_of([one], anchors, units),
            )
            found.setdefault(one.step, []).append(row)
    return found


def passes_briefly(outcome: Outcome, units: str) -> dict[str, list[tuple[str, str]]]:
    """Return what passes by step, as (names, what was asked with what is left) on one line."""
    found: dict[str, dict[str, list[str]]] = {}
    for one in outcome.findings:
        if one.verdict is Verdict.PASS:
            check = f"{one.check} ({one.answer})" if one.answer else one.check
            left = margin_text(one.low, one.high, one.unit, units).removeprefix("inside by ")
            words = " ".join(part for part in (check, one.case, left) if part)
            lines = found.setdefault(one.step, {}).setdefault(" · ".join(one.about), [])
            if words not in lines:
                lines.append(words)
    return {
        step: [(about, "; ".join(lines)) for about, lines in abouts.items()]
        for step, abouts in found.items()
    }


def not_asked(outcome: Outcome, anchors: Anchors) -> list[tuple[str, str, str, tuple[str, ...]]]:
    """Return (check, why, where, anchors) of all that was not asked: whole checks first."""
    of_reason: dict[str, list[str]] = {}
    for check, why in outcome.not_asked:
        of_reason.setdefault(why, []).append(check)
    rows: list[tuple[str, str, str, tuple[str, ...]]] = [
        (", ".join(checks), why, "the whole procedure", ()) for why, checks in of_reason.items()
    ]
    silent = [one for one in outcome.findings if one.verdict is Verdict.NOT_ASKED]
    of_answer: dict[tuple[str, str], tuple[list[str], list[str]]] = {}
    for group in grouped(silent):
        for entry in group.entries:
            where, ids = of_answer.setdefault((group.check, entry.because), ([], []))
            cases = f", {', '.join(entry.cases)}" if any(entry.cases) else ""
            where.append(f"{group.step} ({' · '.join(group.about)}{cases})")
            ids += [anchors.finding(f) for f in group.findings if f.because == entry.because]
    rows += [
        (check, why, "; ".join(where), tuple(ids))
        for (check, why), (where, ids) in of_answer.items()
    ]
    return rows


def question(group: Group, anchors: Anchors, units: str) -> Question:
    """Return a group of findings ready to print."""
    said = []
    for entry in group.entries:
        mine = [f for f in group.findings if f.because == entry.because]
        ids = tuple(anchors.finding(f) for f in mine)
        said.append(
            Said(entry.said, entry.because, entry.fix, ids, measures_of(mine, anchors, units))
        )
    steps = list(dict.fromkeys(finding.step for finding in group.findings))
    about = " · ".join(group.about)
    word = "step" if len(steps) == 1 else "steps"
    pictures = anchors.pictures(steps, group.about)
    return Question(
        group.verdict, group.check, f"{word} {', '.join(steps)}", about, tuple(said), pictures
    )


def measures_of(findings: Iterable[Finding], anchors: Anchors, units: str) -> tuple[Measure, ...]:
    """Return the limits of findings, each once."""
    found: dict[tuple[str, float], Measure] = {}
    for finding in findings:
        for limit in finding.limits:
            key = (limit.name, limit.value)
            if key not in found:
                found[key] = measure_of(limit, anchors, units)
    return tuple(found.values())


def measure_of(limit: Limit, anchors: Anchors, units: str) -> Measure:
    """Return a limit in words with the place where its source stands."""
    value = text_of(limit.value, limit.unit, units)
    name = limit.name.replace("_", " ")
    return Measure(name, value, str(limit.source.mark), anchors.limit(limit))


@dataclass(frozen=True, slots=True)
class Sourced:
    """A limit or an assumption as a row: what, how much, how far to trust it, who says so."""

    id: str
    name: str
    value: str
    mark: str
    source: str
    note: str
    is_published: bool


def limits_of(outcome: Outcome, anchors: Anchors, units: str) -> list[Sourced]:
    """Return every limit that a margin was measured against, each once, by name."""
    found: dict[str, Sourced] = {}
    for finding in outcome.findings:
        for limit in finding.limits:
            link = anchors.limit(limit)
            if link not in found:
                value = text_of(limit.value, limit.unit, units)
                name = limit.name.replace("_", " ")
                found[link] = _sourced(link, name, value, limit.source)
    return sorted(found.values(), key=lambda one: one.name)


def assumptions_of(outcome: Outcome) -> list[Sourced]:
    """Return every value that answers rest on; those that are yours to confirm first."""
    rows = [
        _sourced(f"value-{k}", path, value, source)
        for k, (path, value, source) in enumerate(outcome.assumptions)
    ]
    return sorted(rows, key=lambda one: one.is_published)


def _sourced(link: str, name: str, value: str, source: Provenance) -> Sourced:
    told = ", ".join(part for part in (source.source, source.place) if part)
    is_published = str(source.mark) == "published"
    return Sourced(link, name, value, str(source.mark), told, source.note, is_published)


def unsettled_of(some: Sequence[Listed]) -> list[Question]:
    """Return every question that is open or under review, for the head of the page."""
    return [
        question
        for section in some
        for cause in section.causes
        for question in cause.questions
        if question.verdict in UNSETTLED
    ]


def causes_of(outcome: Outcome, anchors: Anchors) -> list[tuple[str, int, str]]:
    """Return (cause, how many findings, link to the first) of what several share, most first."""
    return [
        (cause, len(some), anchors.finding(some[0]))
        for cause, some in shared_causes(outcome.findings).items()
    ]
