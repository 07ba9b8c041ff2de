"""What everything rests on: limits, values that nobody has published, and what was not checked."""

from __future__ import annotations

from collections.abc import Iterator

from reach.checks import CHECKS
from reach.dossier.basis import Basis
from reach.dossier.records import Row, Table
from reach.dossier.wording import columns, listed, table
from reach.finding import Verdict
from reach.model.limits import LIMITS
from reach.model.provenance import SourceMark
from reach.reports.explain import paragraphs
from reach.units import text_of

SURE = (SourceMark.PUBLISHED, SourceMark.DERIVED)


def assumptions(basis: Basis) -> Table:
    """Return every value that is not published, least trusted first, with what rests on it."""
    heads = columns("value of", "value", "mark", "source", "place", "findings that name it", "note")
    says = (
        "Values that are not published, or derived from what is, and which the planner is to "
        "confirm: from memory and invented ones first. Of limits it is said how many findings name "
        "them; paces and times are behind others, suits, tools and restraints behind every posture."
    )
    order = list(SourceMark)
    found = [one for one in basis.outcome.assumptions if one[2].mark not in SURE]
    trust = {SourceMark.FROM_MEMORY: 0, SourceMark.INVENTED: 1}
    ranked = sorted(found, key=lambda one: trust.get(one[2].mark, 2 + order.index(one[2].mark)))
    rows = []
    for path, value, source in ranked:
        answers = basis.measured(path.removeprefix("limits.")) if "limits." in path else ()
        rests = f"{len(answers)}" if "limits." in path else "not counted"
        cells = (
            path, value, str(source.mark), source.source, source.place or "none", rests,
            source.note or "none",
        )  # fmt: skip
        rows.append(Row(cells, answers))
    return table(
        "assumptions", "Assumptions to be confirmed", says, heads, rows, "Every value is published."
    )


def limits(basis: Basis) -> Table:
    """Return the limits in force with value, source, mark and what is measured against them."""
    heads = columns("limit", "what it is", "value", "mark", "source", "place", "findings", "note")
    says = (
        "Every limit that a finding is measured against, and those that no finding is: a limit of "
        "which none speaks decided nothing in this run."
    )
    rows = []
    for name, limit in basis.site.limits.items():
        answers = basis.measured(name)
        source = limit.source
        cells = (
            name, LIMITS[name][1] if name in LIMITS else "not known",
            text_of(limit.value, limit.unit), str(source.mark), source.source,
            source.place or "none", len(answers), source.note or "none",
        )  # fmt: skip
        rows.append(Row(cells, answers))
    return table("limits", "Limits in force", says, heads, rows, "No limit is in force.")


def not_asked(basis: Basis) -> Table:
    """Return checks that had nothing to judge, and questions that were not asked, with why."""
    heads = columns("check", "where", "why it was not asked", "how often", "verdict")
    says = (
        "What was not checked: checks that had nothing to judge in the whole procedure, then "
        "questions that a check could not ask in some steps. None of it is shown to be good."
    )
    rows = [
        Row(
            (check, "the whole procedure", why, 1, Verdict.NOT_ASKED),
            basis.answers(checks=(check,)),
        )
        for check, why in basis.outcome.not_asked
    ]
    rows += _unasked(basis)
    return table(
        "not-asked", "What was not checked", says, heads, rows, "Every check was asked everywhere."
    )


def _unasked(basis: Basis) -> Iterator[Row]:
    groups: dict[tuple[str, str], list[int]] = {}
    whole = {check for check, _ in basis.outcome.not_asked}
    for k, one in enumerate(basis.findings):
        if one.verdict is Verdict.NOT_ASKED and one.check not in whole:
            groups.setdefault((one.check, one.because), []).append(k)
    for (check, why), group in groups.items():
        steps = listed(basis.findings[k].step for k in group)
        yield Row((check, steps, why, len(group), Verdict.NOT_ASKED), tuple(group))


def blind_spots(basis: Basis) -> Table:
    """Return for every check that was run what it asks and what it does not look at."""
    heads = columns("check", "ids", "what it asks", "what it does not look at", "findings")
    says = (
        "What each check asks and its blind spots, in the words of `reach explain`: a pass says "
        "nothing of these."
    )
    rows = []
    for module in CHECKS:
        told = paragraphs(module)
        answers = basis.answers(checks=(module.NAME,))
        cells = (module.NAME, ", ".join(module.IDS), told[0], told[3], len(answers))
        rows.append(Row(cells, answers))
    return table("blind-spots", "Blind spots of the checks", says, heads, rows)
