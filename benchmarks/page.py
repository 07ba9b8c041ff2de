"""Time the page: first picture, a changed setting until picture and numbers changed, memory.

``python -m benchmarks.page [SCENE]`` needs Chromium; browser and server share the cores.
"""

from __future__ import annotations

import re
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from tests.browser import chromium, missing, watched_page

N_TIMED, N_LONG = 10, 100
IMAGE = ".pane img"
SETTLED = "document.querySelector('.first em')?.innerText.includes('Every check')"


def memory(pid: int) -> float:
    """Return what a process holds, MB."""
    text = Path(f"/proc/{pid}/status").read_text()
    return int(re.search(r"VmRSS:\s+(\d+)", text)[1]) / 1024.0


def change(page: Any, value: str, most: float = 30.0) -> float:
    """Set the first joint and return how long numbers and picture take to change, s; ``most``."""
    was = page.evaluate(f"[document.querySelector('{IMAGE}').src, "
                        "document.querySelector('.first').innerText]")  # fmt: skip
    start = time.perf_counter()
    page.select_option("select[data-joint] >> nth=0", value)
    page.wait_for_function(
        f"was => document.querySelector('{IMAGE}').src !== was[0] && "
        "document.querySelector('.first').innerText !== was[1] && "
        "!document.querySelector('.first.stale')",
        arg=was,
        timeout=1000.0 * most,
    )
    return time.perf_counter() - start


def main() -> None:
    """Print the figures."""
    if missing():
        print(f"No figures of the page: {missing()}")
        return
    scene = sys.argv[1] if len(sys.argv) > 1 else "brackenfall"
    with tempfile.TemporaryDirectory() as out, chromium() as browser:
        start = time.perf_counter()
        command = [sys.executable, "-m", "reach", "view", scene, "--no-open", "--out", out]
        server = subprocess.Popen(command, stderr=subprocess.PIPE, text=True)
        assert server.stderr is not None
        address = next(m[0] for line in server.stderr if (m := re.search(r"http://\S+", line)))
        print(f"\nThe page of {scene}\n  until the address is printed   {seconds(start)}")
        page = watched_page(browser, 1600, 1000).page
        start = time.perf_counter()
        page.goto(address)
        page.wait_for_selector(IMAGE)
        page.wait_for_function(f"document.querySelector('{IMAGE}').naturalWidth > 100")
        print(f"  first picture                  {seconds(start)}")
        page.wait_for_function(SETTLED, timeout=120_000)
        times, held = [], 0.0
        for n in range(N_TIMED + N_LONG):
            times.append(change(page, str(1 + n % 2)))
            if n < N_TIMED:
                page.wait_for_function(SETTLED, timeout=120_000)
            if n == N_TIMED - 1:
                held = memory(server.pid)
        some = times[:N_TIMED]
        print(f"  update, median of {N_TIMED}           {statistics.median(some):7.2f} s"
              f"  ({min(some):.2f} to {max(some):.2f})")  # fmt: skip
        page.wait_for_function(SETTLED, timeout=120_000)
        now = memory(server.pid)
        grown = 100.0 * (now / held - 1.0)
        print(f"  memory after {N_TIMED} and {N_TIMED + N_LONG} updates", end="")
        print(f"  {held:.0f} and {now:.0f} MB  ({grown:+.1f} %)")
        server.send_signal(2)
        server.wait(20)


def seconds(start: float) -> str:
    """Return the time since a start."""
    return f"{time.perf_counter() - start:7.2f} s"


if __name__ == "__main__":
    main()
