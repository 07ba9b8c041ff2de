"""Ctrl-C ends the page, whoever still looks at it."""

import os
import re
import subprocess
import sys
import time

import aiohttp
import pytest

from reach.viewer.serve import GRACE
from tests.viewer.conftest import ROOT

pytestmark = pytest.mark.picture


async def _looked_at(address: str, token: str, process: subprocess.Popen) -> float:
    """Open a window that never says farewell, interrupt, and return how long the end took (s)."""
    jar = aiohttp.CookieJar(unsafe=True)
    async with aiohttp.ClientSession(cookie_jar=jar) as session:
        async with session.get(f"{address}/?token={token}") as answer:
            assert answer.status == 200
        link = await session.ws_connect(f"{address}/ws", origin=address)
        start = time.monotonic()
        process.send_signal(2)
        while process.poll() is None and time.monotonic() - start < 30.0:
            time.sleep(0.1)  # the window answers nothing meanwhile
        took = time.monotonic() - start
        await link.close()
        return took


def test_an_open_window_does_not_keep_the_page_from_ending(osier, tmp_path):
    import asyncio

    command = [sys.executable, "-m", "reach", "view", str(osier), "--no-open"]
    process = subprocess.Popen(
        [*command, "--out", str(tmp_path)], cwd=ROOT, stderr=subprocess.PIPE, text=True,
        env={**os.environ},
    )  # fmt: skip
    for line in process.stderr:
        if found := re.search(r"(http://127\.0\.0\.1:\d+)/\?token=(\S+)", line):
            break
    took = asyncio.run(_looked_at(found[1], found[2], process))
    told = process.communicate(timeout=20)[1]
    assert process.returncode == 0, told
    assert told.rstrip().endswith("Stopped.")
    assert "Traceback" not in told
    assert took < 10.0 + 2.0 * GRACE  # the limit itself is 2 GRACE; the rest is a busy machine's
