import os
from pathlib import Path

import pytest

from reach.files.assumptions import assumptions
from reach.files.places import shipped_model_names, shipped_scene_names
from reach.files.problem import InputError
from reach.files.scene import ENTRIES, load_scene
from reach.model.limits import LIMITS
from reach.model.provenance import SourceMark


def test_a_scene_is_found_by_folder_by_file_and_by_name(starter, monkeypatch):
    scene = load_scene(starter)
    assert load_scene(starter / "scene.toml").scene == scene.scene
    monkeypatch.chdir(starter)
    assert load_scene(".").file == "site/scene.toml"
    for name in shipped_scene_names():
        assert load_scene(name).name == name


def test_every_shipped_model_file_can_be_used(scene_file):
    names = ", ".join(f'"shipped:{name}"' for name in shipped_model_names())
    assert load_scene(scene_file(f"use = [{names}]")).scene.tools


def test_the_nearest_shipped_scene_is_named():
    for name in shipped_scene_names():
        with pytest.raises(InputError, match=f"unknown scene '{name}x'; did you mean '{name}'"):
            load_scene(f"{name}x")
    for far in ("qqqq", "nowhere", "bell"):
        with pytest.raises(InputError, match=f"unknown scene '{far}'; there are"):
            load_scene(far)


def test_a_folder_without_a_scene_says_so(tmp_path):
    with pytest.raises(InputError, match=r"the folder holds no scene\.toml"):
        load_scene(tmp_path)
    with pytest.raises(InputError, match="there is no such file or folder"):
        load_scene(tmp_path / "no" / "scene.toml")


def test_files_are_shown_from_the_folder_of_the_scene_on(starter):
    loaded = load_scene(starter)
    assert loaded.file == "site/scene.toml"
    assert all(not os.path.isabs(file) for file in loaded.files)
    assert all(len(digest) == 64 for digest in loaded.files.values())


def test_used_files_are_merged_and_things_know_where_they_are_written(scene_file):
    scene_file("[anchors.A2]\nat = [1, 0, 0]", "more.toml")
    folder = scene_file('use = ["more.toml"]\n[anchors.A1]\nat = [0, 0, 0]')
    loaded = load_scene(folder)
    assert list(loaded.scene.anchors) == ["A1", "A2"]
    origin = loaded.origins["anchors", "A2"]
    assert (origin.file, origin.place, origin.line) == ("site/more.toml", "anchors.A2", 2)
    assert set(loaded.files) >= {"site/scene.toml", "site/more.toml"}


def test_only_the_scene_itself_may_use_files(scene_file):
    scene_file('use = ["shipped:tools"]', "more.toml")
    with pytest.raises(InputError, match="only the scene file itself may have use"):
        load_scene(scene_file('use = ["more.toml"]'))


def test_a_file_used_twice_is_one_problem(scene_file):
    scene_file("[anchors.A2]\nat = [1, 0, 0]", "more.toml")
    with pytest.raises(InputError, match=r"use\[2\]: 'more.toml' is used twice"):
        load_scene(scene_file('use = ["more.toml", "more.toml"]'))


def test_a_limit_of_the_scene_replaces_the_used_and_the_shipped_one(scene_file):
    scene_file('[limits]\nbody_clearance = "4 in"\naccess_gap = "5 mm"', "rules.toml")
    folder = scene_file('use = ["rules.toml"]\n[limits]\nbody_clearance = "3 in"')
    limits = load_scene(folder).scene.limits
    assert set(limits) == set(LIMITS)
    assert limits["body_clearance"].value == pytest.approx(3 * 0.0254)
    assert limits["body_clearance"].source.mark is SourceMark.ENTERED
    assert limits["access_gap"].value == 0.005
    assert limits["sight_angle"].source.mark is SourceMark.INVENTED


def test_a_link_out_of_the_folder_is_refused(scene_file, tmp_path):
    (tmp_path / "outside.toml").write_text("[anchors.A]\nat = [0, 0, 0]\n")
    folder = scene_file('use = ["inside.toml"]')
    (folder / "inside.toml").symlink_to(tmp_path / "outside.toml")
    with pytest.raises(InputError, match="leaves the scene's folder by a link"):
        load_scene(folder)


def test_references_are_not_judged_when_a_whole_file_is_missing(scene_file):
    folder = scene_file('use = ["more.toml"]\n[workers.W1]\nsize = "medium"\nsuit = "x"')
    with pytest.raises(InputError) as caught:
        load_scene(folder)
    assert len(caught.value.problems) == 1


def test_values_with_units_are_read_as_si(scene_file):
    folder = scene_file(
        '[sockets.S]\nat = ["24 in", "1 ft", "3 mm"]\naxis = [0, 0, 2]\nzero = [3, 0, 0]'
    )
    socket = load_scene(folder).scene.sockets["S"]
    assert socket.at == pytest.approx((0.6096, 0.3048, 0.003))
    assert socket.axis == (0.0, 0.0, 1.0)


def test_tables_are_one_record_a_row(scene_file):
    folder = scene_file('[tables]\nfasteners = "bolts.csv"\nhandrails = "rails.csv"')
    (folder / "bolts.csv").write_text(
        "# the bolts of the panel\n"
        "name,at.x,at.y,at.z,axis.x,axis.y,axis.z,head,torque,turns,hand,tools\n"
        "B1,24 in,0,1.5,0,1,0,16 mm,25 ft lbf,12,,\n"
        "\n"
        'B2,1,0,1.5,0,2,0,"16 mm",,,left, a ; b\n'
    )
    (folder / "rails.csv").write_text(
        "name,from.x,from.y,from.z,to.x,to.y,to.z,rated\nR1,0,0,0,1,0,0,false\n"
    )
    (folder / "kit.toml").write_text(
        "[tools]\n"
        + "".join(f'{n} = {{ kind = "hand", tip = [0,0,0], axis = [1,0,0] }}\n' for n in "ab")
    )
    text = (folder / "scene.toml").read_text()
    (folder / "scene.toml").write_text('use = ["kit.toml"]\n' + text)
    scene = load_scene(folder).scene
    first, second = scene.fasteners["B1"], scene.fasteners["B2"]
    assert first.at == pytest.approx((0.6096, 0.0, 1.5))
    assert (first.head, first.hand, first.tools) == ("16 mm", "either", ())
    assert first.torque == pytest.approx(33.895, abs=5e-4)
    assert (second.torque, second.hand, second.tools) == (None, "left", ("a", "b"))
    assert second.axis == (0.0, 1.0, 0.0)
    assert scene.handrails["R1"].rated is False
    origin = load_scene(folder).origins["fasteners", "B2"]
    assert (origin.file, origin.line) == ("site/bolts.csv", 5)


@pytest.mark.parametrize(
    ("table", "message"),
    [
        ("", "is empty; the first line names the columns"),
        ("name,name,at.x,at.y,at.z\n", ":1: column 'name' is given twice"),
        ('name,at.x,at.y,at.z\n"A,0,0,0\n', "CSV syntax"),
        ("name,at.x,at.y,at.z\nA,0,nan,0\n", "anchors.csv:2: at.y: needs a finite length"),
        ("name,at.x,at.y,at.z,rating\nA,0,0,0,-5\n", "2: rating: must be greater than 0, found -5"),
        ("name,at.x,at.y,at.z\nA,,,\n", "anchors.csv:2: key 'at' is missing"),
    ],
)
def test_a_bad_table_names_row_and_column(scene_file, table, message):
    folder = scene_file('[tables]\nanchors = "anchors.csv"')
    (folder / "anchors.csv").write_text(table)
    with pytest.raises(InputError) as caught:
        load_scene(folder)
    assert message in str(caught.value)


def test_tolerances_and_ratings_are_columns_too(scene_file):
    folder = scene_file('[tables]\nsockets = "s.csv"\nfasteners = "f.csv"')
    (folder / "s.csv").write_text(
        "name,at.x,at.y,at.z,axis.x,axis.y,axis.z,zero.x,zero.y,zero.z,"
        "rating.force,rating.moment,tolerance.box\n"
        "A,0,0,0,0,0,1,1,0,0,1 kN,100 N m,5 mm\nB,0,0,0,0,0,1,1,0,0,,,\n"
    )
    (folder / "f.csv").write_text(
        "name,at.x,at.y,at.z,axis.x,axis.y,axis.z,push,most_push,tolerance.sigma\n"
        "F,0,0,0,1,0,0,10 lbf,20,1 mm; 2 mm; 0.003\n"
    )
    scene = load_scene(folder).scene
    socket = scene.sockets["A"]
    assert (socket.rating.force, socket.rating.moment) == (1000.0, 100.0)
    assert socket.tolerance.box == (0.005, 0.005, 0.005)
    assert scene.sockets["B"].rating is None and scene.sockets["B"].tolerance is None
    bolt = scene.fasteners["F"]
    assert bolt.tolerance.sigma == (0.001, 0.002, 0.003)
    assert (round(bolt.push, 3), bolt.most_push) == (44.482, 20.0)


def test_assumptions_name_value_and_source_of_what_is_used(starter):
    found = {each.path: each for each in assumptions(load_scene(starter))}
    assert found["limits.body_clearance"].value == "0.080 m"
    assert found["suits.halden.elbow"].value == "[3 deg, 125 deg]"
    assert found["restraints.foot-restraint.holds_torque"].source.mark is SourceMark.FROM_MEMORY
    assert found["tools.power-drive.torque"].source.mark is SourceMark.INVENTED
    assert not any(path.startswith("suits.unsuited") for path in found)


def test_every_shipped_kind_of_hardware_has_a_source(scene_file):
    names = ", ".join(f'"shipped:{name}"' for name in shipped_model_names())
    scene = load_scene(scene_file(f"use = [{names}]")).scene
    for table in (scene.suits, scene.tools, scene.restraints):
        assert all("*" in record.sources for record in table.values())
    marks = {limit.source.mark for limit in scene.limits.values()}
    assert SourceMark.ENTERED not in marks


def test_every_table_of_the_record_is_read():
    assert {"solids", "limits", "workers", "suits"} <= set(ENTRIES)
    assert "tables" not in ENTRIES


def test_a_scene_folder_can_be_moved(starter, tmp_path):
    moved = Path(starter).rename(tmp_path / "elsewhere")
    assert load_scene(moved).name == "elsewhere"
