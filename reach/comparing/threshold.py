"""By how much a margin must fall or rise to be told."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from reach.units import SI, UNITS, quantity, text_of

LEAST = {
    "m": 0.02,
    "rad": math.radians(1.0),
    "N m": 1.0,
    "N": 10.0,
    "s": 60.0,
    "": 0.05,
}
"""What is told where nothing else is asked, by the unit of the margin.

It stands in code: it says what is shown, not what is good enough."""


@dataclass(frozen=True, slots=True)
class Threshold:
    """The least change of a margin that is told.

    Attributes
    ----------
    least : mapping of unit -> float, SI
    share : float
        Of what was left or missing; the larger of both holds.
    """

    least: Mapping[str, float]
    share: float = 0.0

    def of(self, unit: str, margin: float) -> float:
        """Return the threshold for a margin in an SI unit."""
        amount = self.share * abs(margin) if math.isfinite(margin) else 0.0
        return max(self.least.get(unit, 0.0), amount)

    @property
    def words(self) -> str:
        """The thresholds, unit by unit."""
        told = [text_of(value, unit) for unit, value in self.least.items()]
        more = f", and {self.share:.0%} of what was left or missing" if self.share else ""
        return ", ".join(told) + more


def threshold_of(text: str | None) -> Threshold:
    """Return thresholds typed with commas between them; units that are not named keep theirs.

    Parameters
    ----------
    text : str or None
        Such as ``"0.05 m, 2 deg"``; a plain number is for shares, per cent is a share of the
        margin that was there.

    Raises
    ------
    ValueError
        Naming what cannot be read.

    Examples
    --------
    >>> threshold_of("5 cm").of("m", 0.3), threshold_of("20 %").of("m", 0.5)
    (0.05, 0.1)
    """
    least, share = dict(LEAST), 0.0
    for part in (text or "").split(","):
        typed = part.strip()
        if not typed:
            continue
        if typed.endswith("%"):
            share = _positive(typed, "ratio")
        else:
            kind = _kind(typed)
            least[SI[kind]] = _positive(typed, kind)
    return Threshold(least, share)


def _kind(text: str) -> str:
    """Return the kind of quantity that a text holds, of those that margins have."""
    unit = text.lstrip("+-0123456789.eE \t") if not _is_number(text) else ""
    for kind, units in UNITS.items():
        if SI[kind] in LEAST and unit in units:
            return kind
    known = ", ".join(unit for unit in LEAST if unit)
    raise ValueError(f"needs an amount in a unit of margins ({known}), found {text!r}")


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def _positive(text: str, kind: str) -> float:
    value = quantity(text, kind)
    if value < 0.0:
        raise ValueError(f"must not be negative, found {text!r}")
    return value
