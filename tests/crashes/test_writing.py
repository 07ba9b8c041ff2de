"""A file is as it was or wholly new, whatever ends the program that writes it."""

import os
import signal
import stat
import subprocess
import sys
import threading

import pytest

from reach.files import writing
from reach.files.problem import InputError
from reach.files.results import Together, is_whole, make_folder, whole, write_whole
from reach.files.writing import ENDING, replacing, sweep

DIE_WHILE_WRITING = """
import os, sys
from pathlib import Path
from reach.files.writing import replacing
with replacing(Path(sys.argv[1])) as part:
    part.write_text("half")
    os.kill(os.getpid(), 9)
"""
SWEEP = """
import sys
from pathlib import Path
from reach.files.writing import sweep
sweep(Path(sys.argv[1]))
"""
DIE_IN_BETWEEN = """
import os, sys
from pathlib import Path
from reach.files import writing
from reach.files.results import Together
folder = Path(sys.argv[1])
place = writing.Part.take_place
n = 0
def slowly(part):
    global n
    n += 1
    if n == int(sys.argv[2]):
        os.kill(os.getpid(), 9)
    place(part)
writing.Part.take_place = slowly
with Together(folder / "contents") as files:
    files.add(folder / "a", "new")
    files.add(folder / "b", "new")
"""


def killed(script, *words):
    process = subprocess.run([sys.executable, "-c", script, *map(str, words)], check=False)
    assert process.returncode == -signal.SIGKILL


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def test_a_file_is_as_it_was_when_its_writer_is_killed_and_the_next_one_tidies_up(tmp_path):
    (tmp_path / "a.txt").write_text("old")
    killed(DIE_WHILE_WRITING, tmp_path / "a.txt")
    assert (tmp_path / "a.txt").read_text() == "old"
    left = [name for name in names(tmp_path) if name != "a.txt"]
    assert len(left) == 1
    assert left[0].startswith(".a.txt.")
    assert left[0].endswith(ENDING)
    write_whole(tmp_path / "b.txt", "new")
    assert names(tmp_path) == ["a.txt", "b.txt"]


def test_what_another_program_is_writing_is_no_leftover(tmp_path):
    with replacing(tmp_path / "a.txt") as part:
        part.write_text("new")
        subprocess.run([sys.executable, "-c", SWEEP, str(tmp_path)], check=True)
        assert part.exists()
    assert names(tmp_path) == ["a.txt"]


def test_a_file_that_is_taken_for_a_leftover_before_it_is_locked_is_made_again(
    tmp_path, monkeypatch
):
    lock, taken = writing._lock, []

    def late(handle):
        if not taken:
            taken.extend(sweep(tmp_path))
        lock(handle)

    monkeypatch.setattr(writing, "_lock", late)
    write_whole(tmp_path / "a.txt", "new")
    assert len(taken) == 1
    assert names(tmp_path) == ["a.txt"]


def test_without_locks_only_what_is_long_forgotten_is_taken_away(tmp_path, monkeypatch):
    monkeypatch.setattr(writing, "fcntl", None)
    old, young = (tmp_path / f".a.{digit * 8}{ENDING}" for digit in "01")
    for path in (old, young):
        path.touch()
    os.utime(old, (1.0, 1.0))
    assert sweep(tmp_path) == [old]
    write_whole(tmp_path / "a", "new")
    assert names(tmp_path) == [young.name, "a"]


def test_nothing_of_others_is_taken_away(tmp_path):
    others = ["a.reach-part", ".a.reach-part", ".a.0123456.reach-part", ".a.0123abcd.part"]
    for name in others:
        (tmp_path / name).touch()
    (tmp_path / f".folder.0123abcd{ENDING}").mkdir()
    (tmp_path / f".link.0123abcd{ENDING}").symlink_to(tmp_path / "a.reach-part")
    assert sweep(tmp_path) == []
    assert len(names(tmp_path)) == 6


def test_two_threads_write_the_same_file_and_one_of_them_wins(tmp_path):
    texts = [letter * 200_000 for letter in "ab"]

    def write(text):
        for _ in range(50):
            write_whole(tmp_path / "a", text, is_lasting=False)
            assert (tmp_path / "a").read_text() in texts

    threads = [threading.Thread(target=write, args=(text,)) for text in texts]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert names(tmp_path) == ["a"]


def test_a_name_as_long_as_a_folder_takes_can_be_written(tmp_path):
    write_whole(tmp_path / ("é" * 127), "new")
    assert names(tmp_path) == ["é" * 127]


def test_a_new_file_has_the_permissions_that_files_get(tmp_path):
    before = os.umask(0o027)
    try:
        write_whole(tmp_path / "a", "new")
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "a").stat().st_mode) == 0o640


def test_a_pipe_is_written_into_and_not_replaced(tmp_path):
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    read = []
    reader = threading.Thread(target=lambda: read.append(pipe.read_text()))
    reader.start()
    write_whole(pipe, "text")
    reader.join(10)
    assert read == ["text"]
    assert stat.S_ISFIFO(pipe.stat().st_mode)
    with pytest.raises(InputError, match="is no plain file"), whole(pipe):
        pass


def test_a_full_device_is_told_and_left_as_it_is():
    with pytest.raises(InputError, match="/dev/full: cannot be written: No space left on device"):
        write_whole("/dev/full", "text")
    assert stat.S_ISCHR(os.stat("/dev/full").st_mode)


def test_files_of_one_report_change_together_or_not_at_all(tmp_path):
    for name in "ab":
        (tmp_path / name).write_text("old")
    with pytest.raises(ValueError, match="no"), Together() as files:
        files.add(tmp_path / "a", "new")
        raise ValueError("no")
    assert (tmp_path / "a").read_text() == "old"
    with pytest.raises(InputError, match="no folder"), Together() as files:
        files.add(tmp_path / "a", "new")
        files.add(tmp_path / "none" / "b", "new")
    assert (tmp_path / "a").read_text() == "old"
    assert names(tmp_path) == ["a", "b"]


@pytest.mark.parametrize(
    ("n", "texts"), [(1, ["old", "old"]), (2, ["new", "old"]), (3, ["new", "new"])]
)
def test_a_set_killed_in_between_is_told_by_its_missing_list(tmp_path, n, texts):
    with Together(tmp_path / "contents") as files:
        for name in "ab":
            files.add(tmp_path / name, "old")
    assert is_whole(tmp_path / "contents")
    killed(DIE_IN_BETWEEN, tmp_path, n)
    assert [(tmp_path / name).read_text() for name in "ab"] == texts
    assert not (tmp_path / "contents").exists()
    assert not is_whole(tmp_path / "contents")
    assert len(sweep(tmp_path)) == 4 - n
    with Together(tmp_path / "contents") as files:
        for name in "ab":
            files.add(tmp_path / name, "new")
    assert is_whole(tmp_path / "contents")
    assert names(tmp_path) == ["a", "b", "contents"]


def test_a_list_that_is_not_true_or_not_ours_tells_no_whole_set(tmp_path):
    contents = tmp_path / "contents"
    with Together(contents) as files:
        files.add(tmp_path / "a", "new")
    text = contents.read_text()
    (tmp_path / "a").write_text("changed")
    assert not is_whole(contents)
    (tmp_path / "a").write_text("new")
    assert is_whole(contents)
    for wrong in (text[:30], "x", text.replace("  a", "  ../a"), "\x00\xff"):
        contents.write_text(wrong)
        assert not is_whole(contents)


def test_a_folder_that_cannot_be_made_is_told(tmp_path):
    (tmp_path / "file").touch()
    with pytest.raises(InputError, match="cannot be made: Not a directory"):
        make_folder(tmp_path / "file" / "folder")
    with pytest.raises(InputError, match="cannot be made"):
        make_folder("/proc/no-such-folder")
