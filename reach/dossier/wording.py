"""What tables say the same way: columns, what an action does in words, moments, margins."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from reach.dossier.records import Cell, Column, Row, Table
from reach.finding import Finding, Verdict
from reach.model.handling import (
    Adjust,
    Attach,
    Confirm,
    Egress,
    GloveCheck,
    Install,
    Lay,
    Pass,
    PickUp,
    Remove,
    Stow,
    Wait,
)
from reach.model.procedure import (
    Action,
    Align,
    Drive,
    HandOver,
    Hold,
    Ingress,
    Inspect,
    Move,
    MoveCrane,
    Release,
    Step,
    Translate,
)
from reach.model.record import Record
from reach.reports.clock import hours_text
from reach.units import text_of

UNSIZED = 1e-6
"""A shortage proved to be no larger than this says that there is one, not how large it is."""

NO_PRIORITY = "not optional"
UNTOLD = "not declared"
NOT_ASKED = "not asked"


def columns(*titles: str | tuple[str, str]) -> tuple[Column, ...]:
    """Return columns from titles, or pairs of title and unit; the unit ``"at"`` is a moment.

    Examples
    --------
    >>> columns("step", ("start", "at"))[1]
    Column(title='start', unit='s', is_moment=True)
    """
    found = []
    for one in titles:
        title, unit = (one, "") if isinstance(one, str) else one
        found.append(Column(title, "s", True) if unit == "at" else Column(title, unit))
    return tuple(found)


def table(
    name: str,
    title: str,
    says: str,
    heads: Sequence[Column],
    rows: Iterable[Row],
    nothing: str = "",
) -> Table:
    """Return a table; what is said where it is empty may be left out."""
    made = tuple(rows)
    if nothing:
        return Table(name, title, says, tuple(heads), made, nothing)
    return Table(name, title, says, tuple(heads), made)


def listed(names: Iterable[object], none: str = "none") -> str:
    """Return names with commas between them, each once, or the word for no name.

    Examples
    --------
    >>> listed(["RL01", "RL02", "RL01"]), listed([])
    ('RL01, RL02', 'none')
    """
    return ", ".join(dict.fromkeys(str(one) for one in names)) or none


def known(value: float | None) -> float | None:
    """Return a number, None where it is not known or not finite."""
    return value if value is not None and math.isfinite(value) else None


def sure(finding: Finding) -> float | None:
    """Return what is proved of a margin: its low end, or of a fail the shortage, below zero.

    None where nothing was asked, where that end is not known, and of a proof without a size.
    """
    if finding.verdict is Verdict.FAIL:
        return None if finding.high > -UNSIZED else known(finding.high)
    return known(finding.low)


def least(findings: Iterable[Finding], unit: str) -> float | None:
    """Return the least of what is proved of margins in a unit; None where one is not known."""
    mine = [one for one in findings if one.unit == unit and one.verdict is not Verdict.NOT_ASKED]
    values = [sure(one) for one in mine]
    known_ones = [value for value in values if value is not None]
    return min(known_ones) if mine and len(known_ones) == len(values) else None


def clock(seconds: float) -> str:
    """Return a moment in words, such as ``"01:14"``."""
    return hours_text(seconds)


def minutes(seconds: float) -> str:
    """Return how long something takes, in minutes with a digit after the point if it needs one.

    Examples
    --------
    >>> minutes(694.0), minutes(1800.0)
    ('11.6 min', '30 min')
    """
    return f"{seconds / 60.0:.1f}".removesuffix(".0") + " min"


def or_untold(words: str) -> Cell:
    """Return words, or that nothing is declared."""
    return words or UNTOLD


def doing(action: Action) -> str:
    """Return what an action does, in words.

    Examples
    --------
    >>> doing(Drive(do="demate", fastener="CN0"))
    'demate CN0 by hand'
    """
    match action:
        case Drive():
            return _turning(action)
        case Ingress(to=str(hatch)):
            return f"go in by {hatch}"
        case Ingress():
            return "get in"
        case Egress(start=str(hatch)):
            return f"come out by {hatch}"
        case Egress():
            return "get out"
        case Inspect():
            return f"look at {action.fastener}"
        case Translate():
            return f"go to {action.to}"
        case Hold():
            return f"take hold of {listed(action.grips)}"
        case HandOver():
            return f"hand over to {action.to}, who takes {listed(action.grips)}"
        case Release(what=None):
            return "let go"
        case Release():
            parked = f", park its reel at {action.to}" if action.to else ""
            return f"release {action.what} from {action.start}{parked}"
        case Align():
            return f"align into {action.guide}"
        case Move() | MoveCrane():
            return _moving(action)
        case _:
            return _handling(action)


def _turning(action: Drive) -> str:
    if action.do != "drive":
        by = "by hand" if action.tool == "glove" else f"with {action.tool}"
        return f"{action.do} {action.fastener} {by}"
    way = "turn out" if action.loosen else "turn in"
    bit = f" and {action.bit}" if action.bit else ""
    far = f" on {action.extension}" if action.extension else ""
    torque = f" at {text_of(action.torque, 'N m')}" if action.torque else ""
    return f"{way} {action.fastener} with {action.tool}{bit}{far}{torque}"


def _moving(action: Move | MoveCrane) -> str:
    what = action.payload or (action.crane if isinstance(action, MoveCrane) else None)
    where = f" to {action.to}" if action.to else ""
    return f"move {what or 'the crane'}{where}"


def _handling(action: Record) -> str:
    match action:
        case Attach():
            seen = ", check it locked" if action.checked else ", not checked"
            return f"attach {action.what} to {action.to}{seen}"
        case PickUp():
            return f"take {listed(action.items)}" + (f" into {action.to}" if action.to else "")
        case Stow():
            return f"put {listed(action.items)} into {action.to}"
        case Pass():
            return f"pass {listed(action.items)} to {action.to}"
        case Install():
            return f"install {action.item} in {action.to}"
        case Remove():
            return f"take out {action.item}"
        case Adjust():
            torque = text_of(action.torque, "N m") if action.torque else ""
            return f"set {action.tool} to {listed([one for one in (torque, action.bit) if one])}"
        case Lay():
            return f"lay {action.item} to {action.to}"
        case Confirm():
            what = action.inhibit or action.what or listed(action.items)
            return f"confirm {what}"
        case GloveCheck():
            return f"check gloves of {listed(action.of, 'oneself')}"
        case Wait():
            return f"wait {action.what}".rstrip()
    raise TypeError(f"no words for {action!r}")


def step_words(step: Step) -> str:
    """Return what a step does, action by action, in words."""
    return "; ".join(doing(action) for action in step.actions) or "nothing"
