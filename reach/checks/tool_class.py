"""Question. Is the tool of a class that the fastener may be turned with: power drive or hand?

Margin. 0 where it is one of those that the fastener takes, -1 where it is not. Exact.

Limit. ``tools`` of the fastener, in the scene: items by name, or kinds of tools.

Blind spots. A fastener without a list of tools takes any; how much torque it bears is the check
on what the tool is set to.
"""

from __future__ import annotations

from reach.checks.wording import drives, finding_on, not_asked, who
from reach.finding import Finding
from reach.site import Site, Situation

NAME = "tool-class"
IDS = ("K3",)


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each thing turned and each body."""
    return [_finding(site, situation) for situation in drives(situations)]


def _finding(site: Site, situation: Situation) -> Finding:
    assert situation.head is not None
    assert situation.held is not None
    head, held = situation.head, situation.held
    allowed = head.record.tools
    if not allowed:
        return not_asked(NAME, situation, f"Nothing says what {head.name} may be turned with.", "")
    right = bool({held.name, kind_of(site, held.name)} & set(allowed))
    takes = f"{head.name} takes {' or '.join(allowed)}"
    hands = "" if right or _powered(site, allowed) else ", by hand only"
    return finding_on(
        NAME,
        situation,
        f"{takes}, and {who(situation)} has {held.name}."
        if right
        else f"{takes}{hands}, not {held.name}.",
        0.0 if right else -1.0,
        0.0 if right else -1.0,
        "",
        fix="" if right else _fix(site, situation),
    )


def kind_of(site: Site, name: str) -> str:
    """Return the kind of tool that an item is; the name itself where it is no item."""
    items = site.scene.items
    return items[name].kind if name in items else name


def _powered(site: Site, tools: tuple[str, ...]) -> bool:
    kinds = [site.scene.tools.get(kind_of(site, name)) for name in tools]
    return any(kind is not None and kind.kind == "drive" for kind in kinds)


def _fix(site: Site, situation: Situation) -> str:
    """Name the tools there are that are allowed."""
    assert situation.head is not None
    allowed, scene = situation.head.record.tools, site.scene
    there = [name for name, item in scene.items.items() if item.kind in allowed]
    return f"Use {' or '.join(there or allowed)}."
