"""Two versions compared, as text: edits, what is worse, what is better, what changed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from rich.text import Text

from reach.cautions import cautions, digest
from reach.comparing.blame import Blame
from reach.comparing.edits import Edit
from reach.comparing.flips import Change, Flip
from reach.finding import Finding, Verdict, count_of
from reach.reports.margin import margin_text
from reach.reports.record import as_given
from reach.reports.table import heading, paragraph, printed
from reach.reports.verdicts import STYLE, badge

if TYPE_CHECKING:
    from rich.console import RenderableType

    from reach.comparing.compare import Comparison
    from reach.run import Outcome

RESULT = {
    0: "nothing is worse",
    1: "something is worse",
    3: "nothing is worse for certain, but something is asked no more, or does not pass and "
    "may be short of more than before",
}
LISTED = {
    Change.NOT_ASKED_NOW: ("NOT ASKED ANY MORE", "nothing is there to judge them by"),
    Change.GONE: ("GONE", "questions that do not come up any more in their steps"),
    Change.FELL: ("MARGINS THAT FELL", "for certain, by more than the threshold"),
    Change.MAY_HAVE_FALLEN: (
        "MARGINS THAT MAY HAVE FALLEN",
        "less is sure than before, or more may be missing",
    ),
    Change.ROSE: ("MARGINS THAT ROSE", "for certain, by more than the threshold"),
    Change.NEW: ("NEW ANSWERS", "not asked before; they pass"),
    Change.GONE_WITH_STEP: ("GONE WITH THEIR STEPS", ""),
}
"""What is listed after the worse and the better: heading and remark."""

COUNTED = (Change.GONE, Change.NEW, Change.GONE_WITH_STEP, Change.ROSE)
"""What is told by numbers, step by step, and not answer by answer."""


def render_comparison(
    compared: Comparison, width: int = 100, colour: bool = False, units: str = "si"
) -> str:
    """Return what changed as text that stands alone; nothing is cut off, long lines wrap.

    Parameters
    ----------
    compared : Comparison
    width : int
        Columns to fill.
    colour : bool
        With escape codes for a terminal.
    units : str
        ``"si"`` or ``"both"``.
    """
    return printed(_parts(compared, units), width, colour)


def inputs_of(compared: Comparison) -> tuple[tuple[str, str], ...]:
    """Return the files of both versions, each with its sha256, those of both once."""
    return tuple(dict.fromkeys((*compared.old.inputs, *compared.new.inputs)))


def called(compared: Comparison) -> tuple[str, str]:
    """Return the files of the two versions: the procedure, and the scene where it differs."""
    old, new = compared.versions
    first, second = (as_given(one.asked.file) for one in (old, new))
    if old.scene is new.scene:
        return first, second
    return f"{as_given(old.scene.file)}, {first}", f"{as_given(new.scene.file)}, {second}"


def _parts(compared: Comparison, units: str) -> Iterator[RenderableType]:
    yield from _head(compared)
    yield from _flipped(compared, "WORSE", compared.worse, units)
    yield from _flipped(compared, "BETTER", compared.better, units)
    yield from _edits(compared.edits)
    for change, (title, remark) in LISTED.items():
        some = compared.of(change)
        if some and change in COUNTED:
            yield from _counted(compared, title, remark, some)
        elif some:
            yield heading(title, f"{_n(len(some), 'answer')}, {remark}")
            yield from _grouped(compared, some, units)
    if compared.notes:
        yield heading("NOT TRIED", "edits that do not fit the scene without others")
        for note in compared.notes:
            yield paragraph(note, 2, "- ")
    yield from _end(compared)


def _head(compared: Comparison) -> Iterator[RenderableType]:
    titles = dict.fromkeys((compared.old.title, compared.new.title))
    yield Text(f"Compared: {' / '.join(titles)}", style="bold")
    both = (("old", compared.old), ("new", compared.new))
    for (word, outcome), file in zip(both, called(compared), strict=True):
        yield paragraph(f"{file} ({outcome.procedure}): {_counts(outcome)}", 2, f"{word}  ")
        for warning in outcome.warnings:
            if word == "old" or warning not in compared.old.warnings:
                yield paragraph(warning, 7, "! ", "bold")
    yield paragraph(f"Result: {RESULT[compared.exit_code]}.", 2, style="bold")


def _counts(outcome: Outcome) -> str:
    counts = count_of(outcome.findings)
    return ", ".join(f"{count} {verdict}" for verdict, count in counts.items() if count)


def _edits(edits: Sequence[Edit]) -> Iterator[RenderableType]:
    yield heading("EDITS", str(len(edits)) if edits else "none")
    for edit in edits:
        kinds = ", ".join(edit.kinds)
        was = f" (was {edit.was})" if edit.was else ""
        yield paragraph(f"{kinds}: {edit.title}{was}", 2, "· ", "bold")
        for change in edit.changes:
            key = change.key.removeprefix("actions.")
            yield paragraph(f"{change.old} → {change.new}", 6, f"{key}: ")


def _flipped(
    compared: Comparison, title: str, some: Sequence[int], units: str
) -> Iterator[RenderableType]:
    if not some:
        yield heading(title, "none")
        return
    yield heading(title, _n(len(some), "answer"))
    yield from _grouped(compared, some, units)


def _grouped(compared: Comparison, some: Sequence[int], units: str) -> Iterator[RenderableType]:
    """Yield flips under their causes, in the order in which these come up."""
    gathered: dict[str, list[int]] = {}
    for k in some:
        gathered.setdefault(compared.flips[k].cause, []).append(k)
    for cause, indices in gathered.items():
        yield paragraph(cause, 2, style="bold")
        for k in indices:
            yield from _flip(compared.flips[k], compared.blames.get(k), units)


def _flip(flip: Flip, behind: Blame | None, units: str) -> Iterator[RenderableType]:
    told = flip.told
    yield Text.assemble(
        "    ",
        (f" {badge(told.verdict)} ", STYLE[told.verdict]),
        " ",
        (told.check, "bold"),
        f": {_asked(told, flip.cause)}",
    )
    was = _said(flip.old, units, flip.new)
    yield paragraph(f"{was} → {_said(flip.new, units)}", 8)
    falls = flip.change in (Change.FELL, Change.MAY_HAVE_FALLEN) and told.verdict is Verdict.FAIL
    if (flip.is_worse or falls) and flip.new is not None:
        yield paragraph(flip.new.because, 8)
        if flip.new.fix:
            yield paragraph(flip.new.fix, 8, "Fix: ")
    elif flip.is_better and flip.old is not None:
        yield paragraph(flip.old.because, 8, "before: ")
    if behind is not None:
        yield paragraph(blame_words(behind, flip), 8, "by: ")


def _asked(finding: Finding, cause: str) -> str:
    """Return what a finding is about, with its step where that is not the heading."""
    case = f", {finding.case}" if finding.case else ""
    answer = f", {finding.answer}" if finding.answer else ""
    step = "" if cause == f"step {finding.step}" else f", step {finding.step}"
    return f"{' · '.join(finding.about)}{case}{answer}{step}"


def _said(finding: Finding | None, units: str, other: Finding | None = None) -> str:
    if finding is None:
        return "not there"
    words = margin_text(finding.low, finding.high, finding.unit, units)
    said = (
        str(finding.verdict)
        if finding.verdict is Verdict.NOT_ASKED
        else (f"{finding.verdict}, {words}")
    )
    if other is None:
        return said
    elsewhere = [] if other.about == finding.about else [" · ".join(finding.about)]
    elsewhere += [] if other.case == finding.case else [finding.case]
    elsewhere += [] if other.step == finding.step else [f"step {finding.step}"]
    return f"{said} ({', '.join(elsewhere)})" if any(elsewhere) else said


def blame_words(behind: Blame, flip: Flip) -> str:
    """Return who did it as a sentence.

    Examples
    --------
    >>> from reach.comparing.flips import Flip, Change
    >>> blame_words(Blame("not known", why="no run was left"), Flip(Change.WORSE, None, None))
    'not known: no run was left.'
    """
    if behind.how == "not known":
        return f"not known: {behind.why}."
    names = [_edit_words(edit) for edit in behind.edits]
    listed = f"{', '.join(names[:-1])} and {names[-1]}" if len(names) > 1 else names[0]
    verb = _verb(flip)
    return {
        "alone": f"{listed}; this edit alone {verb} it.",
        "each alone": f"{listed}; each of these edits alone {verb} it.",
        "as one": f"{listed}; these edits fit only together, and {_plural(verb)} it.",
        "together": f"{listed}; together they {_plural(verb)} it, none of them without the others.",
    }[behind.how]


def _verb(flip: Flip) -> str:
    if flip.is_better:
        return "mends"
    if flip.change is Change.MAY_HAVE_FALLEN:
        return "may lessen"
    return "lessens" if flip.change is Change.FELL else "breaks"


def _plural(verb: str) -> str:
    return verb.removesuffix("s")


def _edit_words(edit: Edit) -> str:
    whole = {"added", "removed", "renamed"} & set(edit.kinds)
    if whole and not edit.asks:
        return f"{edit.title} ({', '.join(edit.kinds)})"
    return f"{edit.title} ({', '.join(edit.asks)})"


def _counted(
    compared: Comparison, title: str, remark: str, some: Sequence[int]
) -> Iterator[RenderableType]:
    """Yield so many answers of each step, with their verdicts."""
    n_bad = sum(compared.flips[k].told.verdict is Verdict.FAIL for k in some)
    bad = f"{_n(n_bad, 'fail')} among them" if n_bad else ""
    yield heading(title, ", ".join(part for part in (_n(len(some), "answer"), remark, bad) if part))
    by_step: dict[str, list[Finding]] = {}
    for k in some:
        finding = compared.flips[k].told
        by_step.setdefault(finding.step, []).append(finding)
    for step, findings in by_step.items():
        yield paragraph(f"step {step}: {_tally(findings)}", 2)


def _tally(findings: Iterable[Finding]) -> str:
    found = list(findings)
    counts = count_of(found)
    parts = []
    for verdict, count in counts.items():
        if count:
            checks = dict.fromkeys(one.check for one in found if one.verdict is verdict)
            parts.append(f"{count} {verdict} ({', '.join(checks)})")
    return ", ".join(parts)


def _end(compared: Comparison) -> Iterator[RenderableType]:
    inputs = inputs_of(compared)
    yield heading("WHAT IT RESTS ON")
    files = ", ".join(dict.fromkeys(as_given(file) for file, _ in inputs))
    yield paragraph(f"Read: {files} (hash {digest(inputs)}).", 2)
    yield paragraph(f"A margin is told when it changes by more than {compared.threshold.words}.", 2)
    yield paragraph(_sought(compared), 2)
    yield heading("COUNTS")
    alike = len(compared.of(Change.ALIKE))
    yield paragraph(
        f"{len(compared.worse)} worse, {len(compared.better)} better, "
        f"{len(compared.flips) - len(compared.worse) - len(compared.better) - alike} changed, "
        f"{alike} alike; {_n(len(compared.edits), 'edit')}.", 2,
    )  # fmt: skip
    yield paragraph(f"Result: {RESULT[compared.exit_code]}.", 2, style="bold")
    yield heading("CAUTIONS")
    for number, text in enumerate(cautions(inputs), 1):
        yield paragraph(text, 2, f"{number:>2}. ")


def _sought(compared: Comparison) -> str:
    """Return how it was found out which edit did what."""
    if not compared.sought:
        return "Which edit did what was not looked for."
    if not compared.blames:
        return "No answer is such that an edit was looked for that did it."
    if not compared.n_runs and all(one.how == "alone" for one in compared.blames.values()):
        return "Only one edit can change an answer: the new version is the old one with that edit."
    return (
        f"Which edit did it was found by {_n(compared.n_runs, 'run')} of the old version with "
        "some of the edits; no edit is named that was not run so."
    )


def _n(count: int, noun: str) -> str:
    return f"{count} {noun}{'' if count == 1 else 's'}"
