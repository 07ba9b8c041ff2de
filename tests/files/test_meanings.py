"""Every key that a file can have says what it means, in the schema that editors read."""

from __future__ import annotations

import copy
import re

import jsonschema
import pytest

from reach.files.schema import (
    meanings,
    procedure_schema,
    records_of,
    runs_schema,
    scene_schema,
)
from reach.model.limits import WrittenLimit
from reach.model.procedure import Procedure
from reach.model.runs import RunList
from reach.model.scene import Scene
from reach.reports.record_schema import findings_schema

SCHEMAS = {
    "scene": scene_schema(),
    "procedure": procedure_schema(),
    "runs": runs_schema(),
    "findings": findings_schema(),
}
RECORDS = {
    name: record
    for model in (Scene, Procedure, RunList, WrittenLimit)
    for name, record in records_of(model).items()
}
WAY = re.compile(r"[a-z ]+: SI number or text such as .*|detent number of a numbered joint.*")


def tables(schema, name):
    """Every table of a schema, also those inside lists and keys, with a name for it."""
    if "properties" in schema:
        yield name, schema["properties"]
        for key, told in schema["properties"].items():
            yield from tables(told, f"{name}.{key}")
    if isinstance(schema.get("items"), dict):
        yield from tables(schema["items"], name)
    for record, told in schema.get("$defs", {}).items():
        yield from tables(told, record)


@pytest.mark.parametrize("kind", SCHEMAS)
def test_every_key_of_every_table_says_what_it_means(kind):
    bare = [
        f"{table}.{key}"
        for table, keys in tables(SCHEMAS[kind], kind)
        for key, told in keys.items()
        if not says_something(told.get("description", ""))
    ]
    assert bare == []


def says_something(text):
    """More than the way in which a value is written."""
    return bool(text.strip()) and not WAY.fullmatch(text)


def test_a_key_without_a_meaning_is_found():
    schema = copy.deepcopy(SCHEMAS["scene"])
    schema["$defs"]["Anchor"]["properties"]["rating"].pop("description")
    shapes = dict(tables(schema, "scene"))
    assert not says_something(shapes["Anchor"]["rating"].get("description", ""))
    assert not says_something("length: SI number or text such as '24 in'")


@pytest.mark.parametrize("kind", SCHEMAS)
def test_a_schema_with_meanings_is_still_one(kind):
    jsonschema.Draft202012Validator.check_schema(SCHEMAS[kind])


def test_no_meaning_is_for_a_record_or_key_that_is_not_there():
    keys = {
        record: {field.alias or key for key, field in model.model_fields.items()}
        for record, model in RECORDS.items()
    }
    astray = [
        f"{record}.{key}"
        for record, told in meanings().items()
        for key in told
        if key not in keys.get(record, set())
    ]
    assert astray == []


def test_no_meaning_is_told_twice():
    own = [
        f"{record}.{key}"
        for record, told in meanings().items()
        for key, field in RECORDS[record].model_fields.items()
        if field.description and (field.alias or key) in told
    ]
    assert own == []


def test_meanings_are_short_and_are_no_sentences():
    for record, told in meanings().items():
        for key, text in told.items():
            assert 3 <= len(text) <= 260, f"{record}.{key}: {len(text)}"
            assert not text.endswith("."), f"{record}.{key}"


@pytest.mark.parametrize(
    ("record", "key", "meaning", "way"),
    [
        ("Handrail", "radius", "radius of its tube", "(length: SI number or text such as '24 in')"),
        (
            "Camera",
            "field",
            "from the middle of its picture to its edge",
            "(angle: SI number or text such as",
        ),
        ("Guide", "angle", "by how much the payload may be askew", "(angle: SI number or text"),
    ],
)
def test_a_meaning_keeps_how_the_value_is_written(record, key, meaning, way):
    told = SCHEMAS["scene"]["$defs"][record]["properties"][key]["description"]
    assert told.startswith(meaning)
    assert way in told


def test_every_limit_that_a_meaning_names_is_one():
    limits = SCHEMAS["scene"]["properties"]["limits"]["properties"]
    named = {
        "payload_clearance", "crew_load", "tether_slack", "tether_load", "socket_force",
        "socket_moment", "connector_torque", "handling_force", "bulky_items", "lead_bend",
        "safe_time", "head_radius",
    }  # fmt: skip
    text = " ".join(text for told in meanings().values() for text in told.values())
    assert named <= set(limits)
    assert all(name in text for name in named)
    words = {word.strip(",;:()'\"") for word in text.split() if "_" in word}
    keys = {f.alias or k for model in RECORDS.values() for k, f in model.model_fields.items()}
    assert words - set(limits) - keys == set()
