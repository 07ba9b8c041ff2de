"""Quantities as people write them, turned into SI: "24 in" -> 0.6096 m.

Inside the package every length is in metres, every angle in radians, and so on;
text with a unit is read here, once, and written back by `text_of`.
"""

from __future__ import annotations

import math
import re
from typing import Any

INCH = 0.0254
FOOT = 0.3048
POUND_MASS = 0.45359237
STANDARD_GRAVITY = 9.80665
POUND_FORCE = POUND_MASS * STANDARD_GRAVITY
BTU = 1055.05585262
"""International-table British thermal unit, J."""

_DEGREE = math.pi / 180.0

UNITS: dict[str, dict[str, float]] = {
    "length": {"m": 1.0, "mm": 1e-3, "cm": 1e-2, "km": 1e3, "in": INCH, "ft": FOOT},
    "angle": {"rad": 1.0, "deg": _DEGREE, "°": _DEGREE},
    "force": {"N": 1.0, "kN": 1e3, "lbf": POUND_FORCE},
    "torque": {
        "N m": 1.0,
        "N·m": 1.0,
        "Nm": 1.0,
        "ft lbf": FOOT * POUND_FORCE,
        "ft·lbf": FOOT * POUND_FORCE,
        "in lbf": INCH * POUND_FORCE,
        "in·lbf": INCH * POUND_FORCE,
    },
    "mass": {"kg": 1.0, "g": 1e-3, "lb": POUND_MASS},
    "time": {"s": 1.0, "min": 60.0, "h": 3600.0, "d": 86400.0},
    "speed": {"m/s": 1.0, "cm/s": 1e-2, "ft/s": FOOT},
    "energy": {"J": 1.0, "MJ": 1e6, "BTU": BTU},
    "power": {"W": 1.0, "BTU/h": BTU / 3600.0},
    "temperature": {"K": 1.0, "degC": 1.0, "degF": 5.0 / 9.0},
    "turning": {"turns": 1.0},
    "ratio": {"": 1.0, "%": 0.01},
}
"""Kind of quantity -> unit -> factor to SI (temperature also has an offset)."""

SI = {
    "length": "m",
    "angle": "rad",
    "force": "N",
    "torque": "N m",
    "mass": "kg",
    "time": "s",
    "speed": "m/s",
    "energy": "J",
    "power": "W",
    "temperature": "K",
    "turning": "turns",
    "ratio": "",
}

_OFFSET = {"degC": 273.15, "degF": 459.67 * 5.0 / 9.0}
LARGEST = 1e12
"""What is beyond this (SI) is a slip of the pen, and its square would spoil what is computed."""

_NUMBER = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*\Z")


def quantity(value: Any, kind: str) -> float:
    """Return ``value`` as an SI number of the given kind.

    Parameters
    ----------
    value : int, float or str
        A plain number is SI already; text is a number and a unit of this kind.
    kind : str
        A key of `UNITS`, for example ``"length"``.

    Raises
    ------
    ValueError
        If the number cannot be read, is not finite, is beyond `LARGEST`, or the unit is of another
        kind.

    Examples
    --------
    >>> quantity("1 in", "length"), quantity(0.5, "length")
    (0.0254, 0.5)
    >>> round(quantity("25 ft lbf", "torque"), 3)
    33.895
    """
    units = UNITS[kind]
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise ValueError(f"needs {_a(kind)}, found {value!r}")
    if isinstance(value, str):
        match = _NUMBER.match(value)
        if not match:
            raise ValueError(f"needs {_a(kind)} such as '1.5 {SI[kind]}', found {value!r}")
        number, unit = float(match.group(1)), " ".join(match.group(2).split())
        if unit not in units and not (unit == "" and kind == "ratio"):
            raise ValueError(_wrong_unit(value, unit, kind))
        result = number * units[unit] + _OFFSET.get(unit, 0.0)
    else:
        result = _float(value)
    if not math.isfinite(result):
        raise ValueError(f"needs a finite {kind}, found {value!r}")
    if abs(result) > LARGEST:
        raise ValueError(f"needs {_a(kind)} of {LARGEST:g} {SI[kind]} at most, found {value!r}")
    return result


def _float(value: float) -> float:
    """Return a number as a float, infinite where it is a whole number too large for one."""
    try:
        return float(value)
    except OverflowError:
        return math.inf if value > 0 else -math.inf


def _wrong_unit(text: str, unit: str, kind: str) -> str:
    known = ", ".join(u for u in UNITS[kind] if u)
    other = next((k for k, units in UNITS.items() if unit and unit in units), None)
    if other:
        return f"{text!r} is {_a(other)}, {_a(kind)} is needed ({known})"
    if not unit:
        return f"{text!r} has no unit; write a plain SI number or one of {known}"
    return f"unknown unit {unit!r} in {text!r}; {_a(kind)} takes {known}"


def _a(kind: str) -> str:
    return f"an {kind}" if kind[0] in "aeiou" else f"a {kind}"


def in_unit(value: float, unit: str) -> float:
    """Return an SI ``value`` expressed in ``unit`` (any unit of `UNITS`).

    Examples
    --------
    >>> round(in_unit(0.6096, "in"), 9)
    24.0
    >>> round(in_unit(188.7055555, "degC"), 4)
    -84.4444
    """
    for units in UNITS.values():
        if unit in units:
            return (value - _OFFSET.get(unit, 0.0)) / units[unit]
    raise ValueError(f"unknown unit {unit!r}")


_CUSTOMARY = {"m": "in", "N": "lbf", "N m": "ft lbf", "kg": "lb"}


_MOST_DIGITS = 3
_COARSE = 0.02
"""Small numbers are written so that no more than this share of them is lost."""


def text_of(value: float, unit: str, system: str = "si") -> str:
    """Return an SI value as text in ``"si"`` or ``"both"`` systems; angles in degrees.

    Examples
    --------
    >>> text_of(0.6096, "m", "both")
    '0.610 m (24.0 in)'
    >>> text_of(0.5235987755982988, "rad")
    '30.0 deg'
    >>> text_of(0.05, "m/s"), text_of(0.4, "m/s")
    ('0.05 m/s', '0.4 m/s')
    """
    if unit == "rad":
        return f"{in_unit(value, 'deg'):.1f} deg"
    if unit == "":
        return f"{value:.2f}"
    digits = 3 if unit == "m" else 1
    while unit != "m" and digits < _MOST_DIGITS and _loses(value, digits):
        digits += 1
    text = f"{value:.{digits}f} {unit}"
    if system == "both" and unit in _CUSTOMARY:
        other = _CUSTOMARY[unit]
        text += f" ({in_unit(value, other):.1f} {other})"
    return text


def _loses(value: float, digits: int) -> bool:
    return abs(value) < 1.0 and abs(round(value, digits) - value) > _COARSE * abs(value)
