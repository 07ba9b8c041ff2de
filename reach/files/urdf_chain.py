"""The one chain of links from the base to the tip of a URDF file, or why there is none."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from reach.files.problem import Problem, listed, unknown
from reach.files.urdf_parts import Parts, ReadJoint
from reach.model.arm import ArmJoint, ArmLink, LinkShape

Wrong = Callable[[str, int, str], None]
Below = dict[str, list[ReadJoint]]
Chain = tuple[tuple[ArmLink, ...], tuple[ArmJoint, ...]]


def chain_of(parts: Parts, tip: str | None, file: str, problems: list[Problem]) -> Chain | None:
    """Return the links and joints from the base to the tip.

    Parameters
    ----------
    parts : Parts
    tip : str or None
        The last link; the only end of the tree where it is None.
    file : str
        Name shown in problems.
    problems : list of Problem
        What is wrong is added here.

    Returns
    -------
    chain : tuple or None
        None where the links make no tree or the tip is not settled.  What hangs beside
        the chain on fixed joints is part of the link of the chain it hangs on.
    """

    def wrong(place: str, line: int, message: str) -> None:
        problems.append(Problem(file, place, line, message))

    n_before = len(problems)
    above = _parents(parts, wrong)
    roots = [name for name in parts.links if name not in above]
    below: dict[str, list[ReadJoint]] = {}
    for read in above.values():
        below.setdefault(read.parent, []).append(read)
    hanging = _all_below(roots, below)
    for name in parts.links:
        if name not in hanging and name in above:
            wrong(name, parts.lines[name], "is in a loop of joints: no link is its base")
    if len(roots) > 1:
        message = f"has several links without a parent, there must be one base: {listed(roots)}"
        wrong("", parts.line, message)
    end = _tip(parts, tip, below, wrong)
    if len(problems) > n_before or end is None:
        return None
    way: list[ReadJoint] = []
    while end in above:
        way.append(above[end])
        end = above[end].parent
    way.reverse()
    if not any(read.joint.moves for read in way):
        wrong("", parts.line, "has no joint that moves between its base and its tip")
    on_way = {read.joint.name for read in way}
    links = [_with_hanging(parts, name, below, on_way, wrong) for name in _names(roots[0], way)]
    return tuple(links), tuple(read.joint for read in way)


def _names(base: str, way: list[ReadJoint]) -> list[str]:
    return [base, *(read.child for read in way)]


def _parents(parts: Parts, wrong: Wrong) -> dict[str, ReadJoint]:
    """Return the joint above each link; a link with two is the closing of a loop."""
    above: dict[str, ReadJoint] = {}
    for read in parts.joints:
        if read.child in above:
            first = above[read.child].joint.name
            message = f"closes a loop: link {read.child!r} already hangs on joint {first!r}"
            wrong(read.joint.name, read.line, message)
        else:
            above[read.child] = read
    return above


def _all_below(roots: list[str], below: dict[str, list[ReadJoint]]) -> set[str]:
    found: set[str] = set()
    waiting = list(roots)
    while waiting:
        name = waiting.pop()
        found.add(name)
        waiting += [read.child for read in below.get(name, []) if read.child not in found]
    return found


def _tip(parts: Parts, tip: str | None, below: Below, wrong: Wrong) -> str | None:
    if tip is not None:
        if tip in parts.links:
            return tip
        wrong("", parts.line, unknown("tip link", tip, parts.links))
        return None
    ends = [name for name in parts.links if name not in below]
    if len(ends) == 1:
        return ends[0]
    if ends:
        wrong("", parts.line, f"is not serial, say which link is the tip: {listed(ends)}")
    return None


def _with_hanging(parts: Parts, name: str, below: Below, on_way: set[str], wrong: Wrong) -> ArmLink:
    """Return a link with the shapes of what hangs on it; a problem where that can move."""
    shapes: list[LinkShape] = []
    waiting = [(name, np.eye(4))]
    while waiting:
        link, pose = waiting.pop()
        shapes += [
            replace(shape, link_from_shape=pose @ shape.link_from_shape)
            for shape in parts.links[link].shapes
        ]
        for read in below.get(link, []):
            if read.joint.name in on_way:
                continue
            if read.joint.moves:
                message = f"is not serial: moves link {read.child!r} beside the chain to the tip"
                wrong(read.joint.name, read.line, message)
            else:
                waiting.append((read.child, pose @ read.joint.parent_from_joint))
    return replace(parts.links[name], shapes=tuple(shapes))
