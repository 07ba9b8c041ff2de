"""For the boards: counts, root causes, every finding, what changed, what was not looked at."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence

from reach.cautions import digest
from reach.dossier.basis import Basis
from reach.dossier.records import Row, Table
from reach.dossier.wording import clock, columns, listed, sure, table
from reach.finding import RANK, Finding, Verdict, count_of
from reach.model.provenance import SourceMark
from reach.reports.margin import margin_text
from reach.reports.order import sections, shared_causes
from reach.reports.verdicts import MEANING
from reach.units import text_of

DOUBTED = (SourceMark.FROM_MEMORY, SourceMark.INVENTED)
BAD = (Verdict.FAIL, Verdict.OPEN, Verdict.REVIEW)


def summary(basis: Basis) -> Table:
    """Return how many findings have each verdict, what ends when, and what warns."""
    says = (
        "What the checks found, in numbers. Nothing that is open or under review counts as shown; "
        "what was not asked is listed under 'what was not checked'."
    )
    heads = columns("what", "found", "in words", "verdict")
    rows = [*_counts(basis), *_lists(basis), *_clock(basis), *_warnings(basis)]
    return table("summary", "Summary", says, heads, rows)


def _counts(basis: Basis) -> Iterator[Row]:
    for verdict, n in count_of(basis.findings).items():
        answers = basis.answers(where=_has(verdict))
        said = verdict if n else Verdict.NOT_ASKED
        yield Row((f"findings: {verdict}", n, MEANING[verdict], said), answers)
    causes = shared_causes(basis.findings)
    yield Row(
        (
            "root causes that several findings share",
            len(causes),
            " ".join(causes) or "none",
            _worst(basis, ()),
        )
    )


def _has(verdict: Verdict) -> Callable[[Finding], bool]:
    return lambda one: one.verdict is verdict


def _among(found: Sequence[Finding]) -> Callable[[Finding], bool]:
    chosen = {id(one) for one in found}
    return lambda one: id(one) in chosen


def _lists(basis: Basis) -> Iterator[Row]:
    for section in sections(basis.findings):
        if not section.title.startswith("UNKNOWN"):
            answers = basis.answers(where=_among(section.findings))
            words = listed((one.step for one in section.findings), section.none or "none")
            title = section.title.lower()
            yield Row((title, len(section.findings), words, _worst(basis, answers)), answers)


def _clock(basis: Basis) -> Iterator[Row]:
    timed = basis.timed
    if timed is None:
        yield Row(
            ("the outing on the clock", None, "The procedure has no steps.", _worst(basis, ()))
        )
        return
    answers = basis.answers(checks=("outing",))
    end, limit = timed.outing.end, timed.limit.value
    words = f"as written; everyone is to be in by {clock(limit)}"
    yield Row(("the outing ends at", clock(end), words, _worst(basis, answers)), answers)
    critical = listed(timed.table.critical)
    yield Row(("steps that set the end", len(timed.table.critical), critical, _worst(basis, ())))


def _warnings(basis: Basis) -> Iterator[Row]:
    for words in basis.outcome.warnings:
        yield Row(("warning", "1", f"{words}".rstrip(".") + ".", Verdict.NOT_ASKED))


def _worst(basis: Basis, answers: tuple[int, ...]) -> Verdict:
    return basis.verdict(answers)


def findings(basis: Basis) -> Table:
    """Return every finding, worst verdict first, else in the order of the procedure."""
    heads = columns(
        "number", "verdict", "check", "step", "about", "body", "what was found", "margin",
        "smallest fix", "root cause", "measured against",
    )  # fmt: skip
    says = (
        "All that the checks found, one line each, what fails first. The number is its place in "
        "the run. Margins are rounded so that none promises more than was shown."
    )
    order = sorted(range(len(basis.findings)), key=lambda k: (RANK[basis.findings[k].verdict], k))
    rows = (_finding(basis.findings[k], k) for k in order)
    return table("findings", "All findings", says, heads, rows, "No check found anything.")


def _finding(one: Finding, k: int) -> Row:
    limits = (f"{limit.name} {text_of(limit.value, limit.unit)}" for limit in one.limits)
    return Row(
        (
            k,
            one.verdict,
            f"{one.check}, {one.answer}" if one.answer else one.check,
            one.step,
            listed(one.about),
            one.case or "none",
            one.because,
            margin_text(one.low, one.high, one.unit),
            one.fix or ("none is known" if one.verdict in BAD else "none is needed"),
            one.cause or "none that others share",
            listed(limits, "a rule without a number"),
        ),
        (k,),
    )


def causes(basis: Basis) -> Table:
    """Return what does not pass, gathered by root cause, worst first."""
    heads = columns(
        "root cause", "findings", "fail", "open", "review", "checks", "steps", "evidence",
        "smallest fix", "verdict",
    )  # fmt: skip
    says = (
        "What fails or is open, gathered by what it comes from: mending the cause mends the line. "
        "A finding that shares its cause with none stands alone, with all that is said of the same "
        "step by the same check. The evidence is the worst finding of the line."
    )
    rows = sorted(
        (_cause(basis, *one) for one in grouped(basis)),
        key=lambda row: (RANK[basis.verdict(row.answers)], -len(row.answers)),
    )
    return table(
        "causes", "Findings by root cause", says, heads, rows, "Nothing fails and nothing is open."
    )


def grouped(basis: Basis) -> list[tuple[str, tuple[int, ...]]]:
    """Return what does not pass, by root cause, else by check and step, each with its findings."""
    bad = [k for k, one in enumerate(basis.findings) if one.verdict in BAD]
    n_of = Counter(basis.findings[k].cause for k in bad)
    groups: dict[tuple[str, str, str], list[int]] = {}
    for k in bad:
        one = basis.findings[k]
        shared = one.cause if one.cause and n_of[one.cause] > 1 else ""
        key = (shared, "", "") if shared else ("", one.check, one.step)
        groups.setdefault(key, []).append(k)
    return [(key[0], tuple(group)) for key, group in groups.items()]


def _cause(basis: Basis, cause: str, answers: tuple[int, ...]) -> Row:
    found = [basis.findings[k] for k in answers]
    counts = count_of(found)
    worst = min(found, key=lambda one: RANK[one.verdict])
    fix = next((one.fix for one in sorted(found, key=lambda f: RANK[f.verdict]) if one.fix), "")
    return Row(
        (
            cause or (worst.cause or "none that others share"),
            len(found),
            counts[Verdict.FAIL],
            counts[Verdict.OPEN],
            counts[Verdict.REVIEW],
            listed(one.check for one in found),
            listed(one.step for one in found),
            worst.because,
            fix or "none is known",
            basis.verdict(answers),
        ),
        answers,
    )


def inputs(basis: Basis) -> Table:
    """Return the files that everything rests on, with their digests."""
    heads = columns("file", "SHA-256")
    what_if = " ".join(f"What if: {one}." for one in basis.outcome.what_if)
    says = (
        f"Every file that was read. The digest of all is {digest(basis.outcome.inputs)}; any "
        f"edit makes another one, and results hold for these alone. {what_if}"
    ).rstrip()
    rows = (Row(one) for one in basis.outcome.inputs)
    return table("inputs", "Input files", says, heads, rows, "No file was read.")


def to_verify(basis: Basis) -> Table:
    """Return what suited trials should look at first: what is unknown, then the least margins."""
    heads = columns("why", "check", "step", "about", "body", "margin", "what was found", "verdict")
    says = (
        "What to look at first in suited trials: everything that is open or under review; then, of "
        "what passes, the least margins of each kind of quantity, one for each check and place. "
        "Last the limits from memory or invented that decide most answers; all such values stand "
        "under 'assumptions'."
    )
    rows = [*_unknown(basis), *_thin(basis), *_assumed(basis)]
    return table(
        "to-verify", "To be verified in suited trials", says, heads, rows, "Nothing was judged."
    )


def _unknown(basis: Basis) -> Iterator[Row]:
    for k in basis.answers(where=lambda one: one.verdict in (Verdict.OPEN, Verdict.REVIEW)):
        yield _verify("not settled", basis.findings[k], k)


MOST_ASSUMED = 12
"""So many limits that nobody has published are listed, those first that decide most."""


def _assumed(basis: Basis) -> Iterator[Row]:
    found: dict[str, list[int]] = {}
    for k, one in enumerate(basis.findings):
        if one.limits and one.verdict is not Verdict.NOT_ASKED:
            found.setdefault(one.limits[0].name, []).append(k)
    doubted = [
        (name, answers)
        for name, answers in found.items()
        if name in basis.site.limits and basis.site.limits[name].source.mark in DOUBTED
    ]
    for name, answers in sorted(doubted, key=lambda one: -len(one[1]))[:MOST_ASSUMED]:
        limit = basis.site.limits[name]
        told = [basis.findings[k] for k in answers]
        yield Row(
            (
                f"value {limit.source.mark}",
                listed(one.check for one in told),
                f"{len({one.step for one in told})} steps",
                name,
                "all",
                text_of(limit.value, limit.unit),
                f"It decides {len(answers)} findings; its source: {limit.source.source}.",
                basis.verdict(answers),
            ),
            tuple(answers),
        )


THIN = {"m": 25, "rad": 5, "N m": 5, "N": 5, "s": 5}
"""Unit -> so many of the least margins are listed; how many to look at is no limit."""

SHARE = 0.25
"""Of forces, moments and times those are small that are less than this share of what is asked."""


def _thin(basis: Basis) -> Iterator[Row]:
    for unit, n in THIN.items():
        seen: set[tuple[str, ...]] = set()
        for margin, k in sorted(_margins(basis.findings, unit)):
            one = basis.findings[k]
            key = (one.check, *one.about[1:])
            if key not in seen and len(seen) < n:
                seen.add(key)
                yield _verify(f"small margin ({text_of(margin, unit)})", one, k)


def _margins(found: Sequence[Finding], unit: str) -> Iterator[tuple[float, int]]:
    """Yield margins that are measures: an end at zero with no other end is a rule met."""
    for k, one in enumerate(found):
        margin = sure(one)
        is_large = unit not in ("m", "rad") and not _is_small(one)
        is_rule = is_large or (one.low == 0.0 and one.high in (0.0, float("inf")))
        if one.unit == unit and one.verdict is Verdict.PASS and margin is not None and not is_rule:
            yield margin, k


def _is_small(one: Finding) -> bool:
    return bool(one.limits) and one.limits[0].value > 0.0 and one.low < SHARE * one.limits[0].value


def _verify(why: str, one: Finding, k: int) -> Row:
    cells = (
        why, one.check, one.step, listed(one.about), one.case or "none",
        margin_text(one.low, one.high, one.unit), one.because, one.verdict,
    )  # fmt: skip
    return Row(cells, (k,))
