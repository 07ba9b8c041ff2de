"""What is kept is given again only where a whole run would find the same."""

import random

import pytest
from edits import EVERY, edited
from shop import STEPS, procedure, scene

from reach.kept.keeping import Kept
from reach.run import check


def told(outcome):
    return [repr(one) for one in outcome.findings]


@pytest.mark.parametrize("seed", range(4))
def test_a_recheck_after_an_edit_finds_what_a_whole_run_finds(seed):
    rng, loaded, kept = random.Random(seed), scene(), Kept()
    steps, made = STEPS, []
    check(loaded, procedure(steps), kept=kept)
    for _ in range(25):
        changed, name = edited(rng, steps, EVERY)
        made.append(name)
        try:
            whole = check(loaded, procedure(changed))
        except (AssertionError, KeyError, ValueError):
            continue  # an edit that no reader of files would let through
        again = check(loaded, procedure(changed), kept=kept)
        assert told(again) == told(whole), made
        # Half of the edits are taken back: then what was kept before the edit serves.
        steps = rng.choice([steps, changed])
