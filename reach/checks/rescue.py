"""Question. Can a partner bring the worker into the lock in time if the worker cannot move?

Asked once for each worker, place where a move ends or work is done, places of the others and
lines worn, and again where one of these is on what has moved; also of who stays somewhere while
others go. The partner is the one of the others outside the lock who is there soonest.

Margin. Seconds between the rule and the time it takes: the partner leaves a restraint, goes to
the worker along rails, frees them, brings them to the nearest hatch, changes the lines that do
not serve to the end, and closes the lock. Where the lines worn are not known the low end counts
the usual number of swaps, the high end none; of several lines on one suit the low end counts a
swap for each that does not serve, the high end one if none serves.

Limit. ``return_time``; the rates are ``leave_restraint``, ``partner_pace``, ``free_casualty``,
``casualty_pace``, ``swap_time``, ``swaps`` and ``lock_time``. A line whose anchor is within
``place_span`` of the hatch needs no swap.

Blind spots. The way is the shortest over the grips of the rail graph whose gaps the worker's own
body spans; a partner of other size is not looked at. The paces are data, not found; what blocks
the way on the day, the Crane and night are left out. Where the others are is as steps are written.
"""

from __future__ import annotations

import math

from reach.checks.once import firsts
from reach.checks.wording import finding_on, not_asked, point, who
from reach.finding import Finding, Mark, Verdict
from reach.kept.noting import altered, asked_whole, step_of
from reach.rails.route import Route
from reach.site import Site, Situation
from reach.travel.ground import spots_now
from reach.travel.home import Rates, Return, rates_of, return_of
from reach.units import text_of

NAME = "rescue"
IDS = ("Q1",)

SURE = 1e-6
"""Times are sums of lengths over paces: good to this (s)."""


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each worker, place, places of the others and lines worn."""
    found = [_finding(site, situation) for situation in firsts(site, situations, _question)]
    for situation in situations:
        for last in _staying(site, situation):
            told = _finding(site, _meanwhile(last, situation))
            found += [] if told.verdict is Verdict.NOT_ASKED else [told]
    return found


def _meanwhile(last: Situation, now: Situation) -> Situation:
    """Return how it is for somebody who stays, by their last situation, when others are elsewhere.

    Parameters
    ----------
    last : Situation
        What they did last.
    now : Situation
        Of somebody else, who is elsewhere by it.
    """
    others = {**now.others, now.worker: now.at}
    return altered(
        last,
        step=step_of(now),
        at=others.pop(last.worker),
        others=others,
        inside=now.inside,
        lines=now.lines,
        more=now.more,
        surroundings=now.surroundings,
    )


@asked_whole
def _staying(site: Site, situation: Situation) -> tuple[Situation, ...]:
    """Return the last situations of those who stay outside, for whom it is a new question.

    New is what is asked of no situation of their own.
    """
    key = ("who stays while others go", site.asked)
    if key not in site.memo:
        seen = {_question(site, one) for one in site.asked}
        found: dict[int, tuple[Situation, ...]] = {}
        last: dict[str, dict[str, Situation]] = {}
        for one in site.asked:
            for worker in one.others if one.at else ():
                for mine in last.get(worker, {}).values():
                    asked = _question(site, _meanwhile(mine, one))
                    if asked not in seen and one.others[worker] not in site.scene.hatches:
                        seen.add(asked)
                        found[id(one)] = (*found.get(id(one), ()), mine)
            last.setdefault(one.worker, {})[one.case] = one
        site.memo[key] = found
    told: dict[int, tuple[Situation, ...]] = site.memo[key]
    return told.get(id(situation), ())


def _question(site: Site, situation: Situation) -> object:
    lines = tuple((name, situation.worn_by(name)) for name in _wearers(situation))
    others = tuple(sorted(situation.others.items()))
    anchors = {line.anchor for _, worn in lines for line in worn}
    names = [situation.at, *(at for _, at in others), *sorted(anchors), *site.scene.hatches]
    spots = spots_now(site, situation, names)
    return (situation.worker, situation.case, situation.at, others, lines, spots)


def _wearers(situation: Situation) -> list[str]:
    several = (name for name, lines in situation.more.items() if lines)
    return sorted({*situation.lines, *several})


def _finding(site: Site, situation: Situation) -> Finding:
    missing = _missing(site, situation)
    if missing:
        return not_asked(NAME, situation, missing, "s")
    home = return_of(site, situation)
    if home is None:
        return not_asked(NAME, situation, f"No rails lead from {situation.at} to a hatch.", "s")
    if math.isinf(home.brought):
        others = ", ".join(f"{name} at {place}" for name, place in situation.others.items())
        return not_asked(
            NAME, situation, f"No rails lead to {situation.at} from the others: {others}.", "s"
        )
    limit, rates = site.limit("return_time"), rates_of(site)
    low = limit.value - home.brought
    high = low + (home.swaps - home.fewest_swaps) * rates.swap
    because = (
        f"{home.partner} at {home.partner_place} has {who(situation)} at {home.place} in the lock "
        f"after {minutes(home.brought)} ({text_of(home.to_partner, 'm')} to them, "
        f"{text_of(home.way.length, 'm')} to {home.hatch}, {_swaps(home)}); the rule is "
        f"{minutes(limit.value)}."
    )
    return finding_on(
        NAME,
        situation,
        because,
        low - SURE,
        high + SURE,
        "s",
        (limit,),
        _fix(2.0 * SURE - low, home, rates) if low < 0.0 else "",
        _marks(home.way, low < 0.0),
        {
            "way": home.way.length,
            "partner way": home.to_partner,
            "swaps": home.swaps,
            "partner": home.partner,
            "alone": home.alone,
            "parts": _parts(home, rates),
        },
    )


def _missing(site: Site, situation: Situation) -> str:
    if not site.scene.hatches:
        return "The scene has no hatch to come home through."
    if not situation.at:
        return f"It is not known where {situation.worker} is."
    if situation.at in site.scene.hatches:
        return f"{situation.worker} is at the hatch already."
    return "" if situation.others else "No other worker is known to be outside."


def minutes(seconds: float) -> str:
    """Return a time in minutes, in words.

    Examples
    --------
    >>> minutes(1805.0)
    '30.1 min'
    """
    return f"{seconds / 60.0:.1f} min"


def _swaps(home: Return) -> str:
    count = f"{home.swaps} swap{'' if home.swaps == 1 else 's'}"
    if not home.swaps_known:
        return f"{count} taken for granted"
    return count if home.fewest_swaps == home.swaps else f"{home.fewest_swaps} to {count}"


def _parts(home: Return, rates: Rates) -> dict[str, float]:
    return {
        "leaves the restraint": rates.leave,
        "goes to the worker": home.to_partner / rates.partner,
        "frees the worker": rates.free,
        "brings the worker home": home.way.length / rates.casualty,
        "swaps": home.swaps * rates.swap,
        "lock": rates.lock,
    }


def _fix(late: float, home: Return, rates: Rates) -> str:
    """Name every single change that saves as many seconds: partner, swaps, place."""
    ways = []
    nearer = late * rates.partner
    if nearer <= home.to_partner:
        ways.append(f"keep {home.partner} {_up(nearer)} nearer")
    saved = math.ceil(late / rates.swap) if rates.swap > 0.0 else math.inf
    if home.swaps and saved <= home.swaps:
        left = f"with {home.swaps - saved} instead of {home.swaps}" if saved < home.swaps else ""
        ways.append(f"come home {left or 'without'} swaps of lines")
    # Nearer home the partner may be as much farther off: counted against it.
    gain = 1.0 / rates.casualty - 1.0 / rates.partner
    if gain > 0.0 and late / gain < home.way.length:
        ways.append(f"work {_up(late / gain)} nearer {home.hatch} along the rails")
    if not ways:
        return (
            "Move the hatch or the place of work: no single change of partner or lines is enough."
        )
    words = ", or ".join(ways)
    return f"{words[0].upper()}{words[1:]}."


def _up(length: float) -> str:
    """Return a length in words, rounded up to the centimetre: enough, no less."""
    return text_of(math.ceil(length * 100.0) / 100.0, "m")


def _marks(way: Route, bad: bool) -> tuple[Mark, ...]:
    return tuple(
        Mark("segment", (point(a), point(b)), "the way home", bad=bad)
        for a, b in zip(way.points[:-1], way.points[1:], strict=True)
    )
