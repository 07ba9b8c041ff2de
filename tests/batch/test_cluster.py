"""A real Dask scheduler with worker processes; and ones that do not answer."""

from __future__ import annotations

import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, ExitStack, contextmanager, suppress
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import msgpack
import pytest
from distributed import LocalCluster
from sites import broken_site, contents, in_this_process, site
from typer.testing import CliRunner

import reach.batch.perform
import reach.cli
from reach.batch import local, scheduler
from reach.batch.batch import Progress, Told, run_batch
from reach.batch.plan import Defaults
from reach.batch.task import Options
from reach.files.problem import InputError
from reach.files.runs import LoadedRuns, load_runs

DEFAULTS = Defaults(Options(only=("fit", "torque")), ("hands",))


@pytest.fixture(scope="module")
def sites(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("sites")
    site(folder / "north")
    site(folder / "south", torque="90 N m")
    broken_site(folder / "west")
    return folder


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    with LocalCluster(
        n_workers=1, threads_per_worker=1, processes=True, dashboard_address="127.0.0.1:0"
    ) as cluster:
        yield cluster.scheduler_address


def on(address: str, runs: LoadedRuns, out: Path, **asked: Any) -> Told:
    with scheduler.connected(address) as there:
        return run_batch(runs, out, scheduler=there, **asked)


def test_a_cluster_gives_the_same_bytes_and_goes_on_where_it_was_left(
    sites: Path, address: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(local, "run", in_this_process)
    here, there = tmp_path / "here", tmp_path / "there"
    runs = load_runs(f"{sites}/*")
    run_batch(runs, here, defaults=DEFAULTS, jobs=1)
    told = on(address, runs, there, defaults=DEFAULTS)
    assert (told.progress.done, told.progress.failed, told.exit_code) == (4, 1, 2)
    assert contents(there) == contents(here)
    next((there / "tasks").iterdir()).unlink()
    told = on(address, runs, there, defaults=DEFAULTS)
    assert (told.progress.done, told.progress.kept) == (1, 3)
    assert contents(there) == contents(here)


def test_workers_with_another_version_are_refused(
    sites: Path, address: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reach.batch.perform, "program", lambda: "another")
    with pytest.raises(InputError, match=r"another version of reach.*; install the same there"):
        on(address, load_runs(f"{sites}/north"), tmp_path)


def test_a_scheduler_that_goes_away_keeps_what_was_done(
    sites: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(local, "run", in_this_process)
    monkeypatch.setattr(scheduler, "_LOST_AFTER", 2.0)
    defaults = Defaults(Options(only=("torque",)), ("hands", "sizes"))
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
            on(
                here.scheduler_address,
                load_runs(f"{sites}/[ns]*"),
                tmp_path,
                defaults=defaults,
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

        done = on(
            here.scheduler_address,
            load_runs(f"{sites}/north"),
            tmp_path,
            defaults=Defaults(Options(only=("torque",))),
            say=say,
        )
    assert told[0].startswith("waiting for workers: start some with 'dask worker tcp://127.0.0.1:")
    assert told[1:] == ["north, as planned: done"]
    assert done.exit_code == 0


BANNER = b"SSH-2.0-x\r\n"
GREETING = (
    (58).to_bytes(8, sys.byteorder)
    + (1).to_bytes(8, sys.byteorder)
    + (42).to_bytes(8, sys.byteorder)
    + msgpack.packb({"compression": None, "python": (3, 11, 7), "pickle-protocol": 5})
)
"""What a scheduler says first: lengths of the message, of its one frame, the frame."""


def close(connection: socket.socket) -> None:
    connection.close()


def be_silent(connection: socket.socket) -> None:
    pass


def banner(connection: socket.socket) -> None:
    connection.sendall(BANNER)


def banner_and_close(connection: socket.socket) -> None:
    connection.sendall(BANNER)
    connection.close()


def one_byte(connection: socket.socket) -> None:
    time.sleep(0.5)
    connection.sendall(b"x")


def length(connection: socket.socket) -> None:
    connection.sendall(GREETING[:8])


def greeting(connection: socket.socket) -> None:
    connection.sendall(GREETING)


def greeting_and_rubbish(connection: socket.socket) -> None:
    connection.sendall(GREETING + BANNER * 9)


@contextmanager
def speaking(speak: Callable[[socket.socket], None]) -> Iterator[str]:
    """Something at an address that does this to whatever connects, and then nothing."""
    with socket.socket() as listening, ExitStack() as held:
        listening.bind(("127.0.0.1", 0))
        listening.listen()

        def serve() -> None:
            with suppress(OSError):  # ends with the listening, or where the other end went away
                while True:
                    connection, _ = listening.accept()
                    held.enter_context(connection)
                    threading.Thread(target=speak, args=(connection,), daemon=True).start()

        threading.Thread(target=serve, daemon=True).start()
        yield f"127.0.0.1:{listening.getsockname()[1]}"
        listening.shutdown(socket.SHUT_RDWR)


@contextmanager
def web() -> Iterator[str]:
    with ThreadingHTTPServer(("127.0.0.1", 0), BaseHTTPRequestHandler) as server:
        serving = threading.Thread(target=server.serve_forever)
        serving.start()
        yield f"127.0.0.1:{server.server_port}"
        server.shutdown()
        serving.join()


@contextmanager
def nothing() -> Iterator[str]:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        yield f"127.0.0.1:{found.getsockname()[1]}"  # bound, but it does not listen


NOT_ONE = "something answers, but not as a scheduler"


@pytest.mark.parametrize(
    ("what", "why"),
    [
        (nothing(), "refused"),
        (speaking(be_silent), "it stayed silent for 1 s"),
        (speaking(close), "it closed the connection"),
        (speaking(banner), f"{NOT_ONE}: it says 'SSH-2.0-x"),
        (speaking(banner_and_close), f"{NOT_ONE}: it says 'SSH-2.0-x"),
        (speaking(one_byte), f"{NOT_ONE}: it says 'x'"),
        (web(), "it stayed silent for 1 s"),
        (speaking(length), f"{NOT_ONE} within 2 s"),
        (speaking(greeting_and_rubbish), f"{NOT_ONE}"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_what_is_no_scheduler_is_told_in_time_and_nothing_is_lost(
    what: AbstractContextManager[str],
    why: str,
    sites: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert scheduler.ANSWER_WITHIN <= scheduler.CONNECT_WITHIN < 10.0
    monkeypatch.setattr(scheduler, "ANSWER_WITHIN", 1.0)
    monkeypatch.setattr(scheduler, "CONNECT_WITHIN", 2.0)
    run_batch(load_runs(f"{sites}/west"), tmp_path, jobs=1)
    before = contents(tmp_path)
    with what as address:
        start = time.monotonic()
        words = ["batch", f"{sites}/*", "--cluster", address, "-o", str(tmp_path)]
        result = CliRunner().invoke(reach.cli.app, words)
        assert time.monotonic() - start < 10.0
    assert result.exit_code == 2
    said = f"command line: --cluster: no scheduler answers at '{address}' ("
    assert result.stderr.startswith(said)
    assert why in result.stderr
    assert result.stderr.endswith("What was done before is kept.\n")
    assert contents(tmp_path) == before


def test_one_that_greets_and_then_stays_silent_is_left_without_noise(tmp_path: Path) -> None:
    """To the end of the process: a client that is half-made must neither hold it nor complain."""
    program = (
        "import sys; from reach.batch import scheduler; from reach.cli import app\n"
        "scheduler.CONNECT_WITHIN = 2.0; app(sys.argv[1:])"
    )
    out = tmp_path / "out"
    with speaking(greeting) as address:
        words = ["batch", "brackenfall", "--cluster", address, "-o", str(out)]
        start = time.monotonic()
        process = subprocess.run(
            [sys.executable, "-c", program, *words],
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )
        assert time.monotonic() - start < 10.0
    assert (process.returncode, process.stdout) == (2, "")
    (line,) = process.stderr.splitlines()
    assert f"{address}' ({NOT_ONE} within 2 s)" in line
    assert not out.exists()


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
