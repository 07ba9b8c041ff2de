"""What checks of the whole outing say the same way: findings about steps and about rules."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reach.checks.wording import NAN
from reach.finding import Finding, Limit
from reach.ledger import Judged
from reach.units import text_of

UNDECIDED = (-1.0, 0.0)
"""Margin of a rule of which it is not known whether it is broken: 0 kept, -1 broken."""


def finding_in(
    check: str,
    step: str,
    about: Sequence[str],
    because: str,
    margin: float | tuple[float, float],
    unit: str = "",
    *,
    limits: tuple[Limit, ...] = (),
    fix: str = "",
    cause: str = "",
    **numbers: Any,
) -> Finding:
    """Return a finding about a step of the outing; ledger and clock are exact.

    Parameters
    ----------
    check, step : str
    about : sequence of str
    because : str
    margin : float or (low, high)
    unit : str
    limits, fix
        As of `Finding`; a fix is told where the margin is below zero.
    cause : str
        A sentence that says what several findings come from, the same for all of them.
    **numbers
        Further evidence.
    """
    low, high = margin if isinstance(margin, tuple) else (margin, margin)
    if cause and low < 0.0:
        numbers["cause"] = cause
    return Finding(
        check, step, tuple(about), "", because, low, high, unit, limits,
        fix if low < 0.0 else "", numbers=numbers,
    )  # fmt: skip


def unasked(check: str, step: str, about: Sequence[str], because: str, unit: str = "") -> Finding:
    """Return the finding of a check that has nothing to judge about a step."""
    return Finding(check, step, tuple(about), "", because, NAN, NAN, unit)


def ruled(
    check: str,
    judged: Judged,
    about: Sequence[str],
    holds: str,
    broken: str,
    *,
    step: str = "",
    fix: str = "",
    cause: str = "",
    is_open: bool = False,
    **numbers: Any,
) -> Finding:
    """Return the finding of a rule of the ledger: pass, fail, or open where it is not settled.

    Parameters
    ----------
    check : str
    judged : Judged
    about : sequence of str
    holds, broken : str
        What is so where the rule is kept or broken, each a sentence without its full stop.
    step : str
        Where it belongs if it is kept; where it is broken, the step that breaks it counts.
    fix : str
        What mends it as written; where only another order breaks it, a link does.
    cause : str
    is_open : bool
        Where it is broken, whether that is left undecided by the files.
    **numbers
    """
    outing = judged.outing
    deed = judged.deed if judged.is_broken else None
    where = deed.step.name if deed is not None else step or outing.steps[0].name
    if judged.is_broken:
        said = f": {judged.said}" if judged.said else ""
        because = f"{broken}{said}."
        numbers["orders"] = "another order" if judged.elsewhere else "as written"
        if judged.ruling.order and judged.elsewhere:
            numbers["order"] = [event.name for event in judged.ruling.order]
    elif judged.ruling.answer.name == "HOLDS":
        because = f"{holds}, in every order."
        numbers["orders"] = "all"
    else:
        because = f"{holds} as written; not every order could be looked at."
    mend = judged.fix or fix if judged.elsewhere else fix
    margin = UNDECIDED if is_open and judged.is_broken else judged.margin
    return finding_in(check, where, about, because, margin, fix=mend, cause=cause, **numbers)


def clock_text(seconds: float) -> str:
    """Return a moment of the outing as hours and minutes; seconds where there are some.

    Examples
    --------
    >>> clock_text(4440.0), clock_text(75.0), clock_text(-60.0)
    ('01:14', '00:01:15', '-00:01')
    """
    sign, whole = "-" if seconds < -0.5 else "", round(abs(seconds))
    hours, minutes, rest = whole // 3600, whole // 60 % 60, whole % 60
    return f"{sign}{hours:02d}:{minutes:02d}" + (f":{rest:02d}" if rest else "")


def minutes_text(seconds: float) -> str:
    """Return a stretch of time in minutes, in words.

    Examples
    --------
    >>> minutes_text(720.0), minutes_text(90.0), minutes_text(694.0)
    ('12 min', '1.5 min', '11.57 min')
    """
    if abs(seconds) >= 6e5:
        return text_of(seconds / 3600.0, "h")
    return f"{seconds / 60.0:.2f}".rstrip("0").rstrip(".") + " min"
