"""Question. Is everyone outside the lock always on a safety line that is hooked to an anchor?

Margin. 0 where a line's reel is on the suit and its hook on an anchor, from when the worker comes
out to when they are in, in every order that the links between steps allow; -1 where not.  While a
hook goes from one anchor to another, another line must be worn and hooked.

Limit. None: a line is changed by hooking on the new one before the old one is let go.

Blind spots. Whether the anchor is a good one, the line long enough and the gate locked is asked
by other checks; waist tethers and restraints do not count as safety lines.
"""

from __future__ import annotations

from collections.abc import Sequence

from reach.checks.lapses import Lapse, Told, always
from reach.checks.ruling import ruled
from reach.finding import Finding
from reach.ledger import Deed, Outing, Shift, judge, lines_for, lines_of, names, shifts_of
from reach.model.handling import Attach, Egress
from reach.model.procedure import Release, Translate
from reach.orders import All, Always, Among, At, Condition, Is, Not, Rule, Some
from reach.site import Site

NAME = "hooked"
IDS = ("G2",)
TAKES = "outing"


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return one finding for each worker who goes out, or one for each time without a line."""
    if not outing.is_declared or not lines_of(outing):
        return []
    workers = [one for one in outing.workers if True in outing.ever(names.outside(one))]
    rules = [Rule(f"{one} on a line", on_a_line(outing, one), Always()) for one in workers]
    found = []
    for worker, judged in zip(workers, judge(outing, rules), strict=True):

        def tell(lapse: Lapse, worker: str = worker) -> Told:
            broken = f"No safety line hooked to an anchor is on the suit of {worker}"
            return Told(broken, _fix(worker, lapse))

        holds = f"{worker} is on a safety line hooked to an anchor all the time outside"
        step = next((one.name for one in outing.steps if one.lane == worker), "")
        lines = list(lines_for(outing, worker))
        found += always(NAME, judged, (worker,), holds, tell, step=step, lines=lines)
    return [*found, *_moved_over(outing, workers)]


def _moved_over(outing: Outing, workers: Sequence[str]) -> list[Finding]:
    """Return one finding for each hook that is taken from one anchor to another on a worn line."""
    asked = [
        (deed, shift.line, str(shift.to), worker)
        for deed in outing.deeds
        for shift in shifts_of(outing, deed)
        if shift.end == "hook" and shift.to in outing.scene.anchors
        for worker in workers
        if shift.line in lines_for(outing, worker) and _ever_elsewhere(outing, shift)
    ]
    rules = [
        Rule(f"{line} of {worker} to {to}", _while_moved(outing, worker, line, to), At(deed.name))
        for deed, line, to, worker in asked
    ]
    return [
        ruled(
            NAME,
            judged,
            (worker, line, to),
            f"{worker} is on a line while the hook of {line} goes to {to}",
            f"{worker} is on no other line while the hook of {line} goes from one anchor to {to}",
            step=deed.step.name,
            fix=f"Attach another line to {worker} before '{deed.name}'.",
        )
        for (deed, line, to, worker), judged in zip(asked, judge(outing, rules), strict=True)
        if judged.margin[0] < 0.0 or _is_worn_and_hooked(outing, deed, worker, line, to)
    ]


def _is_worn_and_hooked(outing: Outing, deed: Deed, worker: str, line: str, to: str) -> bool:
    """Return whether a line hooked to another anchor is worn before a deed, as written."""
    values = outing.before(deed)
    hook = values.get(names.hook(line))
    is_hooked = hook in outing.scene.anchors and hook != to
    return is_hooked and values.get(names.reel(line)) == worker


def _ever_elsewhere(outing: Outing, shift: Shift) -> bool:
    others = set(outing.ever(shift.name)) - {shift.to}
    return bool(others & set(outing.scene.anchors))


def _while_moved(outing: Outing, worker: str, line: str, to: str) -> Condition:
    """Return the condition that a worker needs not the line of which the hook goes elsewhere."""
    anchors = frozenset(outing.scene.anchors) - {to}
    unused = (Not(Is(names.reel(line), worker)), Not(Among(names.hook(line), anchors)))
    return Some((*unused, on_a_line(outing, worker, but=line)))


def on_a_line(outing: Outing, worker: str, but: str = "") -> Condition:
    """Return the condition that a worker is inside, or wears a line (but one) that is hooked."""
    anchors = frozenset(outing.scene.anchors)
    worn = [
        All((Is(names.reel(line), worker), Among(names.hook(line), anchors)))
        for line in lines_for(outing, worker)
        if line != but
    ]
    return Some((Is(names.outside(worker), False), *worn))


def _fix(worker: str, lapse: Lapse) -> str:
    by, until = lapse.by, lapse.until
    if by is None:
        return f"Say in begin.lines which line {worker} is on at the start."
    new = ""
    if until is not None and isinstance(until.action, Attach):
        new = until.action.what
    elif until is not None and isinstance(until.action, Translate):
        new = until.action.tether or ""
    if (
        by.lane == worker
        and names.outside(worker) in by.event.writes
        and not isinstance(by.action, Egress)
    ):
        return f"Let {worker} come out of the lock by an egress, on a line."
    if isinstance(by.action, Egress):
        line = f"{new} to {worker}" if new else f"a safety line to {worker}"
        return f"Attach {line} and to an anchor before {worker} comes out of the lock."
    old = by.action.what if isinstance(by.action, Release) else None
    if new and new != old:
        before = f"{old} is released" if old else f"step '{by.step.name}'"
        return f"Attach {new} and check it locked before {before}."
    return f"Attach another line to {worker} before '{by.name}'."
