"""Margins in words: "short by 0.180 m at least", "inside by 0.110 .. 0.160 m".

Ends of an interval are rounded outward, so that no printed margin promises more than was shown:
what is left is rounded down, what is missing up. Only what is missing *at least* is rounded down,
since more than was proved would not be proved.

A rule that knows only yes and no has the margin 0 or -1 and no unit: it is "met" or "not met".
"""

from __future__ import annotations

import math
import re

from reach.units import in_unit

_PRINTED = {"rad": "deg"}
_LONGER = (("d", 172_800.0), ("h", 36_000.0), ("min", 120.0))
"""Times of at least so many seconds are printed in this unit, the first that fits."""
_RULE = {0.0: "met", -1.0: "not met"}
_CUSTOMARY = {"m": "in", "N": "lbf", "N m": "ft lbf"}
_DIGITS = {"m": 3, "": 2}
_DIGITS_ELSE = 1
_MOST_DIGITS = 9
_MORE_DIGITS = 2
"""So many more digits than it needs itself the upper end of an interval takes from the lower."""
_UNSIZED = 1e-6
"""A shortage proved to be no larger than this, with no end below, says only that there is one."""
_ONE_NUMBER = 1e-5
"""What is known as well as this (SI) is told as one number, rounded to the safe side."""
_SLACK = 1e-4
"""Part of the last digit that is put down to binary fractions and not rounded away."""


def margin_text(low: float, high: float, unit: str, units: str = "si") -> str:
    """Return the margin interval [low, high] as words.

    Parameters
    ----------
    low, high : float, SI
        Both nan when nothing was asked; an end that is not known is infinite.
    unit : str
        ``"m"``, ``"rad"`` (printed in degrees), ``"N m"``, ``"N"``, ``"s"`` (long times are printed
        in minutes, hours or days) or ``""``.
    units : str
        ``"si"``, or ``"both"`` to add inches, pounds-force and foot-pounds in brackets.

    Examples
    --------
    >>> margin_text(0.1104, 0.1598, "m")
    'inside by 0.110 .. 0.160 m'
    >>> margin_text(-math.inf, -0.1804, "m", "both")
    'short by 0.180 m (7.1 in) at least'
    >>> margin_text(-math.inf, -1e-9, "m")
    'short, by how much is not known'
    >>> margin_text(-0.25, 0.1, "m")
    'between short by 0.250 m and inside by 0.100 m'
    >>> margin_text(-1.1588, -1.1588, ""), margin_text(1.1588, 1.1588, "")
    ('short by 1.16', 'inside by 1.15')
    >>> margin_text(-1.0, -1.0, ""), margin_text(-1200.0, -1200.0, "s")
    ('not met', 'short by 20.0 min')
    """
    if math.isnan(low):
        return "not asked"
    if low == high and unit == "" and low in _RULE:
        return _RULE[low]
    unit = _unit_of(low, high, unit)
    if low >= 0.0:
        return f"inside by {span_text(low, high, unit, units)}"
    if -_UNSIZED <= high < 0.0 and math.isinf(low):
        return "short, by how much is not known"
    if high < 0.0:
        return f"short by {_span(-high, -low, unit, units, up=True)}"
    if math.isinf(low) and math.isinf(high):
        return "margin unknown"
    if math.isinf(low):
        return f"inside by {_amount(high, unit, units, up=True)} at most"
    missing = f"short by {_amount(-low, unit, units, up=True)}"
    if math.isinf(high):
        return f"{missing} at most"
    return f"between {missing} and inside by {_amount(high, unit, units, up=True)}"


def span_text(least: float, most: float, unit: str, units: str = "si") -> str:
    """Return what is left, known to lie in [least, most], both >= 0, as words.

    Examples
    --------
    >>> span_text(0.11, 0.11, "m"), span_text(0.11, math.inf, "m")
    ('0.110 m', '0.110 m at least')
    >>> span_text(0.0063, 0.01, "")
    '0.006 .. 0.010'
    >>> span_text(0.0, 0.0, ""), span_text(732.2, 732.3, "s")
    ('met', '12.2 .. 12.3 min')
    >>> span_text(201.0 - 1e-6, 201.0 + 1e-6, "s")
    '3.3 min'
    """
    if least == most == 0.0 and unit == "":
        return _RULE[0.0]
    unit = _unit_of(least, most, unit)
    return _span(least, most, unit, units, up=False)


def _unit_of(low: float, high: float, unit: str) -> str:
    """Return the unit in which an interval is printed: long times are not told in seconds."""
    if unit != "s":
        return unit
    most = max((abs(end) for end in (low, high) if not math.isinf(end)), default=0.0)
    return next((longer for longer, least in _LONGER if most >= least), unit)


def _span(least: float, most: float, unit: str, units: str, *, up: bool) -> str:
    """Return an amount in [least, most] as words; one number is rounded ``up`` or down."""
    if math.isinf(least):
        return "an unlimited amount"
    if least == most or (most - least <= _ONE_NUMBER < least):
        return _amount(most if up else least, unit, units, up=up)
    lower = _amount(least, unit, units, up=False)
    if math.isinf(most):
        return f"{lower} at least"
    upper = _amount(most, unit, units, up=True, alike=least)
    if lower == upper:
        return lower
    if units == "si" or unit not in _CUSTOMARY:
        lower = lower.removesuffix(f" {_PRINTED.get(unit, unit)}")
    return f"{lower} .. {upper}"


def _amount(value: float, unit: str, units: str, *, up: bool, alike: float | None = None) -> str:
    """Return an amount with its unit, with the digits that another one, ``alike``, needs."""
    text = _number(value, _PRINTED.get(unit, unit), alike, up=up)
    other = _CUSTOMARY.get(unit)
    if units == "both" and other:
        text += f" ({_number(value, other, alike, up=up)})"
    return text


def _number(value: float, unit: str, alike: float | None, *, up: bool) -> str:
    value = in_unit(value, unit)
    digits = _digits(value, unit, up=up)
    if alike is not None:
        others = _digits(in_unit(alike, unit), unit, up=not up)
        digits = others if digits < others <= digits + _MORE_DIGITS else digits
    return f"{_rounded(value, digits, up=up):.{digits}f} {unit}".rstrip()


def _digits(value: float, unit: str, *, up: bool) -> int:
    """Return how many digits show a value that is not 0 as what it is."""
    digits = _DIGITS.get(unit, _DIGITS_ELSE)
    while _rounded(value, digits, up=up) == 0.0 < value and digits < _MOST_DIGITS:
        digits += 1
    return digits


def _rounded(value: float, digits: int, *, up: bool) -> float:
    scaled = value * 10.0**digits
    whole = math.ceil(scaled - _SLACK) if up else math.floor(scaled + _SLACK)
    return whole / 10.0**digits


def unsigned(words: str) -> str:
    """Return words without the sign of zeros that rounding made of something below zero.

    Examples
    --------
    >>> unsigned("0.35 m towards [-1.00, -0.00, 0.00]")
    '0.35 m towards [-1.00, 0.00, 0.00]'
    >>> unsigned("RL-0 by -0.05 m")
    'RL-0 by -0.05 m'
    """
    return re.sub(r"(?<![\w-])-(0(?:\.0+)?)(?![\w.])", r"\1", words)
