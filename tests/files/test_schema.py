import tomllib
from pathlib import Path

import jsonschema
import pytest

from reach.files.schema import procedure_schema, scene_schema
from reach.files.shipped import shipped_scenes
from reach.files.starter import PROCEDURE, SCENE

WORKSITE = Path(__file__).parents[1] / "broken" / "worksite" / "scene.toml"


@pytest.mark.parametrize("schema", [scene_schema(), procedure_schema()], ids=["scene", "procedure"])
def test_a_schema_is_one(schema):
    jsonschema.Draft202012Validator.check_schema(schema)
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"


def test_the_starter_fits_its_schemas():
    jsonschema.Draft202012Validator(scene_schema()).validate(tomllib.loads(SCENE))
    jsonschema.Draft202012Validator(procedure_schema()).validate(tomllib.loads(PROCEDURE))


def test_good_scenes_fit_the_schema():
    validator = jsonschema.Draft202012Validator(scene_schema())
    for path in [WORKSITE, *shipped_scenes().glob("*/scene.toml")]:
        validator.validate(tomllib.loads(path.read_text(encoding="utf-8")))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("axis = [0, 0, 1]", "axsi = [0, 0, 1]"), "axsi"),
        (("at = [0, 0, 0]", "at = [0, 0]"), "[0, 0]"),
        (('hand = "right"', 'hand = "rigth"'), "rigth"),
        (("[limits.body_clearance]", "[limits.body_clearnce]"), "body_clearnce"),
    ],
)
def test_what_is_wrong_in_a_scene_is_wrong_by_the_schema(change, words):
    data = tomllib.loads(SCENE.replace(*change))
    errors = list(jsonschema.Draft202012Validator(scene_schema()).iter_errors(data))
    assert words in " ".join(error.message for error in errors)


def test_limits_may_be_values_alone():
    data = {"format": 1, "limits": {"body_clearance": "3 in", "visible_share": 0.4}}
    jsonschema.Draft202012Validator(scene_schema()).validate(data)
