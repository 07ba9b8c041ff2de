"""``python -m benchmarks.twins --seconds 600 --seed 1``: hunt for a pass that is wrong.

Random small scenes and procedures are written as files, read and checked by the public door, and
judged again by slow twins that share no code with the checks.  Whatever the two do not agree on
is kept as a folder that can be checked again.
"""

from __future__ import annotations

import argparse
import random
import shutil
import tempfile
import time
import traceback
import warnings
from collections import Counter
from pathlib import Path
from types import ModuleType
from typing import Any

from benchmarks.twins import FAMILIES
from benchmarks.twins.opinion import Opinion, Tally
from benchmarks.twins.writing import write_case
from reach.files.problem import InputError
from reach.files.procedure import load_procedure
from reach.files.scene import load_scene
from reach.run import Outcome, check

MOST_KEPT = 5
"""Folders kept of one check and kind."""


def checked(
    family: ModuleType, seed: str, folder: Path
) -> tuple[dict[str, Any], dict[str, Any], Outcome]:
    """Return scene, procedure and outcome of the case of a seed; its files stay in the folder."""
    scene, procedure = family.draw(random.Random(seed))
    write_case(folder, scene, procedure, seed)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        loaded = load_scene(folder)
        asked = load_procedure(folder / "procedure.toml", loaded)
        options = scene.get("_options", {})
        return scene, procedure, check(loaded, asked, only=family.CHECKS, **options)


def judged(
    family: ModuleType, seed: str, folder: Path, only: tuple[str, ...] = ()
) -> list[Opinion]:
    """Return the opinions on the case of a seed."""
    scene, procedure, outcome = checked(family, seed, folder)
    names = only or family.CHECKS
    return [one for one in family.opinions(scene, procedure, outcome) if one.check in names]


def main() -> None:
    """Judge cases for a while and print how many came to what."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--start", type=int, default=0, help="number of the first case")
    parser.add_argument("--cases", type=int, default=1 << 30)
    parser.add_argument("--family", action="append", choices=sorted(FAMILIES))
    parser.add_argument("--check", action="append", default=[])
    parser.add_argument("--out", type=Path, default=Path("out/twins"))
    asked = parser.parse_args()
    families = {
        name: one
        for name, one in FAMILIES.items()
        if name in (asked.family or FAMILIES)
        and (not asked.check or set(asked.check) & set(one.CHECKS))
    }
    tally, kept, refused = Tally(), Counter[str](), Counter[str]()
    until, spent = time.time() + asked.seconds, dict.fromkeys(families, 0.0)
    number = dict.fromkeys(families, asked.start)
    asked.out.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as temporary:
        while time.time() < until and min(number.values()) < asked.start + asked.cases:
            # The family that had the least time goes next.
            name = min(spent, key=lambda one: spent[one])
            seed = f"{asked.seed}:{name}:{number[name]}"
            number[name] += 1
            folder, begun = Path(temporary) / name, time.perf_counter()
            shutil.rmtree(folder, ignore_errors=True)
            only = tuple(one for one in asked.check if one in families[name].CHECKS)
            try:
                found = judged(families[name], seed, folder, only)
            except InputError as error:
                refused[f"{name}: {error.problems[0].message[:100]}"] += 1
                found = []
            except Exception as error:  # a program that breaks off is a find of its own
                place = traceback.extract_tb(error.__traceback__)[-1]
                said = f"{type(error).__name__} {error} in {Path(place.filename).name} {place.name}"
                found = [Opinion("crash", said[:80], "pass", "violated", said)]
            tally.add(found)
            spent[name] += time.perf_counter() - begun
            for one in found:
                if one.is_odd:
                    _keep(asked.out, folder, seed, one, kept)
    print(f"{sum(number.values())} cases: " + ", ".join(f"{n} {k}" for k, n in number.items()))
    print(tally.table())
    for what, n in refused.most_common():
        print(f"refused {n}: {what}")


def _keep(out: Path, folder: Path, seed: str, one: Opinion, kept: Counter[str]) -> None:
    """Keep a case and tell of it, the first few of each kind."""
    kind = f"{one.kind} {one.check}"
    kept[kind] += 1
    if kept[kind] > MOST_KEPT:
        return
    name = f"{one.kind}-{one.check}-{seed}".replace(" ", "-").replace(":", "-")
    shutil.copytree(folder, out / name, dirs_exist_ok=True)
    (out / name / "told.txt").write_text(f"{seed}\n{one}\n")
    print(f"{seed}: {one.kind}: {one.check} about {one.about!r}: {one.note}", flush=True)


if __name__ == "__main__":
    main()
