"""What must be so before a payload is let go, and how near anything comes while it moves."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from reach.checks.wording import at_least
from reach.dossier.basis import Basis
from reach.dossier.records import Cell, Row, Table
from reach.dossier.wording import columns, doing, known, listed, sure, table
from reach.finding import Finding, Verdict
from reach.ledger import Outing, names
from reach.model.procedure import Drive
from reach.model.scene import Scene
from reach.orders import Value

RELEASE = ("held", "guard", "receiver", "sequence", "loose", "grips", "hand-time")
MOTION = ("sweep", "bystander", "links", "watch", "approach", "stop", "momentum", "pinch")

SAME = 1e-6
"""Two gaps that differ by less than this (m) are the same one."""

NEXT = 3
"""So many things are told besides the nearest one."""

WHAT = {"plate": "boot plate", "rider": "who rides", "payload": "payload"}


def payload_release(basis: Basis) -> Table:
    """Return each moment at which a payload loses something that fixes or holds it."""
    heads = columns(
        ("when", "at"), "step", "who", "what is done", "payload", "then fixed by", "then held by",
        "asked before it", "found", "verdict",
    )  # fmt: skip
    says = (
        "Each time that a fastener or guide lets go of a payload, or that hands or a crane do: "
        "what fixes and who holds it just after that, and what guards and orders ask before. Free "
        "of all that fixes it, it must be held."
    )
    rows = _releases(basis, basis.outing) if basis.outing else ()
    return table(
        "payload-release", "Payload release", says, heads, rows, "No payload is let go of."
    )


def _releases(basis: Basis, outing: Outing) -> Iterator[Row]:
    for deed in outing.deeds:
        for name in basis.scene.payloads:
            before, after = outing.before(deed), outing.states[outing.rank(deed) + 1]
            lost = (_set(before, names.fixed(name)) - _set(after, names.fixed(name))) | (
                _set(before, names.hands(name)) - _set(after, names.hands(name))
            )
            if not lost:
                continue
            fastener = deed.action.fastener if isinstance(deed.action, Drive) else ""
            about = {name, fastener, deed.lane} - {""}
            answers = basis.answers(deed.step.name, RELEASE, about)
            found = [basis.findings[k] for k in answers]
            bad = [one.because for one in found if one.verdict is not Verdict.PASS]
            yield Row(
                (
                    deed.moment,
                    deed.step.name,
                    deed.lane,
                    f"go to {deed.step.where}" if deed.action is None else doing(deed.action),
                    name,
                    listed(sorted(_set(after, names.fixed(name))), "nothing"),
                    listed(sorted(_set(after, names.hands(name))), "nobody"),
                    listed(_asked(basis, fastener), "nothing is declared"),
                    " ".join(bad) or ("as asked" if found else "nothing was asked"),
                    basis.verdict(answers),
                ),
                answers,
            )


def _set(values: Mapping[str, Value], name: str) -> frozenset[str]:
    found = values.get(name)
    return frozenset(str(one) for one in found) if isinstance(found, frozenset) else frozenset()


def _asked(basis: Basis, fastener: str) -> Iterator[str]:
    guard = basis.procedure.guards.get(fastener)
    if guard is not None:
        if guard.held:
            yield f"{guard.held} is held by somebody else or by a crane"
        yield from (f"{inhibit} confirmed" for inhibit in guard.inhibits)
        yield from (f"after {one}" for one in guard.after)
        yield from (f"{item} at hand" for item in guard.items)
    for name, order in basis.procedure.orders.items():
        if fastener in order.fasteners:
            yield f"order {name}: {', '.join(order.fasteners)}"


def payload_clearance(basis: Basis) -> Table:
    """Return how near each part of what moves comes to anything, motion by motion."""
    heads = columns(
        "step", "what moves", "through", "which part", "nearest to", ("gap at least", "m"),
        ("gap at most", "m"), ("asked", "m"), ("left of what is asked", "m"),
        ("at the waypoints alone", "m"), "next nearest", "in words", "verdict",
    )  # fmt: skip
    says = (
        "Least gaps over the whole of each motion, not only at its waypoints: nothing is nearer "
        "than 'at least', which is proved; 'at most' is a gap that was found. What is left counts "
        "what is asked of that thing; a clear-caller may be nearer than others."
    )
    return table(
        "payload-clearance", "Clearances of payloads and cranes that move", says, heads,
        _gaps(basis), "Nothing is moved.",
    )  # fmt: skip


def _gaps(basis: Basis) -> Iterator[Row]:
    for k, one in enumerate(basis.findings):
        if one.check == "sweep":
            yield _swept(one, k)
        elif one.check == "bystander":
            yield _bystander(one, k)
        elif one.check == "links":
            yield _links(basis.scene, one, k)


def _row(one: Finding, k: int, *cells: Cell, waypoints: float | None, others: str) -> Row:
    """Return a line: through, part, thing, gap at least, at most and asked are ``cells``."""
    words = (sure(one), waypoints, others, one.because, one.verdict)
    return Row((one.step, one.about[0], *cells, *words), (k,))


def _swept(one: Finding, k: int) -> Row:
    part = WHAT.get(one.answer, one.answer or "not known")
    gaps: dict[str, Any] = one.numbers.get("gaps") or {}
    ends: dict[str, Any] = one.numbers.get("waypoints") or {}
    through = listed(ends, "not known")
    at_ends = min((float(v) for v in ends.values()), default=None)
    if not gaps:
        unknown: tuple[Cell, ...] = through, part, "not known", None, None, None
        return _row(one, k, *unknown, waypoints=at_ends, others="not known")
    order = sorted(gaps.items(), key=lambda pair: pair[1]["gap"][0] - pair[1]["stand-off"])
    thing, told = order[0]
    low, high = told["gap"]
    piece = f"{part}, {told['piece']}" if told.get("piece") else part
    others = (
        f"{name} {at_least(each['gap'][0])}" for name, each in order[1 : 1 + NEXT] if each["gap"]
    )
    cells = through, piece, thing, known(low), known(high), told["stand-off"]
    return _row(one, k, *cells, waypoints=at_ends, others=listed(others, "nothing else"))


def _bystander(one: Finding, k: int) -> Row:
    low, high = one.numbers.get("gap", (None, None))
    asked = one.limits[0].value if one.limits else None
    part = str(one.numbers.get("part") or "not known")
    cells = "the whole motion", part, one.about[-1], known(low), known(high), asked
    return _row(one, k, *cells, waypoints=None, others="each other worker has a line")


def _links(scene: Scene, one: Finding, k: int) -> Row:
    gaps = {
        name.removeprefix("gap, "): float(v)
        for name, v in one.numbers.items()
        if name.startswith("gap, ") and v is not None
    }
    thing = str(one.numbers.get("thing") or "not known")
    gap, asked = _link_gap(scene, one, thing, gaps)
    others = (f"{name} {at_least(v)}" for name, v in sorted(gaps.items(), key=lambda g: g[1]))
    link = str(one.numbers.get("link") or "not known")
    cells = "links of the crane", link, thing, gap, None, asked
    return _row(one, k, *cells, waypoints=None, others=listed(others, "not known"))


def _link_gap(
    scene: Scene, one: Finding, thing: str, gaps: Mapping[str, float]
) -> tuple[float | None, float | None]:
    """Return the gap to the thing that decides, and what is asked of it, m; None if not known."""
    margin = sure(one)
    if margin is None:
        return None, None
    if thing in scene.hazards:
        asked = {"hazard": scene.hazards[thing].stand_off}
    elif thing in scene.solids:
        limit = one.limits[0].value if one.limits else 0.0
        asked = dict.fromkeys(("solid", "structure", "carried"), limit)
    else:
        asked = {"self": 0.0}
    for kind, value in asked.items():
        if kind in gaps and abs(gaps[kind] - margin - value) < SAME:
            return gaps[kind], value
    return None, None
