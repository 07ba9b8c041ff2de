"""Clocks between events: what is to be repeated in time, and what may not take too long."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple


class Moment(NamedTuple):
    """Something that happens at one moment.

    Attributes
    ----------
    time : float, s
    name : str
    """

    time: float
    name: str


@dataclass(frozen=True)
class Gap:
    """The time from one moment to another.

    Attributes
    ----------
    first, second : Moment
    """

    first: Moment
    second: Moment

    @property
    def length(self) -> float:
        """Seconds from the first to the second; negative where the second comes first."""
        return self.second.time - self.first.time

    def margin(self, limit: float) -> float:
        """Return what the gap stays under a limit, s; >= 0 is good."""
        return limit - self.length

    def missing(self, limit: float) -> int:
        """Return how many more events would keep every part of the gap within a limit.

        Raises
        ------
        ValueError
            If the limit is not positive.
        """
        if not limit > 0.0:
            raise ValueError(f"needs a limit > 0, found {limit}")
        return max(math.ceil(self.length / limit) - 1, 0)


def gaps(
    events: Iterable[Moment], begin: Moment | None = None, end: Moment | None = None
) -> tuple[Gap, ...]:
    """Return the gaps between events that repeat, in order of time.

    Parameters
    ----------
    events : iterable of Moment
        In any order.
    begin, end : Moment, optional
        Start and end of the outing, where they count as events: then the time before the
        first event and after the last counts too.  What happens before the one or after
        the other is left out.

    Returns
    -------
    tuple of Gap
        Empty where fewer than two moments count.
    """
    inside = sorted(
        event
        for event in events
        if (begin is None or event.time >= begin.time) and (end is None or event.time <= end.time)
    )
    counted = [*([begin] if begin else []), *inside, *([end] if end else [])]
    return tuple(Gap(a, b) for a, b in pairwise(counted))


def largest_gap(
    events: Iterable[Moment], begin: Moment | None = None, end: Moment | None = None
) -> Gap | None:
    """Return the largest of the `gaps`, the first of equals; None where there is none.

    Examples
    --------
    >>> checks = [Moment(2040.0, "step 8"), Moment(5460.0, "step 17")]
    >>> largest_gap(checks).length / 60.0
    57.0
    """
    return max(gaps(events, begin, end), key=lambda gap: gap.length, default=None)
