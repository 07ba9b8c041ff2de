"""Question. Is the outing over in time, and does each worker's suit last until they are in?

Margin. Seconds between the end of the last step and the limit; for a suit between what it lasts,
less its reserve, and how long its worker is outside: from the begin of the step in which they
come out to the end of the one in which they go in. Energy lasts as long as its rate allows.

Limit. ``outing_time``; of suits the stores that the procedure declares. Exact.

Blind spots. Times are taken as written. One rate of energy holds throughout: hard work takes more.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from reach.checks.ruling import clock_text, finding_in, minutes_text, unasked
from reach.clock import endurance
from reach.clock.tasks import SAME
from reach.finding import Finding
from reach.ledger import Outing
from reach.model.outing import Store
from reach.site import Site
from reach.timing import Out, chance_words, cuts_of, draws_of, out_of, quoted, settled

NAME = "outing"
IDS = ("T1",)
TAKES = "outing"


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return a finding about the whole outing, and one for each store of a worker's suit."""
    found = [_whole(site, outing)] if outing.is_declared and outing.steps else []
    return [*found, *_suits(outing)]


def _whole(site: Site, outing: Outing) -> Finding:
    limit = site.limit("outing_time")
    last = max(outing.steps, key=lambda step: outing.spans[step.name].end)
    margin = settled(limit.value - outing.end)
    because = (
        f"The outing ends at {clock_text(outing.end)} with step '{last.name}'; "
        f"it is to end by {clock_text(limit.value)}"
    )
    numbers: dict[str, Any] = {"end": outing.end}
    draws = draws_of(outing)
    if draws is not None:
        words, told = chance_words(draws.at() <= limit.value + SAME)
        because += f", which it does {words}"
        numbers["probability"] = (told.low, told.high)
    fix = ""
    if margin < 0.0:
        fix, cut = _fix(outing, limit.value)
        numbers["cut"] = cut
    return finding_in(
        NAME,
        last.name,
        (last.lane,),
        f"{because}.",
        margin,
        "s",
        limits=(limit,),
        fix=fix,
        **numbers,
    )


def _fix(outing: Outing, limit: float) -> tuple[str, list[str]]:
    """Name what to cut, least important first, and when it then ends."""
    told = cuts_of(outing, limit)
    steps = [step for cut in told.cuts for step in cut.option.tasks]
    end = clock_text(told.cuts[-1].end if told.cuts else told.end)
    if not steps and told.margin >= -SAME:
        return f"Close up the waits: in the written order of the steps it ends at {end}.", steps
    if told.margin >= -SAME:
        return f"Cut {quoted(steps)}: closed up in the written order it ends at {end}.", steps
    late = minutes_text(-told.margin)
    if not steps:
        return f"Save {late}, or make steps optional: closed up it ends at {end}.", steps
    return f"Cut {quoted(steps)} and save {late} more: closed up it ends at {end}.", steps


def _suits(outing: Outing) -> Iterator[Finding]:
    for worker in outing.workers:
        store = outing.procedure.stores.get(worker)
        if store is None:
            continue
        out = out_of(outing, worker)
        for what, lasts in _lasting(store):
            if out is None:
                step = outing.steps[-1].name
                yield unasked(NAME, step, (worker,), f"{worker} is never outside.", "s")
            else:
                yield _suit(worker, what, lasts, store.reserve, out)


def _lasting(store: Store) -> Iterator[tuple[str, float]]:
    """Yield what of a suit runs down, and how long the whole of it lasts, s."""
    if store.lasts is not None:
        yield "time", store.lasts
    if store.energy is not None and store.rate is not None:
        yield "energy", store.energy / store.rate


def _suit(worker: str, what: str, lasts: float, reserve: float, out: Out) -> Finding:
    told = endurance(out.begin, out.end, lasts, reserve * lasts)
    margin = settled(told.margin)
    kept = f" with {reserve:.0%} kept in reserve" if reserve else ""
    because = (
        f"{worker} is outside for {minutes_text(told.out)}, from {clock_text(out.begin)} to "
        f"{clock_text(out.end)}; the suit's {what} lasts {minutes_text(told.usable)}{kept}."
    )
    fix = f"Bring {worker} in by {clock_text(told.until)}, {minutes_text(-margin)} sooner."
    return finding_in(
        NAME, out.last, (worker,), because, margin, "s", fix=fix,
        answer=what, out=told.out, usable=told.usable, until=told.until,
    )  # fmt: skip
