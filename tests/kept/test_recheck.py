"""What is kept is given again only where a whole run would find the same."""

import random

import pytest
from edits import EVERY, edited
from shop import STEPS, procedure, scene

from reach.kept.keeping import Kept
from reach.run import check

BY_HAND = tuple(step for step in STEPS if step["lane"] != "CO")


def told(outcome):
    return [repr(one) for one in outcome.findings]


def walked(steps, n, seed):
    """Edit steps n times, and compare each recheck with a whole run."""
    rng, loaded, kept = random.Random(seed), scene(), Kept()
    check(loaded, procedure(steps), kept=kept)
    made = []
    while len(made) < n:
        changed, name = edited(rng, steps, EVERY)
        if changed == steps:
            continue
        made.append(name)
        try:
            whole = check(loaded, procedure(changed))
        except (AssertionError, KeyError, ValueError):
            continue  # an edit that no reader of files would let through
        assert told(check(loaded, procedure(changed), kept=kept)) == told(whole), made
        # Some edits are taken back: then what was kept before them serves.
        steps = rng.choice([steps, changed, changed])


@pytest.mark.parametrize("seed", range(4))
def test_a_recheck_after_an_edit_finds_what_a_whole_run_finds(seed):
    walked(BY_HAND, 22, seed)


def test_a_recheck_finds_the_same_where_cranes_move_and_others_stand_by():
    walked(STEPS, 12, 4)
