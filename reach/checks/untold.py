"""What a sweep does not look at, said as an answer of its own: nothing unchecked is green."""

from __future__ import annotations

from collections.abc import Iterator

from reach.checks.carrying import finding_of_carriage
from reach.checks.wording import UNKNOWN
from reach.finding import Finding
from reach.kept.noting import asked_whole
from reach.model.procedure import Move
from reach.site import Carriage, Site


def untold(name: str, site: Site, carriage: Carriage) -> list[Finding]:
    """Return an open finding for each thing about a motion that the check cannot answer."""
    return [
        finding_of_carriage(
            name, carriage, because, -UNKNOWN, UNKNOWN, "m", fix=fix, numbers={"answer": answer}
        )
        for answer, because, fix in _reasons(site, carriage)
    ]


@asked_whole
def _beside(site: Site, carriage: Carriage) -> tuple[Carriage, ...]:
    """Return the motions of other things that may be at the same time."""
    found: dict[int, Carriage] = {}
    for other in site.carriages:
        if other.what != carriage.what and _meanwhile(carriage, other):
            known = found.setdefault(id(other.action), other)
            # Who rides tells cases apart: where nobody does, or somebody else, it is the same.
            if known.case != carriage.case and other.case == carriage.case:
                found[id(other.action)] = other
    return tuple(found.values())


def _reasons(site: Site, carriage: Carriage) -> Iterator[tuple[str, str, str]]:
    for other in _beside(site, carriage):
        because = (
            f"{other.what} may move meanwhile (step {other.step}): how near the two come to "
            "each other is not looked at."
        )
        yield f"beside {other.step}", because, "Let one wait for the other."
    holders = [one for one, grasp in carriage.holds.items() if grasp.holds(carriage.payload)]
    rider = carriage.rider
    if rider is not None and carriage.payload:
        grapple = site.scene.payloads[carriage.payload].grapple
        if rider.worker not in holders and grapple is None:
            because = (
                f"{rider.worker} rides without a hold on {carriage.payload}: that it keeps its "
                "place to them is not shown."
            )
            yield "hold", because, f"Let {rider.worker} hold it before {carriage.step}."
    if isinstance(carriage.action, Move) and carriage.payload and holders:
        because = (
            f"{' and '.join(holders)} hold {carriage.payload} while it is moved: that they keep "
            "hold and stay clear of it on the way is not looked at."
        )
        yield "hands", because, ""


def _meanwhile(one: Carriage, other: Carriage) -> bool:
    """Return whether two motions share time, or may: where a step gives no time nobody knows.

    Each may begin late, where what it waits for lasts as long as it may.
    """
    if one.step == other.step:
        return False
    if one.lane == other.lane:
        # The lane of who works several cranes may have steps at once.
        return _overlap(one, other, (one.start, other.start))
    if one.step in other.before or other.step in one.before:
        return False
    return _overlap(one, other, (one.latest, other.latest))


def _overlap(one: Carriage, other: Carriage, latest: tuple[float | None, float | None]) -> bool:
    """Return whether times of two motions overlap that begin at some moments at the latest."""
    if one.start is None or other.start is None or not one.longest or not other.longest:
        return one.lane != other.lane
    over, other_over = (
        (begin if late is None else late) + lasts
        for begin, late, lasts in zip(
            (one.start, other.start), latest, (one.longest, other.longest), strict=True
        )
    )
    return one.start < other_over and other.start < over
