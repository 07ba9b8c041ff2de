"""Question. Can bit and shaft come on along the fastener's axis, and a ratchet swing far enough?

Margin. Metres of gap round bit and shaft, from the head outward over their free length, less
what is asked: the widest free cylinder, found by halving. For a ratchet also the longest free
swing of the lever less the least useful arc, as metres at the lever's end; the smaller counts.

Limit. ``access_gap`` of the scene's limits, ``swing`` of the tool.

Blind spots. The shaft is straight and centred on the axis. What the hand and the rest of the
tool need is part of the work posture, not of this check. A lever is swung in one plane square to
the axis; the hand that swings it is not.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from reach.checks.wording import SURE, drives, finding_on, not_asked, point
from reach.finding import Finding, Mark
from reach.geometry import Tree, cylinder_overlap, inside, segment_distance
from reach.kept.noting import step_of
from reach.model.hardware import Swing
from reach.site import Head, Held, Site, Situation
from reach.units import text_of

Array = NDArray[np.float64]

NAME = "access"
IDS = ("A5",)

OFF_SURFACE = 0.004
"""The cylinder starts this far (m) in front of the head: what it sits on is meant to be close."""

WIDEST = 0.25
"""Wider gaps (m) are as good as any."""

SHARP = 1e-7
"""Halving stops when the gap is known to this (m)."""

FINEST_SWING = math.radians(0.5)
"""Blocked angles are looked at in steps of this."""

SHARP_SWING = 1e-6
"""An end of a free swing is known to this (rad)."""


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each thing turned with a tool, for no body: bodies do not matter."""
    found: dict[tuple[object, ...], Finding] = {}
    for situation in drives(situations):
        assert situation.held is not None
        assert situation.head is not None
        # A payload that moves in the step takes what is on it along, or stands elsewhere then.
        around = id(situation.surroundings)
        key = (step_of(situation), situation.head.name, situation.held.title, around)
        if key not in found:
            found[key] = replace(_finding(site, situation), case="")
    return list(found.values())


def _finding(site: Site, situation: Situation) -> Finding:
    head, held = situation.head, situation.held
    assert head is not None
    assert held is not None
    if held.record.kind == "hand":
        return not_asked(NAME, situation, "Worked by the gloved hand, without a tool.")
    limit = site.limit("access_gap")
    tree = situation.surroundings.tree
    error, excess = situation.surroundings.error, situation.surroundings.excess
    clear, blocked = free_radius(tree, head, held)
    low = clear - error - SURE - held.shaft_radius - limit.value
    high = blocked + excess + SURE - held.shaft_radius - limit.value
    room = clear - held.shaft_radius
    because = f"{held.title} comes on to {head.name} along its axis " + (
        f"with {text_of(room, 'm')} to spare all round."
        if room > 0.0
        else f"only through structure: {text_of(-room, 'm')} of its radius is blocked."
    )
    numbers: dict[str, object] = {"free radius": clear, "shaft radius": held.shaft_radius}
    swing = held.record.swing
    if swing is not None:
        free, over = free_swing(tree, head, held, swing, error, excess)
        numbers |= {"free swing": free, "least swing": swing.least_arc}
        arc_low = (free - swing.least_arc) * swing.lever - SURE
        arc_high = math.inf if over >= math.tau else (over - swing.least_arc) * swing.lever + SURE
        high = min(high, arc_high)
        if arc_low < low:
            low = arc_low
            because = (
                f"The lever of {held.name} at {head.name} swings {text_of(free, 'rad')} freely; "
                f"{text_of(swing.least_arc, 'rad')} is needed."
            )
    return finding_on(
        NAME,
        situation,
        because,
        low,
        high,
        "m",
        (limit,),
        "" if low >= 0.0 else "Use a slimmer or longer bit, or an extension.",
        (
            Mark(
                "capsule",
                (
                    point(head.point + OFF_SURFACE * head.axis),
                    point(head.point + held.shaft_length * head.axis),
                ),
                f"access of {held.title}",
                held.shaft_radius,
                bad=high < 0.0,
            ),
        ),
        numbers,
    )


def free_radius(tree: Tree, head: Head, held: Held) -> tuple[float, float]:
    """Return (free, blocked) radii of cylinders round the axis, m: the truth lies between.

    ``blocked`` is infinite when even the widest cylinder looked at is free.
    """
    p = head.point + OFF_SURFACE * head.axis
    q = head.point + max(held.shaft_length, 2 * OFF_SURFACE) * head.axis
    if inside(tree, 0.5 * (p + q)[None])[0]:
        return 0.0, math.inf  # an open or inside-out mesh says the same: no proof
    if not _blocked(tree, p, q, WIDEST):
        return WIDEST, math.inf
    low, high = 0.0, WIDEST
    while high - low > SHARP:
        middle = 0.5 * (low + high)
        if _blocked(tree, p, q, middle):
            high = middle
        else:
            low = middle
    return low, high


def _blocked(tree: Tree, p: Array, q: Array, radius: float) -> bool:
    return bool(cylinder_overlap(tree, p[None], q[None], radius)[0])


def free_swing(
    tree: Tree, head: Head, held: Held, swing: Swing, error: float = 0.0, excess: float = 0.0
) -> tuple[float, float]:
    """Return (free, at most) the longest arc (rad) that a ratchet's lever swings without contact.

    Free arcs are certified: the lever's distance at one angle covers the angles that its end
    cannot pass in that distance.  Each is followed both ways until the lever all but touches,
    so that the answer does not hang on the angle looked at first.

    Parameters
    ----------
    error, excess : float, m
        How far the true surface may stand outside the facets, and the facets outside it.
    """
    u = np.cross(head.axis, np.eye(3)[int(np.argmin(np.abs(head.axis)))])
    u /= np.linalg.norm(u)
    v = np.cross(head.axis, u)
    hub = head.point + held.shaft_length * head.axis

    def gap(angle: float) -> float:
        end = hub + swing.lever * (math.cos(angle) * u + math.sin(angle) * v)
        near = segment_distance(tree, hub[None], end[None], swing.radius + 2.0 * swing.lever)
        return float(near.distance[0]) - swing.radius

    def cover(angle: float) -> float:
        return 2.0 * math.asin(min(1.0, max(0.0, gap(angle) - error) / (2.0 * swing.lever)))

    def follow(angle: float, way: float) -> float:
        at, step = angle, cover(angle)
        while step > SHARP_SWING and abs(at - angle) < math.tau:
            at += way * step
            step = cover(at)
        return at

    looks = np.arange(0.0, math.tau, FINEST_SWING)
    start = next((follow(angle, -1.0) for angle in looks if cover(angle) > SHARP_SWING), 0.0)
    angle, free, hits = start, 0.0, []
    while angle < start + math.tau:
        if cover(angle) > 0.0:
            end = follow(angle, 1.0)
            free = max(free, end - follow(angle, -1.0))
            angle = max(angle, end)
        elif gap(angle) + excess <= 0.0:
            hits.append(angle)
        angle += FINEST_SWING
    return min(free, math.tau), _longest_gap(hits)


def _longest_gap(hits: list[float]) -> float:
    if not hits:
        return math.tau
    return max(b - a for a, b in pairwise([*hits, hits[0] + math.tau]))
