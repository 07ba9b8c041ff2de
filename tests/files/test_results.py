import stat

import pytest

from reach.files import results
from reach.files.problem import InputError
from reach.files.results import write_whole


def test_text_and_bytes_are_written(tmp_path):
    write_whole(tmp_path / "a.txt", "line\n")
    write_whole(tmp_path / "b.bin", b"\x00\x01")
    assert (tmp_path / "a.txt").read_bytes() == b"line\n"
    assert (tmp_path / "b.bin").read_bytes() == b"\x00\x01"
    assert len(list(tmp_path.iterdir())) == 2


def test_what_was_there_stands_when_writing_fails(tmp_path, monkeypatch):
    path = tmp_path / "a.txt"
    write_whole(path, "old")

    def fail(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(results.os, "replace", fail)
    with pytest.raises(InputError, match="cannot be written: No space left on device"):
        write_whole(path, "new")
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_a_missing_folder_says_what_to_do(tmp_path):
    with pytest.raises(InputError, match=r"there is no folder .* make it first"):
        write_whole(tmp_path / "no" / "a.txt", "x")
    (tmp_path / "file").write_text("")
    with pytest.raises(InputError, match="is not a folder"):
        write_whole(tmp_path / "file" / "a.txt", "x")
    with pytest.raises(InputError, match="is a folder; give a file name"):
        write_whole(tmp_path, "x")


def test_permissions_stay_as_they_were(tmp_path):
    path = tmp_path / "a.txt"
    write_whole(path, "old")
    assert stat.S_IMODE(path.stat().st_mode) & 0o400
    path.chmod(0o640)
    write_whole(path, "new")
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
