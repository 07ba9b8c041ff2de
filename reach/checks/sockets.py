"""Question. Is there never more than one restraint in a socket, and nobody else in a restraint?

Margin. 0 where it is so in every order that the links between steps allow; -1 where two restraints
are in one socket, one is put into a socket that is faulty or blocked, two workers stand in one
restraint, or one works from a socket at once with another, or while another stands there.

Limit. One. The ``status`` of a socket stands in the scene.

Blind spots. Whether a restraint fits a socket by make, and whether two restraints in sockets near
each other touch, is not looked at.
"""

from __future__ import annotations

from itertools import combinations

from reach.checks.lapses import Lapse, Told, always
from reach.checks.ruling import finding_in, ruled
from reach.finding import Finding
from reach.ledger import Deed, Outing, judge, names
from reach.model.handling import Install
from reach.model.procedure import Ingress
from reach.orders import All, Always, At, AtMost, Condition, Is, Not, Rule, overlaps
from reach.orders.conditions import shown
from reach.site import Site
from reach.timing import quoted

NAME = "sockets"
IDS = ("H2",)
TAKES = "outing"


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return one finding for each socket used, each install and each restraint that is shared."""
    if not outing.is_declared:
        return []
    found = [*_crowded(outing), *_statuses(outing), *_shared(outing)]
    return [*found, *_at_places(outing), *_at_work(site, outing)]


def _crowded(outing: Outing) -> list[Finding]:
    used = [one for one in outing.scene.sockets if _is_used(outing, one)]
    rules = [Rule(f"one in {one}", AtMost(names.plugged(one), 1), Always()) for one in used]
    found = []
    for socket, judged in zip(used, judge(outing, rules), strict=True):

        def tell(lapse: Lapse, socket: str = socket) -> Told:
            several = lapse.values.get(names.plugged(socket), frozenset())
            assert isinstance(several, frozenset)
            by = lapse.by.action if lapse.by is not None else None
            new = by.item if isinstance(by, Install) else ""
            old = sorted(str(one) for one in several if one != new)
            broken = f"{len(several)} restraints are in {socket}: {shown(several)[1:-1]}"
            return Told(broken, f"Remove {' and '.join(old[: len(several) - 1])} first.")

        holds = f"There is never more than one restraint in {socket}"
        found += always(NAME, judged, (socket,), holds, tell, step=_first(outing, socket))
    return found


def _is_used(outing: Outing, socket: str) -> bool:
    name = names.plugged(socket)
    return bool(outing.start[name]) or any(name in deed.event.writes for deed in outing.deeds)


def _first(outing: Outing, socket: str) -> str:
    name = names.plugged(socket)
    return next((one.step.name for one in outing.deeds if name in one.event.writes), "")


def _statuses(outing: Outing) -> list[Finding]:
    return [_status(outing, deed) for deed in outing.deeds if isinstance(deed.action, Install)]


def _status(outing: Outing, deed: Deed) -> Finding:
    assert isinstance(deed.action, Install)
    item, socket = deed.action.item, deed.action.to
    status = outing.scene.sockets[socket].status
    margin = 0.0 if status == "free" else -1.0
    because = f"{deed.lane} installs {item} in {socket}, which is {_word(status)}."
    free = [one for one in outing.scene.free_sockets if not _is_used(outing, one)]
    fix = "Use another socket"
    fix += f": {', '.join(free)} would be free." if free else "."
    about = (deed.lane, item, socket)
    return finding_in(NAME, deed.step.name, about, because, margin, fix=fix, status=status)


def _word(status: str) -> str:
    return "fit for use" if status == "free" else status


def _shared(outing: Outing) -> list[Finding]:
    asked = [
        (restraint, pair)
        for restraint in outing.scene.items
        for pair in combinations(outing.workers, 2)
        if all(restraint in outing.ever(names.boots(worker)) for worker in pair)
    ]
    rules = [
        Rule(
            f"{restraint} of one alone",
            Not(All(tuple(Is(names.boots(worker), restraint) for worker in pair))),
            Always(),
        )
        for restraint, pair in asked
    ]
    found = []
    for (restraint, (one, other)), judged in zip(asked, judge(outing, rules), strict=True):

        def tell(
            lapse: Lapse, restraint: str = restraint, pair: tuple[str, str] = (one, other)
        ) -> Told:
            new = lapse.by.lane if lapse.by is not None else pair[1]
            old = pair[0] if new == pair[1] else pair[1]
            fix = f"Let {old} get out of {restraint} before {new} gets in."
            return Told(f"{pair[0]} and {pair[1]} both stand in {restraint}", fix)

        holds = f"{one} and {other} never stand in {restraint} at the same time"
        steps = [d.step.name for d in outing.deeds if names.boots(other) in d.event.writes]
        about = (one, other, restraint)
        found += always(NAME, judged, about, holds, tell, step=next(iter(steps), ""))
    return found


def _at_places(outing: Outing) -> list[Finding]:
    """Return one finding for every two workers who ever stand at one station or in one socket.

    Of sockets where the restraint of one of them is no item: those of items are asked by name.
    """
    items, stations = outing.scene.items, outing.scene.stations
    fixed = [one for one, record in stations.items() if record.restraint not in items]
    asked = [
        (place, pair)
        for place in (*fixed, *outing.scene.sockets)
        for pair in combinations(outing.workers, 2)
        if all(place in outing.ever(names.place(worker)) for worker in pair)
        and all(any(outing.ever(names.boots(worker))) for worker in pair)
        and (place in stations or any(_in_kind(outing, worker) for worker in pair))
    ]
    rules = [
        Rule(f"{station} of one alone", _not_both(station, pair), Always())
        for station, pair in asked
    ]
    found = []
    for (station, pair), judged in zip(asked, judge(outing, rules), strict=True):

        def tell(lapse: Lapse, station: str = station, pair: tuple[str, str] = pair) -> Told:
            new = lapse.by.lane if lapse.by is not None else pair[1]
            old = pair[0] if new == pair[1] else pair[1]
            fix = f"Let {old} leave {station} before {new} gets in."
            return Told(f"{pair[0]} and {pair[1]} both stand in the restraint of {station}", fix)

        holds = f"{pair[0]} and {pair[1]} never stand at {station} at the same time"
        steps = [d.step.name for d in outing.deeds if names.boots(pair[1]) in d.event.writes]
        step = next(iter(steps), "")
        found += always(NAME, judged, (*pair, station), holds, tell, step=step)
    return found


def _in_kind(outing: Outing, worker: str) -> bool:
    """Return whether somebody ever stands in a restraint that is no named item."""
    ever = outing.ever(names.boots(worker))
    return any(one is not None and one not in outing.scene.items for one in ever)


def _at_work(site: Site, outing: Outing) -> list[Finding]:
    """Return what is wrong with work from one socket by two who need their feet held there.

    At once in some order, or while the other's boots are locked in.
    """
    works = _works(site, outing)
    shared = [
        (one, two, here)
        for (one, here), (two, there) in combinations(works, 2)
        if here == there and one.lane != two.lane
    ]
    at_once = set(map(frozenset, overlaps(outing.lanes, outing.links))) if shared else set()
    found: list[Finding] = []
    for one, two, here in shared:
        steps = one.step.name, two.step.name
        if frozenset(steps) in at_once:
            because = f"{one.lane} and {two.lane} may both work from {here} at the same time: "
            because += f"nothing orders {quoted(steps)}."
            fix = f"Let step '{steps[1]}' wait: after = ['{steps[0]}']."
            found.append(
                finding_in(NAME, steps[1], (one.lane, two.lane, here), because, -1.0, fix=fix)
            )
    asked = [
        (deed, socket, other)
        for deed, socket in works
        for other in outing.workers
        if other != deed.lane and any(outing.ever(names.boots(other)))
    ]
    rules = [
        Rule(f"{socket} left by {other}", Not(_stands_in(socket, other)), At(deed.name))
        for deed, socket, other in asked
    ]
    for (deed, socket, other), judged in zip(asked, judge(outing, rules), strict=True):
        found.append(
            ruled(
                NAME,
                judged,
                (deed.lane, other, socket),
                f"{other} is out of the restraint in {socket} when {deed.lane} works from it",
                f"{deed.lane} works from {socket} while {other} stands in the restraint there",
                step=deed.step.name,
                fix=f"Let {other} get out of it before '{deed.name}'.",
            )
        )
    return [one for one in found if one.low < 0.0]


def _works(site: Site, outing: Outing) -> list[tuple[Deed, str]]:
    """Return the first deed of each step that needs the feet held in a socket, and the socket."""
    sockets = outing.scene.sockets
    standing = {
        id(one.action): one.place.name
        for one in site.asked
        if one.place is not None and one.place.name in sockets and one.passage is None
        if not isinstance(one.action, Ingress)
    }
    found: dict[str, tuple[Deed, str]] = {}
    for deed in outing.deeds:
        if id(deed.action) in standing:
            found.setdefault(deed.step.name, (deed, standing[id(deed.action)]))
    return list(found.values())


def _stands_in(place: str, worker: str) -> Condition:
    return All((Is(names.place(worker), place), Not(Is(names.boots(worker), None))))


def _not_both(station: str, pair: tuple[str, str]) -> Condition:
    return Not(All(tuple(_stands_in(station, worker) for worker in pair)))
