"""How long 1,000 drawn people over the demo's worksites take, what dominates it, and the shares.

``python -m benchmarks.people [N]`` prints the table.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from dataclasses import replace

import numpy as np

from reach.checks.wording import blank, drives
from reach.crowd_work import turnouts_of
from reach.files.people import load_population
from reach.model.population_draw import PopulationDraw
from reach.proportion import interval
from reach.run import check
from reach.warmup import warm_up
from reach.worker.crowd import crowd_of

SCENE = "brackenfall"


def main(n: int = 1000) -> None:
    """Print shares and times."""
    warm_up()
    outcome = check(SCENE, only=["fit"])
    asked = PopulationDraw(n=n)
    print(f"\n{asked.title}, over the worksites of {SCENE}")
    print(f"  {'step':12s} {'can':>5s} {'cannot':>6s} {'not known':>9s}  share, 95 %    seconds")
    start, by_step = time.perf_counter(), Counter[str]()
    crowd = crowd_of(asked, load_population)
    by_step["drawing"] = time.perf_counter() - start
    for situation in drives(outcome.situations):
        if blank(situation):
            continue
        begun = time.perf_counter()
        found = turnouts_of(outcome.site, replace(situation, crowd=crowd))
        took = time.perf_counter() - begun
        for one in found:
            by_step.update(one.seconds)
        can = np.any([one.can for one in found], axis=0)
        cannot = ~can & np.all([one.cannot for one in found], axis=0)
        counts = int(can.sum()), int(cannot.sum()), int((~can & ~cannot).sum())
        low, high = interval(counts[0], n)[0], interval(n - counts[1], n)[1]
        print(
            f"  {situation.step:12s} {counts[0]:5d} {counts[1]:6d} {counts[2]:9d}  "
            f"{low:.3f} .. {high:.3f} {took:8.2f}"
        )
    print(f"  all of it: {time.perf_counter() - start:.1f} s (goal: about 120 s on two cores)")
    for name, seconds in by_step.most_common():
        print(f"    {name:18s} {seconds:6.2f} s")


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:]))
