"""What has changed since an older version: edits, and what became of the answers."""

from __future__ import annotations

from collections.abc import Iterator

from reach.comparing.compare import Comparison
from reach.comparing.flips import Change, Flip
from reach.dossier.basis import Basis
from reach.dossier.records import Row, Table
from reach.dossier.wording import columns, listed, table
from reach.finding import Finding, Verdict
from reach.reports.margin import margin_text

TOLD = (Change.FELL, Change.MAY_HAVE_FALLEN, Change.GONE, Change.GONE_WITH_STEP,
        Change.NOT_ASKED_NOW, Change.NEW)  # fmt: skip


WHOLE = "see what changed"


def changes(basis: Basis) -> Table:
    """Return what was edited since an older version and which answers are others now."""
    heads = columns(
        "what changed", "check or part", "step or record", "about", "it was", "it is",
        "what is behind it", "verdict",
    )  # fmt: skip
    told = basis.comparison
    if told is None:
        says = "No older version was given, so it is not known what has changed."
        nothing = "Not asked: no older version was given."
        return table("changes", "Changes since an older version", says, heads, (), nothing)
    says = (
        f"Against '{told.old.procedure or told.old.title}': answers that are worse first, then "
        "better ones and those whose margin fell, then the edits. Margins that rose, and answers "
        "that are alike, are left out."
    )
    rows = [*_flips(basis, told), *_edits(told)]
    return table(
        "changes", "Changes since an older version", says, heads, rows,
        "Nothing was edited, and no answer is another.",
    )  # fmt: skip


def _flips(basis: Basis, told: Comparison) -> Iterator[Row]:
    order = [*told.worse, *told.better, *told.of(*TOLD)]
    for k in dict.fromkeys(order):
        flip = told.flips[k]
        blame = told.blames.get(k)
        behind = "not sought" if not told.sought else "not known"
        if blame is not None and blame.edits:
            behind = f"{listed(edit.title for edit in blame.edits)} ({blame.how})"
        one = flip.told
        answers = _answers(basis, flip.new)
        now = flip.new.verdict if flip.new is not None else Verdict.NOT_ASKED
        word = "worse" if flip.is_worse else "better" if flip.is_better else str(flip.change)
        yield Row(
            (
                word,
                one.check,
                one.step,
                listed(one.about),
                _was(flip, old=True),
                _was(flip, old=False),
                behind,
                basis.verdict(answers) if answers else now,
            ),
            answers,
        )


def _was(flip: Flip, *, old: bool) -> str:
    one = flip.old if old else flip.new
    if one is None:
        return "it did not come up" if old else "it does not come up"
    return f"{one.verdict}: {margin_text(one.low, one.high, one.unit)}"


def _answers(basis: Basis, new: Finding | None) -> tuple[int, ...]:
    if new is None:
        return ()
    key = new.check, new.step, new.about, new.case, new.because
    return basis.answers(
        new.step,
        (new.check,),
        where=lambda one: (one.check, one.step, one.about, one.case, one.because) == key,
    )


def _edits(told: Comparison) -> Iterator[Row]:
    for edit in told.edits:
        word = f"edit: {listed(edit.kinds)}"
        where = f"{edit.part}, {edit.table}" if edit.table else edit.part
        name = f"{edit.name} (was {edit.was})" if edit.was else edit.name
        changed = [(one.key, one.old, one.new) for one in edit.changes]
        for key, was, now in changed or [("the whole of it", WHOLE, WHOLE)]:
            yield Row((word, where, name, key, was, now, "an edit", Verdict.NOT_ASKED))
