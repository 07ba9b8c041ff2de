"""``python -m benchmarks.fuzz --seconds 600 --seed 1 --out out/fuzz``: spoil, read, note.

Each worker process writes down what it is about to read, so that even an input that ends the
process is kept.  What was found is written as the spoilt file and the trace beside it, and with
``--keep tests/broken/spoilt`` also where ``tests/files/test_spoilt.py`` reads it from then on.
"""

from __future__ import annotations

import argparse
import multiprocessing as mp
import os
import shutil
import time
from collections import Counter
from pathlib import Path
from queue import Empty

from benchmarks.fuzz.corpus import kept_name
from benchmarks.fuzz.judge import LIMIT_S
from benchmarks.fuzz.work import work


def main() -> None:
    """Spoil inputs for a while and print how many came to what."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--out", type=Path, default=Path("out/fuzz"))
    parser.add_argument("--keep", type=Path, help="folder of the tests that read finds again")
    asked = parser.parse_args()
    until = time.time() + asked.seconds
    context = mp.get_context("spawn")
    queue = context.Queue()
    counts: Counter[tuple[str, str]] = Counter()
    about: dict[int, tuple[int, str, str, bytes]] = {}
    finds: Counter[str] = Counter()
    shutil.rmtree(asked.out, ignore_errors=True)
    asked.out.mkdir(parents=True)
    crew = {}

    def begin(number: int, start: int) -> None:
        args = (number, asked.seed, start, asked.jobs, until, queue)
        crew[number] = context.Process(target=work, args=args)
        crew[number].start()

    def note(i: int, kind: str, seed: str, where: str, text: str, content: bytes) -> None:
        finds[where] += 1
        if finds[where] > 2:
            return
        print(f"{i}: {kind} {seed}: {where}", flush=True)
        stem = asked.out / kept_name(seed, f"{asked.seed}-{i}")
        stem.write_bytes(content)
        if asked.keep:
            asked.keep.mkdir(parents=True, exist_ok=True)
            shutil.copy(stem, asked.keep)
        stem.with_name(stem.name + ".told").write_text(f"{where}\n{text}", errors="replace")

    for number in range(asked.jobs):
        begin(number, number)
    while crew:
        try:
            number, what, i, kind, *rest = queue.get(timeout=1.0)
        except Empty:
            for number, process in list(crew.items()):
                if process.is_alive():
                    continue
                del crew[number]
                if process.exitcode and number in about:
                    i, kind, name, content = about[number]
                    counts[kind, "ended the process"] += 1
                    note(i, kind, name, f"the process ended with {process.exitcode}", "", content)
                    begin(number, i + asked.jobs)
            continue
        if what == "about":
            about[number] = (i, kind, *rest)
            continue
        how, (where, text) = rest
        counts[kind, how] += 1
        if where:
            note(i, kind, about[number][2], where, text, about[number][3])
    print(f"{sum(counts.values())} inputs, a hang is more than {LIMIT_S} s, pid {os.getpid()}")
    for (kind, how), n in sorted(counts.items()):
        print(f"  {kind:<10} {how:<18} {n:>8}")
    print(f"{len(finds)} kinds of finds, in {asked.out}")


if __name__ == "__main__":
    main()
