"""Tables kept in the cache folder: read again, made again when damaged, never an error."""

import os

import numpy as np
import pytest
from figures import figure

from reach.files import tables
from reach.files.tables import cache_folder, is_kept, table_of

COARSE = {"step": 0.5, "n_directions": 12}


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """An empty cache folder, and nothing in memory."""
    monkeypatch.setenv("REACH_CACHE", str(tmp_path / "cache"))
    monkeypatch.setattr(tables, "_held", type(tables._held)())
    return tmp_path / "cache" / "tables"


@pytest.fixture
def built(monkeypatch):
    """Counts the tables that are made."""
    made = []
    build = tables.build_table

    def count(*arguments):
        made.append(arguments[0].key)
        return build(*arguments)

    monkeypatch.setattr(tables, "build_table", count)
    return made


def forget():
    tables._held.clear()


def same(one, two):
    assert one.figure_key == two.figure_key
    assert (one.step, one.radius) == (two.step, two.radius)
    for name in ("directions", "low", "depth"):
        a, b = getattr(one, name), getattr(two, name)
        assert a.dtype == b.dtype
        assert np.array_equal(a, b)


def test_what_was_written_is_read(folder, built):
    assert not is_kept(figure("M"), **COARSE)
    made = table_of(figure("M"), **COARSE)
    assert table_of(figure("M"), **COARSE) is made
    forget()
    assert is_kept(figure("M"), **COARSE)
    same(table_of(figure("M"), **COARSE), made)
    assert len(built) == 1
    assert [path.suffix for path in folder.iterdir()] == [".table"]


def test_another_figure_or_grid_has_another_table(folder, built):
    table_of(figure("M"), **COARSE)
    table_of(figure("S"), **COARSE)
    table_of(figure("M"), step=0.6, n_directions=12)
    assert len(built) == 3
    assert len(list(folder.iterdir())) == 3


@pytest.mark.parametrize("harm", ["short", "empty", "flipped", "text", "other"])
def test_a_damaged_file_is_made_again(folder, built, harm):
    made = table_of(figure("M"), **COARSE)
    (path,) = folder.iterdir()
    whole = path.read_bytes()
    if harm == "other":
        table_of(figure("S"), **COARSE)
        (foreign,) = set(folder.iterdir()) - {path}
        foreign.replace(path)
        built.pop()
    else:
        flipped = whole[:5000] + bytes([whole[5000] ^ 1]) + whole[5001:]
        new = {"short": whole[:-7], "empty": b"", "flipped": flipped, "text": b"x" * 99}
        path.write_bytes(new[harm])
    forget()
    same(table_of(figure("M"), **COARSE), made)
    assert len(built) == 2
    assert path.read_bytes() == whole


def test_a_folder_that_cannot_be_written_is_no_error(tmp_path, monkeypatch, folder, built):
    in_the_way = tmp_path / "file"
    in_the_way.write_text("not a folder")
    monkeypatch.setenv("REACH_CACHE", str(in_the_way))
    assert table_of(figure("M"), **COARSE).depth.size
    assert in_the_way.read_text() == "not a folder"
    assert not is_kept(figure("S"), **COARSE)


def test_a_table_that_is_only_half_written_is_not_left_behind(folder, built, monkeypatch):
    def fail(*_):
        raise OSError("disk full")

    monkeypatch.setattr(os, "replace", fail)
    assert table_of(figure("M"), **COARSE).depth.size
    assert list(folder.iterdir()) == []


def test_the_longest_unused_tables_go(folder, monkeypatch):
    monkeypatch.setattr(tables, "MOST_FILES", 2)
    for k, step in enumerate((0.7, 0.8, 0.9)):
        table_of(figure("M"), step=step, n_directions=12)
        for path in folder.iterdir():
            if path.stat().st_mtime > 1e6:
                os.utime(path, (1000 + k, 1000 + k))
    assert len(list(folder.iterdir())) == 2
    forget()
    assert not is_kept(figure("M"), step=0.7, n_directions=12)
    assert is_kept(figure("M"), step=0.9, n_directions=12)


@pytest.mark.parametrize(
    ("platform", "variable", "end"),
    [
        ("linux", "XDG_CACHE_HOME", ("reach",)),
        ("win32", "LOCALAPPDATA", ("reach", "cache")),
    ],
)
def test_the_folder_is_where_the_platform_keeps_such_things(
    monkeypatch, tmp_path, platform, variable, end
):
    monkeypatch.delenv("REACH_CACHE", raising=False)
    monkeypatch.setattr("sys.platform", platform)
    monkeypatch.setenv(variable, str(tmp_path))
    assert cache_folder() == tmp_path.joinpath(*end)
    monkeypatch.setattr("sys.platform", "darwin")
    monkeypatch.setenv("HOME", str(tmp_path))
    assert cache_folder() == tmp_path / "Library" / "Caches" / "reach"
