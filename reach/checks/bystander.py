"""Question. Does what is moved stay far enough from everyone who neither rides nor holds it?

Margin. Metres between the gap to the other worker, over the time that both share, and the limit:
payload, rider and boot plate are swept on their way while the other stands or moves on theirs.
The low end is a proved bound, the high end a moment at which it comes so near. Contact is certain
where, at one of 65 moments, it goes into the body deeper than a hair.

Limit. ``worker_distance``.  A worker who is named as clear-caller watches and may be nearer while
they stand: never in contact, no more is asked; nor is it of whoever moves the thing without holding
it.  Whoever moves along rails has hands and eyes on them, and keeps the distance.  Where start or
duration of a step are not written, or written as between two, or a step has several moves, the
other may be anywhere on their way at any moment: that one moment is too near is then no proof, nor
is it of who comes there at a moment that is not known, or only if some step begins later than it is
written because one before it lasts as long as it may.

Blind spots. Whoever stands is at rest, arms folded; whoever moves is straight and without arms,
at a constant pace along the corridor for the whole step.  The way from the rail to the place, what
they do with their hands, and the links of the crane are left out.
"""

from __future__ import annotations

import math
from dataclasses import replace

from reach.checks.carrying import (
    finding_of_carriage,
    gap_mark,
    interval_words,
    is_way_known,
    leg_words,
    moved_words,
    not_asked_of_carriage,
    out_of_reach,
)
from reach.checks.wording import SURE, UNKNOWN
from reach.finding import RANK, Finding, Limit
from reach.payload.bystanders import Near, is_anywhere, moves, nearest_of, others_of
from reach.payload.track import track_of
from reach.site import Carriage, Site
from reach.units import text_of

NAME = "bystander"
IDS = ("U4",)
TAKES = "carriages"


def find(site: Site, carriages: tuple[Carriage, ...]) -> list[Finding]:
    """Return one finding for each motion and other worker: where they are nearest."""
    return [finding for carriage in carriages for finding in _findings(site, carriage)]


def _findings(site: Site, carriage: Carriage) -> list[Finding]:
    others = others_of(carriage)
    if not others:
        return [not_asked_of_carriage(NAME, carriage, "Nobody else is outside.")]
    why = out_of_reach(site, carriage) if track_of(site, carriage) is None else ""
    if why:
        return [not_asked_of_carriage(NAME, carriage, why)]
    if track_of(site, carriage) is None:
        because = f"The way of {moved_words(carriage)} is not known."
        return [
            finding_of_carriage(
                NAME, carriage, because, -UNKNOWN, UNKNOWN, "m",
                (site.limit("worker_distance"),), about=(worker,),
            )
            for worker in others
        ]  # fmt: skip
    found = [_finding(site, carriage, near) for near in nearest_of(site, carriage)]
    return [_worst([one for one in found if one.about[-1] == worker]) for worker in others]


def _worst(found: list[Finding]) -> Finding:
    """Return the answer that counts of the stays and moves of one worker."""
    worst = min(found, key=lambda one: (RANK[one.verdict], one.high, one.low))
    return replace(worst, low=min(one.low for one in found))


def _finding(site: Site, carriage: Carriage, near: Near) -> Finding:
    limit = site.limit("worker_distance")
    is_caller = _is_watching(carriage, near.worker) and not moves(near.stay)
    asked = 0.0 if is_caller else limit.value
    low = near.low - asked - SURE
    high = near.high - asked + (SURE if near.high > 0.0 else -SURE)
    if near.low <= 0.0:
        low = min(low, -SURE)
    if near.unknown:
        low = -UNKNOWN
    because = _because(carriage, near, limit, is_caller, low)
    if high < 0.0 and is_somewhere(near):
        high = UNKNOWN
        because = f"{because} When {near.worker} is where is not written."
    if high < 0.0 and not is_way_known(carriage) and 0.0 < near.at < len(carriage.legs):
        # Of several ways one was looked at; it is certain where it starts and ends.
        low, high, because = -UNKNOWN, UNKNOWN, f"{because} Another way may be clear."
    return finding_of_carriage(
        NAME,
        carriage,
        because,
        low,
        high,
        "m",
        (limit,),
        _fix(carriage, near) if high < 0.0 else "",
        gap_mark(near.on_part, near.on_worker, f"{near.part} to {near.worker}", low < 0.0),
        {
            "answer": "on the way" if moves(near.stay) else "standing",
            "gap": [near.low, near.high],
            "moment": None if math.isnan(near.at) else near.at,
            "part": near.part,
            "piece": near.piece,
            "step of the other": near.stay.situation.step,
            "the other is": near.how,
            "clear-caller": is_caller,
        },
        about=(near.worker,),
    )


def _is_watching(carriage: Carriage, worker: str) -> bool:
    """Return whether a worker calls clear, or moves the thing in a step of their own."""
    return worker in (carriage.action.clear_caller, carriage.lane)


def is_somewhere(near: Near) -> bool:
    """Return whether it is not known that the other is there at the moment that is told."""
    stay = near.stay
    return is_anywhere(stay) or stay.is_later or (not stay.is_timed and stay.begins > 0.0)


def _because(carriage: Carriage, near: Near, limit: Limit, is_caller: bool, low: float) -> str:
    if near.unknown:
        known = ""
        if not math.isinf(near.high):
            known = f"; meanwhile {near.part} comes within {near.high:.3f} m of {near.worker}"
        return f"{near.unknown[:1].upper()}{near.unknown[1:]}{known}."
    who = f"{near.worker}, {near.how}"
    if math.isnan(near.at):
        return f"{moved_words(carriage)} keeps {interval_words(near.low, near.high)} from {who}."
    gap, where = interval_words(near.low, near.high), leg_words(carriage, near.at)
    if near.high <= 0.0:
        words = f"{near.part} comes into contact with {who}, {where}"
    else:
        how = ("comes within", "of") if low < 0.0 or is_caller else ("keeps", "from")
        words = f"{near.part} {how[0]} {gap} {how[1]} {who}, {where}"
    if is_caller:
        is_named = carriage.action.clear_caller == near.worker
        why = "is the clear-caller" if is_named else "moves it"
        return f"{words}; {near.worker} {why} and may be near, not touched."
    return f"{words}; {text_of(limit.value, 'm')} is asked."


def _fix(carriage: Carriage, near: Near) -> str:
    is_named = _is_watching(carriage, near.worker)
    if is_named and not moves(near.stay):
        return f"Keep {near.worker} out of the way of {near.part}."
    helps = near.high > 0.0 and not is_named and not moves(near.stay)
    words = f"Name {near.worker} as clear_caller" if helps else ""
    later = f"move {near.worker} away before {carriage.step}, or let it wait until they are gone"
    return f"{words}, or {later}." if words else f"{later[:1].upper()}{later[1:]}."
