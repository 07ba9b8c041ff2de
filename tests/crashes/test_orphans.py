"""What a program has started ends soon after it, even if it is killed."""

import os
import signal
import subprocess
import sys
import time

import pytest

FORKED = """
import os, sys, time
from reach.kept.copied import in_copy
def busy():
    print(os.getpid(), flush=True)
    while True:
        pass
with in_copy(busy):
    time.sleep(60)
"""
BESIDE = """
import os, sys, time
from reach.kept.beside import beside
from reach.kept.keeping import Kept
def busy():
    print(os.getpid(), flush=True)
    while True:
        pass
with beside(busy, Kept()):
    time.sleep(60)
"""
WORKER = """
import sys, time
from reach.batch.local import _hired
if __name__ == "__main__":
    pipe, process = _hired(1)
    print(process.pid, flush=True)
    time.sleep(60)
"""


def is_there(pid):
    try:
        with open(f"/proc/{pid}/stat") as file:
            return file.read().rpartition(")")[2].split()[0] not in "ZX"
    except OSError:
        return False


@pytest.mark.skipif(sys.platform != "linux", reason="looks at /proc")
@pytest.mark.skipif(
    not hasattr(os, "sched_getaffinity") or len(os.sched_getaffinity(0)) < 2,
    reason="with one processor there is no second process",
)
@pytest.mark.parametrize("script", [FORKED, BESIDE, WORKER], ids=["copy", "beside", "worker"])
def test_a_second_process_does_not_outlive_one_that_is_killed(script, tmp_path):
    (tmp_path / "start.py").write_text(script)
    process = subprocess.Popen(
        [sys.executable, str(tmp_path / "start.py")], stdout=subprocess.PIPE, text=True,
        env={**os.environ, "PYTHONPATH": os.getcwd()},
    )  # fmt: skip
    assert process.stdout is not None
    child = int(process.stdout.readline())
    assert is_there(child)
    os.kill(process.pid, signal.SIGKILL)
    process.wait(10)
    process.stdout.close()
    until = time.monotonic() + 5.0
    while is_there(child) and time.monotonic() < until:
        time.sleep(0.05)
    assert not is_there(child)
