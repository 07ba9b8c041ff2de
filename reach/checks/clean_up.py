"""Question. If work is stopped at any step, is it said what is done first, and is there time?

Margin. Where phases are declared: -1 where a step lies in none of them, or a phase does not say
how long its clean-up takes. Of each phase seconds between the limit and what the clean-up takes
together with the longest way home by oneself from where anyone is in it, lock included.

Limit. ``terminate_time``; the way home goes at ``pace_free`` and ``lock_time``. Exact.

Blind spots. From a crane's tip and other places without rails no way home is known; it counts
nothing, and is told. Restraints, swaps of lines and the dark are left out.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from reach.checks.ruling import clock_text, finding_in, minutes_text
from reach.clock import Span
from reach.clock.tasks import SAME
from reach.finding import Finding
from reach.ledger import Outing, names
from reach.model.outing import Phase
from reach.orders import Value
from reach.site import Site, Situation
from reach.timing import quoted, settled
from reach.travel.home import rates_of, way_home

NAME = "clean-up"
IDS = ("Q2",)
TAKES = "outing"


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return one finding about all steps, and one for each phase."""
    phases = outing.procedure.phases
    if not phases or not outing.steps:
        return []
    return [_covered(outing), *(_phase(site, outing, *one) for one in phases.items())]


def span_of(outing: Outing, phase: Phase) -> Span:
    """Return from when to when a phase is, s."""
    return Span(outing.spans[phase.start].begin, outing.spans[phase.stop_at].end)


def steps_in(outing: Outing, phase: Phase) -> list[str]:
    """Return the steps that lie in a phase, at least in part, in order."""
    span = span_of(outing, phase)
    return [
        step.name
        for step in outing.steps
        if outing.spans[step.name].begin < span.end - SAME
        and outing.spans[step.name].end > span.begin + SAME
    ]


def _covered(outing: Outing) -> Finding:
    phases = sorted(span_of(outing, one) for one in outing.procedure.phases.values())
    bare = [step.name for step in outing.steps if not _is_in(outing.spans[step.name], phases)]
    lanes = tuple(dict.fromkeys(outing.step(name).lane for name in bare))
    if not bare:
        because = f"Every step lies in one of {len(phases)} phases that say what is done first."
        last = outing.steps[-1]
        return finding_in(NAME, last.name, (last.lane,), because, 0.0)
    some = quoted(bare[:6]) + (f" and {len(bare) - 6} more" if len(bare) > 6 else "")
    because = f"No phase says what is done first if work is stopped in {some}."
    fix = f"Declare a phase from '{bare[0]}' to '{bare[-1]}'."
    return finding_in(NAME, bare[0], lanes, because, -1.0, fix=fix, steps=bare)


def _is_in(span: Span, phases: list[Span]) -> bool:
    """Return whether phases, in order of their begins, cover a span without a break."""
    if span.end <= span.begin + SAME:
        return any(one.begin - SAME <= span.begin <= one.end + SAME for one in phases)
    reached = span.begin
    for phase in phases:
        if phase.begin <= reached + SAME:
            reached = max(reached, phase.end)
    return reached >= span.end - SAME


def _phase(site: Site, outing: Outing, name: str, phase: Phase) -> Finding:
    lane = outing.step(phase.start).lane
    if phase.takes is None:
        because = f"Phase '{name}' does not say how long its clean-up takes if work is stopped."
        fix = f"Give phase '{name}' clean_up and takes."
        return finding_in(NAME, phase.start, (lane, name), because, -1.0, "s", fix=fix)
    if outing.spans[phase.stop_at].begin < outing.spans[phase.start].begin - SAME:
        because = (
            f"Phase '{name}' ends before it begins: '{phase.stop_at}' is before its first step."
        )
        fix = f"Let phase '{name}' end with a step after '{phase.start}'."
        return finding_in(NAME, phase.start, (lane, name), because, -1.0, "s", fix=fix)
    limit = site.limit("terminate_time")
    minutes, where, lost = _way_home(site, outing, phase)
    margin = settled(limit.value - phase.takes - minutes)
    what = ", ".join(phase.clean_up) or "nothing"
    home = f"{minutes_text(round(minutes))} home from {where}" if where else "nobody is away"
    unknown = f"; no way along rails is known from {', '.join(lost)}" if lost else ""
    because = (
        f"If work is stopped in phase '{name}' ({clock_text(span_of(outing, phase).begin)} to "
        f"{clock_text(span_of(outing, phase).end)}): {what} in {minutes_text(phase.takes)}, then "
        f"{home}{unknown}; the most is {minutes_text(limit.value)}."
    )
    return finding_in(
        NAME, phase.start, (lane, name), because, margin, "s", limits=(limit,),
        fix=f"Save {minutes_text(-round(margin))} of clean-up or way home in phase '{name}'.",
        takes=phase.takes, home=minutes,
    )  # fmt: skip


def _way_home(site: Site, outing: Outing, phase: Phase) -> tuple[float, str, list[str]]:
    """Return the longest time home by oneself (s), from where, and places without rails."""
    steps = set(steps_in(outing, phase))
    places: dict[tuple[str, str, str], Situation] = {}
    for one in site.asked:
        if one.step in steps and one.at and one.at not in site.scene.hatches:
            places.setdefault((one.worker, one.case, one.at), one)
    longest, where, lost = 0.0, "", []
    # Who only waits or handles things there is asked about with a body of another step.
    bodies: dict[str, dict[str, Situation]] = {}
    for one in site.asked:
        bodies.setdefault(one.worker, {})[one.case] = one
    for worker, place in _stays(outing, phase):
        for case, one in bodies.get(worker, {}).items():
            places.setdefault((worker, case, place), one)
        lost += [] if worker in bodies else [place]
    for (_, _, place), situation in places.items():
        took = _alone(site, situation, place)
        if took is None:
            lost.append(place)
        elif took > longest:
            longest, where = took, place
    return longest, where, list(dict.fromkeys(lost))


def _stays(outing: Outing, phase: Phase) -> Iterator[tuple[str, str]]:
    """Yield who is where outside at any moment of a phase, as written."""
    span, before = span_of(outing, phase), outing.start
    during: list[Mapping[str, Value]] = []
    for deed, after in zip(outing.deeds, outing.states[1:], strict=True):
        if span.begin + SAME < deed.moment < span.end - SAME:
            during += [after] if during else [before, after]
        before = after if deed.moment <= span.begin + SAME or during else before
    for values in during or [before]:
        for worker in outing.workers:
            place = values[names.place(worker)]
            is_out = values[names.outside(worker)] is True
            if is_out and isinstance(place, str) and place not in outing.scene.hatches:
                yield worker, place


def _alone(site: Site, situation: Situation, place: str) -> float | None:
    key = "minutes home", situation, place
    if key not in site.memo:
        home = way_home(site, situation, place) if site.scene.hatches else None
        site.memo[key] = None if home is None else float(rates_of(site).by_oneself(home[1].length))
    found: float | None = site.memo[key]
    return found
