"""Question. Is a crane asked to do two things at once, as written or in another order?

Margin. 0 where every two steps that need the crane come one after the other; -1 where two of them
are at once as written, or may be since neither lane nor link orders them.

Limit. None: a crane does one thing at a time. Exact.

Blind spots. A step needs a crane if it moves it, or if the lane of its operator is in it; that a
worker at the tip needs it to stand still is not looked at. With several cranes an operator's lane
stands for the one crane that its steps move.
"""

from __future__ import annotations

from reach.checks.ruling import clock_text, finding_in, minutes_text
from reach.clock import Booking, Conflict, conflicts
from reach.finding import Finding
from reach.ledger import Outing
from reach.model.procedure import MoveCrane, Step
from reach.motions import crane_of
from reach.orders import overlaps
from reach.site import Site
from reach.timing import quoted

NAME = "device"
IDS = ("M4",)
TAKES = "outing"


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return for each crane a finding for every two steps at once, else one that it is free."""
    if not outing.is_declared:
        return []
    booked = _bookings(outing)
    names = list(dict.fromkeys(one.device for one in booked))
    return [found for crane in names for found in _about(outing, crane, booked)]


def _bookings(outing: Outing) -> list[Booking]:
    of_lane = _cranes_of_lanes(outing)
    found = []
    for step in outing.steps:
        cranes = {crane_of(outing.scene, a) for a in step.actions if isinstance(a, MoveCrane)}
        cranes |= {of_lane[lane] for lane in (step.lane, *step.others) if lane in of_lane}
        found += [Booking(crane, step.name, outing.spans[step.name]) for crane in sorted(cranes)]
    return found


def _cranes_of_lanes(outing: Outing) -> dict[str, str]:
    """Return which crane the lane of an operator stands for, where that is clear."""
    found = {}
    for lane, kind in outing.procedure.lanes.items():
        if kind != "crane":
            continue
        moved = {
            crane_of(outing.scene, action)
            for step in outing.steps
            for action in step.actions
            if isinstance(action, MoveCrane) and lane in (step.lane, *step.others)
        }
        moved = moved or set(outing.scene.cranes)
        if len(moved) == 1:
            found[lane] = min(moved)
    return found


def _about(outing: Outing, crane: str, booked: list[Booking]) -> list[Finding]:
    mine = [one for one in booked if one.device == crane]
    at_once = conflicts(mine)
    told = {frozenset((one.first, one.second)) for one in at_once}
    found = [_conflict(outing, crane, one) for one in at_once]
    asked = {one.task for one in mine}
    for pair in overlaps(outing.lanes, outing.links):
        first, second = sorted(pair, key=lambda name: outing.spans[name])
        if {first, second} <= asked and frozenset(pair) not in told:
            found.append(_in_another_order(outing, crane, first, second))
    return found or [_free(outing, crane, mine)]


def _lanes(step: Step) -> str:
    return " and ".join((step.lane, *step.others))


def _conflict(outing: Outing, crane: str, one: Conflict) -> Finding:
    first, second = outing.step(one.first), outing.step(one.second)
    length = minutes_text(one.span.end - one.span.begin)
    because = (
        f"{crane} is asked for two things at once for {length} from {clock_text(one.span.begin)}: "
        f"step '{first.name}' ({_lanes(first)}) and step '{second.name}' ({_lanes(second)})."
    )
    free = clock_text(outing.spans[first.name].end)
    return finding_in(
        NAME, second.name, (second.lane, crane, first.name), because, -1.0,
        fix=f"Begin step '{second.name}' at {free}, after step '{first.name}'.",
        orders="as written", overlap=one.span.end - one.span.begin,
    )  # fmt: skip


def _in_another_order(outing: Outing, crane: str, first: str, second: str) -> Finding:
    because = (
        f"{crane} may be asked for steps '{first}' and '{second}' at once: they are in lanes of "
        "their own and nothing makes one wait for the other."
    )
    lane = outing.step(second).lane
    return finding_in(
        NAME, second, (lane, crane, first), because, -1.0,
        fix=f"Let step '{second}' wait: after = ['{first}'].", orders="another order",
    )  # fmt: skip


def _free(outing: Outing, crane: str, mine: list[Booking]) -> Finding:
    names = list(dict.fromkeys(one.task for one in mine))
    count = f"{len(names)} steps, {quoted(names)}" if len(names) < 4 else f"{len(names)} steps"
    because = f"{crane} is asked for one thing at a time by its {count}, in every order."
    last = outing.step(names[-1])
    return finding_in(NAME, last.name, (last.lane, crane), because, 0.0, orders="all")
