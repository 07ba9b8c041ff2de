"""Findings for programs: JSON with everything behind an answer, CSV with one row a finding.

Both depend on the inputs alone: no time of day, no folder of this computer, no order that
changes from run to run.
"""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Mapping
from importlib.metadata import PackageNotFoundError, version
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

from reach.cautions import cautions, digest
from reach.finding import Finding, Limit, Mark, count_of, exit_code
from reach.model.provenance import Provenance

if TYPE_CHECKING:
    from reach.run import Outcome

SCHEMA = "reach-findings-1"
"""Version of the JSON form; it changes when a key changes its meaning or goes away."""

COLUMNS = (
    "check",
    "step",
    "about",
    "case",
    "verdict",
    "low",
    "high",
    "unit",
    "because",
    "fix",
    "cause",
    "limit",
    "limit_value",
    "limit_unit",
    "limit_source",
    "limit_mark",
    "what_if",
)
"""Columns of the CSV; an end of a margin that is not known is blank.  ``what_if`` is blank for the
files as they are written."""


def to_json(outcome: Outcome) -> str:
    """Return the outcome as JSON text that `findings_schema` describes; SI units throughout."""
    return json.dumps(record_of(outcome), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def to_csv(outcome: Outcome) -> str:
    """Return one row a finding under `COLUMNS`; SI units, the limit is the one that decides."""
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(COLUMNS)
    table.writerows(to_rows(outcome))
    return text.getvalue()


def to_rows(outcome: Outcome) -> list[tuple[Any, ...]]:
    """Return the cells under `COLUMNS`, one row a finding; a blank number is None."""
    what_if = ", ".join(outcome.what_if)
    return [(*_row(finding), what_if) for finding in outcome.findings]


def record_of(outcome: Outcome) -> dict[str, Any]:
    """Return the outcome as plain data, as `to_json` writes it."""
    counts = {str(verdict): count for verdict, count in count_of(outcome.findings).items()}
    return {
        "schema": SCHEMA,
        "written_by": _program(),
        "title": outcome.title,
        "procedure": outcome.procedure,
        "what_if": list(outcome.what_if),
        "inputs": [{"file": as_given(file), "sha256": sha256} for file, sha256 in outcome.inputs],
        "hash": digest(outcome.inputs),
        "exit_code": exit_code(outcome.findings),
        "counts": counts,
        "findings": [_finding(finding) for finding in outcome.findings],
        "not_asked": [{"check": check, "because": why} for check, why in outcome.not_asked],
        "assumptions": [
            {"path": path, "value": value, **_source(source)}
            for path, value, source in outcome.assumptions
        ],
        "warnings": list(outcome.warnings),
        "cautions": list(cautions(outcome.inputs)),
    }


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "check": finding.check,
        "step": finding.step,
        "about": list(finding.about),
        "case": finding.case,
        "verdict": str(finding.verdict),
        "margin": {
            "low": plain(finding.low),
            "high": plain(finding.high),
            "unit": finding.unit,
        },
        "because": finding.because,
        "fix": finding.fix,
        "cause": finding.cause,
        "limits": [_limit(limit) for limit in finding.limits],
        "marks": [_mark(mark) for mark in finding.marks],
        "numbers": {str(name): plain(finding.numbers[name]) for name in sorted(finding.numbers)},
    }


def _limit(limit: Limit) -> dict[str, Any]:
    return {
        "name": limit.name,
        "value": plain(limit.value),
        "unit": limit.unit,
        **_source(limit.source),
    }


def _mark(mark: Mark) -> dict[str, Any]:
    return {
        "kind": mark.kind,
        "points": plain(mark.points),
        "radius": plain(mark.radius),
        "label": mark.label,
        "bad": bool(mark.bad),
    }


def _source(provenance: Provenance) -> dict[str, str]:
    return {
        "source": provenance.source,
        "place": provenance.place,
        "mark": str(provenance.mark),
        "note": provenance.note,
    }


def plain(value: Any) -> Any:
    """Return numbers, arrays and records of numbers as JSON knows them; not finite is null."""
    if hasattr(value, "tolist"):
        value = value.tolist()
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {str(key): plain(value[key]) for key in sorted(value, key=str)}
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    if value is None or isinstance(value, bool | int):
        return value
    return str(value)


def _row(finding: Finding) -> tuple[Any, ...]:
    told: tuple[Any, ...] = ("",) * 5
    if finding.limits:
        limit = finding.limits[0]
        source = limit.source
        told = (limit.name, plain(limit.value), limit.unit, source.source, str(source.mark))
    return (
        finding.check,
        finding.step,
        "; ".join(finding.about),
        finding.case,
        str(finding.verdict),
        plain(finding.low),
        plain(finding.high),
        finding.unit,
        finding.because,
        finding.fix,
        finding.cause,
        *told,
    )


def as_given(file: str) -> str:
    """Return a relative path with forward slashes, and of an absolute one the name alone.

    Examples
    --------
    >>> as_given("yard/scene.toml"), as_given("/home/ada/yard/scene.toml")
    ('yard/scene.toml', 'scene.toml')
    """
    path = PurePath(file)
    return path.name if path.is_absolute() else path.as_posix()


def _program() -> str:
    try:
        return f"reach {version('worksite-reach')}"
    except PackageNotFoundError:
        return "reach"
