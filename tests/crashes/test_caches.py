"""What is kept from run to run is taken when it is whole and ours, and made again when not."""

import hashlib
import io
import json
import os
import pickle
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from reach.batch.perform import SCHEMA
from reach.batch.store import Store
from reach.files import kept as kept_module
from reach.files import tables
from reach.files.kept import KeptOnDisk
from reach.files.problem import InputError
from reach.files.procedure import load_procedure
from reach.files.results import write_whole
from reach.files.scene import load_scene
from reach.files.starter import write_starter
from reach.kept.keeping import Entry
from reach.reports.record import to_rows
from reach.run import check

DAMAGE = {
    "empty": lambda content: b"",
    "cut short": lambda content: content[: len(content) // 2],
    "one bit": lambda content: content[:-9] + bytes([content[-9] ^ 1]) + content[-8:],
    "of something else": lambda content: b"%PDF-1.7 is no cache" * 9,
    "with a true hash, of something else": lambda content: hashed(pickle.dumps([1, 2, 3])),
    "with a true hash, no pickle": lambda content: hashed(b"PK\x03\x04" * 9),
}


def hashed(payload):
    return hashlib.sha256(payload).digest() + payload


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    folder = tmp_path_factory.mktemp("kept") / "site"
    write_starter(folder)
    return folder


def rows(site, kept):
    scene = load_scene(site)
    outcome = check(scene, load_procedure(None, scene), only=["reach", "torque"], kept=kept)
    return to_rows(outcome)


@pytest.mark.parametrize("how", DAMAGE)
def test_findings_in_a_damaged_file_are_found_anew_and_kept_again(site, tmp_path, how):
    kept = KeptOnDisk(tmp_path)
    sound = rows(site, kept)
    kept.write()
    files = {path: path.read_bytes() for path in tmp_path.iterdir()}
    assert files
    for path, content in files.items():
        path.write_bytes(DAMAGE[how](content))
    again = KeptOnDisk(tmp_path)
    assert rows(site, again) == sound
    again.write()
    assert all(kept_module._held(path) for path in files)


class Trap:
    """Writes a file when it is unpickled."""

    def __init__(self, call):
        self.call = call

    def __reduce__(self):
        return self.call


@pytest.mark.parametrize("module", ["os", "reach"])
def test_nothing_in_a_file_of_findings_is_carried_out(tmp_path, module):
    made = tmp_path / "made"
    calls = {"os": (os.system, (f"touch {made}",)), "reach": (write_whole, (str(made), "x"))}
    path = tmp_path / "a.kept"
    held = {("q",): (Trap(calls[module]),)}
    path.write_bytes(hashed(pickle.dumps((kept_module._FORM, held))))
    assert kept_module._held(path) == {}
    assert not made.exists()


@pytest.mark.parametrize(
    ("module", "name"),
    [
        ("reach.viewer.workshop", "Workshop"),
        ("reach.files.writing", "Part"),
        ("reach.files.kept", "Path"),
        ("reach.answer", "Console"),
        ("builtins", "eval"),
    ],
)
def test_a_class_that_does_something_when_it_is_made_is_no_record(module, name):
    with pytest.raises(pickle.UnpicklingError, match="does not belong"):
        kept_module._Careful(io.BytesIO()).find_class(module, name)


def test_an_entry_of_another_shape_is_no_entry(tmp_path):
    path = tmp_path / "a.kept"
    for held in ({("q",): ("no entry",)}, {("q",): 3}, [1], None):
        path.write_bytes(hashed(pickle.dumps((kept_module._FORM, held))))
        assert kept_module._held(path) == {}
    sound = {("q",): (Entry((), 3),)}
    path.write_bytes(hashed(pickle.dumps((kept_module._FORM, sound))))
    assert kept_module._held(path) == sound


@pytest.mark.parametrize("folder", ["/proc/no-such-folder", "a file"])
def test_where_nothing_can_be_kept_the_answer_is_the_same(site, tmp_path, folder):
    if folder == "a file":
        folder = tmp_path / "file"
        folder.touch()
    kept = KeptOnDisk(Path(folder))
    assert rows(site, kept) == rows(site, None)
    kept.write()


def small(figure, **changed):
    """Return a table that takes no time to make."""
    table = tables.ReachTable(
        figure.key, 0.5, np.eye(3), np.zeros(3), np.zeros((3, 2, 2, 2), np.float32), 1.0
    )
    return replace(table, **changed)


@pytest.fixture
def figure():
    from reach.files.people import load_population, load_suits
    from reach.worker.body import percentile_body
    from reach.worker.figure import Grip, figure_of

    body = percentile_body(load_population("male"), 50)
    return figure_of(body, load_suits()["halden"], Grip((0.2, 0.0, 0.05)))


@pytest.mark.parametrize("how", DAMAGE)
def test_a_damaged_table_is_made_again(figure, tmp_path, monkeypatch, how):
    monkeypatch.setenv(tables.FOLDER, str(tmp_path))
    monkeypatch.setattr(tables, "_held", type(tables._held)())
    made = []
    monkeypatch.setattr(tables, "build_table", lambda *_: made.append(1) or small(figure))
    tables.table_of(figure)
    tables._held.clear()
    tables.table_of(figure)
    assert len(made) == 1
    (path,) = (tmp_path / "tables").iterdir()
    path.write_bytes(DAMAGE[how](path.read_bytes()))
    tables._held.clear()
    assert tables.table_of(figure).depth.shape == (3, 2, 2, 2)
    assert len(made) == 2


def test_a_table_whose_parts_do_not_fit_is_made_again(figure, tmp_path, monkeypatch):
    monkeypatch.setenv(tables.FOLDER, str(tmp_path))
    path = tmp_path / "a.table"
    for wrong in ({"directions": np.eye(2)}, {"depth": np.zeros(3)}, {"low": np.zeros(2)}):
        tables._write(path, small(figure, **wrong))
        assert tables._read(path, figure.key) is None
    tables._write(path, small(figure))
    assert tables._read(path, figure.key) is not None
    assert tables._read(path, b"another figure") is None


@pytest.mark.parametrize("how", [*DAMAGE, "nested", "another digit"])
def test_a_damaged_task_of_a_batch_is_run_again(tmp_path, how):
    store = Store(tmp_path)
    store.prepare()
    store.write("a" * 40, json.dumps({"schema": SCHEMA, "key": "a" * 40, "rows": [12]}) + "\n")
    (path,) = (tmp_path / "tasks").iterdir()
    assert store.has("a" * 40)
    assert json.loads(path.read_text())["rows"] == [12]
    assert store.read("a" * 40)["rows"] == [12]
    damage = DAMAGE | {
        "nested": lambda content: b"[" * 100_000,
        "another digit": lambda content: content.replace(b"12", b"13"),
    }
    path.write_bytes(damage[how](path.read_bytes()))
    assert not store.has("a" * 40)


ROUTINE = """
from reach.geometry.compiled import compiled, is_cached
@compiled
def twice(x):
    return FACTOR * x
FACTOR = {factor}
if __name__ == "__main__":
    kept = is_cached(twice)
    print(kept, twice(21))
"""


def answer(folder, factor=2):
    script = folder / "routine.py"
    script.write_text(ROUTINE.replace("{factor}", str(factor)))
    process = subprocess.run(
        [sys.executable, str(script)], capture_output=True, text=True, check=True,
        env={"PYTHONPATH": ":".join(sys.path), "HOME": str(folder)},
    )  # fmt: skip
    return process.stdout.split()


@pytest.mark.parametrize(
    ("ending", "how"),
    [
        ("nbi", "cut short"),
        ("nbc", "one bit"),
        ("nbc", "with a true hash, of something else"),
    ],
)
def test_damaged_machine_code_is_compiled_again(tmp_path, ending, how):
    assert answer(tmp_path) == ["False", "42"]
    (path,) = tmp_path.rglob(f"*.{ending}")
    path.write_bytes(DAMAGE[how](path.read_bytes()))
    assert answer(tmp_path)[1] == "42"
    assert answer(tmp_path) == ["True", "42"]


def test_machine_code_of_an_older_program_is_never_taken_for_new(tmp_path):
    """Killed after the new index is written, before the new code is."""
    assert answer(tmp_path) == ["False", "42"]
    (old,) = tmp_path.rglob("*.nbc")
    script = tmp_path / "routine.py"
    dying = """
import os
from reach.geometry.machine_code import WholeCacheFile
WholeCacheFile._save_data = lambda *_: os.kill(os.getpid(), 9)
"""
    new = ROUTINE.replace("{factor}", "3")
    script.write_text(new.replace("\nif __name__", dying + "\nif __name__"))
    subprocess.run([sys.executable, str(script)], capture_output=True, check=False,
                   env={"PYTHONPATH": ":".join(sys.path), "HOME": str(tmp_path)})  # fmt: skip
    assert not old.exists()
    assert answer(tmp_path, 3)[1] == "63"


def test_machine_code_that_cannot_be_kept_is_compiled_and_answers(tmp_path):
    script = tmp_path / "routine.py"
    script.write_text(ROUTINE.replace("{factor}", "2"))
    process = subprocess.run(
        [sys.executable, "-c", LIMITED, str(script)], capture_output=True, text=True, check=False,
        env={"PYTHONPATH": ":".join(sys.path), "HOME": str(tmp_path)},
    )  # fmt: skip
    assert (process.returncode, process.stdout) == (0, "False 42\n"), process.stderr


LIMITED = """
import resource, runpy, sys
resource.setrlimit(resource.RLIMIT_FSIZE, (64, 64))
runpy.run_path(sys.argv[1], run_name="__main__")
"""


def test_a_kept_report_of_problems_names_its_file():
    with pytest.raises(InputError) as caught:
        Store(Path("/proc/no-such-folder")).prepare()
    assert re.match(r"/proc/no-such-folder.*: cannot be made: ", str(caught.value))
