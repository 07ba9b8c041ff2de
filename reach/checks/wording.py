"""What several checks say the same way: who, where, with what; not-asked findings; marks."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reach.finding import Finding, Mark
from reach.kept.noting import step_of
from reach.model.procedure import Drive
from reach.site import Site, Situation
from reach.units import text_of
from reach.work import Attempt, attempt_of, hands_of
from reach.worker.cells import Refuted

ANOTHER_WAY = " Another way may keep it."
"""Said where what is broken is so on a way that was planned or found, one of many."""
UNKNOWN = math.inf
NAN = math.nan
SURE = 1e-9
"""Least width of a geometric margin, and least size of a proved shortage, m."""


def about(situation: Situation) -> tuple[str, ...]:
    """Return the names concerned: worker, fastener, tool, place, ends of a move."""
    names = [situation.worker]
    if situation.head is not None:
        names.append(situation.head.name)
    if isinstance(situation.action, Drive):
        names.append(situation.action.tool)
    if situation.place is not None:
        names.append(situation.place.name)
    if situation.passage is not None:
        names += [situation.passage.start, situation.passage.stop]
    return tuple(names)


def who(situation: Situation) -> str:
    """Return worker and body in words."""
    return f"{situation.worker} ({situation.case}, {situation.body.label})"


def standing(situation: Situation) -> str:
    """Return where the worker stands, with the setting, in words."""
    place = situation.place
    if place is None:
        return "nowhere in particular"
    where = f"in {place.restraint_name} at {place.name}"
    return f"{where} ({place.shown})" if place.shown else where


def finding_on(check: str, situation: Situation, *answer: Any, **more: Any) -> Finding:
    """Return a finding about a situation; the rest is what `Finding` takes from ``because`` on."""
    return Finding(check, step_of(situation), about(situation), situation.case, *answer, **more)


def not_asked(check: str, situation: Situation, because: str, unit: str = "m") -> Finding:
    """Return the finding of a check that has nothing to judge here."""
    return finding_on(check, situation, because, NAN, NAN, unit)


def drives(situations: tuple[Situation, ...]) -> Iterator[Situation]:
    """Yield the situations in which something is turned."""
    for situation in situations:
        if isinstance(situation.action, Drive):
            yield situation


def blank(situation: Situation) -> str | None:
    """Return why the boots are nowhere, or None when they are placed."""
    if situation.place is None:
        return "The step names no place to work from."
    if situation.place.world_from_boots is None:
        return (
            f"The setting of {situation.place.restraint_name} at {situation.place.name} is blank, "
            "so nothing is placed."
        )
    return None


def attempts(site: Site, situation: Situation) -> list[Attempt]:
    """Return one attempt a hand that may do it, the worker's own hand first."""
    return [attempt_of(site, situation, hand) for hand in hands_of(situation)]


def best_attempt(site: Site, situation: Situation) -> Attempt:
    """Return the attempt that gets farthest: witness, else envelope, else least shortage."""
    return ranked_attempts(site, situation)[0]


def ranked_attempts(site: Site, situation: Situation) -> list[Attempt]:
    """Return the attempts, the one that gets farthest first."""

    def rank(attempt: Attempt) -> tuple[int, float]:
        if attempt.short > 0.0:
            return 3, attempt.short
        if attempt.witness is not None:
            return 0, 0.0
        return (1, 0.0) if attempt.in_envelope else (2, attempt.envelope[0])

    return sorted(attempts(site, situation), key=rank)


def refuted_by_all(site: Site, situation: Situation, reasons: int) -> Refuted:
    """Return the outcome of the search over cells for every hand that may do it.

    Proved when it is for each of them; a hand that is proved short needs no cells.
    """
    tried = [one for one in attempts(site, situation) if one.short <= 0.0]
    found = [one.refuted(reasons) for one in tried]
    counts = tuple(sum(one.counts[i] for one in found) for i in range(3))
    return Refuted(
        all(one.proved for one in found),
        sum(one.n_cells for one in found),
        (counts[0], counts[1], counts[2]),
    )


def point(p: NDArray[np.float64] | Sequence[float]) -> tuple[float, float, float]:
    """Return a point as plain numbers, rounded to 1e-9 m."""
    return (round(float(p[0]), 9), round(float(p[1]), 9), round(float(p[2]), 9))


def at_least(value: float) -> str:
    """Return a length in words, rounded down to the millimetre: what is proved, no more.

    Examples
    --------
    >>> at_least(1.3058)
    '1.305 m'
    """
    return text_of(math.floor(value * 1000.0 + 1e-6) / 1000.0, "m")


def enough(value: float, unit: str = "m") -> str:
    """Return an amount in words, rounded up to the digit shown: what is missing, no less.

    Examples
    --------
    >>> enough(0.0121), enough(0.012), enough(16.04, "N m")
    ('0.013 m', '0.012 m', '16.1 N m')
    """
    if math.isinf(value):
        return text_of(value, unit)
    parts = 1000.0 if unit == "m" else 10.0
    return text_of(math.ceil(value * parts - 1e-6) / parts, unit)


def apart(distance: float) -> str:
    """Return a signed distance in words: how far from something, or how far inside it.

    Examples
    --------
    >>> apart(0.25), apart(-0.1)
    ('0.250 m from', '0.100 m inside')
    """
    return f"{text_of(abs(distance), 'm')} {'from' if distance >= 0.0 else 'inside'}"


def head_mark(situation: Situation, bad: bool) -> Mark:
    """Return a mark at the fastener head."""
    assert situation.head is not None
    name = situation.head.name
    return Mark("point", (point(situation.head.point),), name, bad=bad)
