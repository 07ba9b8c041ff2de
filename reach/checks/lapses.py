"""Rules that must hold always: when they lapse as written, and what each lapse is told as."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from reach.checks.ruling import UNDECIDED, clock_text, finding_in, ruled
from reach.finding import Finding, Limit
from reach.ledger import Deed, Judged, Outing
from reach.orders import Condition, Value
from reach.orders.meeting import met


@dataclass(frozen=True, eq=False)
class Lapse:
    """One stretch in which a rule is not kept.

    Attributes
    ----------
    by : Deed or None
        The deed that breaks it; None where it is broken from the start.
    until : Deed or None
        The deed after which it is kept again; None where it never is.
    values : mapping
        How everything, or at least what the rule reads, is when it is broken.
    is_written : bool
        Broken as written, not only in another order.
    """

    by: Deed | None
    until: Deed | None
    values: Mapping[str, Value]
    is_written: bool = True

    @property
    def span(self) -> str:
        """From when until when it is broken, in words; empty if only another order breaks it."""
        if not self.is_written:
            return ""
        begin = "from the start" if self.by is None else f"from {_at(self.by)}"
        return f" {begin} " + ("on" if self.until is None else f"until {_at(self.until)}")


def _at(deed: Deed) -> str:
    return f"{clock_text(deed.moment)} ('{deed.name}')"


@dataclass(frozen=True, slots=True)
class Told:
    """What a lapse is told as: what is so (no full stop), what mends it, what it comes from.

    ``is_open`` where the files leave undecided whether it is one.
    """

    broken: str
    fix: str = ""
    cause: str = ""
    is_open: bool = False


def lapses_of(outing: Outing, condition: Condition) -> list[Lapse]:
    """Return every stretch in which a condition does not hold, as written."""
    found: list[Lapse] = []
    begun: tuple[Deed | None, Mapping[str, Value]] | None = None
    for k, values in enumerate(outing.states):
        deed = outing.deeds[k - 1] if k else None
        if met(condition, values):
            if begun is not None:
                found.append(Lapse(begun[0], deed, begun[1]))
            begun = None
        elif begun is None:
            begun = (deed, values)
    return [*found, Lapse(begun[0], None, begun[1])] if begun is not None else found


def always(
    check: str,
    judged: Judged,
    about: Sequence[str],
    holds: str,
    tell: Callable[[Lapse], Told],
    *,
    step: str = "",
    limits: tuple[Limit, ...] = (),
    **numbers: Any,
) -> list[Finding]:
    """Return the findings of a rule that must always hold.

    Parameters
    ----------
    check : str
    judged : Judged
        Of a rule ``Always``.
    about : sequence of str
    holds : str
        What is so where it is kept, a sentence without its full stop.
    tell : callable
        Lapse -> what is said of it.
    step : str
        Where a pass belongs.
    limits : tuple of Limit
    **numbers

    Returns
    -------
    list of Finding
        One for each lapse as written; without any, one for all orders together.
    """
    outing = judged.outing
    found = []
    for lapse in lapses_of(outing, judged.rule.condition):
        where = outing.steps[0].name if lapse.by is None else lapse.by.step.name
        told = tell(lapse)
        because = f"{told.broken}{lapse.span}."
        found.append(
            finding_in(
                check,
                where,
                about,
                because,
                UNDECIDED if told.is_open else -1.0,
                limits=limits,
                fix=told.fix,
                cause=told.cause,
                orders="as written",
                **numbers,
            )
        )
    if found:
        return found
    told = Told("")
    if judged.is_broken:
        told = tell(Lapse(judged.deed, judged.ahead_of, judged.ruling.values or {}, False))
    return [
        ruled(
            check,
            judged,
            about,
            holds,
            told.broken,
            step=step,
            fix=told.fix,
            cause=told.cause,
            limits=limits,
            is_open=told.is_open,
            **numbers,
        )
    ]
