"""Question. What share of the people who may do it can do it, and who is it that cannot?

Every person of a drawn population is tried in the place and suit of the step: *can* is a posture
that reaches, is clear and sees; *cannot* is proved, by the outer bound or by refuting every cell
of trunk postures; everybody else is *not known*.

Margin. Share of people less the share asked for. It lies between the lower end of the exact 95 %
interval of those who can and the upper end of the interval of those who can or are not known.

Limit. ``population_share`` of the scene's limits. People are invented, drawn from the survey's
means, standard deviations, percentiles and correlations.

Blind spots. The survey is of soldiers, not of the people who will go. The suit fits everybody
alike: the shoulder offsets that make a person's reach out of a suit do not show in one, and
joint ranges are the same for all. Effort is limited, so the share that is not known may be large.
Of a tool for both hands the leading hand alone is asked.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from reach.checks.wording import about, at_least, blank, drives, head_mark, standing
from reach.crowd_work import Turnout, body_attempt, turnouts_of
from reach.finding import Finding, Limit
from reach.kept.noting import step_of
from reach.proportion import LEVEL, interval, percents
from reach.site import Site, Situation
from reach.units import text_of
from reach.work import hands_of
from reach.worker.body import Body
from reach.worker.crowd import Crowd
from reach.worker.many import UNTRIED

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

NAME = "share"
IDS = ("U1P",)

SHOWN = {
    "stature": "stature",
    "thumbtipreach": "thumb-tip reach",
    "acromialheight": "acromial height",
    "trochanterionheight": "hip height",
    "biacromialbreadth": "biacromial breadth",
    "span": "span",
    "weightkg": "mass",
}
"""Dimensions told of the limiting person, as surveyed and in words."""


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each thing turned that was asked for a crowd."""
    asked: dict[tuple[str, int, str], Situation] = {}
    for situation in drives(situations):
        if situation.crowd is not None:
            key = (step_of(situation), id(situation.action), situation.worker)
            asked.setdefault(key, situation)
    return [_finding(site, one, one.crowd) for one in asked.values() if one.crowd is not None]


def _finding(site: Site, situation: Situation, crowd: Crowd) -> Finding:
    limit, n = site.limit("population_share"), len(crowd.bodies)
    missing = blank(situation)
    if missing:
        return _told(situation, crowd, missing, (0.0, 1.0), limit, {"n": n})
    turnouts = turnouts_of(site, situation)
    can = np.any([one.can for one in turnouts], axis=0)
    cannot = ~can & np.all([one.cannot for one in turnouts], axis=0)
    n_can, n_cannot = int(can.sum()), int(cannot.sum())
    n_open = n - n_can - n_cannot
    ends = interval(n_can, n)[0], interval(n_can + n_open, n)[1]
    person, room = _limiting(turnouts, crowd, can, cannot)
    assert situation.head is not None
    short = np.min([one.short for one in turnouts], axis=0)
    able = tuple(body for body in crowd.anchors if _can(site, situation, body))
    compared, counts = _percentiles(able, crowd, can, cannot, short)
    because = (
        f"Of {crowd.asked.title}, as {situation.worker} {standing(situation)}, {n_can} reach "
        f"{situation.head.name} clear and in view, {n_cannot} are proved not to and {n_open} are "
        f"not known: {LEVEL:.0%} sure, the share is {ends[0]:.3f} .. {ends[1]:.3f}. "
        f"{_person(crowd.bodies[person], room)}{compared}"
    )
    numbers = {
        "answer": _answer(n_can, n, ends, crowd.bodies[person]),
        "n": n,
        "can": n_can,
        "cannot": n_cannot,
        "not known": n_open,
        "not known lack (quartiles, rad)": _lacking(turnouts, ~can & ~cannot),
        "interval": list(ends),
        "confidence": LEVEL,
        "limiting person's room": room,
        **_limits_of(crowd.bodies[person]),
        **counts,
    }
    fix = _fix(turnouts, can, cannot, limit.value) if ends[1] < limit.value else ""
    return _told(situation, crowd, because, ends, limit, numbers, fix)


def _told(
    situation: Situation,
    crowd: Crowd,
    because: str,
    ends: tuple[float, float],
    limit: Limit,
    numbers: dict[str, object],
    fix: str = "",
) -> Finding:
    low, high = ends[0] - limit.value, ends[1] - limit.value
    return Finding(
        NAME,
        step_of(situation),
        about(situation),
        crowd.case,
        because,
        low,
        high,
        "",
        (limit,),
        fix,
        (head_mark(situation, high < 0.0),),
        numbers,
    )


def _limiting(
    turnouts: tuple[Turnout, ...],
    crowd: Crowd,
    can: Flags,
    cannot: Flags,
) -> tuple[int, float]:
    """Return the person with the least room, and that room in m; nan when it is not measured.

    Whoever is proved short by the most; else of those who cannot or are not known the one
    whose nearest posture lacks the most; else the least margin of the people who are the
    smallest or the largest in one of the dimensions shown.
    """
    short = np.min([one.short for one in turnouts], axis=0)
    if (short[cannot] > 0.0).any():
        worst = int(np.argmax(np.where(cannot, short, -np.inf)))
        return worst, -float(short[worst])
    fault = np.min([one.fault for one in turnouts], axis=0)
    for group in (cannot, ~can):
        if group.any():
            told = np.where(fault < UNTRIED, fault, 0.0)
            return int(np.argmax(np.where(group, told, -1.0))), math.nan
    table = np.array([[body.dims[key] for key in SHOWN] for body in crowd.bodies])
    extreme = sorted({*table.argmin(axis=0).tolist(), *table.argmax(axis=0).tolist()})
    radius = [max(one.margin(i).radius for one in turnouts if one.can[i]) for i in extreme]
    least = int(np.argmin(radius))
    return extreme[least], radius[least]


def _lacking(turnouts: tuple[Turnout, ...], unknown: Flags) -> list[float]:
    """Return quartiles of what the nearest postures of the not known lack, rad; empty if none."""
    fault = np.min([one.fault for one in turnouts], axis=0)[unknown]
    fault = fault[np.isfinite(fault)]
    return [float(v) for v in np.percentile(fault, (25, 50, 75))] if len(fault) else []


def _limits_of(body: Body) -> dict[str, object]:
    """Return name and dimensions of a limiting person, by the names of the numbers."""
    dims = {f"limiting {words}": body.dims[key] for key, words in SHOWN.items()}
    return {"limiting person": body.label, **dims}


def _answer(n_can: int, n: int, ends: tuple[float, float], body: Body) -> str:
    return f"{n_can} of {n} can ({percents(*ends)}), limiting {body.label}"


def _described(body: Body) -> str:
    units = {key: "kg" if key == "weightkg" else "m" for key in SHOWN}
    said = ", ".join(
        f"{words} {text_of(body.dims[key], units[key])}" for key, words in SHOWN.items()
    )
    return f"{body.label} ({said})"


def _person(body: Body, room: float) -> str:
    if math.isnan(room):
        how = "has no posture that was found"
    elif room < 0.0:
        how = f"is at least {at_least(-room)} short"
    else:
        how = f"has {text_of(room, 'm')} to spare any way"
    return f"The limiting one, {_described(body)}, {how}."


def _percentiles(
    able: tuple[Body, ...], crowd: Crowd, can: Flags, cannot: Flags, short: Array
) -> tuple[str, dict[str, object]]:
    """Say that percentile bodies are not, or may not be, the worst case; else nothing.

    Shown by people whose stature lies between those of two percentile bodies of their sex that
    can (``able``), and who are proved not to; suspected where such people are not known to.
    ``short`` is the proved shortage of each person, m, where above 0.
    """
    between = _between(able, crowd)
    proved, lost = between & cannot, between & ~can & ~cannot
    counts: dict[str, object] = {
        "percentile bodies that can": [body.label for body in able],
        "of a stature between theirs, cannot": int(proved.sum()),
        "of a stature between theirs, not known": int(lost.sum()),
    }
    failing = proved if proved.any() else lost
    if not failing.any():
        return "", counts
    sexes = {crowd.bodies[i].sex for i in np.flatnonzero(failing)}
    names = ", ".join(body.label for body in able if body.sex in sexes)
    if not proved.any():
        return (
            f" Percentile bodies may not be the worst case here: {names} can, yet no posture was "
            f"found for {_people(lost)} with a stature between theirs.",
            counts,
        )
    said = (
        f" Percentile bodies are not the worst case here: {names} can, yet {_people(proved)} with "
        "a stature between theirs are proved not to"
    )
    worst = int(np.argmax(np.where(proved, short, -np.inf)))
    if short[worst] <= 0.0:
        return f"{said}.", counts
    body = crowd.bodies[worst]
    counts |= {f"{key} between": value for key, value in _limits_of(body).items()}
    counts["limiting person's room between"] = -float(short[worst])
    how = f"the farthest by at least {at_least(float(short[worst]))}: {_described(body)}"
    return f"{said}, {how}.", counts


def _between(able: tuple[Body, ...], crowd: Crowd) -> Flags:
    """Return whose stature lies between two of the bodies of their sex, shape (n,)."""
    within = np.zeros(len(crowd.bodies), np.bool_)
    for i, one in enumerate(crowd.bodies):
        statures = [body.dims["stature"] for body in able if body.sex == one.sex]
        if len(statures) > 1:
            within[i] = min(statures) <= one.dims["stature"] <= max(statures)
    return within


def _people(who: Flags) -> str:
    n = int(who.sum())
    return "1 person" if n == 1 else f"{n} people"


def _can(site: Site, situation: Situation, body: Body) -> bool:
    tried = (body_attempt(site, situation, body, hand) for hand in hands_of(situation))
    return any(one.short <= 0.0 and one.witness is not None for one in tried)


def _fix(
    turnouts: tuple[Turnout, ...],
    can: Flags,
    cannot: Flags,
    asked: float,
) -> str:
    """Return what at least has to change for the share to be met, in words."""
    needed = math.ceil(asked * len(can)) - int((~cannot).sum())
    short = np.sort(np.min([one.short for one in turnouts], axis=0)[cannot])
    if 1 <= needed <= len(short) and short[needed - 1] > 0.0:
        metres = at_least(float(short[needed - 1]))
        return (
            f"Bring the boots or the fastener at least {metres} nearer, so that {needed} more "
            "people are no longer out of reach."
        )
    return "Free the room round the place, or work from another place, setting or hand."
