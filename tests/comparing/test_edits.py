"""Edits between two versions: every kind is told, with old and new value in words."""

from __future__ import annotations

from itertools import permutations
from pathlib import Path
from typing import Any

import pytest
from pydantic import Field
from versions import BRACKET, MAST, changed, mast, step_of, versions

from reach.comparing.changes import Change, changes, same
from reach.comparing.edits import Edit, Version, edits_between, procedure_edits
from reach.comparing.hybrid import hybrid
from reach.comparing.sides import versions as sides
from reach.comparing.steps import likeness, out_of_order, renamed_steps
from reach.files.problem import InputError
from reach.files.procedure import LoadedProcedure, load_procedure
from reach.files.scene import load_scene
from reach.model.procedure import Procedure, Step
from reach.model.record import Duration, Elapsed, Length, Record
from reach.model.scene import Handrail, Station

HAZARD = """[hazards.antenna-front]
title = "In front of the antenna while it sends"
kind = "keep-out"
box = [1.2, 1.5, 2.4]
at = [0.30, 1.90, 9.65]
stand_off = 0.10
"""


def edits(folder: Path, text: str) -> tuple[Edit, ...]:
    return edits_between(*versions(folder, BRACKET, text))


def told(edit: Edit) -> dict[str, tuple[str, str]]:
    return {change.key: (change.old, change.new) for change in edit.changes}


def step(name: str, do: str = "inspect", **more: Any) -> dict[str, Any]:
    action = {"do": do} | ({"fastener": "AB1"} if do == "inspect" else {})
    return {"name": name, "lane": "R1", "actions": [action], **more}


def procedure(*steps: dict[str, Any], **more: Any) -> Procedure:
    return Procedure.model_validate(
        {"format": 1, "lanes": {"R1": "worker", "R2": "worker"}, "steps": steps, **more}
    )


def test_a_version_has_no_edits_against_itself(tmp_path: Path) -> None:
    assert edits(tmp_path, BRACKET) == ()


def test_other_units_and_other_layout_are_no_edit(tmp_path: Path) -> None:
    text = BRACKET.replace('duration = "5 min"', 'duration = "300 s"') + "\n# a remark\n"
    assert edits(tmp_path, text) == ()


def test_an_edited_step_tells_key_old_and_new_with_units(tmp_path: Path) -> None:
    text = changed(
        BRACKET,
        (
            'tool = "BB-1", bit = "N-19", hand = "both"',
            'tool = "BB-1", bit = "N-19", hand = "left"',
        ),
        ('duration = "2 min"', 'duration = "90 s"'),
    )
    first, second = edits(tmp_path, text)
    assert (first.title, first.kinds) == ("step 2 look at the clamps", ("edited",))
    assert told(first) == {"duration": ("2 min", "1.5 min")}
    assert told(second) == {"actions.drive.hand": ("both", "left")}


def test_steps_added_and_removed_are_told_by_name(tmp_path: Path) -> None:
    text = BRACKET.replace(step_of("3 AB1"), "") + step_of("3 AB1").replace(
        "3 AB1", "9 AB1"
    ).replace('lane = "R1"', 'lane = "R2"')
    assert [(edit.kinds, edit.name) for edit in edits(tmp_path, text)] == [
        (("removed",), "3 AB1"),
        (("added",), "9 AB1"),
    ]


def test_a_step_that_goes_by_another_name_is_renamed_not_new(tmp_path: Path) -> None:
    (edit,) = edits(tmp_path, changed(BRACKET, ('name = "7 TB1"', 'name = "9 top bolt"')))
    assert (edit.kinds, edit.name, edit.was, edit.changes) == (
        ("renamed",), "9 top bolt", "7 TB1", (),
    )  # fmt: skip
    assert edit.is_wording


def test_a_step_of_another_lane_or_with_other_actions_is_never_the_same_renamed() -> None:
    a, b, c = (Step.model_validate(one) for one in (
        step("x"), step("x y") | {"lane": "R2"}, step("x z", do="release"),
    ))  # fmt: skip
    assert likeness(a, b) == likeness(a, c) == 0.0
    assert renamed_steps([a], [b, c]) == {}


def test_of_two_candidates_the_more_alike_is_the_renamed_step() -> None:
    old = procedure(step("look", where="M8", duration="5 min"))
    new = procedure(
        step("check it", where="M9", duration="1 min"),
        step("look well", where="M8", duration="5 min"),
    )
    assert renamed_steps(old.steps, new.steps) == {"look": "look well"}


def test_a_wait_for_a_renamed_step_is_no_edit_of_its_own() -> None:
    old = procedure(step("look"), step("turn", after=["look"], where="M8"))
    new = procedure(step("look again"), step("turn", after=["look again"], where="M8"))
    (edit,) = procedure_edits(old, new)
    assert (edit.kinds, edit.was) == (("renamed",), "look")


def test_a_step_moved_in_order_or_time_is_moved_and_the_others_are_not() -> None:
    old = procedure(*(step(name, start=60.0 * k) for k, name in enumerate("abcd")))
    times = dict(zip("abcd", range(4), strict=True))
    new = procedure(*(step(name, start=60.0 * times[name]) for name in "adbc"))
    (edit,) = procedure_edits(old, new)
    assert (edit.name, edit.kinds) == ("d", ("moved",))
    assert told(edit) == {"order": ("after c", "after a")}
    later = procedure(*(step(n, start=60.0 * times[n] + 3600.0 * (n == "b")) for n in "abcd"))
    (edit,) = procedure_edits(old, later)
    assert (edit.kinds, told(edit)) == (("moved",), {"start": ("00:01", "01:01")})


def test_steps_put_in_move_no_other_step() -> None:
    old = procedure(step("a"), step("b", do="release"))
    new = procedure(step("x", do="ingress"), step("a"), step("y", do="ingress"),
                    step("b", do="release"))  # fmt: skip
    assert {(edit.name, edit.kinds) for edit in procedure_edits(old, new)} == {
        ("x", ("added",)), ("y", ("added",)),
    }  # fmt: skip


@pytest.mark.parametrize("places", list(permutations(range(5))))
def test_as_few_steps_as_can_be_are_called_moved(places: tuple[int, ...]) -> None:
    moved = out_of_order(places)
    rest = [place for k, place in enumerate(places) if k not in moved]
    assert rest == sorted(rest)
    every = [
        sub
        for n in range(32)
        if (sub := [p for k, p in enumerate(places) if n >> k & 1]) == sorted(sub)
    ]
    assert len(rest) == max(map(len, every))


def test_of_lists_of_actions_those_put_in_do_not_shift_the_others() -> None:
    old = Step.model_validate(step("a") | {"actions": [{"do": "inspect", "fastener": "AB1"}]})
    new = old.model_validate(
        step("a") | {"actions": [{"do": "ingress"}, {"do": "inspect", "fastener": "AB2"}]}
    )
    assert [(one.key, one.old, one.new) for one in changes(old, new)] == [
        ("actions.ingress", "nothing", "ingress"),
        ("actions.inspect.fastener", "AB1", "AB2"),
    ]


def test_words_of_values_come_from_what_the_field_is() -> None:
    rail = {"from": [0, 0, 0], "to": [1, 0, 0]}
    old = Handrail.model_validate(rail)
    new = Handrail.model_validate(rail | {"to": [1.25, 0, 0], "radius": "1 in", "rating": "2 kN"})
    assert [(one.key, one.old, one.new) for one in changes(old, new)] == [
        ("to", "[1.000 m, 0.000 m, 0.000 m]", "[1.250 m, 0.000 m, 0.000 m]"),
        ("radius", "0.016 m", "0.025 m"),
        ("rating", "nothing", "2000.0 N"),
    ]


def test_a_change_too_small_to_show_as_usual_is_shown_with_more_digits() -> None:
    place = {"at": [0, 0, 0], "up": [0, 0, 1], "toes": [1, 0, 0], "restraint": "FR"}
    old = Station.model_validate(place)
    new = Station.model_validate(place | {"at": [0, 0, "0.1 mm"]})
    (change,) = changes(old, new)
    assert change.new == "[0 m, 0 m, 0.0001 m]"


def test_detents_and_angles_of_a_setting_are_told_apart() -> None:
    old, new = (Step.model_validate(step("a") | {"setting": {"yaw": yaw}}) for yaw in (3, "30 deg"))
    (change,) = changes(old, new)
    assert (change.key, change.old, change.new) == ("setting.yaw", "3", "30.0 deg")
    assert not same(1, 1.0)


def test_edits_of_a_scene_are_told_by_table_and_name(tmp_path: Path) -> None:
    old = mast(tmp_path, "old")
    new = mast(
        tmp_path,
        "new",
        ("at = [0.66, 0.20, 8.9]", "at = [0.66, 0.20, 9.0]"),
        ("[stations.M8]", "[stations.M0]\n" 'at = [0.66, 0.2, 7.0]\nup = [0, 0, 1]\n'
         'toes = [-1, 0, 0]\nrestraint = "LA-1"\n\n[stations.M8]'),
        ("[handrails.RUNG-9]", "[handrails.RUNG-9b]"),
        ('[limits.body_clearance]\nvalue = "30 mm"', '[limits.body_clearance]\nvalue = "50 mm"'),
        ("[solids.lug-top]\n", "[solids.lug-upper]\n"),
        (HAZARD, ""),
        ('title = "Bracket arm"\nbox = [0.06, 0.56, 0.06]\nat = [0.30, 0.58, 9.00]',
         'title = "Lower bracket arm"\nbox = [0.06, 0.56, 0.06]\nat = [0.30, 0.58, 9.00]'),
    )  # fmt: skip
    found = edits_between(*sides(str(old), str(new)))
    by_title = {edit.title: edit for edit in found}
    assert {title: edit.kinds for title, edit in by_title.items()} == {
        "solids arm-low": ("edited",),
        "solids lug-upper": ("renamed",),
        "hazards antenna-front": ("removed",),
        "handrails RUNG-9b": ("renamed",),
        "stations M9": ("edited",),
        "stations M0": ("added",),
        "limits body_clearance": ("edited",),
    }
    assert by_title["handrails RUNG-9b"].was == "RUNG-9"
    assert told(by_title["limits body_clearance"]) == {"value": ("0.030 m", "0.050 m")}
    assert [edit.title for edit in found if edit.is_wording] == ["solids arm-low"]


def test_a_mesh_with_other_content_under_the_same_name_is_an_edit(tmp_path: Path) -> None:
    mesh = (
        "[solids.lug-top]\n",
        '[solids.tag]\nmesh = { file = "tag.stl", unit = "m", up = "z" }\n\n[solids.lug-top]\n',
    )
    folders = [mast(tmp_path, name, mesh) for name in ("old", "new")]
    wedge = (Path(__file__).parents[1] / "arm" / "wedge.stl").read_bytes()
    for folder in folders:
        (folder / "tag.stl").write_bytes(wedge)
    assert edits_between(*sides(*map(str, folders))) == ()
    import trimesh

    other = trimesh.load_mesh(folders[0] / "tag.stl")
    other.apply_scale(1.5)
    other.export(folders[1] / "tag.stl")
    (edit,) = edits_between(*sides(*map(str, folders)))
    assert (edit.title, edit.fields, edit.is_wording) == ("solids tag", ("mesh",), False)


# ---- some of the edits -----------------------------------------------------------------


def demo() -> list[Version]:
    scene = load_scene("brackenfall")
    names = ("outing.toml", "mended.toml")
    return [Version(scene, load_procedure(name, scene)) for name in names]


def test_all_edits_make_the_new_version_and_none_the_old() -> None:
    old, new = demo()
    found = edits_between(old, new)
    assert {kind for edit in found for kind in edit.kinds} == {
        "added", "removed", "renamed", "moved", "edited",
    }  # fmt: skip
    whole = hybrid(old, new, found)
    assert [step.name for step in whole.asked.procedure.steps] == [
        step.name for step in new.asked.procedure.steps
    ]
    assert edits_between(whole, new) == ()
    assert edits_between(old, hybrid(old, new, ())) == ()


def test_one_edit_makes_that_edit_and_no_other() -> None:
    old, new = demo()
    n_tried = 0
    for edit in edits_between(old, new):
        try:
            version = hybrid(old, new, [edit])
        except InputError:
            continue
        found = edits_between(old, version)
        assert [one.title for one in found] == [edit.title]
        n_tried += 1
    assert n_tried > 25


def test_edits_of_a_scene_can_be_taken_over_one_by_one(tmp_path: Path) -> None:
    words = [("at = [0.66, 0.20, 8.9]", "at = [0.66, 0.20, 9.0]"),
             ('push = "40 N"\ntolerance = { sigma = "3 mm" }\ntorque = "60 N m"',
              'push = "40 N"\ntolerance = { sigma = "3 mm" }\ntorque = "50 N m"')]  # fmt: skip
    old, new = sides(str(mast(tmp_path, "old")), str(mast(tmp_path, "new", *words)))
    found = edits_between(old, new)
    for edit in found:
        (one,) = edits_between(old, hybrid(old, new, [edit]))
        assert one == edit
    assert edits_between(hybrid(old, new, found), new) == ()


def test_an_edit_that_does_not_fit_without_others_is_refused() -> None:
    old, new = demo()
    (edit,) = [one for one in edits_between(old, new) if one.name == "27 IB4"]
    with pytest.raises(InputError, match="what holds the worker"):
        hybrid(old, new, [edit])


def test_a_step_or_record_that_is_called_like_a_key_of_words_still_asks() -> None:
    old = procedure(step("title"), step("note", do="release"))
    new = procedure(step("title", where="M8"), step("note", do="release"), title="Other words")
    assert [(edit.name, edit.is_wording) for edit in procedure_edits(old, new)] == [
        ("title", True),
        ("title", False),
    ]


class Window(Record):
    opens: Elapsed


class Rule(Record):
    name: str
    least: Length = 0.0


class Wider(Procedure):
    """A procedure with keys that `comparing` has never heard of."""

    windows: dict[str, Window] = Field(default_factory=dict)
    rules: tuple[Rule, ...] = ()
    first: Window | None = None
    reserve: Duration = 0.0


def test_keys_that_are_new_to_the_model_are_told_without_a_change_here() -> None:
    plain = {"format": 1, "lanes": {"R1": "worker"}}
    old = Wider.model_validate(
        plain | {"windows": {"dark": {"opens": "00:30"}}, "rules": [{"name": "apart", "least": 1}]}
    )
    new = Wider.model_validate(
        plain
        | {"windows": {"dark": {"opens": "01:30"}, "light": {"opens": "02:00"}},
           "rules": [{"name": "apart", "least": "2 m"}, {"name": "held"}],
           "first": {"opens": "00:10"}, "reserve": "30 min"}
    )  # fmt: skip
    found = [
        (edit.title, edit.kinds, one.key, one.old, one.new)
        for edit in procedure_edits(old, new)
        for one in edit.changes or [Change(key="", old="", new="")]
    ]
    assert found == [
        ("windows dark", ("edited",), "opens", "00:30", "01:30"),
        ("windows light", ("added",), "", "", ""),
        ("rules", ("edited",), "rules.apart.least", "1.000 m", "2.000 m"),
        ("rules", ("edited",), "rules.held", "nothing", "held"),
        ("first", ("edited",), "first", "nothing", "opens 00:10"),
        ("reserve", ("edited",), "reserve", "0.0 s", "30 min"),
    ]
    scene = load_scene(MAST)
    versions_ = [Version(scene, LoadedProcedure(one, "x", "")) for one in (old, new)]
    edits_ = edits_between(*versions_)
    assert hybrid(*versions_, edits_).asked.procedure == new
    assert hybrid(*versions_, edits_[:1]).asked.procedure.windows == {"dark": new.windows["dark"]}
