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
                "schema": {"const": SCHEMA},
                "written_by": _TEXT,
                "title": _TEXT,
                "procedure": _TEXT,
                "what_if": {
                    **_list(_TEXT),
                    "description": "How the inputs differ from their files; empty as written.",
                },
                "inputs": _list(_object({"file": _TEXT, "sha256": _TEXT})),
                "hash": _told("Digest of all input files and of what_if."),
                "exit_code": {"enum": [0, 1, 3]},
                "counts": _object({str(verdict): _COUNT for verdict in Verdict}),
                "findings": _list({"$ref": "#/$defs/finding"}),
                "not_asked": _list(_object({"check": _TEXT, "because": _TEXT})),
                "assumptions": _list(_object({"path": _TEXT, "value": _TEXT, **_source()})),
                "warnings": _list(_TEXT),
                "cautions": {**_list(_TEXT), "minItems": 1},
            }
        ),
        "$defs": {"finding": _finding(), "mark": _mark()},
    }


def _finding() -> dict[str, Any]:
    limit = {"name": _TEXT, "value": _NUMBER_OR_NULL, "unit": _TEXT, **_source()}
    return _object(
        {
            "check": _told("Plain name of the check."),
            "step": _TEXT,
            "about": {**_list(_TEXT), "description": "Names concerned, the worker first."},
            "case": _told("The variation, for example the size class."),
            "verdict": {"enum": [str(verdict) for verdict in Verdict]},
            "margin": {
                **_object({"low": _NUMBER_OR_NULL, "high": _NUMBER_OR_NULL, "unit": _TEXT}),
                "description": "It lies in [low, high]; 0 or more is good, null is not known.",
            },
            "because": _TEXT,
            "fix": _told("The smallest change that would mend a fail, or empty."),
            "cause": _told("What it comes from, the same for all that come from it, or empty."),
            "limits": {**_list(_object(limit)), "description": "The first one decides."},
            "marks": _list({"$ref": "#/$defs/mark"}),
            "numbers": {"type": "object", "description": "Further evidence by name."},
        }
    )


def _mark() -> dict[str, Any]:
    triple = {"type": "array", "items": _NUMBER_OR_NULL, "minItems": 3, "maxItems": 3}
    return _object(
        {
            "kind": {"enum": list(MARK_POINTS)},
            "points": {**_list(triple), "description": "m, world."},
            "radius": _NUMBER_OR_NULL,
            "label": _TEXT,
            "bad": {"type": "boolean", "description": "Shows what fails."},
        }
    )


def _source() -> dict[str, Any]:
    return {
        "source": _TEXT,
        "place": _TEXT,
        "mark": {"enum": [str(mark) for mark in SourceMark]},
        "note": _TEXT,
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


def _told(description: str) -> dict[str, Any]:
    return {"type": "string", "description": description}
