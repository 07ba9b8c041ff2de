"""Question. Is every end of a safety line seen closed, locked and pulled when it is hooked on?

Margin. 0 where the action says that it is ``checked``; -1 where it does not. Exact.

Limit. None: each hook and each reel, each time.

Blind spots. A line that is taken on as part of a move cannot say that it was checked. Whether the
gate can be seen is asked by another check; the state of the line itself is not known.
"""

from __future__ import annotations

from reach.checks.ruling import finding_in
from reach.finding import Finding
from reach.ledger import Deed, Outing, names, shifts_of
from reach.model.handling import Attach
from reach.site import Site

NAME = "locked"
IDS = ("G6",)
TAKES = "outing"


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return one finding for each end of a line that is hooked on."""
    if not outing.is_declared:
        return []
    return [
        _finding(outing, deed, shift.line, shift.end, str(shift.to))
        for deed in outing.deeds
        for shift in shifts_of(outing, deed)
        if shift.to in outing.scene.anchors or shift.to in outing.workers
        if deed.event.effect(names.seen(shift.line, shift.end)) is not None
    ]


def _finding(outing: Outing, deed: Deed, line: str, end: str, to: str) -> Finding:
    action = deed.action
    about = (deed.lane, line, to)
    name = f"the {end} of {line} at {to}"
    if isinstance(action, Attach) and action.checked:
        because = f"{deed.lane} sees {name} closed and locked, and pulls."
        return finding_in(NAME, deed.step.name, about, because, 0.0)
    if isinstance(action, Attach):
        fix = f"Check {name} closed and locked, pull, and say checked = true."
    else:
        fix = f"Attach {line} to {to} by an action of its own before the move, checked = true."
    because = f"Nothing says that {deed.lane} checks {name} when it is hooked on."
    return finding_in(NAME, deed.step.name, about, because, -1.0, fix=fix)
