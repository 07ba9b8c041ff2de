"""Devices on the clock: one that is asked to be in two places at once."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

from reach.clock.tasks import SAME, Span


class Booking(NamedTuple):
    """A device that a task needs.

    Attributes
    ----------
    device, task : str
    span : Span, s
        Both ends included only where they touch nothing else: one task may begin with the
        device at the moment at which another ends.
    """

    device: str
    task: str
    span: Span


@dataclass(frozen=True)
class Conflict:
    """Two tasks that need one device at the same time.

    Attributes
    ----------
    device, first, second : str
        `first` begins first.
    span : Span, s
        While both need it.
    """

    device: str
    first: str
    second: str
    span: Span


def conflicts(bookings: Iterable[Booking]) -> tuple[Conflict, ...]:
    """Return all pairs of tasks that need one device at the same time, device by device."""
    devices: dict[str, list[Booking]] = {}
    for booking in bookings:
        devices.setdefault(booking.device, []).append(booking)
    found = []
    for device, held in devices.items():
        held.sort(key=lambda one: (one.span, one.task))
        for i, first in enumerate(held):
            for second in held[i + 1 :]:
                if first.span.end - second.span.begin <= SAME:
                    break
                until = min(first.span.end, second.span.end)
                span = Span(second.span.begin, until)
                found.append(Conflict(device, first.task, second.task, span))
    return tuple(found)
