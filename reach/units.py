"""Quantities as people write them, turned into SI: "24 in" -> 0.6096 m.

Inside the package every length is in metres, every angle in radians, and so on;
text with a unit is read here, once, and written back by `text_of`.
"""

from __future__ import annotations

import math
import re
from decimal import Context, Decimal
from typing import Any

INCH, FOOT = Decimal("0.0254"), Decimal("0.3048")
POUND_MASS = Decimal("0.45359237")
STANDARD_GRAVITY = Decimal("9.80665")
POUND_FORCE = POUND_MASS * STANDARD_GRAVITY
BTU = Decimal("1055.05585262")
"""International-table British thermal unit, J."""

_DEGREE = Decimal("3.14159265358979323846264338327950288419716939937510") / 180
_ONE, _MILLI, _CENTI, _KILO = Decimal(1), Decimal("0.001"), Decimal("0.01"), Decimal(1000)

_FACTORS: dict[str, dict[str, Decimal]] = {
    "length": {"m": _ONE, "mm": _MILLI, "cm": _CENTI, "km": _KILO, "in": INCH, "ft": FOOT},
    "angle": {"rad": _ONE, "deg": _DEGREE, "°": _DEGREE},
    "force": {"N": _ONE, "kN": _KILO, "lbf": POUND_FORCE},
    "torque": {
        "N m": _ONE,
        "N·m": _ONE,
        "Nm": _ONE,
        "ft lbf": FOOT * POUND_FORCE,
        "ft·lbf": FOOT * POUND_FORCE,
        "in lbf": INCH * POUND_FORCE,
        "in·lbf": INCH * POUND_FORCE,
    },
    "mass": {"kg": _ONE, "g": _MILLI, "lb": POUND_MASS},
    "time": {"s": _ONE, "min": Decimal(60), "h": Decimal(3600), "d": Decimal(86400)},
    "speed": {"m/s": _ONE, "cm/s": _CENTI, "ft/s": FOOT},
    "energy": {"J": _ONE, "MJ": Decimal(1000000), "BTU": BTU},
    "power": {"W": _ONE, "BTU/h": BTU / 3600},
    "temperature": {"K": _ONE, "degC": _ONE, "degF": Decimal(5) / 9},
    "turning": {"turns": _ONE},
    "ratio": {"": _ONE, "%": _CENTI},
}
"""The factors as they are defined: what is the same in two units is the same number inside."""

UNITS: dict[str, dict[str, float]] = {
    kind: {unit: float(factor) for unit, factor in units.items()}
    for kind, units in _FACTORS.items()
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

_OFFSETS = {"degC": Decimal("273.15"), "degF": Decimal("459.67") * 5 / 9}
_EXACTLY = Context(prec=60)
"""Digits that are kept between what a file says and the float nearest to it in SI."""
_PLAIN, _CONVERTED = Context(prec=12), Decimal("1e-15")
"""A program that converts 10 N m writes 88.50745791327186 in lbf: what lies so near (a share) to a
number of so many digits is that number."""
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
        # Beyond what a float holds the exponent may be beyond a decimal as well.
        if math.isfinite(number):
            written = Decimal(match.group(1)) if number else Decimal(0)
            result = _si(written, _FACTORS[kind].get(unit, _ONE), unit)
        else:
            result = number
    else:
        result = _float(value)
    if not math.isfinite(result):
        raise ValueError(f"needs a finite {kind}, found {value!r}")
    if abs(result) > LARGEST:
        raise ValueError(f"needs {_a(kind)} of {LARGEST:g} {SI[kind]} at most, found {value!r}")
    return result


def _si(number: Decimal, factor: Decimal, unit: str) -> float:
    """Return the float nearest to a number of a unit in SI: "2 ft" and "24 in" are the same one."""
    exact = _EXACTLY.add(_EXACTLY.multiply(number, factor), _OFFSETS.get(unit, Decimal(0)))
    plain = _PLAIN.plus(exact)
    return float(plain if abs(exact - plain) <= _CONVERTED * abs(exact) else exact)


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
            return (value - float(_OFFSETS.get(unit, 0))) / units[unit]
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
