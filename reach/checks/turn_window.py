"""Question. Do bolts say between how many turns they come home, and what is done if they do not?

Margin. 0 where both are said and the turns expected lie between them, -1 where something is
missing or does not agree. Exact.

Limit. ``turns``, ``turns_between`` and ``if_stuck`` of each fastener that is driven, in the
scene; asked where any fastener of the scene says one of the two.

Blind spots. Whether the window is right for the thread, and the rule a good one, is not looked
at. Fasteners without ``turns`` are not asked.
"""

from __future__ import annotations

from reach.checks.ruling import finding_in
from reach.finding import Finding
from reach.ledger import Deed, Outing
from reach.model.procedure import Drive
from reach.site import Site

NAME = "turn-window"
IDS = ("K2",)
TAKES = "outing"


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return one finding for each time that something with turns is driven."""
    fasteners = outing.scene.fasteners.values()
    if not any(one.turns_between or one.if_stuck for one in fasteners):
        return []
    return [
        _finding(outing, deed, deed.action)
        for deed in outing.deeds
        if isinstance(deed.action, Drive)
        and deed.action.do == "drive"
        and outing.scene.fasteners[deed.action.fastener].turns is not None
    ]


def _finding(outing: Outing, deed: Deed, action: Drive) -> Finding:
    name, record = action.fastener, outing.scene.fasteners[action.fastener]
    missing = ["the window of its turns (turns_between)"] if not record.turns_between else []
    missing += [] if record.if_stuck else ["what is done if it sticks (if_stuck)"]
    wrong = f"{name} does not say {' nor '.join(missing)}" if missing else ""
    fix = f"Give {name} {' and '.join(missing)}."
    if record.turns_between and record.turns is not None:
        low, high = record.turns_between
        if not low <= record.turns <= high:
            wrong = f"{name} is to take {record.turns:g} turns, which is not {low:g} to {high:g}"
            fix = f"Correct turns or turns_between of {name}."
        window = f"{name} comes home in {low:g} to {high:g} turns; else: {record.if_stuck}"
    return finding_in(
        NAME,
        deed.step.name,
        (deed.lane, name, action.tool),
        f"{wrong}." if wrong else f"{window.rstrip('.')}.",
        -1.0 if wrong else 0.0,
        fix=fix,
    )
