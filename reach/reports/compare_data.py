"""Two versions compared, for programs: JSON with everything, CSV with one row a question."""

from __future__ import annotations

import csv
import io
import json
from typing import TYPE_CHECKING, Any

from reach.cautions import cautions, digest
from reach.comparing.flips import Change
from reach.finding import Finding, count_of
from reach.reports.compare import blame_words, called, inputs_of
from reach.reports.record import as_given, plain

if TYPE_CHECKING:
    from reach.comparing.blame import Blame
    from reach.comparing.compare import Comparison
    from reach.comparing.edits import Edit
    from reach.comparing.flips import Flip
    from reach.run import Outcome

SCHEMA = "reach-comparison-1"
"""Version of the JSON form; it changes when a key changes its meaning or goes away."""

COLUMNS = (
    "change", "worse", "check", "step", "about", "case", "old_step", "old_about", "old_case",
    "old_verdict", "old_low", "old_high", "new_verdict", "new_low", "new_high", "unit", "cause",
    "how", "by", "old_because", "new_because",
)  # fmt: skip
"""Columns of the CSV; an end of a margin that is not known is blank."""


def comparison_json(compared: Comparison) -> str:
    """Return the comparison as JSON text; SI units throughout."""
    inputs, names = inputs_of(compared), called(compared)
    record = {
        "schema": SCHEMA,
        "old": {"called": names[0], **_version(compared.old)},
        "new": {"called": names[1], **_version(compared.new)},
        "hash": digest(inputs),
        "exit_code": compared.exit_code,
        "threshold": {
            "least": dict(compared.threshold.least),
            "share": compared.threshold.share,
        },
        "runs_in_between": compared.n_runs,
        "edits": [_edit(edit) for edit in compared.edits],
        "answers": [
            _flip(flip, compared.blames.get(k))
            for k, flip in enumerate(compared.flips)
            if flip.change is not Change.ALIKE
        ],
        "alike": len(compared.of(Change.ALIKE)),
        "not_tried": list(compared.notes),
        "cautions": list(cautions(inputs)),
    }
    return json.dumps(record, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def comparison_csv(compared: Comparison) -> str:
    """Return one row a question whose answer changed, under `COLUMNS`."""
    text = io.StringIO()
    table = csv.DictWriter(text, COLUMNS, lineterminator="\n")
    table.writeheader()
    for k, flip in enumerate(compared.flips):
        if flip.change is not Change.ALIKE:
            table.writerow(_row(flip, compared.blames.get(k)))
    return text.getvalue()


def _version(outcome: Outcome) -> dict[str, Any]:
    counts = {str(verdict): count for verdict, count in count_of(outcome.findings).items()}
    return {
        "title": outcome.title,
        "procedure": outcome.procedure,
        "inputs": [{"file": as_given(file), "sha256": sha256} for file, sha256 in outcome.inputs],
        "hash": digest(outcome.inputs),
        "counts": counts,
        "warnings": list(outcome.warnings),
    }


def _edit(edit: Edit) -> dict[str, Any]:
    return {
        "part": edit.part,
        "kinds": list(edit.kinds),
        "table": edit.table,
        "name": edit.name,
        "was": edit.was,
        "changes": [change.model_dump() for change in edit.changes],
    }


def _flip(flip: Flip, behind: Blame | None) -> dict[str, Any]:
    told: dict[str, Any] = {
        "change": str(flip.change),
        "worse": flip.is_worse,
        "cause": flip.cause,
        "old": _answer(flip.old),
        "new": _answer(flip.new),
    }
    if behind is not None:
        told["by"] = {
            "how": behind.how,
            "edits": [_edit(edit) for edit in behind.edits],
            "words": blame_words(behind, flip),
        }
    return told


def _answer(finding: Finding | None) -> dict[str, Any] | None:
    if finding is None:
        return None
    return {
        "check": finding.check,
        "step": finding.step,
        "about": list(finding.about),
        "case": finding.case,
        "answer": finding.answer,
        "verdict": str(finding.verdict),
        "margin": {"low": plain(finding.low), "high": plain(finding.high), "unit": finding.unit},
        "because": finding.because,
        "fix": finding.fix,
    }


def _row(flip: Flip, behind: Blame | None) -> dict[str, Any]:
    told = flip.told
    row: dict[str, Any] = {
        "change": str(flip.change),
        "worse": "yes" if flip.is_worse else "no",
        "check": told.check,
        "step": told.step,
        "about": "; ".join(told.about),
        "case": told.case,
        "unit": told.unit,
        "cause": flip.cause,
        "how": behind.how if behind is not None else "",
        "by": "; ".join(edit.title for edit in behind.edits) if behind is not None else "",
    }
    for word, finding in (("old", flip.old), ("new", flip.new)):
        if finding is not None:
            row |= {
                f"{word}_verdict": str(finding.verdict),
                f"{word}_low": plain(finding.low),
                f"{word}_high": plain(finding.high),
                f"{word}_because": finding.because,
            }
    if flip.old is not None:
        row |= {
            "old_step": flip.old.step,
            "old_about": "; ".join(flip.old.about),
            "old_case": flip.old.case,
        }
    return row
