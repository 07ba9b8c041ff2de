"""Question. Is every end of a safety line seen closed, locked and pulled when it is hooked on?

Margin. 0 where the action says that it is ``checked``; -1 where it does not, or where a move may
come, in some order, before the step that hooks on what it names. Exact.

Limit. None: each hook and each reel, each time.

Blind spots. A line that is taken on as part of a move cannot say that it was checked. Whether the
gate can be seen is asked by another check; the state of the line itself is not known.
"""

from __future__ import annotations

from reach.checks.ruling import finding_in, ruled
from reach.finding import Finding
from reach.ledger import Deed, Outing, ends_left_to_others, judge, names, shifts_of
from reach.model.handling import Attach
from reach.orders import At, Is, Rule
from reach.site import Site

NAME = "locked"
IDS = ("G6",)
TAKES = "outing"


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return one finding for each end of a line that is hooked on."""
    if not outing.is_declared:
        return []
    return [
        *(
            _finding(outing, deed, shift.line, shift.end, str(shift.to))
            for deed in outing.deeds
            for shift in shifts_of(outing, deed)
            if shift.to in outing.scene.anchors or shift.to in outing.workers
            if deed.event.effect(names.seen(shift.line, shift.end)) is not None
        ),
        *_of_moves(outing),
    ]


def _of_moves(outing: Outing) -> list[Finding]:
    """Return what is wrong with moves that, in some order, hook on what another lane would."""
    asked = [
        (deed, shift)
        for deed in outing.deeds
        if deed.lane in outing.workers
        for shift in ends_left_to_others(outing, deed)
    ]
    rules = [
        Rule(f"{deed.name} {shift.end}", Is(shift.name, shift.to), At(deed.name))
        for deed, shift in asked
    ]
    found = []
    for (deed, shift), judged in zip(asked, judge(outing, rules), strict=True):
        name = f"the {shift.end} of {shift.line} at {shift.to}"
        found.append(
            ruled(
                NAME,
                judged,
                (deed.lane, shift.line, str(shift.to)),
                f"Whoever hooks on {name} does it before {deed.lane} moves",
                f"{deed.lane}, who moves, may have to hook on {name}, and nobody checks it then",
                step=deed.step.name,
                fix=f"Let '{deed.step.name}' come after the step that hooks on {name}.",
            )
        )
    return found


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
