"""Hands from which a payload is moved away: whether they keep hold of it is not said."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from reach.checks.lapses import Lapse, Told, always
from reach.checks.ruling import ruled
from reach.finding import Finding
from reach.ledger import Deed, Judged, Outing, judge, names
from reach.ledger.riding import tips_of
from reach.model.procedure import MoveCrane, Moving
from reach.motions import crane_of, goal_of, is_on
from reach.orders import All, Always, Among, At, AtLeast, Condition, Has, Join, Not, Rule, Some
from reach.orders.events import as_set


def takers_of(outing: Outing, payload: str) -> tuple[str, ...]:
    """Return the workers who ever take hold of a payload."""
    joined = _joined(outing, names.hands(payload))
    return tuple(one for one in outing.workers if one in joined)


def has_surely(payload: str, holder: str) -> Condition:
    """Return that somebody holds a payload that was not moved away from them since."""
    return All((Has(names.hands(payload), holder), Not(Has(names.parted(payload), holder))))


def is_ever_taken(outing: Outing, payload: str) -> bool:
    """Return whether others move a payload away from anybody who ever holds it."""
    parted, held = (_joined(outing, name(payload)) for name in (names.parted, names.hands))
    return not parted.isdisjoint(held)


def with_doubts(
    outing: Outing, rules: Sequence[Rule], sure: Sequence[Rule | None]
) -> list[tuple[Judged, bool]]:
    """Judge rules, and where one is kept what must be so beside it to be sure of it.

    Returns
    -------
    list of (Judged, bool)
        For each rule what counts, and whether breaking that leaves it open.
    """
    judged = judge(outing, [*rules, *(one for one in sure if one is not None)])
    later = iter(judged[len(rules) :])
    doubts = [None if one is None else next(later) for one in sure]
    return [
        (one, False) if one.is_broken or doubt is None else (doubt, True)
        for one, doubt in zip(judged, doubts, strict=False)
    ]


def doubtful(check: str, outing: Outing, payloads: Sequence[str]) -> list[Finding]:
    """Return an open finding for each time that a payload hangs on a hold that may be gone."""
    asked = [one for one in payloads if is_ever_taken(outing, one)]
    rules = [
        Rule(
            f"{payload} surely held",
            Some(
                (
                    AtLeast(names.fixed(payload), 1),
                    *(
                        has_surely(payload, str(one))
                        for one in sorted(map(str, _joined(outing, names.hands(payload))))
                    ),
                )
            ),
            Always(),
        )
        for payload in asked
    ]
    found: list[Finding] = []
    for payload, judged in zip(asked, judge(outing, rules), strict=True):

        def tell(lapse: Lapse, payload: str = payload) -> Told:
            return _told(outing, payload, lapse)

        found += always(check, judged, (payload,), f"{payload} is surely held", tell)
    return [one for one in found if one.low < 0.0]


def _told(outing: Outing, payload: str, lapse: Lapse) -> Told:
    """Return what is said of a payload that only somebody left behind may hold."""
    hold = as_set(lapse.values.get(names.hands(payload), frozenset()))
    left = hold & as_set(lapse.values.get(names.parted(payload), frozenset()))
    who = " and ".join(sorted(map(str, left))) or "somebody"
    broken = (
        f"nothing fixes {payload}, and nobody has hold of it but {who}, from whom it was moved "
        "away: whether that hold lasts is not said"
    )
    if lapse.by is None:
        return Told(broken, is_open=True)
    step = lapse.by.step.name
    if names.parted(payload) in lapse.by.event.writes:
        fix = f"Let {who} go along in step '{step}', or somebody who does hold {payload} before."
    else:
        fix = f"Let {who} take hold of {payload} again before step '{step}'."
    return Told(broken, fix, is_open=True)


def left_behind(check: str, outing: Outing, payloads: Sequence[str]) -> list[Finding]:
    """Return an open finding for each holder who only as written goes along with a payload."""
    asked = list(_along(outing, payloads))
    rules = [
        Rule(f"{worker} goes along with {payload} in {deed.name}", goes, At(deed.name))
        for deed, worker, payload, goes in asked
    ]
    found = [
        ruled(
            check,
            judged,
            (payload, worker),
            f"{worker} goes along with {payload}",
            f"{worker} holds {payload} and does not go along when it is moved away: whether the "
            "hold lasts is not said",
            step=deed.step.name,
            fix=f"Let {worker} release {payload} before step '{deed.step.name}'.",
            is_open=True,
        )
        for (deed, worker, payload, _), judged in zip(asked, judge(outing, rules), strict=True)
    ]
    return [one for one in found if one.low < 0.0]


def _along(outing: Outing, payloads: Sequence[str]) -> Iterator[tuple[Deed, str, str, Condition]]:
    """Yield each motion of a payload, who goes along as written, and that they do or let go."""
    scene = outing.scene
    for deed in outing.deeds:
        if not isinstance(deed.action, Moving):
            continue
        payload = goal_of(scene, deed.step, deed.action)[0]
        if payload not in payloads or names.pose(payload) not in deed.event.writes:
            continue
        tips = (
            tips_of(outing, crane_of(scene, deed.action))
            if isinstance(deed.action, MoveCrane)
            else frozenset()
        )
        parted = deed.event.effect(names.parted(payload))
        stay = as_set(parted.elements) if isinstance(parted, Join) else frozenset()
        for worker in takers_of(outing, payload):
            if worker in stay or worker == deed.lane:
                continue
            place = names.place(worker)
            along = {
                at for at in outing.ever(place) if at in tips or is_on(scene, payload, str(at))
            }
            rides = Among(place, frozenset(along))
            yield deed, worker, payload, Some((Not(Has(names.hands(payload), worker)), rides))


def _joined(outing: Outing, name: str) -> frozenset[object]:
    """Return all that ever comes into a set."""
    effects = [deed.event.effect(name) for deed in outing.deeds]
    return frozenset().union(*(as_set(one.elements) for one in effects if isinstance(one, Join)))


__all__ = [
    "doubtful",
    "has_surely",
    "is_ever_taken",
    "left_behind",
    "takers_of",
    "with_doubts",
]
