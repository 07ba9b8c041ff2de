"""Question. Are fasteners turned in the order that the procedure gives for them?

Margin. 0 where the fastener before it in that order is turned the same way first, in every order
that the links between steps allow; -1 where it is not.

Limit. ``orders`` of the procedure. Each neighbouring pair is asked once, for tightening and for
loosening.

Blind spots. Fasteners of an order that nobody turns are passed over; so is a second time that one
is turned the same way. How far each is turned before the next begins is not looked at.
"""

from __future__ import annotations

from itertools import pairwise

from reach.checks.ruling import ruled
from reach.finding import Finding
from reach.ledger import Deed, Judged, Outing, judge, names
from reach.model.procedure import Drive
from reach.orders import At, Has, Rule
from reach.site import Site

NAME = "sequence"
IDS = ("K1",)
TAKES = "outing"

Pair = tuple[str, Deed, Deed]
"""Name of an order, and the deeds of two neighbours, first the one that comes first."""


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return one finding for each pair of neighbours in each order."""
    pairs = [
        (name, one, other)
        for name, order in outing.procedure.orders.items()
        for way in ("tight", "loose")
        for one, other in pairwise(_turned(outing, order.fasteners, way))
    ]
    rules = [
        Rule(f"{name}: {_fastener(one)}", Has(names.turned(_fastener(one)), _way(one)), At(d.name))
        for name, one, d in pairs
    ]
    return [
        _finding(pair, judged) for pair, judged in zip(pairs, judge(outing, rules), strict=True)
    ]


def _turned(outing: Outing, fasteners: tuple[str, ...], way: str) -> list[Deed]:
    """Return when each fastener is first turned one way, in the order of the fasteners."""
    found: dict[str, Deed] = {}
    for deed in outing.deeds:
        if isinstance(deed.action, Drive) and _way(deed) == way:
            found.setdefault(deed.action.fastener, deed)
    return [found[name] for name in fasteners if name in found]


def _fastener(deed: Deed) -> str:
    assert isinstance(deed.action, Drive)
    return deed.action.fastener


def _way(deed: Deed) -> str:
    assert isinstance(deed.action, Drive)
    return "loose" if deed.action.undoes else "tight"


def _finding(pair: Pair, judged: Judged) -> Finding:
    name, first, then = pair
    one, other = _fastener(first), _fastener(then)
    words = "undone" if _way(first) == "loose" else "done up"
    fix = f"Turn {one} before {other}: "
    if first.step.name == then.step.name:
        fix += f"swap them in step '{first.step.name}'."
    else:
        fix += f"swap steps '{then.step.name}' and '{first.step.name}'."
    return ruled(
        NAME,
        judged,
        (then.lane, other, one),
        f"{one} is {words} before {other}, as {name} asks",
        f"{other} is {words} before {one}, against {name}",
        step=then.step.name,
        fix=fix,
        order_of=name,
    )
