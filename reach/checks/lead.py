"""Question. Is a lead long enough for the way it is laid, bent gently enough, and held by clamps?

Margin. Its length less the way through its places to the fastener; the largest radius that fits
into every corner less the tightest that it bears; for its clamps 0, or -1 where one of them holds
another lead by then.

Limit. ``length`` and ``bend`` of the item, else ``lead_bend`` times its ``diameter``.

Blind spots. Places are points, rails their middles, and the way from one to the next is straight:
what structure stands between is not looked at. A lead that bows out round a corner may be bent
less than an arc inside of it. Places on a payload are taken in its first pose. How many clamps a
lead needs is not known.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from reach.checks.ruling import finding_in, ruled, unasked
from reach.checks.wording import SURE
from reach.finding import Finding, Limit
from reach.geometry import transform_points
from reach.ledger import Deed, Outing, ends_of, holders_of, judge, names
from reach.model.handling import Lay
from reach.model.provenance import Provenance
from reach.orders import Among, At, Not, Rule
from reach.site import Site
from reach.units import text_of

NAME = "lead"
IDS = ("O3",)
TAKES = "outing"

TINY = 1e-9
"""Places nearer to each other than this (m) are one."""


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return findings for the length, the bends and the clamps of each lead that is laid."""
    return [
        found
        for deed in outing.deeds
        if isinstance(deed.action, Lay)
        for found in _findings(site, outing, deed, deed.action)
    ]


def _findings(site: Site, outing: Outing, deed: Deed, action: Lay) -> Iterator[Finding]:
    points = _points(site, action)
    if points is None:
        said = f"Where {action.item} runs to {action.to} is not known: no places are named"
        yield unasked(NAME, deed.step.name, _about(deed, action), f"{said}.", "m")
    else:
        yield _length(site, deed, action, points)
        yield _bend(site, deed, action, points)
    if action.clamps:
        yield _clamps(outing, deed, action)


def _about(deed: Deed, action: Lay) -> tuple[str, ...]:
    return deed.lane, action.item, action.to


def _points(site: Site, action: Lay) -> NDArray[np.float64] | None:
    """Return the corners of a way, shape (n, 3), m, world; None where fewer than two are known."""
    record = site.scene.fasteners[action.to]
    found = []
    for place in action.through:
        ends = ends_of(site, place)
        if ends is None:
            return None
        found.append(0.5 * (ends[0] + ends[1]))
    at = np.asarray(record.at, float)[None]
    found.append(transform_points(site.world_from[record.frame], at)[0])
    return np.array(found) if len(found) > 1 else None


def _length(site: Site, deed: Deed, action: Lay, points: NDArray[np.float64]) -> Finding:
    item, has = action.item, site.scene.items[action.item].length
    needs = float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
    about = _about(deed, action)
    if has is None:
        return unasked(NAME, deed.step.name, about, f"{item} does not say how long it is.", "m")
    way = f"through {', '.join(action.through)} to {action.to} it is {text_of(needs, 'm')}"
    return finding_in(
        NAME,
        deed.step.name,
        about,
        f"{item} is {text_of(has, 'm')} long; {way}.",
        (has - needs - SURE, has - needs + SURE),
        "m",
        limits=(Limit("length", has, "m", Provenance()),),
        fix=f"Take a lead of {text_of(needs, 'm')}, or {text_of(needs - has, 'm')} of extension.",
        answer="length",
        way=needs,
    )


def _bend(site: Site, deed: Deed, action: Lay, points: NDArray[np.float64]) -> Finding:
    item, about = site.scene.items[action.item], _about(deed, action)
    ratio = site.limit("lead_bend")
    if item.bend is not None:
        least, limits = item.bend, (Limit("bend", item.bend, "m", Provenance()),)
    elif item.diameter is not None:
        least, limits = ratio.value * item.diameter, (ratio,)
    else:
        said = f"{action.item} says neither bend nor diameter"
        return unasked(NAME, deed.step.name, about, f"{said}.", "m")
    radius, leg = tightest(points)
    names_of = (*action.through, action.to)
    if not math.isfinite(radius):
        return unasked(NAME, deed.step.name, about, f"{action.item} runs straight.", "m")
    between = f"between {names_of[leg]} and {names_of[leg + 1]}"
    return finding_in(
        NAME,
        deed.step.name,
        about,
        f"{action.item} is bent to a radius of {text_of(radius, 'm')} {between}; it bears "
        f"{text_of(least, 'm')}.",
        (radius - least - SURE, radius - least + SURE),
        "m",
        limits=limits,
        fix=f"Lay {action.item} with a wider turn {between}.",
        answer="bend",
        radius=radius,
    )


def tightest(points: NDArray[np.float64]) -> tuple[float, int]:
    """Return the largest radius with which every corner can be rounded, and the leg that says so.

    Parameters
    ----------
    points : ndarray, shape (n, 3), m

    Returns
    -------
    radius : float, m
        Infinite where the way is straight, 0 where it runs back on itself.
    leg : int
        Arcs of that radius meet, or reach an end, on the leg from this point to the next.
    """
    # Places that lie in one spot make a leg of no length, which has no direction to turn from.
    apart = np.linalg.norm(np.diff(points, axis=0), axis=1) > TINY
    kept = np.flatnonzero(np.concatenate([[True], apart]))
    points = points[kept]
    if len(points) < 3:
        return math.inf, 0
    legs = np.diff(points, axis=0)
    lengths = np.linalg.norm(legs, axis=1)
    tangents = np.zeros(len(points))
    for i in range(1, len(points) - 1):
        u, v = (legs[k] / max(lengths[k], 1e-12) for k in (i - 1, i))
        # An arc of radius r that turns by t touches both legs r tan(t / 2) from the corner.
        tangents[i] = math.tan(
            0.5 * math.atan2(float(np.linalg.norm(np.cross(u, v))), float(u @ v))
        )
    with np.errstate(divide="ignore", invalid="ignore"):
        both = tangents[:-1] + tangents[1:]
        radii = np.where(both > 1e-12, lengths / np.maximum(both, 1e-12), math.inf)
    leg = int(radii.argmin())
    return float(radii[leg]), int(kept[leg + 1]) - 1


def _clamps(outing: Outing, deed: Deed, action: Lay) -> Finding:
    """Return the finding that no clamp is taken away from a lead that was laid before."""
    others = frozenset(
        one.action.to
        for one in outing.deeds
        if isinstance(one.action, Lay) and one.action.to != action.to
    )
    free = []
    for clamp in action.clamps:
        on = others & set(holders_of(outing, clamp))
        free.append(Not(Among(names.holder(clamp), frozenset(on))))
    rules = [
        Rule(f"{clamp} for {deed.name}", one, At(deed.name))
        for clamp, one in zip(action.clamps, free, strict=True)
    ]
    judged = list(zip(action.clamps, judge(outing, rules), strict=True))
    clamp, worst = min(judged, key=lambda one: one[1].margin)
    n = len(action.clamps)
    return ruled(
        NAME,
        worst,
        _about(deed, action),
        f"{action.item} is held by {n} clamp{'' if n == 1 else 's'}: {', '.join(action.clamps)}",
        f"{clamp} is to hold {action.item} and holds another lead already",
        step=deed.step.name,
        fix=f"Take another clamp than {clamp} for {action.item}.",
        answer="clamps",
        clamps=n,
    )
