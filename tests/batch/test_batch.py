"""Whole batches: resumed, interrupted, killed, in any number of processes, told truly."""

from __future__ import annotations

import csv
import json
import multiprocessing
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from pyarrow import parquet
from sites import broken_site, contents, in_this_process, site, site_of_two
from typer.testing import CliRunner

import reach.cli
from reach.batch import local, tables
from reach.batch.batch import Progress, Told, run_batch
from reach.batch.plan import Defaults
from reach.batch.store import Store
from reach.batch.task import Ended, Options, Task
from reach.cautions import CAUTIONS
from reach.files.problem import InputError
from reach.files.runs import load_runs
from reach.files.writing import replacing
from reach.reports.record import COLUMNS, to_csv
from reach.run import check

DEFAULTS = Defaults(Options(only=("fit", "torque", "hand")), ("crew", "hands"))
TABLES = ("plan.jsonl", "findings.csv", "findings.parquet", "summary.txt")


@pytest.fixture(scope="module")
def sites(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two scenes that can be run, three of whose tasks fail, and one that cannot."""
    folder = tmp_path_factory.mktemp("sites")
    site_of_two(folder / "north")
    site(folder / "south", torque="90 N m")
    broken_site(folder / "west")
    return folder


@pytest.fixture(scope="module")
def whole(sites: Path) -> Path:
    """The batch that the others are compared with, done in this process."""
    out = sites.parent / "whole"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(local, "run", in_this_process)
        told = run(sites, out)
    assert (told.progress.done, told.progress.kept, told.progress.failed) == (6, 0, 1)
    return out


def run(sites: Path, out: Path, **asked: Any) -> Told:
    return run_batch(load_runs(f"{sites}/*"), out, **({"defaults": DEFAULTS, "jobs": 2} | asked))


def rows_of(out: Path) -> list[dict[str, str]]:
    with (out / "findings.csv").open(newline="") as file:
        return list(csv.DictReader(file))


def plan_of(out: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in (out / "plan.jsonl").read_text().splitlines()]


def test_a_task_gives_what_a_check_gives(sites: Path, whole: Path) -> None:
    outcome = check(sites / "north", only=DEFAULTS.options.only)
    alone = list(csv.DictReader(to_csv(outcome).splitlines()))
    mine = [
        row for row in rows_of(whole) if (row["run"], row["variation"]) == ("north", "as planned")
    ]
    in_order = sorted(alone, key=lambda row: tables.ORDER.index(row["verdict"]))
    assert [{name: row[name] for name in COLUMNS} for row in mine] == in_order


def test_the_table_has_the_failures_first_then_what_has_no_answer(whole: Path) -> None:
    rows = rows_of(whole)
    assert list(rows[0]) == [*tables.WHERE, *COLUMNS]
    ranks = [tables.ORDER.index(row["verdict"]) for row in rows]
    assert ranks == sorted(ranks)
    assert rows[0]["verdict"] == "fail"
    assert rows[0]["fix"]
    wrong = [row for row in rows if row["run"] == "west"]
    assert {row["verdict"] for row in wrong} == {tables.BROKEN}
    assert any("unknown key 'bayz'; did you mean 'bay'?" in row["because"] for row in wrong)
    assert any("20 N n" in row["because"] for row in wrong)


def test_the_summary_tells_counts_failures_gaps_and_cautions(whole: Path) -> None:
    text = (whole / "summary.txt").read_text()
    flat = " ".join(text.split())
    rows = rows_of(whole)
    n_fails = sum(row["verdict"] == "fail" for row in rows)
    assert f"■ FAIL {n_fails}" in flat
    assert flat.index("FAILS") < flat.index("BROKEN INPUT") < flat.index("COUNTS")
    for row in rows:
        if row["verdict"] == "fail":
            assert " ".join(row["because"].split()) in flat
            assert f"Fix: {row['fix']}" in flat
    assert "south: crew not swapped: the procedure has fewer than two workers" in flat
    assert "1 task without an answer (broken input)" in flat
    digest = json.loads(next((whole / "tasks").iterdir()).read_text())["record"]["hash"]
    assert f"({digest})" in flat
    for caution in CAUTIONS:
        assert caution.split("(hash")[0].strip() in flat


def test_parquet_says_what_the_csv_says(whole: Path) -> None:
    rows = rows_of(whole)
    table = parquet.read_table(whole / "findings.parquet").to_pylist()
    assert len(table) == len(rows)
    for mine, row in zip(table, rows, strict=True):
        for name, cell in row.items():
            known = mine[name]
            if name in ("low", "high", "limit_value"):
                assert known == (float(cell) if cell else None)
            else:
                assert known == cell


def test_without_pyarrow_no_parquet_is_left_that_is_older(
    sites: Path, whole: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    old = tmp_path / "findings.parquet"
    old.write_text("older")
    copied(whole / "tasks", tmp_path / "tasks")
    monkeypatch.setitem(sys.modules, "pyarrow.parquet", None)
    told = run(sites, tmp_path)
    assert old not in told.files
    assert not old.exists()
    assert contents(tmp_path)["findings.csv"] == contents(whole)["findings.csv"]


def test_the_exit_code_is_that_of_the_worst_that_happened(
    sites: Path, whole: Path, tmp_path: Path
) -> None:
    copied(whole / "tasks", tmp_path / "tasks")

    def code(pattern: str) -> int:
        return run_batch(load_runs(pattern), tmp_path, defaults=DEFAULTS, jobs=1).exit_code

    assert code(f"{sites}/*") == 2
    assert code(f"{sites}/[ns]*") == 1
    assert code(f"{sites}/north") == 0


def copied(source: Path, target: Path) -> Path:
    target.mkdir(parents=True)
    for file in source.iterdir():
        (target / file.name).write_bytes(file.read_bytes())
    return target


def test_again_nothing_is_run_and_one_change_runs_that_alone(
    sites: Path, whole: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(local, "run", in_this_process)
    here, out = tmp_path / "sites", tmp_path / "out"
    for folder in ("north", "south"):
        copied(sites / folder, here / folder)
    copied(whole / "tasks", out / "tasks")
    assert run(here, out).progress.done == 0
    first = contents(out)
    assert run(here, out).progress.done == 0
    assert contents(out) == first

    file = here / "north/procedure.toml"
    file.write_text(
        file.read_text().replace('"power-drive", bit', '"power-drive", torque = "21 N m", bit', 1)
    )
    told = run(here, out)
    assert (told.progress.done, told.progress.kept) == (4, 2)
    assert {entry["run"] for entry in plan_of(out)} == {"north", "south"}

    told = run(here, out, defaults=replace(DEFAULTS, what_if=("SA blocked",)))
    assert (told.progress.done, told.progress.kept) == (6, 6)
    assert run(here, out).progress.done == 0

    damaged = out / "tasks" / f"{plan_of(out)[0]['key']}.json"
    damaged.write_text(damaged.read_text()[:-100])
    second = contents(out)
    told = run(here, out)
    assert (told.progress.done, told.progress.kept) == (1, 5)
    name = f"tasks/{damaged.name}"
    assert contents(out) == second | {name: damaged.read_bytes()}
    assert len(damaged.read_bytes()) > len(second[name])


def test_two_processes_give_the_same_bytes_as_one_even_when_killed_while_they_work(
    sites: Path, whole: Path, tmp_path: Path
) -> None:
    killed: list[int] = []

    def kill(progress: Progress) -> None:
        if progress.done == 1 and not killed:
            for process in multiprocessing.active_children():
                os.kill(process.pid, signal.SIGKILL)
                killed.append(process.pid)

    told = run(sites, tmp_path, jobs=2, say=kill)
    assert len(killed) == 2
    assert (told.progress.done, told.progress.kept, told.progress.failed) == (6, 0, 1)
    assert contents(tmp_path) == contents(whole)
    assert set(TABLES) < set(contents(whole))


class _Deadly:
    """Kills the process that unpickles it."""

    def __reduce__(self) -> Any:
        return eval, ("__import__('os').kill(__import__('os').getpid(), 9)",)


def test_a_task_that_kills_its_process_is_tried_again_then_given_up() -> None:
    deadly = Task("deadly", "", "", _Deadly())  # type: ignore[arg-type]
    found = [ended for ended in local.run(iter([deadly, None]), 1) if ended]
    assert found == [Ended("deadly", "lost", "Its process was ended by signal 9, 2 times.")]


def test_a_task_that_is_lost_becomes_a_row_and_is_tried_again_next_time(
    sites: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def lose(tasks: Iterator[Task | None], jobs: int) -> Iterator[Ended | None]:
        for task in tasks:
            yield (
                Ended(task.key, "lost", "Its process was ended by signal 9, 2 times.")
                if task
                else None
            )

    runs = load_runs(f"{sites}/south")
    defaults = Defaults(Options(only=("torque",)))
    with monkeypatch.context() as patch:
        patch.setattr(local, "run", lose)
        told = run_batch(runs, tmp_path, defaults=defaults)
    assert told.exit_code == 70
    (row,) = rows_of(tmp_path)
    assert (row["run"], row["verdict"], row["check"]) == ("south", tables.LOST, "")
    assert "signal 9" in row["because"]
    assert "NOT FINISHED" in (tmp_path / "summary.txt").read_text()
    monkeypatch.setattr(local, "run", in_this_process)
    told = run_batch(runs, tmp_path, defaults=defaults, jobs=1)
    assert (told.exit_code, told.progress.done) == (0, 1)


def test_ctrl_c_keeps_what_is_done_and_the_same_command_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"
    n = 40
    (tmp_path / "list.csv").write_text(
        "name,scene\n" + "".join(f"run {i},yard{i}\n" for i in range(n))
    )
    for i in range(n):
        site(tmp_path / f"yard{i}", bolt_y=0.1 + 0.001 * i)
    words = ["batch", str(tmp_path / "list.csv"), "--jobs", "1", "--only", "reach", "-o", str(out)]
    process = subprocess.Popen(
        [sys.executable, "-m", "reach", *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    assert process.stderr is not None
    # A first run on this computer says that it compiles before anything is done.
    lines = [line for line in (process.stderr.readline(),) if not line.startswith("Compiling")]
    lines += [process.stderr.readline() for _ in range(2 - len(lines))]
    os.killpg(process.pid, signal.SIGINT)  # as a terminal does: parent and workers
    printed, rest = process.communicate(timeout=30)
    assert process.returncode == 130, rest
    assert [line.split()[0] for line in lines] == ["1", "2"]
    kept = sorted((out / "tasks").iterdir())
    assert 2 <= len(kept) < n
    last = rest.splitlines()[-1]
    assert (
        last
        == f"Stopped. {len(kept)} tasks are done and kept in {out}; the same command goes on there."
    )
    assert "Traceback" not in rest
    assert printed == ""
    assert sorted(path.name for path in out.iterdir()) == ["tasks"]
    assert all(path.suffix == ".json" for path in kept)
    times = {path.name: path.stat().st_mtime_ns for path in kept}
    monkeypatch.setattr(local, "run", in_this_process)
    runs, defaults = load_runs(str(tmp_path / "list.csv")), Defaults(Options(only=("reach",)))
    told = run_batch(runs, out, defaults=defaults, jobs=1)
    assert (told.progress.done, told.progress.kept) == (n - len(kept), len(kept))
    assert {name: (out / "tasks" / name).stat().st_mtime_ns for name in times} == times
    assert {row["run"] for row in rows_of(out)} == {f"run {i}" for i in range(n)}


LEAVE = """
import os, sys
from contextlib import ExitStack
from pathlib import Path
from reach.files.writing import replacing
with ExitStack() as stack:
    for name in sys.argv[1:]:
        stack.enter_context(replacing(Path(name))).write_text("half")
    os.kill(os.getpid(), 9)
"""


def test_what_a_killed_batch_left_half_written_is_taken_away_and_nothing_else(
    tmp_path: Path,
) -> None:
    (tmp_path / "tasks").mkdir()
    ours = [*TABLES, f"tasks/{'0123456789' * 4}.json", "tasks/.can-be-written", ".can-be-written"]
    words = [str(tmp_path / name) for name in ours]
    process = subprocess.run([sys.executable, "-c", LEAVE, *words], check=False, timeout=60)
    assert process.returncode == -signal.SIGKILL
    theirs = [".findings.csv", ".plan.jsonl.0123abcd", "plan.jsonl.0123abcd.reach-part"]
    for name in theirs:
        (tmp_path / name).touch()
    assert len(contents(tmp_path)) == len(ours) + len(theirs)
    store = Store(tmp_path)
    with replacing(tmp_path / "plan.jsonl") as half:
        half.write_text("a line")  # by another batch that is at work
        store.prepare()
        assert set(contents(tmp_path)) == {*theirs, half.name}


def test_a_folder_that_cannot_be_made_is_refused_before_any_work(
    sites: Path, tmp_path: Path
) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(InputError, match=r"cannot be made: .*give another folder with -o"):
        run(sites, tmp_path / "file" / "out")
    closed = tmp_path / "closed"
    (closed / "tasks").mkdir(parents=True)
    (closed / "tasks").chmod(0o500)
    if os.access(closed / "tasks", os.W_OK):
        return  # root may write anywhere
    with pytest.raises(InputError, match="cannot be written"):
        run(sites, closed)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--vary", "crw"], "unknown variation 'crw'; did you mean 'crew'?"),
        (["--what-if", "SA blokced"], "did you mean 'SA blocked'?"),
        (["--only", "reech"], "reach"),
        (["--jobs", "0"], "--jobs"),
        (["--jobs", "2", "--cluster", "localhost:1"], "no scheduler answers"),
        (["--out", "north/scene.toml"], "north/scene.toml"),
    ],
)
def test_what_cannot_be_meant_is_refused(
    sites: Path, monkeypatch: pytest.MonkeyPatch, words: list[str], message: str
) -> None:
    monkeypatch.chdir(sites)
    monkeypatch.setattr("reach.batch.scheduler.ANSWER_WITHIN", 0.1)
    result = CliRunner().invoke(reach.cli.app, ["batch", "*", *words])
    assert result.exit_code == 2
    assert message in result.stderr
    assert result.stdout == ""


def test_an_unknown_size_class_is_a_row(sites: Path, whole: Path, tmp_path: Path) -> None:
    told = run(sites, tmp_path, defaults=Defaults(Options(sizes=("smal",), only=("torque",))))
    assert told.exit_code == 2
    said = {row["run"]: row["because"] for row in rows_of(tmp_path)}
    assert "unknown size class 'smal'; did you mean 'small'?" in said["north"]


def test_cases_of_what_if_stand_in_tables_and_summary(
    sites: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(local, "run", in_this_process)
    words = ["batch", str(sites / "north"), "--only", "socket", "-o", str(tmp_path)]
    words += ["--what-if", "SA blocked", "--what-if", "SB blocked", "--jobs", "1"]
    result = CliRunner().invoke(reach.cli.app, words)
    assert result.exit_code == 2
    rows = rows_of(tmp_path)
    found = {(row["variation"], row["verdict"], row["what_if"]) for row in rows}
    assert found == {
        ("as planned", "pass", ""),
        ("SA blocked", "fail", "SA blocked"),
        ("SB blocked", tables.BROKEN, ""),
    }
    assert "north: SA blocked" in result.stdout
    assert "what if: 'SB blocked': unknown socket" in " ".join(result.stdout.split())
    assert "This holds for that" not in result.stdout


def test_the_command_prints_the_summary_and_says_how_it_went(
    sites: Path, whole: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    words = ["batch", f"{sites}/*", "--vary", "crew,hands", "-o", str(whole)]
    for name in DEFAULTS.options.only:
        words += ["--only", name]
    result = CliRunner().invoke(reach.cli.app, words)
    assert result.exit_code == 2
    assert result.stdout.startswith("Batch of 7 tasks:")
    assert "Planning aid only." in result.stdout
    assert f"Wrote {whole / 'findings.csv'}" in result.stderr
    assert "Ran 0 tasks, 6 were kept" in result.stderr
