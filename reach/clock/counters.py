"""What runs down: turns of a drive, energy of a suit, the time that a suit lasts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

ROUNDING = 1e-12
"""Share of a store by which sums that ought to be equal may differ: 0.1 and 0.2 use up 0.3."""


class Use(NamedTuple):
    """What one task takes of a store.

    Attributes
    ----------
    name : str
    amount : float
        In the unit of the store, >= 0.
    """

    name: str
    amount: float


def drawn(name: str, rate: float, duration: float) -> Use:
    """Return what a task takes that draws at a rate, such as W over s: J."""
    return Use(name, rate * duration)


@dataclass(frozen=True)
class Count:
    """A store at the end of what is taken from it.

    Attributes
    ----------
    total, usable : float
        What is taken, and what may be: the store less its reserve.
    margin : float
        Usable less total; >= 0 is good.
    runs_out : str or None
        The first use that takes more than is left to use.
    left : tuple of float
        What is left to use after each use.
    """

    total: float
    usable: float
    margin: float
    runs_out: str | None
    left: tuple[float, ...]


def count(uses: Sequence[Use], store: float, reserve: float = 0.0) -> Count:
    """Return what is left of a store of which a share must stay.

    Parameters
    ----------
    uses : sequence of Use
        In the order in which they come.
    store : float
        >= 0.
    reserve : float
        Share of it that must stay, 0 <= reserve <= 1.

    Raises
    ------
    ValueError
        If an amount, the store or the share makes no sense.

    Examples
    --------
    >>> count([Use("CB1", 24.0), Use("IB1", 18.0)], 50.0, reserve=0.2).margin
    -2.0
    """
    wrong = [use.name for use in uses if not 0.0 <= use.amount < math.inf]
    if wrong or not 0.0 <= store < math.inf or not 0.0 <= reserve <= 1.0:
        raise ValueError(
            f"needs amounts >= 0 ({', '.join(wrong) or 'all are'}), a store >= 0 (is {store}) "
            f"and a share (is {reserve})"
        )
    usable = store - reserve * store
    sums = [math.fsum(use.amount for use in uses[: i + 1]) for i in range(len(uses))]
    total = sums[-1] if sums else 0.0
    left = tuple(_left(usable, taken) for taken in sums)
    short = (use.name for use, rest in zip(uses, left, strict=True) if rest < 0.0)
    return Count(total, usable, _left(usable, total), next(short, None), left)


def _left(usable: float, taken: float) -> float:
    """Return what is left; 0 where it is nothing but the rounding of sums."""
    rest = usable - taken
    return 0.0 if abs(rest) <= ROUNDING * max(usable, taken) else rest


@dataclass(frozen=True)
class Endurance:
    """How long a worker is out, against how long the suit lasts.

    Attributes
    ----------
    out, usable : float, s
    margin : float, s
        >= 0 is good.
    until : float, s
        The moment at which only the reserve is left.
    """

    out: float
    usable: float
    margin: float
    until: float


def endurance(begin: float, end: float, lasts: float, reserve: float = 0.0) -> Endurance:
    """Return what is left of a suit's time at the end of an outing.

    Parameters
    ----------
    begin, end : float, s
        From when to when the suit is used.
    lasts, reserve : float, s
        How long it lasts, and what of that must be left at the end.

    Raises
    ------
    ValueError
        If the outing ends before it begins, or a time is negative.
    """
    if end < begin or min(lasts, reserve) < 0.0:
        raise ValueError(f"needs begin <= end and times >= 0: {begin, end, lasts, reserve}")
    usable = lasts - reserve
    return Endurance(end - begin, usable, usable - (end - begin), begin + usable)
