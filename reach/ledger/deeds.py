"""From steps to deeds: what is done in which order, as written, and what each changes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from reach.clock import Span
from reach.ledger.acting import entering, parts_of
from reach.ledger.deed import Deed
from reach.model.handling import GloveCheck
from reach.model.procedure import Action, Step, Translate
from reach.model.scene import Scene
from reach.orders import Effect, Event, Put, Value
from reach.orders.events import applied

States = tuple[dict[str, Value], ...]
"""How everything is before each deed, and after the last."""


def deeds_of(
    scene: Scene,
    steps: Sequence[Step],
    spans: Mapping[str, Span],
    start: Mapping[str, Value],
) -> tuple[tuple[Deed, ...], States]:
    """Return every deed in order of time, and how everything is before each and after the last.

    Parameters
    ----------
    scene : Scene
    steps : sequence of Step
    spans : mapping of step name -> Span, s
    start : mapping of variable -> value

    Notes
    -----
    What an action changes can hang on how things are by then (who rides a crane, what a bag is
    on); that is taken from the order as written.  Deeds at the same moment are in the order
    of their steps in the file.
    """
    now = dict(start)
    deeds: list[Deed] = []
    states: list[dict[str, Value]] = []
    named: Counter[str] = Counter()
    for moment, step, action, i, part in _due(steps, spans):
        if action is None:
            parts = [("", entering(scene, step, now))]
        else:
            parts = parts_of(scene, step, action, now)
        for j, (word, writes) in enumerate(parts):
            if part not in (None, j):
                continue
            name = _name(step, action, word, named)
            event = Event(step.name, step.lane, writes, name=name)
            _make_room(now, states, event)
            states.append(now)
            deeds.append(Deed(event, step, action, i, moment, j == len(parts) - 1))
            now = _after(now, event)
    return tuple(deeds), (*states, now)


class _Due(NamedTuple):
    """Something that is done at a moment: the begin of a step, an action or one part of it."""

    moment: float
    step: Step
    action: Action | None = None
    i: int = -1
    part: int | None = None


def _due(steps: Sequence[Step], spans: Mapping[str, Span]) -> list[_Due]:
    """Return what is done in order of time; who moves leaves at once and arrives at the end."""
    due: list[tuple[tuple[float, bool, int, int], _Due]] = []
    for k, step in enumerate(steps):
        span = spans[step.name]
        found = [_Due(span.begin, step)]
        for i, action, begin, end in _parts(step, span):
            if isinstance(action, Translate):
                found += [_Due(begin, step, action, i, 0), _Due(end, step, action, i, 1)]
            else:
                found.append(_Due(end, step, action, i))
        # What ends at a moment comes before what begins at it.
        due += [
            ((round(one.moment, 6), one.moment == span.begin, k, j), one)
            for j, one in enumerate(found)
        ]
    return [one for _, one in sorted(due, key=lambda pair: pair[0])]


def _parts(step: Step, span: Span) -> Iterator[tuple[int, Action, float, float]]:
    """Yield the actions of a step with begin and end: equal parts, glove checks in no time."""
    weights = [0.0 if isinstance(action, GloveCheck) else 1.0 for action in step.actions]
    total, done = sum(weights), 0.0
    for i, (action, weight) in enumerate(zip(step.actions, weights, strict=True)):
        shares = (done / total, (done + weight) / total) if total else (1.0, 1.0)
        begin, end = (span.begin + (span.end - span.begin) * share for share in shares)
        yield i, action, begin, end
        done += weight


def _name(step: Step, action: Action | None, word: str, named: Counter[str]) -> str:
    said = f"{step.name}: {_said(action)}" + (f", {word}" if word else "")
    named[said] += 1
    return said if named[said] == 1 else f"{said} ({named[said]})"


_SAID = ("fastener", "items", "item", "what", "tool", "inhibit", "payload", "guide", "grips", "to")
"""Which key of an action says best what is done to what, the first that it has."""


def _said(action: Action | None) -> str:
    """Return an action in a few words: what is done to what."""
    if action is None:
        return "begin"
    values = (getattr(action, key, None) for key in _SAID)
    value = next((one for one in values if one), "")
    said = ", ".join(value) if isinstance(value, tuple) else str(value)
    return f"{action.do} {said}".rstrip()


def _make_room(now: dict[str, Value], states: list[dict[str, Value]], event: Event) -> None:
    """Give a variable that comes up for the first time the value that it had all along."""
    for name, effect in event.writes.items():
        if name in now:
            continue
        is_set = not isinstance(effect, Put) or isinstance(effect.value, frozenset)
        for state in (*states, now):
            state[name] = frozenset() if is_set else None


def _after(now: Mapping[str, Value], event: Event) -> dict[str, Value]:
    after = dict(now)
    for name, effect in event.writes.items():
        assert isinstance(effect, Effect)
        after[name] = applied(effect, after[name])
    return after


__all__ = ["States", "deeds_of"]
