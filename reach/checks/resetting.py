"""Question. Does a step in which a restraint is set anew last long enough for that?

Margin. Seconds between how long the step lasts and what setting takes, for each restraint whose
setting is another one after the step, or was not known before. Exact; as wide as the step's
duration where that is given as between two.

Limit. ``setting_time`` for one restraint.

Blind spots. One restraint takes the same time however many of its joints change; what else the
step does takes time of its own, which comes with the step's duration.
"""

from __future__ import annotations

from reach.checks.ruling import finding_in, minutes_text, unasked
from reach.finding import Finding
from reach.ledger import Outing, names
from reach.model.procedure import Step
from reach.site import Site

NAME = "resetting"
IDS = ("H3",)
TAKES = "outing"


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return one finding for each step that sets a restraint anew."""
    found = []
    for step in outing.steps if outing.is_declared else ():
        changed = _changed(outing, step)
        if changed:
            found.append(_finding(site, step, changed))
    return found


def _changed(outing: Outing, step: Step) -> dict[str, tuple[str, str]]:
    """Return the settings that a step changes: restraint -> before (may be empty), after."""
    before = outing.before(outing.deeds_in(step.name)[0])
    after = outing.after(step.name)
    return {
        restraint: (str(before[name] or ""), str(after[name]))
        for restraint in outing.scene.items
        if (name := names.setting(restraint)) in after
        and any(name in deed.event.writes for deed in outing.deeds_in(step.name))
        and after[name] is not None
        and before[name] != after[name]
    }


def _finding(site: Site, step: Step, changed: dict[str, tuple[str, str]]) -> Finding:
    limit = site.limit("setting_time")
    need = limit.value * len(changed)
    about = (step.lane, *changed)
    what = "; ".join(
        f"{one} {f'from {old} ' if old else ''}to {new}" for one, (old, new) in changed.items()
    )
    if step.between is not None:
        low, high = step.between
        lasts = f"{minutes_text(low)} to {minutes_text(high)}"
    elif step.duration is not None:
        low = high = step.duration
        lasts = minutes_text(low)
    else:
        because = f"{step.lane} sets {what}; how long the step lasts is not said."
        return unasked(NAME, step.name, about, because, "s")
    because = f"{step.lane} sets {what}, which takes {minutes_text(need)}; the step lasts {lasts}."
    fix = f"Give step '{step.name}' {minutes_text(need - low)} more."
    margin = (low - need, high - need)
    return finding_in(
        NAME, step.name, about, because, margin, "s", limits=(limit,), fix=fix, changes=len(changed)
    )
