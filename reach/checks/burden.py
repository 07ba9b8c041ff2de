"""Question. Does nobody carry more bulky items, or more restraints, than one body can?

Margin. 0 where at most as many hang directly on each worker at any moment, in every order that
the links between steps allow; -1 where there are more.

Limit. ``bulky_items`` and ``restraints_carried``.

Blind spots. Items count, not their size; what is in a bag counts as the bag. Where on the body
they hang, and a payload held in the hands, is not looked at.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations

from reach.checks.lapses import Lapse, Told, always
from reach.finding import Finding, Limit
from reach.ledger import Outing, judge, names
from reach.orders import All, Always, AtLeast, Condition, Has, Not, Rule, Some, Value
from reach.site import Site

NAME = "burden"
IDS = ("I2", "H4")
TAKES = "outing"


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return one finding for each worker and kind of burden, or one for each time it is much."""
    if not outing.is_declared:
        return []
    items, kinds = outing.scene.items, outing.scene.restraints
    bulky = [name for name, item in items.items() if item.bulky]
    restraints = [name for name, item in items.items() if item.kind in kinds]
    asked = [
        (worker, word, limit, mine)
        for word, limit, several in (
            ("bulky items", site.limit("bulky_items"), bulky),
            ("restraints", site.limit("restraints_carried"), restraints),
        )
        for worker in outing.workers
        if (mine := [one for one in several if worker in outing.ever(names.holder(one))])
    ]
    rules = [
        Rule(f"{word} on {worker}", at_most(worker, mine, _n(limit)), Always())
        for worker, word, limit, mine in asked
    ]
    found = []
    for (worker, word, limit, mine), judged in zip(asked, judge(outing, rules), strict=True):
        most = max(len(_on(values, worker, mine)) for values in outing.states)

        def tell(
            lapse: Lapse,
            worker: str = worker,
            word: str = word,
            n: int = _n(limit),
            mine: Sequence[str] = mine,
        ) -> Told:
            has = _on(lapse.values, worker, mine)
            broken = f"{worker} carries {len(has)} {word} ({', '.join(has)}) where {n} may be"
            return Told(broken, _fix(outing, worker, word, n, mine, lapse))

        holds = f"{worker} carries {_n(limit)} {word} at most (as written {most})"
        step = _first(outing, worker, mine)
        about = (worker, word)
        found += always(
            NAME, judged, about, holds, tell, step=step, limits=(limit,), most_at_once=most
        )
    return found


def _n(limit: Limit) -> int:
    return int(limit.value + 1e-9)


def at_most(worker: str, items: Sequence[str], n: int) -> Condition:
    """Return the condition that at most ``n`` of some items hang on a worker.

    It is one condition, not taken apart: each part would be looked at by itself.
    """
    held = names.contents(worker)
    much = [All(tuple(Has(held, one) for one in some)) for some in combinations(items, n + 1)]
    return Some((Not(Some(tuple(much))),)) if much else AtLeast(held, 0)


def _on(values: Mapping[str, Value], worker: str, items: Sequence[str]) -> list[str]:
    held = values.get(names.contents(worker), frozenset())
    return [one for one in items if isinstance(held, frozenset) and one in held]


def _first(outing: Outing, worker: str, items: Sequence[str]) -> str:
    for deed in outing.deeds:
        for one in items:
            effect = deed.event.effect(names.holder(one))
            if effect is not None and getattr(effect, "value", None) == worker:
                return deed.step.name
    return ""


def _fix(outing: Outing, worker: str, word: str, n: int, items: Sequence[str], lapse: Lapse) -> str:
    """Name the item that is put down first, else that came last, and who has room for it."""
    has = _on(lapse.values, worker, items)
    soon, late = (
        [one for one in has if deed is not None and deed.event.effect(names.holder(one))]
        for deed in (lapse.until, lapse.by)
    )
    extra = (soon or late or has)[-1]
    begin = 0 if lapse.by is None else outing.rank(lapse.by) + 1
    end = len(outing.states) if lapse.until is None else outing.rank(lapse.until) + 1
    kind = outing.scene.items
    same = [
        name
        for name, item in kind.items()
        if (item.bulky if word == "bulky items" else item.kind in outing.scene.restraints)
    ]
    for other in outing.workers:
        # Broken in another order alone, what ends it may come first as written.
        some = outing.states[begin:end] or outing.states
        most = max(len(_on(values, other, same)) for values in some)
        if other != worker and most < n:
            return f"Give {extra} to {other}, who carries {most} of {n}."
    return f"Leave {extra} behind and fetch it later: nobody else has room for it."
