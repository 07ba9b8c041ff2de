"""Who rides on a crane's tip while it moves, on which safety lines, as written."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from reach.ledger import names
from reach.ledger.deed import Deed
from reach.ledger.line_ends import worn
from reach.ledger.outing import Outing
from reach.model.procedure import MoveCrane
from reach.motions import crane_of, tip_name
from reach.orders import Value


@dataclass(frozen=True, eq=False)
class Ride:
    """All motions of one crane from when a worker comes on to its tip to when they leave it.

    Attributes
    ----------
    worker, crane : str
    boards : Deed or None
        The deed by which they came on to it; None from the start.
    deeds : tuple of Deed
        Each time the crane moves with them, in order.
    """

    worker: str
    crane: str
    boards: Deed | None
    deeds: tuple[Deed, ...]


def tips_of(outing: Outing, crane: str) -> frozenset[str]:
    """Return the names of all places on a crane's tip."""
    stations = outing.scene.stations.items()
    return frozenset({tip_name(crane), *(name for name, one in stations if one.on == crane)})


def anchors_on(outing: Outing, crane: str) -> frozenset[str]:
    """Return the anchors on a crane's tip."""
    return frozenset(name for name, one in outing.scene.anchors.items() if one.on == crane)


def crane_moves(outing: Outing, crane: str) -> tuple[Deed, ...]:
    """Return each time that a crane moves, in order."""
    return tuple(
        deed
        for deed in outing.deeds
        if isinstance(deed.action, MoveCrane)
        and crane_of(outing.scene, deed.action) == crane
        and names.tip(crane) in deed.event.writes
    )


def rides_of(outing: Outing) -> tuple[Ride, ...]:
    """Return every ride of every worker, as written."""
    if "rides" not in outing.memo:
        outing.memo["rides"] = tuple(
            ride
            for crane in outing.scene.cranes
            for worker in outing.workers
            for ride in _rides(outing, crane, worker)
        )
    found: tuple[Ride, ...] = outing.memo["rides"]
    return found


def _rides(outing: Outing, crane: str, worker: str) -> list[Ride]:
    tips, moves = tips_of(outing, crane), crane_moves(outing, crane)
    on = [values[names.place(worker)] in tips for values in outing.states]
    found: dict[int, list[Deed]] = {}
    for deed in moves:
        k = outing.rank(deed)
        if on[k]:
            boarded = max((i + 1 for i in range(k) if not on[i]), default=0)
            found.setdefault(boarded, []).append(deed)
    return [
        Ride(worker, crane, outing.deeds[k - 1] if k else None, tuple(deeds))
        for k, deeds in found.items()
    ]


def held_back(outing: Outing, ride: Ride, deed: Deed) -> tuple[str, ...]:
    """Return the lines worn on a ride whose hooks are on anchors that do not ride along."""
    values = outing.before(deed)
    here = anchors_on(outing, ride.crane)
    return tuple(
        line
        for line in worn(outing, values, ride.worker)
        if (hook := values[names.hook(line)]) in outing.scene.anchors and hook not in here
    )


def cause_of(outing: Outing, line: str, later: Deed) -> str:
    """Return the sentence for a line that somebody rode on before though hooked elsewhere."""
    for ride in rides_of(outing):
        for deed in ride.deeds:
            if outing.rank(deed) < outing.rank(later) and line in held_back(outing, ride, deed):
                return ridden(ride, line, outing.before(deed))
    return ""


def ridden(ride: Ride, line: str, values: Mapping[str, Value]) -> str:
    """Return who rides which crane on a line that is hooked elsewhere, as a sentence."""
    hook = values[names.hook(line)]
    return f"{ride.worker} rides {ride.crane} on {line}, which is hooked to {hook}."
