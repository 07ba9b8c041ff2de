"""Question. Do a worker's hands get a rest often enough?

Margin. Seconds between the limit and the longest stretch of work by hand without a rest: from the
begin of its first step to the end of its last one, shorter pauses counted in. Hands work in steps
that turn, hold, align, carry or lay something, or that go along rails, and as long as a payload is
held.

Limit. ``hand_stretch``; a pause of ``hand_rest`` is a rest. Exact.

Blind spots. All work by hand counts alike; how hard it is, is asked by the check on effort.
"""

from __future__ import annotations

from collections.abc import Iterator

from reach.checks.ruling import clock_text, finding_in, minutes_text
from reach.clock import Span
from reach.clock.tasks import SAME
from reach.finding import Finding
from reach.ledger import Outing, names
from reach.model.handling import Attach, Install, Lay, Pass, PickUp, Remove, Stow
from reach.model.procedure import Align, Drive, HandOver, Hold, Move, Translate
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
    busy = sorted(_busy(outing, worker))
    if not busy:
        return None
    spans = [span for span, _ in busy]
    longest = max(_stretches(spans, rest.value), key=lambda span: span.end - span.begin)
    total = sum(span.end - span.begin for span in _stretches(spans, 0.0))
    margin = settled(limit.value - (longest.end - longest.begin))
    last = max((span.end, name) for span, name in busy if span.end <= longest.end)[1]
    because = (
        f"The hands of {worker} work for {minutes_text(longest.end - longest.begin)} without a "
        f"rest of {minutes_text(rest.value)}, from {clock_text(longest.begin)} to "
        f"{clock_text(longest.end)}, and for {minutes_text(total)} in all; the most is "
        f"{minutes_text(limit.value)}."
    )
    by = clock_text(longest.begin + limit.value)
    return finding_in(
        NAME, last, (worker,), because, margin, "s", limits=(limit, rest),
        fix=f"Give the hands of {worker} a rest of {minutes_text(rest.value)} by {by}.",
        stretch=longest.end - longest.begin, total=total,
    )  # fmt: skip


def _busy(outing: Outing, worker: str) -> Iterator[tuple[Span, str]]:
    """Yield when the hands of a worker are busy, and in which step."""
    for step in outing.steps:
        does = step.lane == worker and any(isinstance(one, BY_HAND) for one in step.actions)
        if does and outing.spans[step.name].end > outing.spans[step.name].begin:
            yield outing.spans[step.name], step.name
    held = [names.hands(payload) for payload in outing.scene.payloads]
    since: float | None = None
    for deed, after in zip(outing.deeds, outing.states[1:], strict=True):
        holds = any(worker in after[name] for name in held)  # type: ignore[operator]
        if holds and since is None:
            since = deed.moment
        elif not holds and since is not None:
            if deed.moment > since:
                yield Span(since, deed.moment), deed.step.name
            since = None
    if since is not None and outing.end > since:
        yield Span(since, outing.end), outing.steps[-1].name


def _stretches(spans: list[Span], rest: float) -> list[Span]:
    """Return spans, in order of their begins, joined where the pause is shorter than a rest."""
    found: list[Span] = []
    for span in spans:
        if found and span.begin - found[-1].end < max(rest - SAME, SAME):
            found[-1] = Span(found[-1].begin, max(found[-1].end, span.end))
        else:
            found.append(span)
    return found
