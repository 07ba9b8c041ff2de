"""Question. From which socket, at which setting, does everything asked work for every body?

Margin. Metres: the least margin of reach over all targets and bodies at the best setting tried
that has clear, seeing postures for all of them; where every setting is excluded, how far some
question falls short at least at the best of them.

Limit. ``reach_margin`` of the scene's limits. A pass has a witness posture for every question, and
the checks judge that setting beside it. A fail has a proof: the outer bound excludes every setting
of every socket looked at for some question, one bound a socket or one a setting; where joints have
no detents only the first kind counts. Everything else is open and says what blocked the nearest.

Blind spots. The best of the settings tried is not the best of all: what was not tried is said.
Only sockets that are free in the scene are looked at, not who stands there at that time. How the
restraint gets there and whether a moved socket has structure to sit on is not looked at.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from reach.checks.fixes import either
from reach.checks.wording import SURE, at_least
from reach.finding import Finding, Limit
from reach.plan.grid import Grid
from reach.plan.ranking import Ranking, Served
from reach.plan.remedies import Remedy
from reach.site import Situation
from reach.worker.margin import WITHIN

NAME = "settings"
IDS = ("A2",)


def sure(margin: float) -> str:
    """Return a margin measured along directions in words, less its error.

    Examples
    --------
    >>> sure(0.42), sure(0.01)
    ('0.405 m', '0.000 m')
    """
    return at_least(max(0.0, margin - WITHIN))


def heads(asks: Sequence[Situation]) -> tuple[str, ...]:
    """Return the names of what is asked, once each."""
    return tuple(dict.fromkeys(head_name(ask) for ask in asks))


def head_name(ask: Situation) -> str:
    """Return the name of the fastener that is asked about."""
    assert ask.head is not None
    return ask.head.name


def bodies(asks: Sequence[Situation]) -> str:
    """Return worker and bodies in words."""
    cases = list(dict.fromkeys(ask.case for ask in asks))
    return f"{asks[0].worker} ({', '.join(cases)})"


def found(
    asks: Sequence[Situation],
    grid: Grid,
    ranking: Ranking,
    best: Served,
    restraint: str,
    limit: Limit,
    notes: Sequence[str],
    lacks: str,
) -> Finding:
    """Return the finding of a search that found a setting.

    ``lacks`` says which checks do not pass there; then the search is open.
    """
    k = best.margins.index(best.worst)
    where = best.candidate
    does = f"reaches {', '.join(heads(asks))} but not everything passes there ({lacks})"
    if not lacks:
        does = f"serves {', '.join(heads(asks))}"
    because = (
        f"{restraint} in {where.socket} at {where.words} {does}, for {bodies(asks)}; the least "
        f"margin of reach is that of {head_name(asks[k])} for the {asks[k].case} body. "
        f"{_sockets(grid)} with {len(grid.angles)} settings that differ in pose were looked at, "
        f"{ranking.n_looked} of them by postures."
    )
    # Scores are no bound: how much better the best of all settings is, is not known.
    low = -math.inf if lacks else max(0.0, best.worst - WITHIN) - limit.value
    high = math.inf
    numbers = {
        "socket": where.socket,
        "setting": where.angles,
        "margins": {_label(ask): margin for ask, margin in zip(asks, best.margins, strict=True)},
        "hands": {_label(ask): hand for ask, hand in zip(asks, best.hands, strict=True)},
        "settings tried": ranking.n_looked,
        "others better by at most": ranking.gap,
    }
    return _finding(asks, because, low, high, (limit,), " ".join(notes), numbers)


def none_found(
    asks: Sequence[Situation],
    grid: Grid,
    ranking: Ranking,
    anew: Sequence[str],
    changes: Sequence[Remedy],
    restraint: str,
    every: bool,
    blocked: str,
) -> Finding:
    """Return the finding of a search that found none: a certificate where there is a proof.

    ``every`` says whether all free sockets were looked at, ``blocked`` what the nearest miss lacks,
    ``anew`` names sockets from which each target works at a setting of its own.
    """
    fixes = [
        f"Leave {restraint} in {socket} and set it anew for each target (listed above)"
        for socket in anew[:1]
    ]
    fixes += [
        f"{one.words}, then {one.served.candidate.socket} at {one.served.candidate.words} "
        f"(margin {sure(one.served.worst)} at least)"
        for one in changes
    ]
    if grid.is_excluded and not fixes:
        metres = at_least(max(0.0, grid.short[grid.nearest].metres))
        fixes = [f"Move {grid.nearest}, or what is out of its reach, at least {metres} nearer"]
    fix = either(fixes)
    numbers = {
        "proved short by socket": {name: one.metres for name, one in grid.short.items()},
        "settings not excluded": len(grid.rows),
        "settings tried": ranking.n_looked,
    }
    stepless = any(not joint.stops for joint in grid.restraint.joints)
    if grid.is_excluded and not (stepless and any(not one.whole for one in grid.short.values())):
        because = _certificate(asks, grid, restraint, every)
        short = max(grid.short[grid.nearest].metres, SURE)
        return _finding(asks, because, -math.inf, -short, (), fix, numbers)
    because = _open(asks, grid, ranking, restraint, stepless, blocked)
    return _finding(asks, because, -math.inf, math.inf, (), fix, numbers)


def _certificate(asks: Sequence[Situation], grid: Grid, restraint: str, every: bool) -> str:
    """Return the proof in words; a target that is out of reach by itself is named."""
    least = grid.short[grid.nearest]
    ask = asks[least.ask]
    looked = "any free socket" if every else " or ".join(grid.sockets)
    words = (
        f"No setting of {restraint} in {looked} serves {', '.join(heads(asks))} for "
        f"{bodies(asks)}: short by {at_least(least.metres)} at best, in {grid.nearest}, where "
        f"{head_name(ask)} is out of reach of the {ask.case} body (outer bound)."
    )
    alone = {k: _alone(grid, k) for k in range(len(asks))}
    for name in heads(asks):
        mine = [k for k, ask in enumerate(asks) if head_name(ask) == name]
        easiest = min(mine, key=lambda k: alone[k])
        short, socket = alone[easiest]
        if short > 0.0 and len(asks) > 1:
            by = f"{name} alone is short by {at_least(short)} at best, from {socket}"
            return f"{words} {by}, even for the {asks[easiest].case} body."
    return words


def _alone(grid: Grid, k: int) -> tuple[float, str]:
    """Return the least proved shortage (m) of one question over all sockets, and where."""
    return min((float(short[k]), name) for name, short in grid.alone.items())


def _open(
    asks: Sequence[Situation],
    grid: Grid,
    ranking: Ranking,
    restraint: str,
    stepless: bool,
    blocked: str,
) -> str:
    base = (
        f"No setting of {restraint} was found that serves {', '.join(heads(asks))} for "
        f"{bodies(asks)}, and {len(grid.rows)} of {grid.n_settings} settings cannot be excluded"
    )
    if stepless and not len(grid.rows):
        base += " for what lies between the steps of joints without detents"
    if ranking.misses:
        miss = ranking.misses[0]
        ask = asks[miss.ask]
        return (
            f"{base}; the nearest, {miss.candidate.socket} at {miss.candidate.words}, reaches all "
            f"by joint limits, but no posture was found that is also clear and sees "
            f"{head_name(ask)} for the {ask.case} body; the nearest one lacks {blocked}."
        )
    if ranking.lost:
        k = max(ranking.lost, key=lambda k: (ranking.lost[k], -k))
        return (
            f"{base}; of {ranking.n_looked} tried by postures, {ranking.lost[k]} do not bring "
            f"{head_name(asks[k])} within the joint limits of the {asks[k].case} body."
        )
    return f"{base}; none looked likely enough to be tried by postures."


def _sockets(grid: Grid) -> str:
    n = len(grid.sockets)
    return f"{n} socket{'' if n == 1 else 's'}"


def _label(ask: Situation) -> str:
    return f"{head_name(ask)}, {ask.case}"


def _finding(
    asks: Sequence[Situation],
    because: str,
    low: float,
    high: float,
    limits: tuple[Limit, ...],
    fix: str,
    numbers: dict[str, object],
) -> Finding:
    cases = ", ".join(dict.fromkeys(ask.case for ask in asks))
    about = (asks[0].worker, *heads(asks))
    return Finding(NAME, "search", about, cases, because, low, high, "m", limits, fix, (), numbers)
