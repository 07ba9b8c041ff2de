"""Question. Is a lead laid and held by its clamps before its connector is mated?

Margin. 0 where it is, -1 where the connector may be mated before, as written or in any order that
the links between steps allow.

Limit. None: the lead carries no load of later steps into the connector only if it is held first.

Blind spots. Whether clamps bear the load, and slack between the last clamp and the connector, are
not looked at. Connectors to which no lead is laid are not asked.
"""

from __future__ import annotations

from collections.abc import Iterator

from reach.checks.ruling import ruled
from reach.finding import Finding
from reach.ledger import Deed, Outing, judge, names
from reach.model.handling import Lay
from reach.model.procedure import Drive
from reach.orders import All, At, Is, Rule
from reach.site import Site

NAME = "strain"
IDS = ("O4",)
TAKES = "outing"


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return one finding for each time that a connector with a lead to it is mated."""
    return [
        _finding(outing, deed, deed.action, lay)
        for deed in outing.deeds
        if isinstance(deed.action, Drive) and deed.action.do == "mate"
        for lay in _lays(outing, deed.action.fastener)
    ]


def _lays(outing: Outing, fastener: str) -> Iterator[Deed]:
    for deed in outing.deeds:
        if isinstance(deed.action, Lay) and deed.action.to == fastener:
            yield deed


def _finding(outing: Outing, deed: Deed, action: Drive, lay: Deed) -> Finding:
    assert isinstance(lay.action, Lay)
    lead, clamps = lay.action.item, lay.action.clamps
    held = All(tuple(Is(names.holder(one), action.fastener) for one in (lead, *clamps)))
    (judged,) = judge(outing, [Rule(f"{lead} before {deed.name}", held, At(deed.name))])
    by = f" and held by {', '.join(clamps)}" if clamps else ""
    return ruled(
        NAME,
        judged,
        (deed.lane, action.fastener, lead),
        f"{lead} is laid{by} before {action.fastener} is mated",
        f"{action.fastener} is mated while {lead} is not laid{by} yet",
        step=deed.step.name,
        fix=f"Let step '{deed.step.name}' wait until '{lay.step.name}' is over.",
    )
