"""The table for a terminal or a pipe: fails first, passes last, cautions always."""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from rich.console import Console, RenderableType
from rich.padding import Padding
from rich.text import Text

from reach.cautions import cautions, digest
from reach.finding import RANK, Finding, Verdict, count_of, exit_code
from reach.model.provenance import SourceMark
from reach.reports.margin import span_text
from reach.reports.order import Group, Section, blocks, grouped, joined, sections
from reach.reports.paragraphs import Paragraph
from reach.reports.record import as_given
from reach.reports.verdicts import MEANING, SHAPE, STYLE, badge

if TYPE_CHECKING:
    from reach.run import Outcome

_GAP = 3
_MEANING_OF_EXIT = {
    0: "everything that was asked passes",
    1: "something fails",
    3: "nothing fails, but not everything is known",
}


def render_table(
    outcome: Outcome, width: int = 100, colour: bool = False, units: str = "si"
) -> str:
    """Return what was found as text that stands alone; nothing is cut off, long lines wrap.

    Parameters
    ----------
    outcome : Outcome
    width : int
        Columns to fill.
    colour : bool
        With escape codes for a terminal; without, the text says the same.
    units : str
        ``"si"`` or ``"both"``.
    """
    return printed(laid_out(outcome, width, units), width, colour)


def render_values(outcome: Outcome, width: int = 100, colour: bool = False) -> str:
    """Return every value that the answers rest on, with its source and mark."""
    return printed(_values(outcome), width, colour)


def printed(parts: Iterable[RenderableType], width: int, colour: bool) -> str:
    """Return renderable parts as text, one below the other, without trailing blanks."""
    console = Console(
        file=io.StringIO(),
        width=width,
        force_terminal=colour,
        color_system="truecolor" if colour else None,
        no_color=not colour,
        highlight=False,
        legacy_windows=False,
    )
    for part in parts:
        # A line that must not be broken runs on beyond the edge.
        console.print(part, soft_wrap=isinstance(part, Text) and bool(part.no_wrap))
    text = console.file.getvalue()  # type: ignore[attr-defined]
    return "".join(f"{line.rstrip()}\n" for line in text.splitlines())


def laid_out(outcome: Outcome, width: int, units: str) -> Iterator[RenderableType]:
    """Yield the parts of the table of an outcome, cautions last."""
    yield from _head(outcome)
    for section in sections(outcome.findings):
        if section.findings or section.none:
            yield from _section(section, units)
    yield from _passes(outcome.findings, width, units)
    yield from _not_asked(outcome)
    yield from _sources(outcome)
    yield from _counts(outcome)
    yield heading("CAUTIONS")
    for number, text in enumerate(cautions(outcome.inputs), 1):
        yield paragraph(text, 2, f"{number:>2}. ")


def _head(outcome: Outcome) -> Iterator[RenderableType]:
    n_steps = len({finding.step for finding in outcome.findings})
    what_if = f", what if {', '.join(outcome.what_if)}" if outcome.what_if else ""
    yield Text(f"{outcome.title}: {outcome.procedure}{what_if}", style="bold")
    n = len(outcome.findings)
    named = (case for f in outcome.findings for case in f.case.split(", ") if case)
    cases = ", ".join(dict.fromkeys(named))
    bodies = f" for {cases}" if cases else ""
    asked = f"{_n(n, 'answer')} about {_n(n_steps, 'step')}{bodies}"
    yield Text(f"{asked}, found in {outcome.seconds:.1f} s.")
    for verdict in (verdict for verdict in RANK if verdict is not Verdict.NOT_ASKED):
        yield paragraph(MEANING[verdict], 2, f"{badge(verdict):<9} ")
    yield paragraph(
        "'inside by' is what is left before the answer tips over, 'short by' is what is missing; "
        "'..' stands for anything between, 'met' and 'not met' for a rule that has no measure",
        2,
        "margin    ",
    )
    for warning in outcome.warnings:
        yield paragraph(warning, 0, "! ", "bold")


def _section(section: Section, units: str) -> Iterator[RenderableType]:
    if not section.findings:
        yield heading(section.title, section.none)
        return
    yield heading(section.title, _n(len(section.findings), "answer"))
    for block in blocks(section.findings, units):
        if block.cause:
            yield paragraph(block.cause, 2, f"Cause of {_n(block.n, 'answer')}: ", "bold")
        for group in block.groups:
            yield from _group(group, 2 if block.cause else 0)


def _group(group: Group, indent: int) -> Iterator[RenderableType]:
    yield _group_line(group, indent)
    for entry in group.entries:
        yield paragraph(entry.said, indent + 4, style="bold")
        yield paragraph(entry.because, indent + 6)
        if entry.fix:
            yield paragraph(entry.fix, indent + 6, "Fix: ")


def _group_line(group: Group, indent: int) -> Padding:
    steps = "step" if group.n_steps == 1 else "steps"
    line = Text.assemble(
        (f" {badge(group.verdict)} ", STYLE[group.verdict]),
        " ",
        (group.check, "bold"),
        f", {steps} {group.step}: {' · '.join(group.about)}",
    )
    return Padding(line, (0, 0, 0, indent + 1), expand=False)


def _passes(findings: Iterable[Finding], width: int, units: str) -> Iterator[RenderableType]:
    passed = [finding for finding in findings if finding.verdict is Verdict.PASS]
    yield heading(
        "PASSES", f"{_n(len(passed), 'answer')}, each inside by, or met" if passed else "none"
    )
    name_width = max((len(finding.check) for finding in passed), default=0)
    cells = {id(f): (f.case, _left(f, units)) for f in passed}
    lengths = (len(": ".join(cell)) for cell in cells.values())
    chunk = max((length for length in lengths if length <= width // 2), default=0)
    mark, column = f"{SHAPE[Verdict.PASS]} ", name_width + _GAP
    for step, questions in _by_question(passed).items():
        rules: dict[str, list[str]] = {}
        for about, checks in questions.items():
            if all(_is_rule(finding) for alike in checks.values() for finding in alike):
                for check in checks:
                    rules.setdefault(check, []).append(" · ".join(about))
                continue
            yield paragraph(f"step {step}: {' · '.join(about)}", 2, mark)
            for check, alike in checks.items():
                chunks = joined(cells[id(finding)] for finding in alike)
                for row, line in enumerate(_packed(chunks, chunk, width - 4 - column)):
                    yield paragraph(line, 4, (check if row == 0 else "").ljust(column))
        if rules:
            yield paragraph(f"step {step}: rules met", 2, mark)
        for check, abouts in rules.items():
            yield paragraph("; ".join(abouts), 4, check.ljust(column))


def _left(finding: Finding, units: str) -> str:
    """Return what is left, after which answer it is where its check gives several."""
    span = span_text(finding.low, finding.high, finding.unit, units)
    return f"{finding.answer}, {span}" if finding.answer else span


def _is_rule(finding: Finding) -> bool:
    """Return whether a pass has nothing to tell but that a rule is met."""
    is_met = finding.unit == "" and finding.low == finding.high == 0.0
    return is_met and not finding.case and not finding.answer


def _by_question(
    findings: Iterable[Finding],
) -> dict[str, dict[tuple[str, ...], dict[str, list[Finding]]]]:
    """Return findings by step, by the names concerned, by check."""
    gathered: dict[str, dict[tuple[str, ...], dict[str, list[Finding]]]] = {}
    for finding in findings:
        checks = gathered.setdefault(finding.step, {}).setdefault(finding.about, {})
        checks.setdefault(finding.check, []).append(finding)
    return gathered


def _packed(chunks: Iterable[str], chunk_width: int, width: int) -> list[str]:
    lines: list[str] = []
    for chunk in chunks:
        cell = chunk.ljust(chunk_width)
        if lines and len(lines[-1]) + _GAP + len(chunk) <= width:
            lines[-1] += " " * _GAP + cell
        else:
            lines.append(cell)
    return [line.rstrip() for line in lines]


def _not_asked(outcome: Outcome) -> Iterator[RenderableType]:
    silent = [f for f in outcome.findings if f.verdict is Verdict.NOT_ASKED]
    if not silent and not outcome.not_asked:
        return
    yield heading("NOT CHECKED", "nothing was asked here, which is not a pass")
    mark = f"{SHAPE[Verdict.NOT_ASKED]} "
    of_reason: dict[str, list[str]] = {}
    for check, why in outcome.not_asked:
        of_reason.setdefault(why, []).append(check)
    for why, checks in of_reason.items():
        yield paragraph(f"{', '.join(checks)}: {why}", 2, mark)
    of_answer: dict[tuple[str, str], list[str]] = {}
    for group in grouped(silent):
        for entry in group.entries:
            cases = f", {', '.join(entry.cases)}" if any(entry.cases) else ""
            about = f"step {group.step}, {' · '.join(group.about)}{cases}"
            of_answer.setdefault((group.check, entry.because), []).append(about)
    for (check, why), abouts in of_answer.items():
        yield paragraph(f"{check}: {why} ({'; '.join(abouts)})", 2, mark)


def _sources(outcome: Outcome) -> Iterator[RenderableType]:
    marks = [provenance.mark for _, _, provenance in outcome.assumptions]
    unsure = {m: marks.count(m) for m in SourceMark if m is not SourceMark.PUBLISHED and m in marks}
    yield heading("WHAT IT RESTS ON")
    files = ", ".join(as_given(file) for file, _ in outcome.inputs)
    yield paragraph(f"Read: {files} (hash {digest(outcome.inputs)}).", 2)
    split = f" ({', '.join(f'{count} {mark}' for mark, count in unsure.items())})" if unsure else ""
    yield paragraph(
        f"{sum(unsure.values())} of {_n(len(marks), 'value')} used do not come from a published "
        f"source{split}. They stand under 'assumptions' in the file that --json writes, and `reach "
        "check --values` lists them; each is yours to confirm.",
        2,
    )


def _values(outcome: Outcome) -> Iterator[RenderableType]:
    yield heading("EVERY VALUE USED", "those that are not published are yours to confirm")
    for path, value, provenance in outcome.assumptions:
        place = f", {provenance.place}" if provenance.place else ""
        note = f" {provenance.note}" if provenance.note else ""
        text = f"{path} = {value}: {provenance.mark}; {provenance.source}{place}.{note}"
        mark = " " if provenance.mark is SourceMark.PUBLISHED else "!"
        yield paragraph(text, 2, f"{mark} ")


def _counts(outcome: Outcome) -> Iterator[RenderableType]:
    counts = count_of(outcome.findings)
    line = Text("  ")
    for verdict, count in counts.items():
        if count or verdict is not Verdict.NOT_ASKED:
            style = STYLE[verdict] if count else "dim"
            line.append(f" {badge(verdict)} {count} ", style).append("  ")
    code = exit_code(outcome.findings)
    yield heading("COUNTS")
    yield line
    yield paragraph(f"Result: {_MEANING_OF_EXIT[code]}.", 2, style="bold")


def heading(title: str, remark: str = "") -> Text:
    """Return the heading of a section."""
    return Text.assemble("\n", (title, "bold underline"), f"  {remark}" if remark else "")


def paragraph(text: str, indent: int = 0, label: str = "", style: str = "") -> RenderableType:
    """Return wrapped text whose lines all begin after the label."""
    return Paragraph(text, indent, label, style)


def _n(count: int, noun: str) -> str:
    return f"{count} {noun}{'' if count == 1 else 's'}"
