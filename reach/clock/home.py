"""The latest moment to start home: after it a return no longer ends in time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

from reach.clock.tasks import Span


class Return(NamedTuple):
    """How long the way home takes from some moment on.

    Attributes
    ----------
    since : float, s
        It holds from here until the next one, the last one for good.
    takes : float, s
    place : str
    """

    since: float
    takes: float
    place: str = ""


@dataclass(frozen=True)
class Bingo:
    """The latest moment to start home, and when it is too late before that.

    Attributes
    ----------
    latest : float or None, s
        Last moment at which a return still ends in time, reserve included; None if none
        ever does.
    from_ : Return or None
        Where that return sets out: at a moment of change the place that is nearer.
    cut_off : tuple of Span, s
        Stretches before `latest` in which a return would end too late, from further
        away: whoever works then must have left before, or waits for a nearer place.
    """

    latest: float | None
    from_: Return | None
    cut_off: tuple[Span, ...]

    def margin(self, moment: float) -> float:
        """Return how long before the latest moment some moment is, s; >= 0 is good.

        Minus infinity where no return ends in time.  It says nothing about `cut_off`.
        """
        return float("-inf") if self.latest is None else self.latest - moment


def bingo(limit: float, returns: Sequence[Return] | float, reserve: float = 0.0) -> Bingo:
    """Return the latest moment to start home.

    Parameters
    ----------
    limit : float, s
        When everyone must be in.
    returns : sequence of Return, or float, s
        How long the way takes, by where one is at the time; or always the same.
    reserve : float, s
        To be left on arrival, >= 0.

    Raises
    ------
    ValueError
        If there is no return, they are not in order of time, or a time is negative.

    Examples
    --------
    >>> bingo(23400.0, 1740.0, reserve=600.0).latest
    21060.0
    """
    if isinstance(returns, int | float):
        returns = [Return(float("-inf"), float(returns))]
    times = [one.since for one in returns]
    if not returns or any(a >= b for a, b in pairwise(times)):
        raise ValueError(f"needs returns in order of time, found {times}")
    if reserve < 0.0 or min(one.takes for one in returns) < 0.0:
        raise ValueError("returns and reserve take no less than no time")
    untils = [*times[1:], float("inf")]
    latest: float | None = None
    best: Return | None = None
    late_since = times[0]
    cut_off: list[Span] = []
    for one, until in zip(returns, untils, strict=True):
        last = min(limit - reserve - one.takes, until)
        if last < one.since or last == latest:
            continue
        if late_since < one.since:
            cut_off.append(Span(late_since, one.since))
        latest, best, late_since = last, one, last
    return Bingo(latest, best, tuple(cut_off))
