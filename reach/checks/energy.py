"""Question. Has every drive turns enough left for all that it turns?

Margin. Turns that are left at the end, less the reserve; below zero it runs out before. The sum
is the same in every order.

Limit. ``stores`` of the procedure: ``turns`` of the tool less ``reserve``. Exact: equal passes.

Blind spots. A turn counts the same whatever it takes. Fasteners that give no ``turns`` leave the
margin open below. Time that a drive is only switched on is not looked at.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from reach.checks.ruling import finding_in, unasked
from reach.clock import Count, Use, count
from reach.finding import Finding, Limit
from reach.ledger import Deed, Outing
from reach.model.procedure import Drive
from reach.model.provenance import Provenance
from reach.site import Site

NAME = "energy"
IDS = ("J4",)
TAKES = "outing"


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return one finding for each tool of which the procedure says how many turns it has."""
    stores = outing.procedure.stores
    return [
        found
        for tool, store in stores.items()
        if store.turns is not None
        for found in _finding(outing, tool)
    ]


def counted(outing: Outing, tool: str) -> tuple[list[Deed], Count]:
    """Return what is turned with a tool, in order, and what that leaves in its store."""
    store = outing.procedure.stores[tool]
    assert store.turns is not None
    deeds = drives_of(outing, tool)
    uses = [Use(deed.name, turns_of(outing, deed) or 0.0) for deed in deeds]
    return deeds, count(uses, store.turns, store.reserve)


def drives_of(outing: Outing, tool: str) -> list[Deed]:
    """Return the deeds that turn something with a tool."""
    return [
        deed for deed in outing.deeds if isinstance(deed.action, Drive) and deed.action.tool == tool
    ]


def turns_of(outing: Outing, deed: Deed) -> float | None:
    """Return how many turns a deed takes, as its fastener says."""
    assert isinstance(deed.action, Drive)
    return outing.scene.fasteners[deed.action.fastener].turns


def _finding(outing: Outing, tool: str) -> Iterator[Finding]:
    deeds, used = counted(outing, tool)
    if not deeds:
        yield unasked(NAME, outing.steps[0].name, (tool,), f"Nothing is turned with {tool}.")
        return
    unknown = [_fastener(deed) for deed in deeds if turns_of(outing, deed) is None]
    where = next((deed for deed in deeds if deed.name == used.runs_out), deeds[-1])
    parts = [
        f"{_fastener(deed)} {turns_of(outing, deed):g}" for deed in deeds if turns_of(outing, deed)
    ]
    has = f"of {used.usable:g} that may be used"
    said = f"{tool} turns {used.total:g} times ({', '.join(parts)}) {has}"
    if used.runs_out:
        said += f"; it runs out at {_fastener(where)} in step '{where.step.name}'"
    if unknown:
        said += f"; {' and '.join(unknown)} give no turns"
    yield finding_in(
        NAME,
        where.step.name,
        (where.lane, tool, _fastener(where)),
        f"{said}.",
        (-math.inf if unknown else used.margin, used.margin),
        "turns",
        limits=(Limit("turns", used.usable, "turns", Provenance()),),
        fix=_fix(outing, tool, deeds, -used.margin),
        turns=used.total,
        usable=used.usable,
    )


def _fastener(deed: Deed) -> str:
    assert isinstance(deed.action, Drive)
    return deed.action.fastener


def _fix(outing: Outing, tool: str, deeds: list[Deed], short: float) -> str:
    """Say which fasteners something else could turn: by hand, or with a drive that has turns."""
    words: list[str] = []
    by_hand = [deed for deed in deeds if not _takes_kind(outing, deed, tool)]
    if by_hand:
        words.append(f"turn {' and '.join(_fastener(deed) for deed in by_hand)} by hand")
        short -= sum(turns_of(outing, deed) or 0.0 for deed in by_hand)
    for other, left in sorted(_spare(outing, tool).items(), key=lambda one: -one[1]):
        if short <= 0.0:
            break
        moved = _moved([deed for deed in deeds if deed not in by_hand], outing, short, left)
        if moved:
            words.append(f"turn {' and '.join(_fastener(deed) for deed in moved)} with {other}")
            short -= sum(turns_of(outing, deed) or 0.0 for deed in moved)
            by_hand += moved
    if short > 0.0:
        words.append(f"bring {short:g} turns more")
    said = "; ".join(words)
    return f"{said[:1].upper()}{said[1:]}." if said else ""


def _takes_kind(outing: Outing, deed: Deed, tool: str) -> bool:
    tools = outing.scene.fasteners[_fastener(deed)].tools
    items = outing.scene.items
    kind = items[tool].kind if tool in items else tool
    return not tools or bool({tool, kind} & set(tools))


def _spare(outing: Outing, tool: str) -> dict[str, float]:
    """Return other drives of the same kind with turns left, and how many."""
    items, found = outing.scene.items, {}
    for other, store in outing.procedure.stores.items():
        alike = tool in items and other in items and items[other].kind == items[tool].kind
        if other != tool and alike and store.turns is not None:
            left = counted(outing, other)[1].margin
            if left > 0.0:
                found[other] = left
    return found


def _moved(deeds: list[Deed], outing: Outing, short: float, left: float) -> list[Deed]:
    """Return the last deeds that fit into what is left, until nothing is short any more."""
    found: list[Deed] = []
    for deed in reversed(deeds):
        takes = turns_of(outing, deed) or 0.0
        if short > 0.0 and 0.0 < takes <= left:
            found.insert(0, deed)
            short, left = short - takes, left - takes
    return found
