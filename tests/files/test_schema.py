import re
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


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("reserve = 0.2", "reserve = 1.2"), "1.2"),
        (('items = ["BG-A"] }', 'itmes = ["BG-A"] }'), "itmes"),
        (("turns = 150", "turn = 150"), "turn"),
        (('["PB1"], window', '"PB1", window'), "PB1"),
        (('start = "00:10"', "begin = 5"), "begin"),
        (('IN = "inside lead"', 'IN = "outside lead"'), "outside lead"),
        (('until = "next outing"', "note = 1"), "note"),
    ],
)
def test_what_is_wrong_in_a_procedure_is_wrong_by_the_schema(change, words):
    text = PROCEDURE.replace(*change)
    assert text != PROCEDURE
    errors = jsonschema.Draft202012Validator(procedure_schema()).iter_errors(tomllib.loads(text))
    assert words in " ".join(error.message for error in errors)


def test_what_a_name_alone_means_fits_the_schema_as_the_long_form_does():
    begin = {"items": {"A": "SA", "B": {"in": "A", "tied": False}}, "settings": {"A": {"yaw": 3}}}
    data = {"format": 1, "lanes": {"W1": "worker"}, "begin": begin}
    jsonschema.Draft202012Validator(procedure_schema()).validate(data)


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


README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
EXAMPLES = re.findall(
    r"```toml\n((?:(?!```).)*?)# procedure\.toml[^\n]*\n(.*?)```", README, re.DOTALL
)


@pytest.mark.parametrize(("scene", "procedure"), EXAMPLES)
def test_examples_of_the_readme_fit_the_schemas(scene, procedure):
    head = {"format": 1, "lanes": {"W1": "worker"}}
    jsonschema.Draft202012Validator(scene_schema()).validate({"format": 1, **tomllib.loads(scene)})
    jsonschema.Draft202012Validator(procedure_schema()).validate(head | tomllib.loads(procedure))


def test_the_readme_has_such_examples():
    assert len(EXAMPLES) == 3


def test_limits_may_be_values_alone():
    data = {"format": 1, "limits": {"body_clearance": "3 in", "visible_share": 0.4}}
    jsonschema.Draft202012Validator(scene_schema()).validate(data)
