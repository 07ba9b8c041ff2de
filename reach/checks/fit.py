"""Question. Does the tool fit the fastener: with the right bit, strong enough, weak enough?

Margin. 0 when all of it holds, -1 when something does not. Exact.

Limit. ``head``, ``torque`` and ``most_torque`` of the fastener, ``takes_bits``, ``torque`` and
``least_torque`` of the tool, ``head`` of the bit, in the scene.

Blind spots. Battery, turns, order and what the tool is set to are not looked at, nor whether it
is a tool that the fastener may be turned with. What the scene leaves out (no head size, no
torque) is not judged.
"""

from __future__ import annotations

from reach.checks.wording import drives, finding_on, who
from reach.finding import Finding
from reach.site import Site, Situation
from reach.units import text_of

NAME = "fit"
IDS = ("J2",)


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each thing turned and each body."""
    return [_finding(site, situation) for situation in drives(situations)]


def _finding(site: Site, situation: Situation) -> Finding:
    assert situation.head is not None
    assert situation.held is not None
    wrong = _wrong(site, situation)
    margin = -1.0 if wrong else 0.0
    fits = f"{situation.held.title} fits {situation.head.name} as {who(situation)} uses it."
    return finding_on(
        NAME,
        situation,
        f"{'; '.join(wrong)}." if wrong else fits,
        margin,
        margin,
        "",
        fix=_fix(site, situation) if wrong else "",
    )


def _wrong(site: Site, situation: Situation) -> list[str]:
    head, held = situation.head, situation.held
    assert head is not None
    assert held is not None
    record, tool, name = head.record, held.record, head.name
    wrong = []
    if tool.takes_bits and record.head and held.bit_head != record.head:
        bit = f"a {held.bit_head} bit" if held.bit_head else "no bit"
        wrong.append(f"{name} has a {record.head} head, {held.title} has {bit}")
    wanted = situation.wanted_torque
    if wanted is not None and tool.torque is not None and tool.torque < wanted:
        wrong.append(
            f"{name} takes {text_of(wanted, 'N m')}, {held.name} gives at most "
            f"{text_of(tool.torque, 'N m')}"
        )
    most, least = record.most_torque, tool.least_torque
    if most is not None and least is not None and least > most:
        wrong.append(
            f"{name} bears {text_of(most, 'N m')}, {held.name} gives at least "
            f"{text_of(least, 'N m')}"
        )
    return wrong


def _fix(site: Site, situation: Situation) -> str:
    """Name the bits and tools there are that fit."""
    assert situation.head is not None
    record, scene = situation.head.record, site.scene
    bits = [name for name, bit in scene.bits.items() if bit.head == record.head]
    tools = [
        name
        for name, item in scene.items.items()
        if item.kind in record.tools and item.kind in scene.tools
    ] or list(record.tools)
    words = [" or ".join(tools)] if tools else []
    words += [f"bit {' or '.join(bits)}"] if bits and record.head else []
    return f"Use {' with '.join(words)}." if words else ""
