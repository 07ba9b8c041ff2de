"""JSON Schema of the findings file, for programs that read it and for editors."""

from __future__ import annotations

from typing import Any

from reach.finding import MARK_POINTS, Verdict
from reach.model.provenance import SourceMark
from reach.reports.record import SCHEMA

_TEXT = {"type": "string"}
_NUMBER_OR_NULL = {"type": ["number", "null"]}
_COUNT = {"type": "integer", "minimum": 0}


def findings_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of what `to_json` writes."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Findings",
        "description": "What was asked, what was found and what it rests on; SI units.",
        **_object(
            {
                "schema": _told(
                    "Version of this form; it changes when a key changes its meaning.",
                    {"const": SCHEMA},
                ),
                "written_by": _told("Program and version."),
                "title": _told("Title of the scene."),
                "procedure": _told("Title of the procedure, or what a question asks."),
                "what_if": _told(
                    "How the inputs differ from their files; empty as written.", _list(_TEXT)
                ),
                "inputs": _told("Every file read.", _list(_input())),
                "hash": _told("Digest of all input files and of what_if."),
                "exit_code": _told(
                    "0 all that was asked passes, 1 something fails, 3 nothing fails but not all "
                    "is known, or nothing was asked.",
                    {"enum": [0, 1, 3]},
                ),
                "counts": _told("How many findings have each verdict.", _counts()),
                "findings": _told("The answers.", _list({"$ref": "#/$defs/finding"})),
                "not_asked": _told("Checks that found nothing to ask about.", _list(_unasked())),
                "assumptions": _told(
                    "What answers rest on beside geometry: limits, suits, restraints, tools.",
                    _list(_assumption()),
                ),
                "warnings": _told("What looks odd but was taken as written.", _list(_TEXT)),
                "cautions": _told(
                    "What holds wherever results are shown.", {**_list(_TEXT), "minItems": 1}
                ),
            }
        ),
        "$defs": {"finding": _finding(), "mark": _mark()},
    }


def _input() -> dict[str, Any]:
    return _object(
        {
            "file": _told("Name as it was given; of an absolute path the last part alone."),
            "sha256": _told("Digest of its bytes."),
        }
    )


def _counts() -> dict[str, Any]:
    words = {
        Verdict.FAIL: "Proved not to work as asked.",
        Verdict.OPEN: "Not settled, neither shown nor disproved.",
        Verdict.REVIEW: "Too close to call.",
        Verdict.PASS: "Shown to work.",
        Verdict.NOT_ASKED: "The check could not be asked, for a reason that is told.",
    }
    return _object({str(verdict): _told(words[verdict], _COUNT) for verdict in Verdict})


def _unasked() -> dict[str, Any]:
    return _object(
        {"check": _told("Plain name of the check."), "because": _told("Why, in a sentence.")}
    )


def _assumption() -> dict[str, Any]:
    return _object(
        {
            "path": _told("Where it stands, such as limits.rail_gap."),
            "value": _told("As it is written, or in SI units."),
            **_source(),
        }
    )


def _finding() -> dict[str, Any]:
    limit = {
        "name": _told("Name of the limit, or key of the record that gives it."),
        "value": _told("In SI units.", _NUMBER_OR_NULL),
        "unit": _told("SI unit; empty for a share or a number."),
        **_source(),
    }
    margin = {
        "low": _told("It is at least this; null is not known.", _NUMBER_OR_NULL),
        "high": _told("It is at most this; null is not known.", _NUMBER_OR_NULL),
        "unit": _told("SI unit; empty for a share, a number or a rule."),
    }
    return _object(
        {
            "check": _told("Plain name of the check."),
            "step": _told("Name of the step that was asked about."),
            "about": _told("Names concerned, the worker first.", _list(_TEXT)),
            "case": _told("The variation, for example the size class."),
            "verdict": _told(
                "What the margin says: nobody sets it.",
                {"enum": [str(verdict) for verdict in Verdict]},
            ),
            "margin": _told(
                "It lies in [low, high]; 0 or more is good, null is not known.", _object(margin)
            ),
            "because": _told("One sentence that stands alone."),
            "fix": _told("The smallest change that would mend a fail, or empty."),
            "cause": _told("What it comes from, the same for all that come from it, or empty."),
            "limits": _told("The first one decides.", _list(_object(limit))),
            "marks": _told("Geometry that shows why.", _list({"$ref": "#/$defs/mark"})),
            "numbers": _told("Further evidence by name.", {"type": "object"}),
        }
    )


def _mark() -> dict[str, Any]:
    triple = {"type": "array", "items": _NUMBER_OR_NULL, "minItems": 3, "maxItems": 3}
    return _object(
        {
            "kind": _told("What the points make.", {"enum": list(MARK_POINTS)}),
            "points": _told("m, world.", _list(triple)),
            "radius": _told("m, of spheres and capsules.", _NUMBER_OR_NULL),
            "label": _told("What it is, in words."),
            "bad": _told("Shows what fails.", {"type": "boolean"}),
        }
    )


def _source() -> dict[str, Any]:
    marks = [str(mark) for mark in SourceMark]
    return {
        "source": _told("Document, survey or person that says so."),
        "place": _told("Table, page or section in it."),
        "mark": _told("How far the value can be trusted.", {"enum": marks}),
        "note": _told("A caution, or how the value was derived."),
    }


def _object(properties: dict[str, Any]) -> dict[str, Any]:
    return {
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }


def _list(items: dict[str, Any]) -> dict[str, Any]:
    return {"type": "array", "items": items}


def _told(description: str, form: dict[str, Any] = _TEXT) -> dict[str, Any]:
    return {**form, "description": description}
