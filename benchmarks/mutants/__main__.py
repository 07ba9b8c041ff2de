"""Judge a sample of mutants; see the package."""

from __future__ import annotations

import argparse
import json
import random
import sys
from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import coverage
import pytest

from benchmarks.mutants.judging import FATES, KILLED, Fate, Judge
from benchmarks.mutants.making import KINDS, Mutant, mutants_of

ROOT = Path(__file__).parents[2]
FEW = 6
OF = ("reach/checks", "reach/finding.py")


def main() -> None:
    """Read the options, judge, print what became of whom."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.mutants")
    parser.add_argument("--of", nargs="+", default=OF, help="files and folders")
    parser.add_argument("--words", action="store_true", help="also where only words are made")
    parser.add_argument("--kinds", nargs="+", choices=KINDS, default=KINDS)
    parser.add_argument("--sample", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--skip", type=int, default=0, help="so many of the sample, done before")
    parser.add_argument("--seconds", type=float, default=3600.0)
    parser.add_argument("--each", type=float, default=60.0, help="s the tests of one may take")
    parser.add_argument("--longest", type=float, default=8.0, help="s a test may take to be asked")
    parser.add_argument("--covered", type=Path, default=ROOT / "out/covered")
    parser.add_argument("--out", type=Path, default=ROOT / "out/mutants.jsonl")
    parser.add_argument("--again", type=Path, help="those that a former --out did not see killed")
    parser.add_argument("--tests", nargs="+", help="no tests but those of these files")
    parser.add_argument("--only", default="", help="those whose name begins so")
    options = parser.parse_args()

    everyone = [
        one
        for one in drawn_from(options.of)
        if (options.words or not one.is_words)
        and one.kind in options.kinds
        and one.name.startswith(options.only)
    ]
    mutants = random.Random(options.seed).sample(everyone, min(options.sample, len(everyone)))
    mutants = mutants[options.skip :]
    if options.again:
        left = {one["name"] for one in read(options.again) if one["what"] != KILLED}
        mutants = [one for one in everyone if one.name in left]
    tests_of = tests_by_line(options.covered, options.longest, options.tests)
    fates: list[Fate] = []
    options.out.parent.mkdir(exist_ok=True)
    with options.out.open("w") as file:

        def tell(fate: Fate) -> None:
            fates.append(fate)
            one = fate.mutant
            line = {
                "name": one.name, "what": fate.what, "was": one.was, "now": one.now,
                "home": one.home, "n_tests": fate.n_tests, "seconds": round(fate.seconds, 2),
                "by": fate.by,
            }  # fmt: skip
            print(json.dumps(line), file=file, flush=True)

        judge = Judge(mutants, tests_of, options.seconds, options.each, tell)
        files = sorted({name.split("::")[0] for one in mutants for name in tests_of(one)})
        pytest.main(["-q", "-p", "no:cacheprovider", "--no-summary", *files], plugins=[judge])
    show(fates, len(everyone))


def read(path: Path) -> list[dict[str, Any]]:
    """Return the lines of a former run."""
    return [json.loads(line) for line in path.read_text().splitlines()]


def drawn_from(paths: Sequence[str]) -> list[Mutant]:
    """Return all mutants of some files and folders."""
    found = []
    for path in map(ROOT.joinpath, paths):
        for file in sorted(path.rglob("*.py")) if path.is_dir() else [path]:
            name = ".".join(file.relative_to(ROOT).with_suffix("").parts)
            found += mutants_of(name.removesuffix(".__init__"), file.read_text())
    return found


def tests_by_line(
    folder: Path, longest: float, only: Sequence[str] | None = None
) -> Callable[[Mutant], list[str]]:
    """Return what gives the tests that run the lines of a mutant, the quickest first.

    Where they are few, the other tests of the same files stand behind them: what one of them made
    may be kept in memory for all, and is noted under the first alone.
    """
    seconds: dict[str, float] = {}
    data = coverage.CoverageData(str(folder / "tests.coverage"))
    data.read()
    for path in folder.glob("*.seconds.json"):
        seconds |= json.loads(path.read_text())
    by_file: dict[str, list[str]] = {}
    for name in sorted(seconds, key=seconds.__getitem__):
        by_file.setdefault(name.split("::")[0], []).append(name)

    def tests_of(mutant: Mutant) -> list[str]:
        source = sys.modules.get(mutant.module)
        path = ROOT.joinpath(*mutant.module.split(".")).with_suffix(".py")
        if source is not None or not path.exists():
            path = Path(str(source.__file__)) if source else path.with_suffix("") / "__init__.py"
        lines = data.contexts_by_lineno(str(path))
        mine = {name for k in range(mutant.first, mutant.last + 1) for name in lines.get(k, [])}
        mine = {one for one in mine if one and (only is None or one.split("::")[0] in only)}
        first = sorted(mine, key=lambda name: seconds.get(name, 0.0))
        files = sorted({name.split("::")[0] for name in mine}) if len(mine) < FEW else []
        names = first + [x for one in files for x in by_file.get(one, ()) if x not in mine]
        return [name for name in names if seconds.get(name, 0.0) <= longest]

    return tests_of


def show(fates: Sequence[Fate], n_all: int) -> None:
    """Print survivors, then the count."""
    for fate in sorted(fates, key=lambda one: one.mutant):
        if fate.what != KILLED:
            one = fate.mutant
            print(f"{fate.what:9} {one.name}  {one.home}\n    {one.was}\n    {one.now}")
    counts = Counter(fate.what for fate in fates)
    kinds = Counter(fate.mutant.kind for fate in fates)
    print(f"{len(fates)} of {n_all} mutants:", ", ".join(f"{x} {counts[x]}" for x in FATES))
    print(", ".join(f"{kind}: {n}" for kind, n in kinds.items()))


if __name__ == "__main__":
    main()
