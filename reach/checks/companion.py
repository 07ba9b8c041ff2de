"""Question. Is the nearest other worker near enough, along rails, where someone is?

Asked where a move ends and at places of work, once for each worker, place and places of the others,
and again where one of these is on what has moved.

Margin. Metres between the rule and the shortest way along rails to the nearest of the others
outside the lock, over the grips of the rail graph.

Limit. ``companion_distance``. Who is in the lock is near nobody.

Blind spots. Between the ends of a move nothing is asked, nor does it count how long they are
apart. Others on the Crane, whom no rails lead to, are left out. Where the others are is as steps
are written, not at the moment. Whether they see or hear each other is not looked at.
"""

from __future__ import annotations

import math

from reach.checks.once import firsts
from reach.checks.wording import SURE, finding_on, not_asked, who
from reach.finding import Finding
from reach.site import Site, Situation
from reach.travel.ground import spots_now
from reach.travel.home import along_rails
from reach.units import text_of

NAME = "companion"
IDS = ("Q3",)


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each worker, place and places of the others."""
    return [_finding(site, situation) for situation in firsts(site, situations, _question)]


def _question(site: Site, situation: Situation) -> object:
    others = tuple(sorted(situation.others.items()))
    spots = spots_now(site, situation, [situation.at, *(at for _, at in others)])
    return (situation.worker, situation.case, situation.at, others, spots)


def _finding(site: Site, situation: Situation) -> Finding:
    others, at = situation.others, situation.at
    if not at:
        return not_asked(NAME, situation, f"It is not known where {situation.worker} is.", "m")
    if not others:
        return not_asked(NAME, situation, "No other worker is known to be outside.", "m")
    away, other, place = min(
        (along_rails(site, situation, place, at), name, place) for name, place in others.items()
    )
    if math.isinf(away):
        where = ", ".join(f"{name} at {place}" for name, place in others.items())
        return not_asked(NAME, situation, f"No rails lead from {at} to the others: {where}.", "m")
    limit = site.limit("companion_distance")
    margin = limit.value - away
    because = (
        f"{other} at {place} is {text_of(away, 'm')} along rails from {who(situation)} at {at}; "
        f"the rule is {text_of(limit.value, 'm')}."
    )
    nearer = text_of(math.ceil((2.0 * SURE - margin) * 100.0) / 100.0, "m")
    return finding_on(
        NAME,
        situation,
        because,
        margin - SURE,
        margin + SURE,
        "m",
        (limit,),
        f"Keep {other} or {situation.worker} {nearer} nearer to the other." if margin < 0.0 else "",
        numbers={"distance": away, "companion": other},
    )
