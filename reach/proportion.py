"""A share counted on a sample, and the interval that holds the true share."""

from __future__ import annotations

import math

LEVEL = 0.95
"""Confidence of the intervals that findings carry."""


def interval(successes: int, n: int, level: float = LEVEL) -> tuple[float, float]:
    """Return the exact two-sided confidence interval of a share, after Clopper and Pearson.

    Parameters
    ----------
    successes, n : int
        0 <= successes <= n, n >= 1.
    level : float
        Probability that the interval holds the true share, at least.

    Raises
    ------
    ValueError
        If the counts or the level make no sense.

    References
    ----------
    Clopper and Pearson, Biometrika 26 (1934) 404-413; by quantiles of the beta distribution.

    Examples
    --------
    >>> [round(end, 4) for end in interval(9, 10)]
    [0.555, 0.9975]
    >>> interval(0, 10)[0], interval(10, 10)[1]
    (0.0, 1.0)
    """
    if n < 1 or not 0 <= successes <= n:
        raise ValueError(f"needs 0 <= successes <= n and n >= 1, found {successes} of {n}")
    if not 0.0 < level < 1.0:
        raise ValueError(f"level must lie between 0 and 1, found {level!r}")
    tail = 0.5 * (1.0 - level)
    from scipy.special import betaincinv

    low = 0.0 if successes == 0 else float(betaincinv(successes, n - successes + 1, tail))
    high = 1.0 if successes == n else float(betaincinv(successes + 1, n - successes, 1.0 - tail))
    return low, high


def percent(share: float, up: bool = False) -> str:
    """Return a share as text, rounded down (or up) to a tenth of a percent.

    Examples
    --------
    >>> percent(0.99963), percent(0.99963, up=True), percent(1.0)
    ('99.9 %', '100.0 %', '100.0 %')
    """
    parts = 1000.0 * share
    whole = math.ceil(parts - 1e-9) if up else math.floor(parts + 1e-9)
    return f"{whole / 10.0:.1f} %"


def percents(low: float, high: float) -> str:
    """Return an interval of shares as text, rounded outward.

    Examples
    --------
    >>> percents(0.85412, 0.97601)
    '85.4 .. 97.7 %'
    """
    return f"{percent(low).removesuffix(' %')} .. {percent(high, up=True)}"
