"""Whether both ends of safety lines are where somebody hooks them on, lets them go, takes them."""

from __future__ import annotations

from reach.checks.ruling import ruled
from reach.finding import Finding
from reach.ledger import (
    Deed,
    Judged,
    Outing,
    Shift,
    ends_left_to_others,
    is_at_anchor,
    is_end_here,
    judge,
    names,
    place_at,
    shifts_of,
)
from reach.ledger.riding import cause_of
from reach.orders import At, Is, Rule, Some
from reach.site import Site


def lines_here(check: str, site: Site, outing: Outing) -> list[Finding]:
    """Return one finding for each end of a line that a deed moves, or may have to move.

    Parameters
    ----------
    check : str
        Name of the check that asks.
    site : Site
    outing : Outing
    """
    asked, rules = [], []
    for deed in (one for one in outing.deeds if one.lane in outing.workers):
        taken = [(one, is_end_here(site, outing, deed, one)) for one in shifts_of(outing, deed)]
        for one in ends_left_to_others(outing, deed):
            there = Is(one.name, one.to)
            taken.append((one, Some((there, is_end_here(site, outing, deed, one)))))
        for shift, here in taken:
            asked.append((deed, shift))
            rules.append(Rule(f"{shift.end} of {shift.line} for {deed.name}", here, At(deed.name)))
    judged = judge(outing, rules)
    return [
        _finding(check, site, outing, deed, shift, one)
        for (deed, shift), one in zip(asked, judged, strict=True)
    ]


def _finding(
    check: str, site: Site, outing: Outing, deed: Deed, shift: Shift, judged: Judged
) -> Finding:
    place, to = place_at(outing, deed), str(shift.to)
    here = f"{deed.lane} at {place}" if place else f"{deed.lane} on the way"
    end = f"the {shift.end} of {shift.line}"
    goes = f" and {to}" if to in outing.scene.anchors else ""
    near = isinstance(place, str) and goes and is_at_anchor(site, place, to)
    if goes and not near:
        broken = f"{here} takes {end} to {to}, which is not at hand"
    else:
        where = _where(outing, deed, shift)
        broken = f"{end[0].upper()}{end[1:]} is not at hand of {here}: {where}"
    return ruled(
        check,
        judged,
        (deed.lane, shift.line, *((to,) if goes else ())),
        f"{here} has {end}{goes} at hand",
        broken,
        step=deed.step.name,
        fix=_fix(outing, deed, shift, bool(goes and not near)),
        cause=cause_of(outing, shift.line, deed),
        why=end,
    )


def _where(outing: Outing, deed: Deed, shift: Shift) -> str:
    """Return where an end is by then and since which step, as written, in words."""
    at = outing.before(deed).get(shift.name)
    if at is None:
        return "it was not taken out of the lock"
    if at == names.ADRIFT:
        where = "it is adrift"
    else:
        where = f"{at} has it" if at in outing.workers else f"it is at {at}"
    return where + _since(outing, deed, shift)


def _since(outing: Outing, deed: Deed, shift: Shift) -> str:
    """Return since which step an end is where it is, in words."""
    writes = [
        one.step.name
        for one in outing.deeds[: outing.rank(deed)]
        if one.event.effect(shift.name) is not None
    ]
    return f" since step '{writes[-1]}'" if writes else " from the start"


def _fix(outing: Outing, deed: Deed, shift: Shift, is_far: bool) -> str:
    """Name where to go, or where the end is to be left before."""
    if is_far:
        return f"Go to {shift.to} before '{deed.name}'."
    at, place = outing.before(deed).get(shift.name), place_at(outing, deed)
    if at is None:
        along = f"Take the {shift.end} of {shift.line} along before step '{deed.step.name}'"
        return f"{along}, or say in begin.lines where it is."
    if at in outing.scene.anchors:
        return f"Do '{deed.name}' at {at}, or leave the {shift.end} of {shift.line} at {place}."
    return f"Bring the {shift.end} of {shift.line} along before step '{deed.step.name}'."
