"""How long workers stay in a place, as events: which two stays some order lets be at once."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from reach.checks.near_bodies import stands, task_of
from reach.clock import Span
from reach.clock.tasks import SAME
from reach.ledger import Outing
from reach.model.handling import Egress
from reach.model.procedure import Step, is_bodily
from reach.orders import Event, Link
from reach.orders.order import Ints, Order
from reach.site import Site, Situation

_Key = tuple[str, str, str]
"""Step, worker and case."""


@dataclass(frozen=True, slots=True, eq=False)
class Stay:
    """One worker in one place at one task, or at rest there after it.

    Attributes
    ----------
    situation : Situation
    is_over : bool
        Whether the step is over, and the worker still there.
    begins : Event
        It goes on once this is done.
    ends : tuple of Event
        It is over once any of these is done; empty if it lasts to the end.
    span : Span, s
        As written.
    """

    situation: Situation
    is_over: bool
    begins: Event
    ends: tuple[Event, ...]
    span: Span

    @property
    def step(self) -> str:
        """Name of the step."""
        return self.situation.step

    @property
    def worker(self) -> str:
        """Name of the worker."""
        return self.situation.worker

    @property
    def task(self) -> tuple[object, ...]:
        """What tells one body at its task from another."""
        return task_of(self.situation, self.is_over)


def stays_of(site: Site, outing: Outing) -> tuple[Stay, ...]:
    """Return every stay of a worker whose boots are placed, in the order of the steps.

    One for each situation, at work, from the begin of the step to its end; and one for the last
    of a step, at rest, from there until the worker's next step begins that asks something of
    the body, names a place or sets a restraint; none where the worker gets out of the restraint
    in the same step.  What takes the worker along, as written after the begin of the step, ends
    both.
    """
    found = [one for one in site.asked if stands(one)]
    rank = {step.name: k for k, step in enumerate(outing.steps)}
    found.sort(key=lambda one: rank[one.step])
    last = {(one.step, one.worker, one.case): one for one in site.asked}
    return tuple(stay for one in found for stay in _stays(site, outing, one, last))


def _stays(
    site: Site, outing: Outing, situation: Situation, last: Mapping[_Key, Situation]
) -> Iterator[Stay]:
    span = outing.spans[situation.step]
    deeds = outing.deeds_in(situation.step)
    rides = _rides(site, outing, situation)
    work = (deeds[-1].event, *(_first(outing, step) for step in rides))
    yield Stay(situation, False, deeds[0].event, work, _until(outing, span.begin, span.end, rides))
    if not _remains(outing, situation, last):
        return
    leaves = [*_next(outing, situation), *rides]
    rest = tuple(_first(outing, step) for step in leaves)
    yield Stay(situation, True, deeds[-1].event, rest, _until(outing, span.end, math.inf, leaves))


def _first(outing: Outing, step: str) -> Event:
    return outing.deeds_in(step)[0].event


def _until(outing: Outing, begin: float, end: float, leaves: Sequence[str]) -> Span:
    return Span(begin, min([end, *(outing.spans[step].begin for step in leaves)]))


def _remains(outing: Outing, situation: Situation, last: Mapping[_Key, Situation]) -> bool:
    """Return whether the worker is still there, as the action leaves them, when the step ends.

    ``last`` has the last situation of each step, worker and case.
    """
    mine = last[situation.step, situation.worker, situation.case]
    actions = outing.step(situation.step).actions
    at = next(i for i, action in enumerate(actions) if action is situation.action)
    return mine is situation and not any(isinstance(one, Egress) for one in actions[at:])


def _is_other(step: Step) -> bool:
    """Return whether a step may leave its worker in another place or posture than before."""
    is_set = step.where is not None or step.setting is not None
    return is_set or any(isinstance(one, Egress) or is_bodily(one) for one in step.actions)


def _next(outing: Outing, situation: Situation) -> list[str]:
    """Return the step with which the worker leaves, or takes up another task; none at the end."""
    mine = [step for step in outing.steps if step.lane == situation.worker]
    at = next(k for k, step in enumerate(mine) if step.name == situation.step)
    for step in mine[at + 1 :]:
        if _is_other(step):
            return [step.name]
    return []


def _rides(site: Site, outing: Outing, situation: Situation) -> list[str]:
    """Return the steps of others that take the worker along, as written from the step on."""
    begin = outing.spans[situation.step].begin
    return [
        one.step
        for one in site.carriages
        if one.rider is not None
        and one.rider.worker == situation.worker
        and one.step != situation.step
        and outing.spans[one.step].begin >= begin - SAME
    ]


class Stays:
    """Which stays may be at once in some order that lanes and links allow.

    Parameters
    ----------
    order : Order
    stays : sequence of Stay
    """

    def __init__(self, order: Order, stays: Iterable[Stay]) -> None:
        self.order = order
        self._done: dict[int, Ints] = {
            id(stay): order.done_with(order.places[stay.begins.name]) for stay in stays
        }

    def may_meet(self, one: Stay, other: Stay) -> bool:
        """Return whether some order lets two stays be at once.

        Exact: whatever order has both begun has done what each begin needs, and an order
        that does just that and stops is allowed.  They may meet unless one of them ends there.
        """
        done = np.maximum(self._done[id(one)], self._done[id(other)])
        ends = (self.order.places[event.name] for event in (*one.ends, *other.ends))
        return all(done[lane] <= n for lane, n in ends)

    def events_of(self, one: Stay, other: Stay) -> list[str]:
        """Return the events of an order, as short as can be, after which both have begun."""
        places = [self.order.places[stay.begins.name] for stay in (one, other)]
        return [self.order.event(place).name for place in self.order.completed(places)]


def at_once_as_written(one: Stay, other: Stay) -> bool:
    """Return whether two stays are at once as written."""
    begin = max(one.span.begin, other.span.begin)
    return min(one.span.end, other.span.end) > begin + SAME


def links_between(outing: Outing, pairs: Sequence[tuple[Stay, Stay]]) -> tuple[Link, ...]:
    """Return few links with which none of some pairs of stays may meet; none if not found.

    The later stay of a pair, as written, waits for what ends the earlier one; links that agree
    with the times as written are taken first, then those that keep most pairs apart, then
    those of which least is waited for.  None is told that the others make needless.
    """
    order = outing.examiner.order
    left, links = list(pairs), []
    while left:
        tried = {link: order.with_link(link) for link in _options(outing, order, left)}
        kept = {link: _meeting(other, left) for link, other in tried.items()}
        better = [link for link in kept if len(kept[link]) < len(left)]
        if not better:
            return ()
        best = min(better, key=lambda link: _rank(outing, link, len(kept[link])))
        links.append(best)
        left, order = kept[best], tried[best]
    for link in tuple(links):
        fewer = [one for one in links if one != link]
        if not _meeting(Order(outing.lanes, (*outing.links, *fewer)), pairs):
            links = fewer
    return tuple(links)


def _rank(outing: Outing, link: Link, n_left: int) -> tuple[bool, int, float]:
    return not agrees(outing, link), n_left, outing.spans[link.first].end


def agrees(outing: Outing, link: Link) -> bool:
    """Return whether what waits begins, as written, when what it waits for is over."""
    return outing.spans[link.first].end <= outing.spans[link.then].begin + SAME


def _meeting(order: Order, pairs: Sequence[tuple[Stay, Stay]]) -> list[tuple[Stay, Stay]]:
    stays = Stays(order, (stay for pair in pairs for stay in pair))
    return [pair for pair in pairs if stays.may_meet(*pair)]


def _options(outing: Outing, order: Order, pairs: Sequence[tuple[Stay, Stay]]) -> Iterator[Link]:
    """Yield links that make no circle, each once."""
    told = set()
    for pair in pairs:
        first, then = sorted(pair, key=lambda stay: stay.span)
        for event in first.ends:
            link = Link(event.step, then.step)
            begin, end = order.first(link.then), order.last(link.first)
            if link not in told and link.first != link.then and not _waits(order, begin, end):
                told.add(link)
                yield link


def _waits(order: Order, begin: tuple[int, int], end: tuple[int, int]) -> bool:
    """Return whether what would have to wait comes before what it would wait for."""
    return begin == end or order.is_before(begin, end)
