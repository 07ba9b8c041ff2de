"""Question. Is everyone outside the lock always on a safety line that is hooked to an anchor?

Margin. 0 where a line's reel is on the suit and its hook on an anchor, from when the worker comes
out to when they are in, in every order that the links between steps allow; -1 where not.

Limit. None: a line is changed by hooking on the new one before the old one is let go.

Blind spots. Whether the anchor is a good one, the line long enough and the gate locked is asked
by other checks; waist tethers and restraints do not count as safety lines.
"""

from __future__ import annotations

from reach.checks.lapses import Lapse, Told, always
from reach.finding import Finding
from reach.ledger import Outing, judge, lines_for, lines_of, names
from reach.model.handling import Attach, Egress
from reach.model.procedure import Release, Translate
from reach.orders import All, Always, Among, Condition, Is, Rule, Some
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
    return found


def on_a_line(outing: Outing, worker: str) -> Condition:
    """Return the condition that a worker is inside, or wears a line hooked to an anchor."""
    anchors = frozenset(outing.scene.anchors)
    worn = [
        All((Is(names.reel(line), worker), Among(names.hook(line), anchors)))
        for line in lines_for(outing, worker)
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
    if isinstance(by.action, Egress):
        line = f"{new} to {worker}" if new else f"a safety line to {worker}"
        return f"Attach {line} and to an anchor before {worker} comes out of the lock."
    old = by.action.what if isinstance(by.action, Release) else None
    if new and new != old:
        before = f"{old} is released" if old else f"step '{by.step.name}'"
        return f"Attach {new} and check it locked before {before}."
    return f"Attach another line to {worker} before '{by.name}'."
