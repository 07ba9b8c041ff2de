"""Question. If work stalls half-way, in which state are things left, and is that safe for long?

Margin. Where phases are declared, seconds by which the state that each one names stays safe beyond
what is asked; -1 where a phase names none or does not say for how long it is safe.

Limit. ``safe_time``. Exact.

Blind spots. That the state is safe, and can be reached from every step of the phase, is the
planner's word; it is not looked at.
"""

from __future__ import annotations

from reach.checks.ruling import finding_in
from reach.finding import Finding
from reach.ledger import Outing
from reach.model.outing import Phase
from reach.site import Site
from reach.timing import settled
from reach.units import text_of

NAME = "safe-stop"
IDS = ("Q5", "K5")
TAKES = "outing"


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return one finding for each phase of the procedure."""
    return [_finding(site, outing, *one) for one in outing.procedure.phases.items()]


def _finding(site: Site, outing: Outing, name: str, phase: Phase) -> Finding:
    about = (outing.step(phase.start).lane, name)
    if not phase.stop:
        because = f"Phase '{name}' does not say in which state things are left if work stalls."
        fix = f"Give phase '{name}' stop and safe."
        return finding_in(NAME, phase.start, about, because, -1.0, "s", fix=fix)
    if phase.safe is None:
        because = f"Phase '{name}' does not say for how long it is safe to stop at: {phase.stop}."
        fix = f"Give phase '{name}' safe."
        return finding_in(NAME, phase.start, about, because, -1.0, "s", fix=fix)
    limit = site.limit("safe_time")
    margin = settled(phase.safe - limit.value)
    because = (
        f"If work stalls in phase '{name}' things are left as: {phase.stop}, safe for "
        f"{text_of(phase.safe / 3600.0, 'h')}; {text_of(limit.value / 3600.0, 'h')} are asked."
    )
    fix = f"Name a state that is safe for {text_of(limit.value / 3600.0, 'h')} in phase '{name}'."
    return finding_in(NAME, phase.start, about, because, margin, "s", limits=(limit,), fix=fix)
