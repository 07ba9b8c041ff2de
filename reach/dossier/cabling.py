"""Cables: connectors mated and demated, leads laid, inhibits, windows and light that they need."""

from __future__ import annotations

from collections.abc import Iterator

from reach.clock import Span
from reach.dossier.basis import Basis
from reach.dossier.bolts import CHECKS as TURNING
from reach.dossier.bolts import turned
from reach.dossier.records import Row, Table
from reach.dossier.wording import clock, columns, doing, listed, table
from reach.ledger import Deed, Outing
from reach.model.handling import Confirm, Lay
from reach.model.procedure import Drive

CHECKS = (*TURNING, "window", "unpowered", "strain", "lead", "left-as", "present")


def cables(basis: Basis) -> Table:
    """Return what is mated, demated and laid, in order of time."""
    heads = columns(
        ("begins", "at"), ("ends", "at"), "step", "worker", "what is done", "connector", "lead",
        ("length of the lead", "m"), "runs through", "clamps", "inhibits asked",
        "confirmed at", "window", "light", "clock", ("push", "N"), "verdict",
    )  # fmt: skip
    says = (
        "Connectors in the order in which they are mated and demated, and the leads laid to them: "
        "which inhibits must be confirmed first and when they are, in which window the work must "
        "lie, whether it is dark then, and which clock runs from or to it."
    )
    rows = _rows(basis, basis.outing) if basis.outing else ()
    return table(
        "cables", "Cables: mating, demating and laying", says, heads, rows, "No cable is handled."
    )


def _rows(basis: Basis, outing: Outing) -> Iterator[Row]:
    connectors = [
        one
        for one in turned(basis)
        if isinstance(one.action, Drive)
        and basis.scene.fasteners[one.action.fastener].kind == "connector"
    ]
    laid = [one for one in outing.deeds if isinstance(one.action, Lay) and one.is_last]
    for deed in sorted([*connectors, *laid], key=outing.rank):
        yield _row(basis, outing, deed)


def _row(basis: Basis, outing: Outing, deed: Deed) -> Row:
    action = deed.action
    assert isinstance(action, Drive | Lay)
    connector = action.fastener if isinstance(action, Drive) else action.to
    lead = action.item if isinstance(action, Lay) else _lead_to(outing, connector)
    item = basis.scene.items.get(lead)
    record = basis.scene.fasteners.get(connector)
    guard = basis.procedure.guards.get(connector) if isinstance(action, Drive) else None
    span = outing.spans[deed.step.name]
    about = {connector} if isinstance(action, Drive) else {connector, lead}
    answers = basis.answers(deed.step.name, CHECKS, about)
    inhibits = guard.inhibits if guard else ()
    return Row(
        (
            span.begin,
            span.end,
            deed.step.name,
            deed.lane,
            doing(action),
            connector,
            lead or "no lead is laid to it",
            item.length if item else None,
            listed(action.through, "not declared") if isinstance(action, Lay) else "see where laid",
            listed(action.clamps, "none") if isinstance(action, Lay) else "see where laid",
            listed(inhibits, "none is declared"),
            listed((_confirmed(outing, one) for one in inhibits), "none is declared"),
            _window(basis, guard.window if guard else None),
            light_words(basis, span),
            listed(_clocks(basis, connector, deed.step.name), "no clock"),
            record.push if record else None,
            basis.verdict(answers),
        ),
        answers,
    )


def _lead_to(outing: Outing, connector: str) -> str:
    laid = [deed.action for deed in outing.deeds if isinstance(deed.action, Lay)]
    return next((one.item for one in laid if one.to == connector), "")


def _confirmed(outing: Outing, inhibit: str) -> str:
    for deed in outing.deeds:
        if isinstance(deed.action, Confirm) and deed.action.inhibit == inhibit:
            return f"{inhibit} at {clock(deed.moment)} in step '{deed.step.name}'"
    begin = outing.procedure.begin
    if begin is not None and inhibit in begin.confirmed:
        return f"{inhibit} from the begin"
    return f"{inhibit} never"


def _window(basis: Basis, name: str | None) -> str:
    if name is None:
        return "any time"
    record = basis.procedure.windows.get(name)
    if record is None:
        return name
    spans = ", ".join(f"{clock(begin)} to {clock(end)}" for begin, end in record.spans)
    kept = f", {record.margin / 60.0:g} min kept from both ends" if record.margin else ""
    return f"{name}: {spans}{kept}"


def light_words(basis: Basis, span: Span) -> str:
    """Return whether a stretch of time is in sunlight, dark, or in part, in words."""
    dark = [one for one in basis.procedure.windows.values() if one.dark]
    if not dark:
        return "not declared"
    inside = [
        (max(span.begin, begin), min(span.end, end))
        for one in dark
        for begin, end in one.spans
        if min(span.end, end) > max(span.begin, begin)
    ]
    if not inside:
        return "no dark is declared then"
    if sum(end - begin for begin, end in inside) >= span.end - span.begin - 1.0:
        return "dark throughout, by lamp"
    return (
        "dark " + ", ".join(f"{clock(begin)} to {clock(end)}" for begin, end in inside) + ": lamp"
    )


def _clocks(basis: Basis, connector: str, step: str) -> Iterator[str]:
    for name, one in basis.procedure.clocks.items():
        for end, word in ((one.start, "from"), (one.stop, "to")):
            if end in (connector, step):
                title = f" ({one.title})" if one.title else ""
                yield f"{name}{title} runs {word} here, {one.limit / 60.0:g} min at most"
