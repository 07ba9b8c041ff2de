"""What is taken along, what is packed in what, and where each piece is at every moment."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from reach.dossier.basis import Basis
from reach.dossier.records import Cell, Row, Table
from reach.dossier.wording import UNTOLD, columns, listed, table
from reach.ledger import Outing, chain_of, names, needs_of
from reach.model.hardware import Item
from reach.orders import Value

PRESENCE = ("present", "custody", "inventory", "left-as", "energy", "burden", "parking")


def tools_and_hardware(basis: Basis) -> Table:
    """Return every item with what it is, where it begins and ends, and which steps need it."""
    heads = columns(
        "item", "what it is", "bulky", "size", ("mass", "kg"), "at the begin", "in the end",
        "needed by", "store", "note", "verdict",
    )  # fmt: skip
    says = (
        "Every named piece of hardware: what it is in or on at the begin and in the end, and the "
        "steps that need it at hand. Masses and sizes that the scene does not give are not known."
    )
    rows = (_item(basis, name, item) for name, item in basis.scene.items.items())
    return table(
        "tools-and-hardware", "Tools and hardware", says, heads, rows, "The scene names no item."
    )


def _item(basis: Basis, name: str, item: Item) -> Row:
    answers = basis.answers(checks=PRESENCE, names=(name,))
    outing = basis.outing
    start: Mapping[str, Value] = outing.start if outing else {}
    end: Mapping[str, Value] = outing.finally_ if outing else {}
    store = basis.procedure.stores.get(name)
    return Row(
        (
            name,
            item.kind or ("bag" if item.slots is not None else "piece"),
            "yes" if item.bulky else "no",
            " x ".join(f"{v:g} m" for v in item.size) if item.size else None,
            item.mass,
            where_words(basis, start, name),
            where_words(basis, end, name),
            listed(_needing(outing, name) if outing else (), "no step"),
            "no store is declared" if store is None else _store(store.turns, store.reserve),
            item.note or "no note",
            basis.verdict(answers),
        ),
        answers,
    )


def _store(turns: float | None, reserve: float) -> str:
    if turns is None:
        return "no turns are declared"
    return f"{turns:g} turns, {turns * (1.0 - reserve):g} of them may be used"


def _needing(outing: Outing, item: str) -> Iterator[str]:
    for deed in outing.deeds:
        if any(need.item == item for need in needs_of(outing, deed)):
            yield deed.step.name


def where_words(basis: Basis, values: Mapping[str, Value], item: str) -> str:
    """Return what an item is in or on, inner first, in words."""
    chain = chain_of(values, item)
    if not chain:
        declared = basis.procedure.begin is not None
        return "not along" if declared else "not known"
    workers = [lane for lane, kind in basis.procedure.lanes.items() if kind == "worker"]
    told = []
    for one in chain:
        word = "on" if one in workers else "in" if one in basis.scene.items else "at"
        told.append(f"{word} {one}")
    return ", ".join(told)


def bag_packing(basis: Basis) -> Table:
    """Return what is in each bag at the begin, with slots and masses."""
    heads = columns(
        "bag", "slots", "slots taken", "what is in it", ("mass of what is in it", "kg"),
        ("may hold", "kg"), "begins", "verdict",
    )  # fmt: skip
    says = (
        "Bags as they are packed when the outing begins. The verdict is that of the whole outing: "
        "a bag that is overfull later fails here. A mass is not known where a piece in the bag "
        "gives none."
    )
    rows = (
        _bag(basis, name, item)
        for name, item in basis.scene.items.items()
        if item.slots is not None
    )
    return table("bag-packing", "Packing of bags", says, heads, rows, "The scene names no bag.")


def _bag(basis: Basis, name: str, bag: Item) -> Row:
    start: Mapping[str, Value] = basis.outing.start if basis.outing else {}
    found = start.get(names.contents(name))
    inside = [item for item in basis.scene.items if isinstance(found, frozenset) and item in found]
    masses = [basis.scene.items[one].mass for one in inside]
    known = [mass for mass in masses if mass is not None]
    answers = basis.answers(checks=("slots",), names=(name,))
    declared = basis.procedure.begin is not None
    return Row(
        (
            name,
            bag.slots,
            sum(basis.scene.items[one].takes for one in inside) if declared else None,
            listed(inside, "nothing") if declared else None,
            sum(known) if len(known) == len(masses) and masses else None,
            bag.most_mass,
            where_words(basis, start, name),
            basis.verdict(answers),
        ),
        answers,
    )


def stowage(basis: Basis) -> Table:
    """Return for each item each stretch of time that it is in one place, one after the other."""
    heads = columns(
        "item", ("from", "at"), ("until", "at"), "since step", "where it is", "tied to", "verdict"
    )
    says = (
        "Where each piece is at every step: one line from the moment at which it comes somewhere "
        "until it is moved on, with what it is tied to. A bag that moves takes what is in it along."
    )
    rows = (
        row
        for item in basis.scene.items
        for row in (_stretches(basis, item) if basis.outing else ())
    )
    return table("stowage", "Stowage after every step", says, heads, rows, "No item is followed.")


def _stretches(basis: Basis, item: str) -> Iterator[Row]:
    outing = basis.outing
    assert outing is not None
    marks: list[tuple[float, str, tuple[str, str]]] = []
    steps = ["the begin", *(deed.step.name for deed in outing.deeds)]
    moments = [0.0, *(deed.moment for deed in outing.deeds)]
    for moment, step, values in zip(moments, steps, outing.states, strict=True):
        now = where_words(basis, values, item), _tied(basis, values, item)
        if not marks or marks[-1][2] != now:
            marks.append((moment, step, now))
    ends = [*(mark[0] for mark in marks[1:]), outing.end]
    for (moment, step, (where, tied)), end in zip(marks, ends, strict=True):
        answers = basis.answers(step, PRESENCE, (item,))
        cells: tuple[Cell, ...] = (item, moment, end, step, where, tied, basis.verdict(answers))
        yield Row(cells, answers)


def _tied(basis: Basis, values: Mapping[str, Value], item: str) -> str:
    ties = values.get(names.ties(item))
    if not chain_of(values, item):
        return UNTOLD
    found = sorted(str(one) for one in ties) if isinstance(ties, frozenset) else []
    return listed(found, "nothing")
