"""Findings kept in the cache folder: given again, found anew when damaged, never an error."""

import os

import pytest
from shop import STEPS, procedure, scene

from reach.checks import CHECKS
from reach.files import kept as on_disk
from reach.files.kept import KeptOnDisk
from reach.run import check

FEW = STEPS[2:3] + STEPS[8:9]


@pytest.fixture
def folder(tmp_path):
    return tmp_path / "findings"


def run(folder, steps=FEW):
    """Check and write; return what was found and how many checks of steps had to be run."""
    ran = []
    kept = KeptOnDisk(folder)
    keep = kept.keep
    kept.keep = lambda *given: (ran.append(given[0]), keep(*given))
    outcome = check(scene(), procedure(steps), kept=kept)
    kept.write()
    return [repr(one) for one in outcome.findings], len(ran)


def test_what_was_found_is_given_again_by_another_process(folder):
    found, ran = run(folder)
    assert ran > 50
    assert run(folder) == (found, 0)
    assert {path.suffix for path in folder.iterdir()} == {".kept"}


def test_one_changed_step_leaves_the_other_one_as_it_is(folder):
    run(folder)
    one, two = FEW
    changed = {**two, "actions": [{**two["actions"][0], "fastener": "behind"}]}
    found, again = run(folder, (one, changed))
    assert 0 < again <= len(CHECKS)
    assert found == [repr(x) for x in check(scene(), procedure((one, changed))).findings]
    # Of when a step is over nobody asks but who looks who is at rest beside whom by then.
    found_then, once = run(folder, (one, {**changed, "duration": 777.0}))
    assert (found_then, once) == (found, 1)


@pytest.mark.parametrize("damage", ["short", "changed", "empty", "other form", "not ours"])
def test_a_damaged_file_is_passed_over(folder, damage):
    found, ran = run(folder)
    for path in folder.iterdir():
        content = bytearray(path.read_bytes())
        if damage == "short":
            content = content[: len(content) // 2]
        elif damage == "changed":
            content[len(content) // 2] ^= 1
        elif damage == "empty":
            content = b""
        else:
            import hashlib
            import pickle

            held = (b"another form", {}) if damage == "other form" else (on_disk._FORM, os.getcwd)
            payload = pickle.dumps(held)
            content = hashlib.sha256(payload).digest() + payload
        path.write_bytes(content)
    assert run(folder) == (found, ran)
    assert run(folder) == (found, 0)


def test_another_program_finds_anew(folder, monkeypatch):
    found, ran = run(folder)
    monkeypatch.setattr(on_disk, "program", lambda: "another")
    assert run(folder) == (found, ran)


def test_where_nothing_can_be_written_nothing_is_kept(tmp_path):
    in_the_way = tmp_path / "file"
    in_the_way.write_text("", encoding="utf-8")
    found, ran = run(in_the_way / "findings")
    assert run(in_the_way / "findings") == (found, ran)


def test_the_longest_unused_files_go(folder, monkeypatch):
    run(folder)
    paths = sorted(folder.iterdir())
    assert len(paths) >= 2
    os.utime(paths[0], (1.0, 1.0))
    sizes = sum(path.stat().st_size for path in paths)
    monkeypatch.setattr(on_disk, "MOST_BYTES", sizes - 1)
    on_disk._tidy(folder)
    assert sorted(folder.iterdir()) == paths[1:]
