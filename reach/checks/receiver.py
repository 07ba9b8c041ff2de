"""Question. Does everyone who takes hold of a payload stand with the boots locked in?

Margin. 0 where the boots are in a restraint when the hold is taken, in every order that the links
between steps allow; -1 where they are not.

Limit. None: a payload is never taken with loose boots, and no restraint but a foot restraint holds
them.

Blind spots. Whether the restraint bears the load, and whether the boots stay in while the payload
is held, is asked by other checks; holds on structure are not asked about.
"""

from __future__ import annotations

from collections.abc import Iterator

from reach.checks.ruling import ruled
from reach.finding import Finding
from reach.ledger import Deed, Outing, judge, names
from reach.model.scene import Scene
from reach.orders import Among, At, Condition, Join, Rule, Value
from reach.orders.events import as_set
from reach.site import Site

NAME = "receiver"
IDS = ("N3",)
TAKES = "outing"


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return one finding for each time a worker takes hold of a payload."""
    if not outing.is_declared:
        return []
    takes = [(deed, *take) for deed in outing.deeds for take in _takes(outing, deed)]
    rules = [
        Rule(f"{worker} takes {payload}", _locked_in(outing, worker), At(deed.name))
        for deed, worker, payload in takes
    ]
    found = []
    for (deed, worker, payload), judged in zip(takes, judge(outing, rules), strict=True):
        boots = outing.before(deed).get(names.boots(worker))
        at = outing.before(deed).get(names.place(worker))
        where = f"at {at}" if at else "where they stand"
        found.append(
            ruled(
                NAME,
                judged,
                (worker, payload),
                f"{worker} takes hold of {payload} with the boots locked in {boots}",
                f"{worker} takes hold of {payload} with the boots in no foot restraint",
                step=deed.step.name,
                fix=f"Let {worker} get into a restraint {where} before '{deed.name}'.",
            )
        )
    return found


def _locked_in(outing: Outing, worker: str) -> Condition:
    """Return that the boots of a worker are in something that holds boots."""
    name = names.boots(worker)
    return Among(name, frozenset(one for one in outing.ever(name) if _holds(outing.scene, one)))


def _holds(scene: Scene, what: Value) -> bool:
    """Return whether boots are held by an item, a kind of restraint, or what a place has."""
    if what is None:
        return False
    item = scene.items.get(str(what))
    kind = scene.restraints.get(str(what) if item is None else item.kind or "")
    return kind is None or kind.kind == "foot restraint"


def _takes(outing: Outing, deed: Deed) -> Iterator[tuple[str, str]]:
    """Yield who takes hold of which payload by a deed."""
    for payload in outing.scene.payloads:
        effect = deed.event.effect(names.hands(payload))
        if isinstance(effect, Join):
            for worker in sorted(set(outing.workers) & as_set(effect.elements)):
                yield worker, payload
