"""Question. Is the fastener still reached when socket, fastener and setting are a little off?

Two answers. *Worst case*: whatever the errors add up to, by bound and proof alone. *Probability*:
the share of drawn errors that are reached, by sampling.

Margin. Worst case: metres that are proved beyond the largest shift of the fastener (errors of
socket and fastener, and each joint's angle on its lever), with the tolerance of the tool's axis
cut by the largest turn of the boots: every point of a ball about the fastener's place is shown to
have a posture, by small balls that one posture each serves. It is driven no farther than 0.05 m
beyond what is asked. At best what an error that may point any way leaves, where one hand alone
may do it and every other one is proved farther out than that.
Probability: the exact 95 % interval of the share, less what is asked. A draw counts as reached
when a posture can be carried all the way to it, and speaks for the high end unless it is proved
out of reach for every hand that may do it.

Limit. ``worst_error`` and ``reach_probability`` of the scene's limits. ``tolerance`` of sockets,
stations, fasteners and joints: a box holds the error each way; a sigma counts as 3 of itself in
the worst case and is normal in the draws.

Blind spots. By joint limits alone, as the margin of reach: clearance and sight are not looked at.
All that the errors can do is enclosed in one ball and one cone of directions, so more is asked
than can happen; the ball that is proved stops short of the reach there is, by some millimetres to
centimetres near a limit, and none larger than 0.3 m is tried. A normal error beyond 3 sigma is
outside the worst case. Errors are drawn independently and evenly over a box. The way to a draw is
looked at every 5 mm, on to the next whole step. What has no tolerance is taken as exact.
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
    point,
    ranked_attempts,
    standing,
    who,
)
from reach.finding import Finding, Mark
from reach.geometry import transform_points
from reach.proportion import LEVEL, interval, percent
from reach.site import Site, Situation
from reach.straying import Strays, Ways, Worst, strays_of, ways_of, worst_of
from reach.units import text_of
from reach.work import Attempt
from reach.worker.bound import shortage
from reach.worker.cover import Cover, prove_ball
from reach.worker.figure import Grip, figure_of
from reach.worker.ways import walk_ways

Array = NDArray[np.float64]

NAME = "error"
IDS = ("A8",)

N_DRAWS = 1000
"""With all of them reached the interval begins at 0.9963; 3 misses leave 0.99 proved."""

RUNG = math.radians(0.5)
"""The axis tolerance is cut in whole steps of this, so that a larger turn never leaves more."""

BEYOND = 0.05
"""The ball that is proved is driven so much (m) beyond what is asked, no farther."""


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
    wanted = worst.shift + max(0.0, limit.value) + BEYOND
    able = [one for one in tried if one.short <= 0.0 and one.witness is not None]
    attempt, cover = able[0], _proved(site, able[0], worst, wanted)
    for other in able[1:]:
        if cover.radius >= wanted:
            break
        more = _proved(site, other, worst, wanted)
        if more.radius > cover.radius:
            attempt, cover = other, more
    low = cover.radius - worst.shift
    high = max(low, _most_left(tried) - worst.sure)
    assert situation.head is not None
    because = (
        f"Worst case: errors move {situation.head.name} by {text_of(worst.shift, 'm')} and turn "
        f"the boots by {text_of(worst.turn, 'rad')} at most; {_told(cover, low)} for "
        f"{who(situation)} {standing(situation)} ({attempt.hand} hand, by joint limits)."
    )
    marks = [head_mark(situation, high < limit.value)]
    if low < limit.value and not np.isnan(cover.blocked).any():
        at = point(_in_world(attempt, cover.blocked))
        marks.append(Mark("point", (at,), "not proved from here on"))
        because += f" The proof ends at ({', '.join(f'{v:.3f}' for v in at)}) m, world."
    return finding_on(
        NAME,
        situation,
        because,
        low - limit.value,
        high - limit.value,
        "m",
        (limit, site.limit("axis_tolerance")),
        "" if low >= limit.value else _fix(low - limit.value),
        tuple(marks),
        {
            "answer": "worst case",
            "largest shift": worst.shift,
            "largest turn": worst.turn,
            "sure shift": worst.sure,
            "proved radius": max(0.0, cover.radius),
        },
    )


def _told(cover: Cover, low: float) -> str:
    if math.isinf(low):
        return "nothing is proved with an axis tolerance cut by so much"
    spare = f"{text_of(low, 'm')} to spare" if low >= 0.0 else f"{enough(-low)} too little"
    return f"every point up to {text_of(cover.radius, 'm')} off is proved to be reached, {spare},"


def _in_world(attempt: Attempt, offset: Array) -> Array:
    """Return a point given from the target in the boot frame of the right-handed question."""
    found: Array = transform_points(attempt.world_from_boots, (attempt.target.tip + offset)[None])[
        0
    ]
    return found


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


def _fix(low: float) -> str:
    if math.isinf(low):
        return "Hold the joints of the restraint to smaller errors."
    return f"Choose a setting that leaves {enough(-low)} more, or hold the places closer."


def _proved(site: Site, attempt: Attempt, worst: Worst, wanted: float) -> Cover:
    """Return the ball proved with the axis tolerance cut by the turn; -inf if it takes all.

    The least over all cuts up to the turn, in whole steps: a larger one never proves more.
    """
    n = math.ceil(worst.turn / RUNG - 1e-9)
    if n * RUNG > attempt.figure.grip.tolerance + 1e-12:
        return Cover(-math.inf, 0, np.full(3, np.nan))
    return min((_cut(site, attempt, k, wanted) for k in range(n + 1)), key=lambda one: one.radius)


def _cut(site: Site, attempt: Attempt, k: int, wanted: float) -> Cover:
    """Return the ball proved with the axis tolerance cut by ``k`` steps."""
    key = ("proved ball", id(attempt), k, wanted)
    if key not in site.memo:
        grip, target = attempt.figure.grip, attempt.target
        tighter = Grip(grip.tip, grip.axis, max(0.0, grip.tolerance - k * RUNG))
        figure = figure_of(attempt.figure.body, attempt.figure.suit, tighter)
        assert attempt.witness is not None
        x = attempt.witness.posture
        site.memo[key] = attempt, prove_ball(figure, target.tip, target.direction, x, wanted)
    found: Cover = site.memo[key][1]
    return found


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
