"""One process that spoils inputs and reads them, and tells what it is about to read."""

from __future__ import annotations

import random
import resource
import tempfile
import time
from pathlib import Path
from typing import Any

from benchmarks.fuzz.corpus import Seed, corpus
from benchmarks.fuzz.judge import judged
from benchmarks.fuzz.mutate import spoil_bytes, spoil_text

_BYTES = 8 << 30
"""Memory that reading a few kilobytes must do with, libraries and all."""

_CHECK_SHARE = 0.5
_WEIGHT = {"scene": 3, "procedure": 3, "table": 2, "mesh": 2, "arm": 2}


def spoilt(seed: Seed, content: bytes, rng: random.Random) -> bytes:
    """Return the content of a file, spoilt."""
    if seed.kind in ("mesh",):
        return spoil_bytes(content, rng)
    if rng.random() < 0.05:
        return spoil_bytes(content, rng)
    return spoil_text(content.decode(), rng).encode("utf-8", "surrogatepass")


def work(number: int, seed: int, start: int, step: int, until: float, queue: Any) -> None:
    """Spoil inputs ``start``, ``start + step`` and so on until a time, and tell of each."""
    resource.setrlimit(resource.RLIMIT_AS, (_BYTES, _BYTES))
    with tempfile.TemporaryDirectory() as folder:
        seeds = corpus(Path(folder))
        weights = [_WEIGHT[one.kind] for one in seeds]
        for i in range(start, 1 << 60, step):
            if time.time() > until:
                return
            rng = random.Random(f"{seed}:{i}")
            (one,) = rng.choices(seeds, weights)
            path = one.folder / one.file
            sound = path.read_bytes()
            broken = spoilt(one, sound, rng)
            queue.put((number, "about", i, one.kind, one.name, broken))
            path.write_bytes(broken)
            with_checks = one.is_quick and rng.random() < _CHECK_SHARE
            told = judged(one.folder, one.procedure, with_checks)
            path.write_bytes(sound)
            queue.put((number, "told", i, one.kind, told.how, (told.where, told.text)))
