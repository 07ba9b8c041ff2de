"""What the checks on what is moved say the same way: what, where on its way, findings about it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reach.checks.wording import NAN, point
from reach.finding import Finding, Limit, Mark
from reach.geometry.motion_chain import chain_of
from reach.kept.noting import step_of
from reach.payload.crane_way import crane_way_of
from reach.payload.parts import parts_of
from reach.site import Carriage, Site

Array = NDArray[np.float64]

NO_WAY = " The way is left blank and none was found: one that is there may do worse."
"""Said where the straight way keeps something, which may be no way at all."""


def finding_of_carriage(
    name: str,
    carriage: Carriage,
    because: str,
    low: float,
    high: float,
    unit: str,
    limits: Sequence[Limit] = (),
    fix: str = "",
    marks: Sequence[Mark] = (),
    numbers: Mapping[str, Any] | None = None,
    about: Sequence[str] = (),
) -> Finding:
    """Return a finding about something that is moved.

    Parameters
    ----------
    name : str
        Of the check.
    about : sequence of str
        Names concerned beside what is moved, its crane and its path, which are always named.
    """
    named = (carriage.what, carriage.crane, carriage.path, *about)
    return Finding(
        name,
        step_of(carriage),
        tuple(dict.fromkeys(one for one in named if one)),
        carriage.case,
        because,
        low,
        high,
        unit,
        tuple(limits),
        fix,
        tuple(marks),
        dict(numbers or {}),
    )


def not_asked_of_carriage(
    name: str,
    carriage: Carriage,
    why: str,
    unit: str = "m",
    about: Sequence[str] = (),
    numbers: Mapping[str, Any] | None = None,
) -> Finding:
    """Return the finding of a check that has nothing to judge on this motion."""
    return finding_of_carriage(name, carriage, why, NAN, NAN, unit, numbers=numbers, about=about)


def moved_words(carriage: Carriage) -> str:
    """Return what is moved in words: ``relay-boom on the Crane``, ``the Crane``."""
    if not carriage.payload:
        return _the(carriage.crane)
    return f"{carriage.payload} on {_the(carriage.crane)}" if carriage.crane else carriage.payload


def _the(name: str) -> str:
    return name if name.lower().startswith("the ") else f"the {name}"


def is_way_known(carriage: Carriage) -> bool:
    """Return whether the way itself is written; of others one is looked at, and may be changed."""
    return bool(carriage.payload) and not carriage.is_blank and not carriage.is_found


def has_no_way(site: Site, carriage: Carriage) -> bool:
    """Return whether a way was left blank and none was found: its legs lead straight, as none may.

    What has no size may go straight.
    """
    return carriage.is_blank and bool(parts_of(site, carriage))


def leg_ends(carriage: Carriage, leg: int) -> tuple[str, str]:
    """Return the poses that a leg runs between: the nearest that have a name."""
    before = next(name for name in carriage.names[leg::-1] if name)
    after = next((name for name in carriage.names[leg + 1 :] if name), before)
    return before, after


def leg_words(carriage: Carriage, at: float) -> str:
    """Return where on its way something is (leg number plus time 0 to 1), in words.

    ``"at beside-cedar"``, ``"between beside-cedar and beside-gorse"``.
    """
    n = len(carriage.legs)
    leg = min(int(at), max(n - 1, 0))
    share = at - leg
    if n == 0:
        return f"at {carriage.names[0]}"
    for i, ends in ((leg, share < 1e-6), (leg + 1, share > 1.0 - 1e-6)):
        if ends and carriage.names[i]:
            return f"at {carriage.names[i]}"
    before, after = leg_ends(carriage, leg)
    return f"between {before} and {after}"


def turned_so_far(carriage: Carriage, at: float) -> float:
    """Return by how much what is moved has turned on its leg at a moment, rad.

    Measured from the last pose that has a name.
    """
    leg = min(int(at), len(carriage.legs) - 1)
    first = leg
    while first > 0 and not carriage.names[first]:
        first -= 1
    turns = chain_of(carriage.poses, np.zeros(3)).motions[4]
    return float(turns[first:leg].sum() + (at - leg) * turns[leg])


def gap_mark(on_part: Array, on_thing: Array, label: str, bad: bool) -> tuple[Mark, ...]:
    """Return a mark between two witness points; none where there is no witness."""
    if not (np.isfinite(on_part).all() and np.isfinite(on_thing).all()):
        return ()
    return (Mark("segment", (point(on_part), point(on_thing)), label, bad=bad),)


def interval_words(low: float, high: float) -> str:
    """Return a bracket of a length in words, in metres.

    Examples
    --------
    >>> interval_words(0.3996, 0.4004), interval_words(0.1, 0.5), interval_words(2.0, math.inf)
    ('0.400 m', '0.100 to 0.500 m', 'at least 2.000 m')
    """
    if math.isinf(high):
        return f"at least {low:.3f} m"
    if high - low <= 2e-3:
        return f"{high:.3f} m"
    return f"{low:.3f} to {high:.3f} m"


def out_of_reach(site: Site, carriage: Carriage) -> str:
    """Return a sentence where a crane's way is proved out of reach, else nothing.

    What `crane-reach` fails has no way to look at.
    """
    way = crane_way_of(site, carriage) if carriage.crane else None
    if way is None or not way.shortage > 0.0:
        return ""
    words = moved_words(carriage)
    return f"{words[:1].upper()}{words[1:]} is proved not to come there: see crane-reach."
