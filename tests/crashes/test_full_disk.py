"""A full disk and a folder that takes nothing: a plain message, exit code 2, results as they were.

Tests may run as root, whom no permission stops: what a folder refuses is shown by a file where a
folder is wanted, by /proc, and by a limit on the size of files, which is what a full disk does.
"""

import os
import resource
import subprocess
import sys
from pathlib import Path

import pytest

from reach.files.starter import write_starter

LARGEST = 4096
ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    folder = tmp_path_factory.mktemp("full") / "site"
    write_starter(folder)
    return folder


def run(*words, largest=None, cwd=None, stdout=subprocess.PIPE):
    """Run a command; ``largest`` is the size (bytes) beyond which no file can grow."""
    limit = None if largest is None else lambda: resource.setrlimit(
        resource.RLIMIT_FSIZE, (largest, largest)
    )  # fmt: skip
    return subprocess.run(
        [sys.executable, "-m", "reach", *map(str, words)], stdout=stdout, cwd=cwd, text=True,
        stderr=subprocess.PIPE, preexec_fn=limit, check=False, timeout=300,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip


def told(process, *words):
    """Check that a command ended with plain words and nothing else."""
    assert process.returncode == 2, process.stderr
    assert "Traceback" not in process.stderr
    assert "defect" not in process.stderr
    for word in words:
        assert word in process.stderr


def old(folder, *names):
    """Put earlier results into a folder; return what it holds."""
    folder.mkdir(exist_ok=True)
    for name in names:
        (folder / name).write_text("earlier")
    return held(folder)


def held(folder):
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


def test_findings_that_do_not_fit_leave_the_earlier_ones(site, tmp_path):
    before = old(tmp_path / "out", "all.json", "all.csv")
    words = ["--json", tmp_path / "out" / "all.json", "--csv", tmp_path / "out" / "all.csv"]
    process = run("check", site, *words, largest=LARGEST)
    told(process, "all.json: cannot be written: File too large")
    assert "FAIL" in process.stdout or "PASS" in process.stdout  # the answer itself is printed
    assert held(tmp_path / "out") == before


def test_a_report_that_does_not_fit_leaves_the_earlier_one_whole(site, tmp_path):
    before = old(tmp_path, "report.html", "tables.xlsx", "contents.sha256")
    words = ["--without", "pdf,cards,glb,pictures", "--no-differences"]
    process = run("report", site, "-o", tmp_path, *words, largest=LARGEST)
    told(process, "report.html: cannot be written: File too large")
    assert held(tmp_path) == before


def test_a_batch_that_does_not_fit_says_so_and_goes_on_when_there_is_room(site, tmp_path):
    words = ["batch", site, "-o", tmp_path, "--jobs", 1, "--only", "torque"]
    before = old(tmp_path, "summary.txt", "findings.csv")
    told(run(*words, largest=LARGEST), f"{tmp_path}", "cannot be written: File too large")
    assert held(tmp_path) == before
    process = run(*words)
    assert process.returncode in (0, 1, 3)
    assert "Ran 1 tasks, 0 were kept" in process.stderr
    assert set(held(tmp_path)) >= {"summary.txt", "findings.csv", "plan.jsonl"}


def test_a_new_scene_that_does_not_fit_leaves_nothing(tmp_path):
    told(run("new", tmp_path / "new", largest=100), "cannot be written: File too large")
    assert held(tmp_path) == {}
    assert not (tmp_path / "new").exists()


def test_standard_output_that_is_full_is_told(site):
    with open("/dev/full", "w") as full:
        process = run("check", site, "--only", "torque", stdout=full)
    told(process, "standard output: cannot be written: No space left on device")


def test_a_real_disk_that_is_full_is_told(site, tmp_path):
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(disk)]
    try:
        refused = subprocess.run(mount, capture_output=True, check=False).returncode
    except OSError:
        refused = 1
    if refused:
        pytest.skip("a small disk cannot be mounted here")
    try:
        before = old(disk, "all.json")
        (disk / "ballast").write_bytes(b"x" * 50_000)
        process = run("check", site, "--json", disk / "all.json")
        told(process, "all.json: cannot be written: No space left on device")
        assert (disk / "all.json").read_bytes() == before["all.json"]
        assert len(held(disk)) == 2
    finally:
        subprocess.run(["umount", str(disk)], check=True)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["check", "site", "--json", "/proc/a.json"], "/proc/a.json: cannot be written"),
        (["check", "site", "--pictures", "file/x"], "is not a folder"),
        (["check", "site", "--fill", "file/x.toml"], "is not a folder"),
        (["report", "site", "-o", "file/x"], "is not a folder"),
        (["report", "site", "-o", "file"], "is a file; give a folder"),
        (["batch", "site", "-o", "/proc/x"], "/proc/x/tasks: cannot be made"),
        (["batch", "site", "-o", "file/x"], "give another folder with -o"),
        (["view", "site", "--no-open", "--out", "file/x"], "is not a folder"),
        (["new", "file/x"], "cannot be made: Not a directory"),
    ],
)
def test_a_folder_that_takes_nothing_is_told(site, tmp_path, monkeypatch, words, message):
    from typer.testing import CliRunner

    import reach.cli

    monkeypatch.chdir(tmp_path)
    (tmp_path / "site").symlink_to(site)
    (tmp_path / "file").write_text("x")
    words = [*words, "--only", "torque"] if words[0] in ("check", "batch") else words
    result = CliRunner().invoke(reach.cli.app, words)
    assert result.exit_code == 2, result.output
    assert message in result.stderr
    assert (tmp_path / "file").read_text() == "x"
