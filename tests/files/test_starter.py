import pytest

from reach.files import starter
from reach.files.problem import InputError
from reach.files.procedure import load_procedure
from reach.files.scene import load_scene
from reach.files.starter import FILES, write_starter


def test_the_starter_loads_without_a_warning(tmp_path):
    written = write_starter(tmp_path / "new" / "site")
    loaded = load_scene(tmp_path / "new" / "site")
    steps = load_procedure(None, loaded).procedure.steps
    assert [path.name for path in written] == list(FILES)
    assert loaded.warnings == ()
    assert len(steps) == 3


def test_the_starter_shows_an_outing_in_small(tmp_path):
    write_starter(tmp_path)
    procedure = load_procedure(None, load_scene(tmp_path)).procedure
    done = {action.do for step in procedure.steps for action in step.actions}
    assert {"attach", "release", "pick up", "stow", "confirm", "glove check"} <= done
    assert procedure.begin is not None
    assert procedure.end is not None
    assert procedure.stores.keys() | procedure.windows.keys() == {"PD-A", "contact"}


def test_every_table_of_the_starter_has_a_comment():
    for text in FILES.values():
        assert text.startswith("# ")
        assert sum(line.lstrip().startswith("#") for line in text.splitlines()) >= 3


def test_an_empty_folder_is_used_and_a_full_one_is_not(tmp_path):
    (tmp_path / "empty").mkdir()
    write_starter(tmp_path / "empty")
    with pytest.raises(InputError, match="the folder is not empty"):
        write_starter(tmp_path / "empty")
    with pytest.raises(InputError, match="is a file"):
        write_starter(tmp_path / "empty" / "scene.toml")


def test_what_a_killed_run_left_of_it_is_gone_on_with(tmp_path):
    (tmp_path / "scene.toml").write_text(starter.SCENE)
    (tmp_path / ".procedure.toml.0123abcd.reach-part").write_text("half")
    assert [path.name for path in write_starter(tmp_path)] == ["scene.toml", "procedure.toml"]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["procedure.toml", "scene.toml"]


def test_nothing_is_left_when_writing_fails(tmp_path, monkeypatch):
    add = starter.Together.add

    def fail_on_the_second(files, path, text):
        add(files, path, text)
        if path.name == "procedure.toml":
            raise InputError([])

    monkeypatch.setattr(starter.Together, "add", fail_on_the_second)
    with pytest.raises(InputError):
        write_starter(tmp_path / "site")
    assert list(tmp_path.iterdir()) == []
