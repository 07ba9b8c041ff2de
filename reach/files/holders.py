"""What items and lines can be at: bags, people, places, payloads, fasteners, the lock."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from reach.files.kit import hardware
from reach.files.moves import place_problem
from reach.files.problem import unknown
from reach.files.references import circle_from
from reach.model.hardware import Tool
from reach.model.scene import Scene


def holder_problem(scene: Scene, name: str) -> str:
    """Return why nothing can be in or on ``name``, or nothing.

    Holders are bags, workers, hatches (in the lock), places, payloads and cranes; a fastener
    holds the lead laid to it and its clamps, a tool the bit fitted to it.
    """
    if name in scene.items:
        tool: Tool | None = hardware(scene, "tools", name)
        return "" if tool is not None and tool.takes_bits else bag_problem(scene, name)
    return tie_problem(scene, name)


def tie_problem(scene: Scene, name: str) -> str:
    """Return why nothing can be tied to ``name``, or nothing: a holder, or any item."""
    things = [*scene.items, *scene.workers, *scene.payloads, *scene.cranes, *scene.fasteners]
    if name in things:
        return ""
    if "@" in name:
        return place_problem(scene, name)
    message = place_problem(scene, name)
    places = (scene.hatches, scene.sockets, scene.stations, scene.anchors, scene.handholds)
    known = [*things, *(place for table in places for place in table), *scene.handrails]
    return unknown("holder", name, known) if message else ""


def bag_problem(scene: Scene, name: str) -> str:
    """Return why ``name`` is no bag, or nothing; hardware is one only if it has slots."""
    item = scene.items.get(name)
    if item is None:
        bags = [bag for bag in scene.items if not bag_problem(scene, bag)]
        return unknown("bag", name, bags)
    if item.kind and item.slots is None:
        return f"item {name!r} is a {item.kind}: it has no slots to hold anything"
    return ""


def hook_problem(scene: Scene, name: str) -> str:
    """Return why the hook of a line cannot be at ``name``, or nothing."""
    return "" if name in scene.anchors else unknown("anchor", name, scene.anchors)


def end_problem(scene: Scene, name: str) -> str:
    """Return why no end of a line can be at ``name``, or nothing."""
    known = [*scene.workers, *scene.anchors]
    return "" if name in known else unknown("worker or anchor", name, known)


def repeated(names: Iterable[str]) -> Iterator[tuple[int, str]]:
    """Yield number and message of every name that stood before.

    Examples
    --------
    >>> list(repeated(["a", "b", "a"]))
    [(2, "'a' is named twice")]
    """
    seen = set()
    for i, name in enumerate(names):
        if name in seen:
            yield i, f"{name!r} is named twice"
        seen.add(name)


def bag_circles(held: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """Yield an item of every circle of bags, and the message.

    Parameters
    ----------
    held : mapping of item -> what holds it

    Examples
    --------
    >>> list(bag_circles({"A": "B", "B": "A", "C": "W1"}))
    [('A', 'bags go round in a circle: A in B in A')]
    """
    edges = {item: [holder] for item, holder in held.items() if holder in held}
    seen = set()
    for item in edges:
        circle = circle_from(item, edges)
        if circle and frozenset(circle) not in seen:
            seen.add(frozenset(circle))
            yield item, f"bags go round in a circle: {' in '.join([*circle, circle[0]])}"
