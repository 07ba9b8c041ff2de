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
    approach,
    bystander,
    clearance,
    companion,
    corridor,
    crossing,
    edge,
    effort,
    error,
    exposure,
    fit,
    gap,
    glove,
    hand,
    hands,
    hook,
    ingress,
    inner,
    kick,
    line_home,
    load,
    pace,
    passing,
    push,
    rails,
    reach,
    rescue,
    route,
    sag,
    share,
    sight,
    sizes,
    socket,
    stand_off,
    sweep,
    swing,
    tether,
    torque,
    two_handed,
    watch,
)

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
    sweep,
    bystander,
    approach,
    watch,
)
"""Every check, in the order in which findings are listed."""


def of_carriages(check: ModuleType) -> bool:
    """Return whether a check is asked of what is moved, not of what a worker does.

    Such a module says ``TAKES = "carriages"``; its ``find`` takes those instead of situations.
    """
    return getattr(check, "TAKES", "situations") == "carriages"


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
