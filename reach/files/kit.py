"""Which piece of hardware a name stands for, what takes which bit, how a restraint may be set."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from reach.files.lines import Place
from reach.files.problem import unknown
from reach.files.references import missing
from reach.model.hardware import Restraint, Tool
from reach.model.scene import Scene


def hardware(scene: Scene, table: str, name: str) -> Any:
    """Return the restraint, tool, bit or extension called ``name``, directly or as an item.

    None when there is no such piece or it is of another table.
    """
    kinds: Mapping[str, Any] = getattr(scene, table)
    if name in kinds:
        return kinds[name]
    item = scene.items.get(name)
    return None if item is None else kinds.get(item.kind)


def kit_problem(scene: Scene, table: str, name: str) -> str:
    """Return why ``name`` is no piece of hardware of a table, or nothing.

    Parameters
    ----------
    scene : Scene
    table : str
        ``"restraints"``, ``"tools"``, ``"bits"`` or ``"extensions"``.
    name : str
        Of an item, or of the kind itself.
    """
    if hardware(scene, table, name) is not None:
        return ""
    if name in scene.items:
        kind = scene.items[name].kind
        is_what = f"is a {kind}, not" if kind else "is not"
        return f"item {name!r} {is_what} a {table.removesuffix('s')}"
    items = [n for n in scene.items if hardware(scene, table, n) is not None]
    return missing(name, {table: [*getattr(scene, table), *items]}, [table])


def piece_problem(scene: Scene, table: str, name: str) -> str:
    """Return why ``name`` is no item of a kind of hardware, or nothing.

    A kind alone will not do where it counts which of several pieces is meant.
    """
    if name in getattr(scene, table):
        what = table.removesuffix("s")
        return f"{name!r} is a kind of {what}, not a piece: name one under items, is = {name!r}"
    return kit_problem(scene, table, name)


def bit_problem(scene: Scene, tool_name: str, bit: str, key: str = "bit") -> str:
    """Return why a tool takes no bit or extension called ``bit``, or nothing."""
    if message := kit_problem(scene, f"{key}s", bit):
        return message
    tool: Tool | None = hardware(scene, "tools", tool_name)
    return f"tool {tool_name!r} takes no {key}" if tool and not tool.takes_bits else ""


def fitting_bits(scene: Scene, fastener: str) -> list[str]:
    """Return the bits whose head size is that of a fastener."""
    head = scene.fasteners[fastener].head if fastener in scene.fasteners else ""
    return [name for name, bit in scene.bits.items() if head and bit.head == head]


def setting_problems(
    restraint: Restraint, name: str, setting: Mapping[str, int | float]
) -> Iterator[tuple[Place, str]]:
    """Yield the joints of a restraint without a value that they can take, each with its place.

    Parameters
    ----------
    restraint : Restraint
        Called ``name``.
    setting : mapping of joint -> value
        Detent number of a numbered joint, else an angle (rad).
    """
    joints = {joint.name: joint for joint in restraint.joints}
    for key, value in setting.items():
        if key not in joints:
            yield (key,), unknown("joint", key, joints)
            continue
        try:
            joints[key].angle_of(value)
        except ValueError as error:
            # Whole numbers stay whole only when they are written without a unit.
            degrees = isinstance(value, int) and not joints[key].numbered
            yield (key,), f"{value} is in rad; write '{value} deg'" if degrees else str(error)
    for key in joints:
        if key not in setting:
            yield (), f"joint {key!r} of {name} is missing"
