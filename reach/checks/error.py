"""Question. Is the fastener still reached when socket, fastener and setting are a little off?

Two answers. *Worst case*: whatever the errors add up to; the shift is a bound, the reach that it
is taken from is measured. *Probability*: the share of drawn errors that are reached, by sampling.

Margin. Worst case: metres of reach left, with the tolerance of the tool's axis cut by the
largest turn of the boots, less the largest shift of the fastener (errors of socket and fastener,
and each joint's angle on its lever); at best what an error that may point any way leaves, where
one hand alone may do it and every other one is proved farther out than that.
Probability: the exact 95 % interval of the share, less what is asked. A draw counts as reached
when a posture can be carried all the way to it, and speaks for the high end unless it is proved
out of reach for every hand that may do it.

Limit. ``worst_error`` and ``reach_probability`` of the scene's limits. ``tolerance`` of sockets,
stations, fasteners and joints: a box holds the error each way; a sigma counts as 3 of itself in
the worst case and is normal in the draws.

Blind spots. The reach is measured in 60 directions, less the most by which they were ever seen
to flatter (0.05 m), or where that says more in 1000 directions every 5 mm, less 5 mm: measured,
not proved. By joint limits alone, as the margin of reach: clearance and sight are not looked at,
nor is the direction of a fastener's axis. Errors are drawn independently and evenly over a box.
The way to a draw is looked at every 5 mm, on to the next whole step. What has no tolerance is
taken as exact.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from reach.checks.wording import (
    blank,
    drives,
    enough,
    finding_on,
    head_mark,
    not_asked,
    ranked_attempts,
    standing,
    who,
)
from reach.finding import Finding
from reach.proportion import LEVEL, interval, percent
from reach.site import Site, Situation
from reach.straying import STEP, Strays, Ways, Worst, strays_of, ways_of, worst_of
from reach.units import text_of
from reach.work import Attempt
from reach.worker.bound import shortage
from reach.worker.figure import Figure, Grip, figure_of
from reach.worker.margin import reach_margin, sphere_points
from reach.worker.search import find_postures
from reach.worker.ways import walk_ways

Array = NDArray[np.float64]

NAME = "error"
IDS = ("A8",)

N_DRAWS = 1000
"""With all of them reached the interval begins at 0.9963; 3 misses leave 0.99 proved."""

RUNG = math.radians(0.5)
"""The axis tolerance is cut in whole steps of this, so that a larger turn never leaves more."""

WORST_SEEN = 0.05
"""Most (m) by which margins in 60 directions were above those in 146 in the trial that gave
`reach.worker.margin.WITHIN`, which holds for 95 of 100 only."""

N_CLOSE, CLOSE = 1000, 0.06
"""Directions looked at every `STEP` up to so far (m): no point is then `STEP` from one tried."""

N_TOGETHER = 20
"""So many of them share the searches that a call of `walk_ways` may spend."""


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return two findings for each thing turned whose place, setting or head has a tolerance."""
    return [one for situation in drives(situations) for one in _findings(site, situation)]


def _findings(site: Site, situation: Situation) -> list[Finding]:
    strays = strays_of(site, situation)
    assert situation.head is not None
    name = situation.head.name
    if not strays.is_any:
        because = f"Nothing says how far {name} or the place to work from may be off."
        return [not_asked(NAME, situation, because)]
    missing = blank(situation)
    if missing:
        return [_open(site, situation, missing)]
    tried = ranked_attempts(site, situation)
    if all(one.short > 0.0 for one in tried):
        because = f"{name} is out of reach as it is, so there is no reach to lose."
        return [not_asked(NAME, situation, because)]
    if tried[0].witness is None:
        because = f"No posture is known that reaches {name} as it is, so none can be carried on."
        return [not_asked(NAME, situation, because)]
    return [_worst(site, situation, strays, tried), _likely(site, situation, strays, tried)]


def _open(site: Site, situation: Situation, because: str) -> Finding:
    limits = (site.limit("worst_error"),)
    return finding_on(NAME, situation, because, -math.inf, math.inf, "m", limits)


def _worst(site: Site, situation: Situation, strays: Strays, tried: list[Attempt]) -> Finding:
    limit = site.limit("worst_error")
    worst = worst_of(site, situation, strays)
    low, hand = -math.inf, tried[0].hand
    for attempt in tried:
        if attempt.short > 0.0 or attempt.witness is None:
            continue
        kept = _kept(site, attempt, worst)
        if kept - worst.shift > low:
            low, hand = kept - worst.shift, attempt.hand
        if low >= limit.value:
            break
    high = max(low, _most_left(tried) - worst.sure)
    assert situation.head is not None
    left = f"{text_of(low, 'm')} of reach is left" if low >= 0.0 else _lacking(low)
    because = (
        f"Worst case: errors move {situation.head.name} by {text_of(worst.shift, 'm')} and turn "
        f"the boots by {text_of(worst.turn, 'rad')} at most; {left} for {who(situation)} "
        f"{standing(situation)} ({hand} hand; the shift by bound, the reach measured)."
    )
    return finding_on(
        NAME,
        situation,
        because,
        low - limit.value,
        high - limit.value,
        "m",
        (limit, site.limit("axis_tolerance")),
        "" if low >= limit.value else _fix(low - limit.value),
        (head_mark(situation, high < limit.value),),
        {
            "answer": "worst case",
            "largest shift": worst.shift,
            "largest turn": worst.turn,
            "sure shift": worst.sure,
        },
    )


def _most_left(tried: list[Attempt]) -> float:
    """Return how far (m) the fastener must move some way to be out of reach of every hand.

    Inf unless one hand alone reaches it and all others are proved out of reach all that way:
    where one hand's reach ends another's may go on.
    """
    able = [one for one in tried if one.short <= 0.0]
    if len(able) > 1 or able[0].witness is None:
        return math.inf
    margin = able[0].margin
    most = max(margin.radius + margin.within, margin.ceiling)
    return most if all(one.short > most for one in tried if one is not able[0]) else math.inf


def _lacking(low: float) -> str:
    if math.isinf(low):
        return "no reach is sure with an axis tolerance cut by so much"
    return f"{enough(-low)} more of reach is needed"


def _fix(low: float) -> str:
    if math.isinf(low):
        return "Hold the joints of the restraint to smaller errors."
    return f"Choose a setting that leaves {enough(-low)} more, or hold the places closer."


def _kept(site: Site, attempt: Attempt, worst: Worst) -> float:
    """Return the margin of reach, m, with the axis tolerance cut by the turn; -inf if unknown.

    The least over all cuts up to the turn, in whole steps.
    """
    key = ("sure margin", id(attempt))
    if key not in site.memo:
        assert attempt.witness is not None
        x = attempt.witness.posture
        site.memo[key] = attempt, _measured(attempt.figure, attempt, x, attempt.margin.radius)
    kept: float = site.memo[key][1]
    for k in range(1, math.ceil(worst.turn / RUNG - 1e-9) + 1):
        kept = min(kept, _cut(site, attempt, k))
        if math.isinf(kept):
            break
    return kept


def _cut(site: Site, attempt: Attempt, k: int) -> float:
    """Return the margin of reach, m, with the axis tolerance cut by ``k`` steps."""
    key = ("cut margin", id(attempt), k)
    if key not in site.memo:
        site.memo[key] = attempt, _margin_cut_by(attempt, k * RUNG)
    found: float = site.memo[key][1]
    return found


def _margin_cut_by(attempt: Attempt, cut: float) -> float:
    grip = attempt.figure.grip
    if cut > grip.tolerance:
        return -math.inf
    tighter = Grip(grip.tip, grip.axis, grip.tolerance - cut)
    figure = figure_of(attempt.figure.body, attempt.figure.suit, tighter)
    tip, direction = attempt.target.tip, attempt.target.direction
    found = find_postures(figure, tip, direction, "full")
    if found.violation[0] > 0.0:
        return -math.inf
    margin = reach_margin(figure, tip, direction, found.x[0])
    return _measured(figure, attempt, found.x[0], margin.radius)


def _measured(figure: Figure, attempt: Attempt, x: Array, radius: float) -> float:
    """Return the margin of reach, m, less what its measuring may hide.

    Parameters
    ----------
    x : ndarray, shape (9,)
        A posture on the target.
    radius : float, m
        The margin in 60 directions.
    """
    kept = max(0.0, radius - WORST_SEEN)
    n = math.floor(min(radius, CLOSE) / STEP + 1e-9)
    if (n - 1) * STEP <= kept:
        return kept
    target, rays = attempt.target, sphere_points(N_CLOSE)
    tips = target.tip + STEP * np.arange(1, n + 1)[:, None] * rays[:, None, :]
    directions = np.broadcast_to(target.direction, tips.shape)
    while (n - 1) * STEP > kept:
        counts = np.full(N_TOGETHER, n)
        if all(
            walk_ways(figure, tips[k], directions[k], counts, x).all()
            for k in np.arange(N_CLOSE).reshape(-1, N_TOGETHER)
        ):
            return (n - 1) * STEP
        n -= 1
    return kept


def _likely(site: Site, situation: Situation, strays: Strays, tried: list[Attempt]) -> Finding:
    limit = site.limit("reach_probability")
    best: tuple[float, int, str] | None = None
    possible = np.zeros(N_DRAWS, np.bool_)
    for attempt in tried:
        if best is not None and best[0] >= limit.value:
            possible[:] = True  # a hand not looked at may reach what the others do not
            break
        if attempt.short > 0.0:
            ways = ways_of(site, situation, strays, attempt.hand, N_DRAWS)
            possible |= ~_excluded(attempt, ways, slice(None))
            continue
        if attempt.witness is None:
            possible[:] = True
            continue
        reached, open_ = _draws(site, situation, strays, attempt)
        possible |= open_ | reached
        low = interval(int(reached.sum()), N_DRAWS)[0]
        if best is None or low > best[0]:
            best = low, int(reached.sum()), attempt.hand
    assert best is not None
    low, n_reached, hand = best
    n_possible = int(possible.sum())
    high = interval(n_possible, N_DRAWS)[1]
    assert situation.head is not None
    because = (
        f"Probability: {who(situation)} {standing(situation)} reaches {situation.head.name} with "
        f"the {hand} hand in {n_reached} of {N_DRAWS} drawn errors, {low:.2%} at least "
        f"({LEVEL:.0%} confidence)."
    )
    return finding_on(
        NAME,
        situation,
        because,
        low - limit.value,
        high - limit.value,
        "",
        (limit,),
        ""
        if low >= limit.value
        else "Choose a setting with more reach left, or hold the places closer.",
        numbers={
            "answer": f"probability {percent(low)} at least",
            "draws": N_DRAWS,
            "reached": n_reached,
            "proved out of reach": N_DRAWS - n_possible,
            "confidence": LEVEL,
        },
    )


def _draws(
    site: Site, situation: Situation, strays: Strays, attempt: Attempt
) -> tuple[np.ndarray, np.ndarray]:
    """Return which draws are reached, and which are not proved out of reach."""
    ways = ways_of(site, situation, strays, attempt.hand, N_DRAWS)
    assert attempt.witness is not None
    walked = ways.counts <= ways.tips.shape[1]
    counts = np.where(walked, ways.counts, 0)
    reached = walk_ways(attempt.figure, ways.tips, ways.directions, counts, attempt.witness.posture)
    reached &= walked
    possible = reached.copy()
    left = np.flatnonzero(~reached)
    possible[left] = ~_excluded(attempt, ways, left)
    return reached, possible


def _excluded(attempt: Attempt, ways: Ways, which: slice | np.ndarray) -> np.ndarray:
    """Return which drawn errors are proved out of reach of a hand."""
    tips, directions = ways.end_tips[which], ways.end_directions[which]
    return np.asarray(shortage(attempt.figure, tips, directions, sharp=False) > 0.0)
