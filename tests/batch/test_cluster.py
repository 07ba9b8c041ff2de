"""A real Dask scheduler with worker processes; and ones that do not answer."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from distributed import LocalCluster
from sites import broken_site, contents, in_this_process, site

import reach.batch.perform
from reach.batch import cluster, local, scheduler
from reach.batch.batch import Progress, run_batch
from reach.batch.plan import Defaults
from reach.batch.task import Options
from reach.files.problem import InputError
from reach.files.runs import load_runs

DEFAULTS = Defaults(Options(only=("reach", "torque")), ("hands",))


@pytest.fixture(scope="module")
def sites(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("sites")
    site(folder / "north")
    site(folder / "south", bolt_y=1.9)
    broken_site(folder / "west")
    return folder


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address="127.0.0.1:0"
    ) as cluster:
        yield cluster.scheduler_address


def test_a_cluster_gives_the_same_bytes_and_goes_on_where_it_was_left(
    sites: Path, address: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(local, "run", in_this_process)
    here, there = tmp_path / "here", tmp_path / "there"
    runs = load_runs(f"{sites}/*")
    run_batch(runs, here, defaults=DEFAULTS, jobs=1)
    told = run_batch(runs, there, defaults=DEFAULTS, address=address)
    assert (told.progress.done, told.progress.failed, told.exit_code) == (4, 1, 2)
    assert contents(there) == contents(here)
    next((there / "tasks").iterdir()).unlink()
    told = run_batch(runs, there, defaults=DEFAULTS, address=address)
    assert (told.progress.done, told.progress.kept) == (1, 3)
    assert contents(there) == contents(here)


def test_workers_with_another_version_are_refused(
    sites: Path, address: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reach.batch.perform, "program", lambda: "another")
    with pytest.raises(InputError, match=r"another version of reach.*; install the same there"):
        run_batch(load_runs(f"{sites}/north"), tmp_path, address=address)


def test_a_scheduler_that_goes_away_keeps_what_was_done(
    sites: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(local, "run", in_this_process)
    monkeypatch.setattr(cluster, "_CONNECT_WITHIN", 2.0)
    defaults = Defaults(Options(only=("reach",)), ("hands", "sizes"))
    ended = threading.Event()
    with LocalCluster(
        n_workers=1,
        threads_per_worker=1,
        processes=False,
        protocol="tcp://",
        dashboard_address="127.0.0.1:0",
    ) as here:

        def end(progress: Progress) -> None:
            if progress.done and not ended.is_set():
                ended.set()
                here.close()

        with pytest.raises(InputError, match=r"no longer answers\. What was done is kept"):
            run_batch(
                load_runs(f"{sites}/[ns]*"),
                tmp_path,
                defaults=defaults,
                address=here.scheduler_address,
                say=end,
            )
    kept = len(list((tmp_path / "tasks").iterdir()))
    assert kept >= 1
    assert sorted(path.name for path in tmp_path.iterdir()) == ["tasks"]
    told = run_batch(load_runs(f"{sites}/[ns]*"), tmp_path, defaults=defaults, jobs=1)
    assert (told.progress.kept, told.progress.done) == (kept, 8 - kept)


def test_workers_that_come_later_are_waited_for(sites: Path, tmp_path: Path) -> None:
    told: list[str] = []
    with LocalCluster(
        n_workers=0,
        threads_per_worker=1,
        processes=False,
        protocol="tcp://",
        dashboard_address="127.0.0.1:0",
    ) as here:

        def say(progress: Progress) -> None:
            told.append(progress.last)
            if len(told) == 1:
                here.scale(1)

        done = run_batch(
            load_runs(f"{sites}/north"),
            tmp_path,
            defaults=Defaults(Options(only=("torque",))),
            address=here.scheduler_address,
            say=say,
        )
    assert told[0].startswith("waiting for workers: start some with 'dask worker tcp://127.0.0.1:")
    assert told[1:] == ["north, as planned: done"]
    assert done.exit_code == 0


@pytest.fixture
def silent() -> Iterator[str]:
    """Something that takes a connection and then says nothing."""
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        listening.listen()
        yield f"127.0.0.1:{listening.getsockname()[1]}"


@pytest.fixture
def closed() -> str:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return f"127.0.0.1:{found.getsockname()[1]}"


@pytest.mark.parametrize(("kind", "why"), [("silent", "stayed silent"), ("closed", "refused")])
def test_a_scheduler_that_does_not_answer_is_told_at_once_and_nothing_is_lost(
    kind: str,
    why: str,
    sites: Path,
    tmp_path: Path,
    request: pytest.FixtureRequest,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert scheduler.ANSWER_WITHIN < 10.0
    monkeypatch.setattr(scheduler, "ANSWER_WITHIN", 1.0)
    address = request.getfixturevalue(kind)
    run_batch(load_runs(f"{sites}/west"), tmp_path, jobs=1)
    before = contents(tmp_path)
    start = time.monotonic()
    with pytest.raises(InputError, match=f"no scheduler answers at '{address}' .*{why}"):
        run_batch(load_runs(f"{sites}/*"), tmp_path, address=address)
    assert time.monotonic() - start < 3.0
    assert contents(tmp_path) == before


def test_a_name_that_is_looked_up_for_long_is_not_waited_for(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(scheduler, "ANSWER_WITHIN", 0.2)
    release = threading.Event()

    def look_up(*_: object, **__: object) -> None:
        release.wait(10.0)
        raise OSError("late")

    monkeypatch.setattr(socket, "create_connection", look_up)
    start = time.monotonic()
    with pytest.raises(InputError, match="nothing within"):
        scheduler.require_scheduler("tls://somewhere:8786")
    assert time.monotonic() - start < 3.0
    release.set()


@pytest.mark.parametrize(
    "address", ["nonsense", "localhost:port", "http://localhost:1", ":8786", ""]
)
def test_what_cannot_be_an_address_is_refused(address: str) -> None:
    with pytest.raises(InputError, match="needs host:port, such as 'localhost:8786'"):
        scheduler.require_scheduler(address)
