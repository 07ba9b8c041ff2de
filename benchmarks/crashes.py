"""Kill commands at random moments and look at what is left: ``--times 200 --seed 1``.

Each kill starts from a folder that holds the results of an older procedure.  The process alone
gets SIGKILL, as from whoever is short of memory; what it had started has to end by itself.  Then:

* what was read is as it was;
* each result is the older one or wholly new, and a list of contents is true where there is one;
* nothing goes on using the processor;
* the same command again ends as if nothing had happened, and leaves nothing half-written.

The page (``view``) is told by a browser to write findings, pictures and settings, where there is
one, and is killed while it does.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import random
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from zipfile import ZipFile

from reach.files.results import is_whole
from reach.files.starter import FILES
from reach.files.writing import ENDING
from reach.folder import CONTENTS

COMMANDS = ("check", "batch", "report", "view")
GRACE = 3.0
"""So long what a killed command had started may live on, s."""
N_SITES = 4

Contents = dict[str, str]
"""File, relative to a folder -> hash of what it holds."""


def site(folder: Path, *, is_old: bool) -> None:
    """Write the starter scene; the older procedure turns one bolt less."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in FILES.items():
        if is_old and name == "procedure.toml":
            text = text.replace('duration = "4 min"', 'duration = "3 min"')
        (folder / name).write_text(text)


def inputs(folder: Path, *, is_old: bool = False) -> None:
    """Write what every command reads: a scene, and a list of several for a batch."""
    site(folder / "site", is_old=is_old)
    for i in range(N_SITES):
        site(folder / "yards" / f"yard{i}", is_old=is_old)
        scene = folder / "yards" / f"yard{i}" / "scene.toml"
        text = scene.read_text()
        scene.write_text(text.replace("[0.55, 0.15, 1.60]", f"[0.55, {0.12 + 0.02 * i}, 1.60]"))
    rows = "".join(f"yard{i}\n" for i in range(N_SITES))
    (folder / "yards" / "list.csv").write_text("scene\n" + rows)


def contents(folder: Path) -> Contents:
    """Return what a folder holds."""
    return {
        path.relative_to(folder).as_posix(): _hash(path)
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def _hash(path: Path) -> str:
    """Return the hash of a file; a workbook says when it was made, which is left out."""
    digest = hashlib.sha256()
    if path.suffix == ".xlsx":
        with ZipFile(path) as book:
            for name in sorted(set(book.namelist()) - {"docProps/core.xml"}):
                digest.update(name.encode() + book.read(name))
    else:
        digest.update(path.read_bytes())
    return digest.hexdigest()


def words_of(command: str, where: Path) -> list[str]:
    """Return a command that reads and writes below a folder."""
    out, scene = str(where / "out"), str(where / "site")
    return {
        "check": ["check", scene, "--json", f"{out}/all.json", "--csv", f"{out}/all.csv"],
        "batch": ["batch", str(where / "yards" / "list.csv"), "-o", f"{out}/batch", "--jobs", "2"],
        "report": ["report", scene, "-o", f"{out}/report", "--no-differences",
                   "--without", "pictures"],
        "view": ["view", scene, "--no-open", "--out", f"{out}/view"],
    }[command]  # fmt: skip


def started(command: str, where: Path) -> subprocess.Popen[str]:
    """Start a command in a session of its own, with a cache of its own."""
    (where / "out").mkdir(exist_ok=True)
    return subprocess.Popen(
        [sys.executable, "-m", "reach", *words_of(command, where)],
        stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, start_new_session=True,
        env={**os.environ, "REACH_CACHE": str(where / "cache")},
    )  # fmt: skip


def alive(session: int) -> list[int]:
    """Return the processes of a session that have not ended."""
    found = []
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            state, _, _, of = path.read_text().rpartition(")")[2].split()[:4]
        except (OSError, ValueError):
            continue
        if int(of) == session and state not in "ZX":
            found.append(int(path.parent.name))
    return found


def nothing_goes_on(session: int) -> list[str]:
    """Return what is wrong with what a killed command had started; end it."""
    until = time.monotonic() + GRACE
    while (left := alive(session)) and time.monotonic() < until:
        time.sleep(0.1)
    told = []
    for pid in left:
        try:
            name = Path(f"/proc/{pid}/cmdline").read_text().replace("\0", " ")
            os.kill(pid, signal.SIGKILL)
        except OSError:
            continue
        told.append(f"a process goes on: {name[:120]}")
    return told


def is_part(name: str) -> bool:
    """Return whether a file is one that was being written."""
    return name.endswith(ENDING)


@dataclass
class Case:
    """One command with what it gives when nothing disturbs it.

    Attributes
    ----------
    old, new : Contents
        What it leaves for the older inputs and for the ones it is killed on.
    took : float, s
        The longer of the two.
    """

    command: str
    folder: Path
    old: Contents = field(default_factory=dict)
    new: Contents = field(default_factory=dict)
    took: float = 0.0

    def prepare(self) -> None:
        """Run undisturbed, for older inputs and for those of the campaign."""
        for is_old in (True, False):
            inputs(self.folder, is_old=is_old)
            start = time.monotonic()
            process = started(self.command, self.folder)
            _, text = process.communicate(timeout=600)
            if process.returncode not in (0, 1, 3):
                raise RuntimeError(f"{self.command} ends with {process.returncode}: {text}")
            self.took = max(self.took, time.monotonic() - start)
            found = contents(self.folder / "out")
            if is_old:
                self.old = found
                (self.folder / "out").rename(self.folder.with_name(f"{self.command}-old"))
        self.new = found
        shutil.rmtree(self.folder / "cache", ignore_errors=True)

    def kill(self, moment: float, rng: random.Random) -> list[str]:
        """Kill it once, ``moment`` s after its start; return all that is wrong then."""
        out = self.folder / "out"
        shutil.rmtree(out, ignore_errors=True)
        if rng.random() < 0.7:
            shutil.copytree(self.folder.with_name(f"{self.command}-old"), out)
        if rng.random() < 0.5:
            shutil.rmtree(self.folder / "cache", ignore_errors=True)
        before = contents(out)
        read = {name: contents(self.folder / name) for name in ("site", "yards")}
        process = started(self.command, self.folder)
        try:
            process.wait(moment)
        except subprocess.TimeoutExpired:
            process.kill()
        process.communicate()
        wrong = nothing_goes_on(process.pid)
        wrong += self.after(before, contents(out))
        again = started(self.command, self.folder)
        _, text = again.communicate(timeout=600)
        if again.returncode not in (0, 1, 3):
            wrong.append(f"run again it ends with {again.returncode}: {text[-300:]}")
        now = contents(out)
        wrong += [f"{name} is not what it should be" for name in self.new
                  if now.get(name) != self.new[name] and not name.endswith(CONTENTS)]  # fmt: skip
        wrong += self.listed()
        wrong += [f"{name} was left" for name in set(now) - set(self.new) - set(self.old)]
        wrong += [f"{name} was changed" for name in read
                  if contents(self.folder / name) != read[name]]  # fmt: skip
        wrong += [f"{path} was left" for path in (self.folder / "cache").rglob(f"*{ENDING}")]
        return wrong

    def after(self, before: Contents, now: Contents) -> list[str]:
        """Return what is wrong with the results right after a kill."""
        wrong = [f"{name} is gone" for name in before
                 if name not in now and not name.endswith(CONTENTS)]  # fmt: skip
        for name, has in now.items():
            if is_part(name) or name.endswith(CONTENTS):
                continue
            if has not in (before.get(name), self.new.get(name)):
                wrong.append(f"{name} is neither old nor new")
        return wrong + self.listed()

    def listed(self) -> list[str]:
        """Return what is wrong with the list of a report's contents, where there is one."""
        listed = self.folder / "out" / "report" / CONTENTS
        return [f"{CONTENTS} is not true"] if listed.exists() and not is_whole(listed) else []


@dataclass
class Page:
    """The page, told by a browser to write while it is killed.

    Attributes
    ----------
    browser : playwright Browser or None
        Without one the page is killed with nobody looking.
    took : float, s
        Until its address is printed.
    """

    folder: Path
    browser: Any
    took: float = 0.0
    wrote: int = 0

    def prepare(self) -> None:
        """Start and end it once."""
        inputs(self.folder)
        start = time.monotonic()
        process = started("view", self.folder)
        address(process)
        self.took = time.monotonic() - start
        self.end(process)

    def end(self, process: subprocess.Popen[str]) -> list[str]:
        """End it as Ctrl-C does; return what is wrong with that."""
        process.send_signal(signal.SIGINT)
        _, text = process.communicate(timeout=60)
        wrong = nothing_goes_on(process.pid)
        return wrong + ([] if process.returncode == 0 else [f"ends with: {text[-300:]}"])

    def kill(self, moment: float, rng: random.Random) -> list[str]:
        """Kill it once; ``moment`` beyond its start is spent with writing."""
        inputs(self.folder)
        read = {name: contents(self.folder / name) for name in ("site", "yards")}
        if rng.random() < 0.5:
            shutil.rmtree(self.folder / "cache", ignore_errors=True)
        process = started("view", self.folder)
        if moment < self.took or self.browser is None:
            time.sleep(moment)
        else:
            self.write(address(process), moment - self.took, process.kill)
        process.kill()
        process.communicate()
        wrong = nothing_goes_on(process.pid)
        wrong += self.after()
        if not self.browser or moment < self.took:
            wrong += [f"{name} was changed" for name in read
                      if contents(self.folder / name) != read[name]]  # fmt: skip
        again = started("view", self.folder)
        if not address(again):
            return [*wrong, "it does not start again"]
        return wrong + self.end(again)

    def write(self, where: str, moment: float, kill: Callable[[], None]) -> None:
        """Have it write again and again, and kill it while it does."""
        page = self.browser.new_page()
        try:
            page.goto(where)
            page.wait_for_selector(".pane img")
            page.wait_for_function("window.trame !== undefined")
            until = time.monotonic() + moment
            while time.monotonic() < until:
                for name in ("findings", "picture", "setting"):
                    page.evaluate(f"window.trame.trigger('export', ['{name}'])")
                for name in ("ask", "write"):
                    page.evaluate(f"window.trame.trigger('export_into', ['{name}'])")
                self.wrote += 1
                time.sleep(0.05)
            kill()
        finally:
            page.close()

    def after(self) -> list[str]:
        """Return what is wrong with what was written, the procedure itself among it."""
        import csv
        import json
        import tomllib

        from PIL import Image

        def image(path: Path) -> None:
            with Image.open(path) as one:
                one.load()

        read: dict[str, Callable[[Path], object]] = {
            ".json": lambda path: json.loads(path.read_text()),
            ".csv": lambda path: list(csv.reader(path.read_text().splitlines(), strict=True))[1],
            ".toml": lambda path: tomllib.loads(path.read_text())[
                "limits" if path.name == "scene.toml" else "steps"
            ],
            ".png": image,
        }
        wrong = []
        for folder in (self.folder / "out", self.folder / "site"):
            for path in folder.rglob("*"):
                if path.is_file() and not is_part(path.name):
                    try:
                        read[path.suffix](path)
                    except Exception as error:
                        wrong.append(f"{path.name} is not whole: {error!r}")
        return wrong


def address(process: subprocess.Popen[str]) -> str:
    """Return where a page answers, empty if it ends before it does."""
    assert process.stderr is not None
    return next((m[0] for line in process.stderr if (m := re.search(r"http://\S+", line))), "")


def cases(folder: Path, names: tuple[str, ...], browser: Any) -> Iterator[Case | Page]:
    """Yield what is killed, prepared."""
    for name in names:
        case = Page(folder / name, browser) if name == "view" else Case(name, folder / name)
        case.prepare()
        yield case


def campaign(
    times: int, seed: int, names: tuple[str, ...] = COMMANDS, with_browser: bool = True
) -> tuple[Counter[str], list[str]]:
    """Kill so many times in all; return kills by command, and all that was wrong."""
    counts: Counter[str] = Counter()
    told: list[str] = []
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        browser = None
        if with_browser and "view" in names:
            from tests.browser import chromium, missing

            browser = stack.enter_context(chromium()) if not missing() else None
        for case in cases(folder, names, browser):
            name = case.folder.name
            n = times // len(names) + (names.index(name) < times % len(names))
            beyond = 6.0 if isinstance(case, Page) else 0.1 * case.took
            for k in range(n):
                rng = random.Random(f"{seed}:{name}:{k}")
                moment = rng.uniform(0.0, case.took + beyond)
                if isinstance(case, Page) and k % 2 == 0:  # as often while it is written as before
                    moment = case.took + rng.uniform(0.0, beyond)
                wrong = case.kill(moment, rng)
                counts[name] += 1
                for line in wrong:
                    told.append(f"{name} {k}, {moment:.2f} s: {line}")
                    print(f"  {told[-1]}", flush=True)
            extra = f", {case.wrote} rounds of writing" if isinstance(case, Page) else ""
            print(f"  {name:7} killed {n:4} times in up to {case.took + beyond:5.1f} s{extra}",
                  flush=True)  # fmt: skip
    return counts, told


def main(times: int = 200, seed: int = 1, names: tuple[str, ...] = COMMANDS) -> bool:
    """Print how often what was killed and what was wrong; return whether nothing was."""
    print(f"\nKilled at random moments, seed {seed}", flush=True)
    counts, told = campaign(times, seed, names)
    print(f"  {counts.total()} kills, {len(told)} things wrong")
    return not told


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--times", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", help="commands, with commas between")
    asked = parser.parse_args()
    only = tuple(asked.only.split(",")) if asked.only else COMMANDS
    sys.exit(0 if main(asked.times, asked.seed, only) else 1)
