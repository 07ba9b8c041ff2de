"""The bolt table: every fastener that is turned, in order of time."""

from __future__ import annotations

from collections.abc import Iterator

from reach.dossier.basis import Basis
from reach.dossier.records import Row, Table
from reach.dossier.wording import UNTOLD, columns, listed, or_untold, table
from reach.ledger import Deed, Outing, names
from reach.model.procedure import Drive
from reach.model.scene import Fastener

CHECKS = (
    "reach", "two-handed", "effort", "access", "glove", "inner", "error", "clearance", "sight",
    "torque", "load", "push", "sizes", "share", "hand", "fit", "tool-class", "light", "touch",
    "dial", "turn-window", "sequence", "guard", "loose", "energy", "socket",
)  # fmt: skip
"""Checks of one fastener that is turned."""

HEADS = columns(
    "number", "fastener", "kind", "step", "worker", "where", "turned", "head", "turns",
    "turns at least", "turns at most", ("torque", "N m"), ("breakaway", "N m"),
    ("torque at most", "N m"), "tool", "bit", "extension", ("tool set to", "N m"), "hand",
    ("push", "N"), "order", "comes after",
    "captive", "if it does not go as written", "verdict",
)  # fmt: skip


def bolts(basis: Basis) -> Table:
    """Return every bolt and pin that is turned; connectors are in the table of cables."""
    says = (
        "Each bolt and pin in the order in which it is turned. Turns and torques are those of the "
        "scene; the tool is set as the ledger knows it then. What is done when turns or torque "
        "come out otherwise is what the scene says of that fastener, nothing else."
    )
    return table("bolts", "Bolts", says, HEADS, rows_of(basis), "No bolt is turned.")


def rows_of(basis: Basis, steps: frozenset[str] | None = None) -> Iterator[Row]:
    """Yield the rows of bolts and pins, of some steps where they are given."""
    number = 0
    for deed in turned(basis):
        assert isinstance(deed.action, Drive)
        if basis.scene.fasteners[deed.action.fastener].kind == "connector":
            continue
        number += 1
        if steps is None or deed.step.name in steps:
            yield _row(basis, deed, deed.action, number)


def turned(basis: Basis) -> tuple[Deed, ...]:
    """Return the deeds in which something is turned, mated or demated, in order of time."""
    deeds = basis.outing.deeds if basis.outing else ()
    return tuple(one for one in deeds if isinstance(one.action, Drive) and one.is_last)


def answers_of(basis: Basis, deed: Deed) -> tuple[int, ...]:
    """Return the places of the findings about one fastener in one step."""
    action = deed.action
    assert isinstance(action, Drive)
    pieces = [one for one in (action.tool, action.bit, action.extension) if one]
    of_fastener = basis.answers(deed.step.name, CHECKS, (action.fastener,))
    return (*of_fastener, *basis.answers(deed.step.name, ("present",), pieces))


def _row(basis: Basis, deed: Deed, action: Drive, number: int) -> Row:
    record = basis.scene.fasteners[action.fastener]
    outing, answers = basis.outing, answers_of(basis, deed)
    assert outing is not None
    low, high = record.turns_between or (None, None)
    where = outing.before(deed).get(names.place(deed.lane)) or deed.step.where
    return Row(
        (
            number,
            action.fastener,
            record.kind,
            deed.step.name,
            deed.lane,
            str(where) if where else None,
            "out" if action.undoes else "in",
            record.head or UNTOLD,
            record.turns,
            low,
            high,
            record.torque,
            record.breakaway,
            record.most_torque,
            action.tool,
            action.bit or "none",
            action.extension or "none",
            set_to(outing, deed, action),
            hand_words(basis, deed.lane, action, record),
            action.force if action.force is not None else record.push,
            *order_words(basis, action.fastener),
            captive_words(record),
            or_untold(record.if_stuck),
            basis.verdict(answers),
        ),
        answers,
    )


def set_to(outing: Outing, deed: Deed, action: Drive) -> float | None:
    """Return what a tool is set to when it turns, N m; None where nothing says so."""
    if action.torque is not None:
        return action.torque
    told = outing.before(deed).get(names.torque(action.tool))
    return told if isinstance(told, float) else None


def hand_words(basis: Basis, worker: str, action: Drive, record: Fastener) -> str:
    """Return which hand turns a fastener, and which one alone may, in words."""
    hand = action.hand
    if hand == "own" and worker in basis.scene.workers:
        words = f"{basis.scene.workers[worker].hand}, the better one"
    else:
        words = hand
    return words if record.hand == "either" else f"{words} ({record.hand} only)"


def captive_words(record: Fastener) -> str:
    """Return whether a fastener stays with its part, in words."""
    if record.captive is None:
        return "not known"
    return "yes" if record.captive else "no"


def order_words(basis: Basis, fastener: str) -> tuple[str, str]:
    """Return the order that a fastener is in, and what comes before it by orders and guards."""
    told: list[str] = []
    before: list[str] = []
    for name, order in basis.procedure.orders.items():
        if fastener in order.fasteners:
            at = order.fasteners.index(fastener)
            told.append(f"{name}, number {at + 1} of {len(order.fasteners)}")
            before += order.fasteners[:at][-1:]
    guard = basis.procedure.guards.get(fastener)
    before += list(guard.after) if guard else []
    return "; ".join(told) or "no order is declared", listed(before, "nothing")
