"""Question. Are things parked outdoors where that is allowed, and do they leave rails passable?

Margin. For a place 0 where it may hold them, -1 where not; for a rail that somebody moves along
while things are parked on it, the limit less the widest gap between grips that is left.

Limit. ``rail_gap``, with ``grip_width`` as the least that is a grip; ``place_span`` where things
leave no grip so near to a place that the way leads from or to. Rails and handholds must be rated
and free; sockets take restraints only.

Blind spots. A thing takes up its largest size along the rail, at the middle of which it is
parked; how far it stands out is a matter of the corridor. Written routes and the written order
alone are looked at. Two things on one rail in different steps are judged as they are in each.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

import numpy as np

from reach.checks.parked import Ends, free_parts, widest_step
from reach.checks.ruling import finding_in, unasked
from reach.checks.wording import SURE
from reach.finding import Finding
from reach.ledger import Deed, Outing, ends_of, names
from reach.model.procedure import Translate
from reach.model.travel import rail_spot
from reach.orders import Put, Value
from reach.site import Site
from reach.units import text_of

NAME = "parking"
IDS = ("I4",)
TAKES = "outing"

STEP = 0.1
"""How far apart the other spots are that are tried for a fix, m."""


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return one finding for each parking and each move along a rail with things on it."""
    if not outing.is_declared:
        return []
    return [*_places(outing), *_moves(site, outing)]


def _places(outing: Outing) -> Iterator[Finding]:
    first = outing.steps[0].name if outing.steps else ""
    kept = [(first, item, outing.start.get(names.holder(item))) for item in outing.scene.items]
    for deed in outing.deeds:
        for item in outing.scene.items:
            effect = deed.event.effect(names.holder(item))
            if isinstance(effect, Put):
                kept.append((deed.step.name, item, effect.value))
    for step, item, place in kept:
        if isinstance(place, str):
            yield from _place(outing, step, item, place)


def _place(outing: Outing, step: str, item: str, place: str) -> Iterator[Finding]:
    scene = outing.scene
    rail, _ = rail_spot(place)
    grip = scene.handrails.get(rail) or scene.handholds.get(place)
    if place in scene.sockets and scene.items[item].kind not in scene.restraints:
        wrong = f"{place} is a socket, which takes restraints only"
    elif grip is None:
        return
    elif not grip.rated:
        wrong = f"{rail} is not rated"
    elif grip.condition != "free":
        wrong = f"{rail} is {grip.condition}"
    else:
        wrong = ""
    because = f"{item} is parked at {place}"
    yield finding_in(
        NAME,
        step,
        (item, place),
        f"{because}, but {wrong}." if wrong else f"{because}, which is rated.",
        -1.0 if wrong else 0.0,
        fix=f"Park {item} at a rail that is rated and free.",
        answer="place",
    )


def _moves(site: Site, outing: Outing) -> Iterator[Finding]:
    for deed in outing.deeds:
        if isinstance(deed.action, Translate) and not deed.is_last and deed.step.route:
            values = outing.before(deed)
            for k, rail in enumerate(deed.step.route):
                parked = _parked(outing, values, rail)
                if parked and rail in site.scene.handrails:
                    yield _move(site, outing, deed, k, parked)


def _parked(outing: Outing, values: Mapping[str, Value], rail: str) -> dict[str, float | None]:
    """Return items on a rail, with how far along; None where that is not said."""
    found: dict[str, float | None] = {}
    for item in outing.scene.items:
        place = values.get(names.holder(item))
        if isinstance(place, str) and rail_spot(place)[0] == rail:
            found[item] = rail_spot(place)[1] if "@" in place else None
    return found


def _move(
    site: Site, outing: Outing, deed: Deed, k: int, parked: Mapping[str, float | None]
) -> Finding:
    rail, scene = (deed.step.route or ())[k], site.scene
    about = (deed.lane, *parked, rail)
    several = " and ".join(parked)
    unknown = [one for one, at in parked.items() if at is None or scene.items[one].size is None]
    if unknown:
        said = f"How much of {rail} {' and '.join(unknown)} takes up is not known"
        return unasked(NAME, deed.step.name, about, f"{said}: no size, or no spot.", "m")
    spots = {one: at for one, at in parked.items() if at is not None}
    limit = site.limit("rail_gap")
    far = _too_far(site, outing, deed, k, spots)
    if far is not None:
        return far
    gap, natural = _gap(site, outing, deed, k, spots), _gap(site, outing, deed, k, {})
    wide = text_of(gap, "m") if np.isfinite(gap) else "endless"
    if gap <= natural and gap > limit.value:
        said = f"{several} on {rail} widens no gap that {deed.lane} crosses there"
        return unasked(NAME, deed.step.name, about, f"{said}.", "m")
    return finding_in(
        NAME,
        deed.step.name,
        about,
        f"With {several} on {rail} the widest gap between grips is {wide} for {deed.lane}; "
        f"{text_of(limit.value, 'm')} are allowed.",
        limit.value - gap,
        "m",
        limits=(limit, site.limit("grip_width")),
        fix=_fix(site, outing, deed, k, spots),
        gap=gap,
        without=natural,
        answer="gap",
    )


def _too_far(
    site: Site, outing: Outing, deed: Deed, k: int, spots: Mapping[str, float]
) -> Finding | None:
    """Return a finding where things leave no grip in span of a place that the way leads from or to.

    None where that is not so, or no grip is even without them.
    """
    route, limit = deed.step.route or (), site.limit("place_span")
    bar = ends_of(site, route[k])
    assert bar is not None
    assert isinstance(deed.action, Translate)
    start = deed.action.start or outing.before(deed).get(names.place(deed.lane))
    length, way = float(np.linalg.norm(bar[1] - bar[0])), bar[1] - bar[0]
    taken = [_taken(site, item, at) for item, at in spots.items()]
    parts = free_parts(length, taken, site.limit("grip_width").value)
    worst: tuple[float, str] | None = None
    for place in ([start] if k == 0 else []) + ([deed.action.to] if k + 1 == len(route) else []):
        ends = ends_of(site, place) if isinstance(place, str) else None
        # From a station hands reach from the trunk: how far is for gap to ask.
        if ends is None or place in site.scene.stations or rail_spot(str(place))[0] == route[k]:
            continue
        along = float((ends[0] - bar[0]) @ way) / length
        across = float(np.linalg.norm(ends[0] - bar[0] - along * way / length))
        beside = [math.hypot(across, along - min(max(along, a), b)) for a, b in parts]
        free = math.hypot(across, along - min(max(along, 0.0), length))
        far = min(beside, default=math.inf)
        is_far = free <= limit.value + SURE and far > limit.value + SURE
        if is_far and (worst is None or far > worst[0]):
            worst = far, str(place)
    if worst is None:
        return None
    several, (far, where) = " and ".join(spots), worst
    wide = text_of(far, "m") if math.isfinite(far) else "nowhere"
    return finding_in(
        NAME,
        deed.step.name,
        (deed.lane, *spots, route[k]),
        f"With {several} on {route[k]} the nearest grip to {where} is {wide} off for {deed.lane}; "
        f"{text_of(limit.value, 'm')} are allowed.",
        limit.value - far,
        "m",
        limits=(limit, site.limit("grip_width")),
        fix=f"Take {several} off {route[k]} before step '{deed.step.name}'.",
        gap=far,
        answer="place span",
    )


def _gap(site: Site, outing: Outing, deed: Deed, k: int, spots: Mapping[str, float]) -> float:
    """Return the widest gap between grips on one rail of a route with things at some spots."""
    route = deed.step.route or ()
    bar = ends_of(site, route[k])
    assert bar is not None
    assert isinstance(deed.action, Translate)
    start = deed.action.start or outing.before(deed).get(names.place(deed.lane))
    before = _held(site, bar, route[k - 1] if k else start)
    after = _held(site, bar, route[k + 1] if k + 1 < len(route) else deed.action.to)
    length = float(np.linalg.norm(bar[1] - bar[0]))
    taken = [_taken(site, item, at) for item, at in spots.items()]
    parts = free_parts(length, taken, site.limit("grip_width").value)
    ends = before or bar, after or bar, bar
    key = ("widest step", np.array(ends).tobytes(), np.array(parts).tobytes())
    if key not in site.memo:
        site.memo[key] = widest_step(*ends, parts)
    widest: float = site.memo[key]
    return widest


def _held(site: Site, bar: Ends, place: Value) -> Ends | None:
    """Return what is held before or after a rail: a rail, or the nearest spot of this one."""
    if not isinstance(place, str):
        return None
    if place in site.scene.handrails:
        return ends_of(site, place)
    ends = ends_of(site, place)
    if ends is None:
        return None
    way = bar[1] - bar[0]
    share = float(np.clip((ends[0] - bar[0]) @ way / (way @ way), 0.0, 1.0))
    return bar[0] + share * way, bar[0] + share * way


def _taken(site: Site, item: str, at: float) -> tuple[float, float]:
    half = 0.5 * max(site.scene.items[item].size or (0.0,))
    return at - half, at + half


def _fix(site: Site, outing: Outing, deed: Deed, k: int, spots: Mapping[str, float]) -> str:
    """Name the nearest spot on the rail where one of the things leaves it passable."""
    rail, limit = (deed.step.route or ())[k], site.limit("rail_gap").value
    bar = ends_of(site, rail)
    assert bar is not None
    n = int(np.linalg.norm(bar[1] - bar[0]) / STEP)
    for item, old in spots.items():
        for at in sorted((i * STEP for i in range(n + 1)), key=lambda one: abs(one - old)):
            if _gap(site, outing, deed, k, {**spots, item: at}) <= limit:
                return f"Park {item} at {rail}@{at:.1f} instead."
    return f"Take {' and '.join(spots)} off {rail} before step '{deed.step.name}'."
