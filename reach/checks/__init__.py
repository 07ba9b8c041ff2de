"""The questions: one module a check, each with NAME, IDS, four paragraphs and `find`.

A check takes the site and the situations and returns findings; it opens no file and draws
nothing.  To add one, write its module and list it in `CHECKS`.
"""

from __future__ import annotations

import difflib
from types import ModuleType

from reach.checks import (
    access,
    anchor,
    anchored,
    approach,
    boarding,
    burden,
    bystander,
    clean_up,
    clearance,
    companion,
    corridor,
    crane_reach,
    crossing,
    custody,
    device,
    dial,
    edge,
    effort,
    energy,
    error,
    exposure,
    fit,
    gap,
    glove,
    glove_check,
    grips,
    guard,
    hand,
    hand_hazard,
    hand_time,
    hands,
    held,
    helmets,
    hook,
    hooked,
    ingress,
    inner,
    inventory,
    joints,
    kick,
    lanes,
    lead,
    left_as,
    left_record,
    light,
    line_home,
    links,
    load,
    locked,
    loose,
    meeting,
    momentum,
    outing,
    pace,
    parking,
    passing,
    pinch,
    plugged,
    present,
    push,
    rails,
    reach,
    receiver,
    rescue,
    resetting,
    route,
    safe_stop,
    sag,
    sequence,
    share,
    sight,
    sizes,
    slots,
    socket,
    sockets,
    stand_off,
    stop,
    strain,
    sweep,
    swing,
    tether,
    tether_riding,
    tool_class,
    torque,
    touch,
    turn_window,
    two_handed,
    unpowered,
    watch,
    window,
)
from reach.finding import Finding
from reach.site import Carriage, Site, Situation

CHECKS: tuple[ModuleType, ...] = (
    reach,
    socket,
    two_handed,
    effort,
    access,
    glove,
    inner,
    error,
    ingress,
    clearance,
    sight,
    torque,
    load,
    push,
    sizes,
    share,
    hand,
    fit,
    tool_class,
    route,
    gap,
    rails,
    hands,
    pace,
    corridor,
    stand_off,
    passing,
    tether,
    rescue,
    companion,
    line_home,
    anchor,
    hook,
    kick,
    exposure,
    edge,
    crossing,
    sag,
    swing,
    grips,
    hand_hazard,
    helmets,
    momentum,
    pinch,
    sweep,
    bystander,
    approach,
    watch,
    crane_reach,
    joints,
    links,
    boarding,
    stop,
    present,
    hooked,
    anchored,
    tether_riding,
    locked,
    custody,
    plugged,
    sockets,
    resetting,
    burden,
    held,
    receiver,
    guard,
    sequence,
    outing,
    glove_check,
    window,
    unpowered,
    device,
    lanes,
    hand_time,
    clean_up,
    safe_stop,
    light,
    touch,
    slots,
    parking,
    dial,
    energy,
    turn_window,
    loose,
    lead,
    strain,
    inventory,
    left_as,
    left_record,
    meeting,
)
"""Every check, in the order in which findings are listed."""


def of_carriages(check: ModuleType) -> bool:
    """Return whether a check is asked of what is moved, not of what a worker does.

    Such a module says ``TAKES = "carriages"``; its ``find`` takes those instead of situations.
    One that says ``"both"`` takes situations, and carriages beside them.
    """
    return getattr(check, "TAKES", "situations") == "carriages"


def of_outing(check: ModuleType) -> bool:
    """Return whether a check is asked of the whole outing at once, not step by step.

    Such a module says ``TAKES = "outing"``; its ``find`` takes site and `Outing`.
    """
    return getattr(check, "TAKES", "situations") == "outing"


def takes_carriages(check: ModuleType) -> bool:
    """Return whether a check is asked of what is moved, be it beside what workers do."""
    return getattr(check, "TAKES", "situations") in ("carriages", "both")


def findings_in(
    check: ModuleType,
    site: Site,
    situations: tuple[Situation, ...],
    carriages: tuple[Carriage, ...] = (),
) -> list[Finding]:
    """Return what a check finds in one step; nothing where it is asked of the outing alone."""
    if of_outing(check):
        return []
    if of_carriages(check):
        found: list[Finding] = check.find(site, carriages)
    elif getattr(check, "TAKES", "") == "both":
        found = check.find(site, situations, carriages)
    else:
        found = check.find(site, situations)
    return found


def check_named(name: str) -> ModuleType:
    """Return a check by its plain name or one of its ids.

    Raises
    ------
    ValueError
        Naming the nearest right name.

    Examples
    --------
    >>> check_named("B1").NAME
    'clearance'
    """
    for check in CHECKS:
        if name.lower() == check.NAME or name.upper() in check.IDS:
            return check
    names = [check.NAME for check in CHECKS] + [i for check in CHECKS for i in check.IDS]
    close = difflib.get_close_matches(name, names, n=1, cutoff=0.0)
    raise ValueError(f"no check {name!r}; did you mean {close[0]!r}?")
