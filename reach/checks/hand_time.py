"""Question. Do a worker's hands get a rest often enough?

Margin. Seconds between the limit and the longest stretch of work by hand without a rest: from the
begin of its first step to the end of its last one, shorter pauses counted in. Hands work in steps
that turn, hold, align, carry or lay something, or that go along rails, and as long as a payload is
held.

Limit. ``hand_stretch``; a pause of ``hand_rest`` is a rest. Exact, but for a hold by who stays
where they are while others move the payload away, or by who rides away from it: hands may let go
from when that may begin until they take hold again. The high end leaves such time out.

Blind spots. All work by hand counts alike; how hard it is, is asked by the check on effort.
"""

from __future__ import annotations

from collections.abc import Iterator

from reach.checks.ruling import clock_text, finding_in, minutes_text
from reach.clock import Span
from reach.clock.tasks import SAME
from reach.finding import Finding
from reach.ledger import Deed, Outing, names
from reach.model.handling import Attach, Install, Lay, Pass, PickUp, Remove, Stow
from reach.model.procedure import Align, Drive, HandOver, Hold, Move, Moving, Translate
from reach.orders.events import as_set
from reach.site import Site
from reach.timing import settled

NAME = "hand-time"
IDS = ("T5",)
TAKES = "outing"

BY_HAND = (
    Align, Attach, Drive, HandOver, Hold, Install, Lay, Move, Pass, PickUp, Remove, Stow, Translate,
)  # fmt: skip
"""Actions that hands work in; cranes move by themselves."""


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return one finding for each worker who works by hand."""
    if not outing.is_declared:
        return []
    found = [_finding(site, outing, worker) for worker in outing.workers]
    return [one for one in found if one is not None]


def _finding(site: Site, outing: Outing, worker: str) -> Finding | None:
    limit, rest = site.limit("hand_stretch"), site.limit("hand_rest")
    busy = sorted([*_working(outing, worker), *_holding(outing, worker)])
    if not busy:
        return None
    sure = sorted([*_working(outing, worker), *_holding(outing, worker, surely=True)])
    spans = [span for span, _ in busy]
    longest = max(_stretches(spans, rest.value), key=lambda span: span.end - span.begin)
    total = sum(span.end - span.begin for span in _stretches(spans, 0.0))
    least = max(
        (one.end - one.begin for one in _stretches([span for span, _ in sure], rest.value)),
        default=0.0,
    )
    margin = settled(limit.value - (longest.end - longest.begin))
    high = settled(limit.value - least)
    last = max((span.end, name) for span, name in busy if span.end <= longest.end)[1]
    because = (
        f"The hands of {worker} work for {minutes_text(longest.end - longest.begin)} without a "
        f"rest of {minutes_text(rest.value)}, from {clock_text(longest.begin)} to "
        f"{clock_text(longest.end)}, and for {minutes_text(total)} in all; the most is "
        f"{minutes_text(limit.value)}."
    )
    if margin < 0.0 <= high:
        because += (
            f" What {worker} holds is moved away from them meanwhile: whether that hold lasts is "
            f"not said; it is {minutes_text(least)} where it does not."
        )
    by = clock_text(longest.begin + limit.value)
    return finding_in(
        NAME, last, (worker,), because, (margin, high), "s", limits=(limit, rest),
        fix=f"Give the hands of {worker} a rest of {minutes_text(rest.value)} by {by}.",
        stretch=longest.end - longest.begin, total=total,
    )  # fmt: skip


def _working(outing: Outing, worker: str) -> Iterator[tuple[Span, str]]:
    """Yield when a worker does something by hand, and in which step."""
    for step in outing.steps:
        does = step.lane == worker and any(isinstance(one, BY_HAND) for one in step.actions)
        if does and outing.spans[step.name].end > outing.spans[step.name].begin:
            yield outing.spans[step.name], step.name


def _holding(outing: Outing, worker: str, surely: bool = False) -> Iterator[tuple[Span, str]]:
    """Yield when a worker holds a payload, and in which step that ends; or surely holds it."""
    for payload in outing.scene.payloads:
        hands, parted = names.hands(payload), names.parted(payload)
        since: float | None = None
        for deed, after in zip(outing.deeds, outing.states[1:], strict=True):
            holds = worker in as_set(after[hands])
            holds = holds and not (surely and worker in as_set(after[parted]))
            if holds and since is None:
                since = deed.moment
            elif not holds and since is not None:
                until = _from(outing, deed, payload) if surely else deed.moment
                if until > since:
                    yield Span(since, until), deed.step.name
                since = None
        if since is not None and outing.end > since:
            yield Span(since, outing.end), outing.steps[-1].name


def _from(outing: Outing, deed: Deed, payload: str) -> float:
    """Return from when a payload may be moved that is elsewhere with a deed, or a crane goes, s."""
    if isinstance(deed.action, Moving):
        before = [one.moment for one in outing.deeds_in(deed.step.name) if one.i < deed.i]
        return max(before, default=deed.moment)
    name = names.pose(payload)
    if deed.action is not None or name not in deed.event.writes:
        return deed.moment
    # Who moved it, and when, is not written: at any time since it was last said to be somewhere.
    earlier = outing.deeds[: outing.rank(deed)]
    return max((one.moment for one in earlier if name in one.event.writes), default=0.0)


def _stretches(spans: list[Span], rest: float) -> list[Span]:
    """Return spans, in order of their begins, joined where the pause is shorter than a rest."""
    found: list[Span] = []
    for span in spans:
        if found and span.begin - found[-1].end < max(rest - SAME, SAME):
            found[-1] = Span(found[-1].begin, max(found[-1].end, span.end))
        else:
            found.append(span)
    return found
