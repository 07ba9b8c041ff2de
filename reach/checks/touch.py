"""Question. Is what hands hold or turn too hot or too cold? Is work far from hot structure?

Margin. Kelvin between the hottest and the coldest that a surface gets and the limits of a glove,
for fasteners that are turned, grips that are held and rails on the way. Metres from the fastener
to structure that is hot; where that is kept but the work is near it, seconds that are left.

Limit. ``touch_hot`` and ``touch_cold``; ``hot_structure``, ``hot_distance``, ``hot_stay`` and
``near_structure``. A surface is taken at its worst, a step at the longest it may last, and all
work near one thing from one place, until the worker goes elsewhere, is one stay. Exact but for
that, and for rails of a way that is planned: another may do without them.

Blind spots. Only surfaces with a ``temperature`` are asked. How long a touch lasts is left out: the
limits are those of unlimited contact. The rest of the body may be nearer to hot structure than
the fastener is.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from reach.checks.ruling import minutes_text
from reach.checks.wording import ANOTHER_WAY, SURE, UNKNOWN, enough, finding_on, not_asked, who
from reach.finding import Finding
from reach.geometry import point_distance
from reach.kept.noting import asked_whole
from reach.model.procedure import Drive, HandOver, Hold, Inspect
from reach.site import Site, Situation
from reach.timing import quoted
from reach.travel.near import tree_of
from reach.travel.path import path_of
from reach.units import text_of

NAME = "touch"
IDS = ("B4",)


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return a finding for each surface of known temperature that hands touch or work near."""
    found = []
    for situation in situations:
        found += [_touched(site, situation, *one) for one in _held(site, situation)]
        found += _near(site, situation)
    return found


def _held(site: Site, situation: Situation) -> Iterator[tuple[str, tuple[float, float]]]:
    """Yield what is touched and has a temperature: name, coldest and hottest (K)."""
    scene, action = site.scene, situation.action
    if isinstance(action, Drive):
        names: tuple[str, ...] = (action.fastener,)
    elif isinstance(action, Hold | HandOver):
        names = action.grips
    elif situation.passage is not None:
        path = path_of(site, situation)
        route = path.usable or path.route
        names = route.rails if route is not None else ()
    else:
        names = ()
    for name in dict.fromkeys(names):
        record = scene.fasteners.get(name) or scene.handrails.get(name) or scene.handholds.get(name)
        if record is not None and record.temperature is not None:
            yield name, record.temperature


def _touched(site: Site, situation: Situation, name: str, surface: tuple[float, float]) -> Finding:
    hot, cold = site.limit("touch_hot"), site.limit("touch_cold")
    coldest, hottest = surface
    above, below = hot.value - hottest, coldest - cold.value
    because = (
        f"{who(situation)} touches {name}, which is {celsius(coldest)} to {celsius(hottest)}; a "
        f"glove bears {celsius(cold.value)} to {celsius(hot.value)}."
    )
    margin, limits = (above, (hot, cold)) if above <= below else (below, (cold, hot))
    fix = f"Use another than {name}, or touch it when it is warmer."
    if above <= below:
        fix = f"Use another than {name}, or touch it when it is cooler."
    high = margin
    if margin < 0.0 and situation.passage is not None and not path_of(site, situation).is_proof:
        high, because = UNKNOWN, because + ANOTHER_WAY
    return finding_on(
        NAME, situation, because, margin, high, "K", limits, fix if margin < 0.0 else "",
        numbers={"answer": name, "coldest": coldest, "hottest": hottest},
    )  # fmt: skip


def _near(site: Site, situation: Situation) -> Iterator[Finding]:
    """Yield what is to be said of each hot solid near a fastener that is worked on."""
    head = situation.head
    if head is None or not isinstance(situation.action, Drive | Inspect):
        return
    limit = site.limit("hot_structure").value
    for name, solid in site.scene.solids.items():
        if solid.temperature is not None and solid.temperature[1] > limit:
            tree = tree_of(site, situation.surroundings, name)
            distance = float(point_distance(tree, head.point).distance[0])
            yield _hot(site, situation, name, distance)


def _hot(site: Site, situation: Situation, name: str, distance: float) -> Finding:
    away, stay = site.limit("hot_distance"), site.limit("hot_stay")
    hot = site.limit("hot_structure")
    assert situation.head is not None
    base = (
        f"{who(situation)} works on {situation.head.name}, {text_of(distance, 'm')} from {name}, "
        f"which gets hotter than {celsius(hot.value)}"
    )
    margin = distance - away.value
    numbers = {"answer": name, "distance": distance}
    if margin < SURE or distance > site.limit("near_structure").value + SURE:
        short = f"Work {enough(-margin)} farther from {name}, or when it is cooler."
        return finding_on(
            NAME, situation, f"{base}; {text_of(away.value, 'm')} is to be kept.",
            margin - SURE, margin + SURE, "m", (away, hot), short if margin + SURE < 0.0 else "",
            numbers=numbers,
        )  # fmt: skip
    if situation.longest is None:
        return not_asked(NAME, situation, f"{base}; the step gives no duration.", "s")
    whole, sure = _stays(site, situation, name)
    left, likely = stay.value - _lasts(whole, "longest"), stay.value - _lasts(sure, "duration")
    lasts, most = minutes_text(_lasts(whole, "longest")), minutes_text(stay.value)
    if math.isinf(left):
        lasts = "a time that not all its steps give"
    steps = list(dict.fromkeys(one.step for one in whole))
    among = f" in {quoted(steps)}" if len(steps) > 1 else ""
    because = f"{base}, for {lasts}{among}; the most is {most}."
    fix = f"Work near {name} for {minutes_text(stay.value)} at most."
    return finding_on(
        NAME, situation, because, left, max(left, likely), "s", (stay, hot),
        fix if left < 0.0 else "", numbers=numbers,
    )  # fmt: skip


def _lasts(some: Sequence[Situation], which: str) -> float:
    """Return how long the steps of some situations last together, s; inf where one says nothing.

    A likely duration that is not said is that of what it may last.
    """
    told = {one.step: one for one in some}.values()
    times = [getattr(one, which) or one.longest for one in told]
    return sum(math.inf if one is None else one for one in times)


def _stays(
    site: Site, situation: Situation, name: str
) -> tuple[tuple[Situation, ...], tuple[Situation, ...]]:
    """Return all work near a hot thing in one stay at a place, and that which is surely one stay.

    The first while the worker is at the place, whatever they do in between; the second with
    nothing in between.
    """
    stay = _stay(site, situation)
    near = [one is situation or _is_near(site, one, name) for one in stay]
    k = next(i for i, one in enumerate(stay) if one is situation)
    begin, end = k, k + 1
    while begin > 0 and near[begin - 1]:
        begin -= 1
    while end < len(stay) and near[end]:
        end += 1
    whole = tuple(one for one, is_near in zip(stay, near, strict=True) if is_near)
    return whole, stay[begin:end]


def _is_near(site: Site, situation: Situation, name: str) -> bool:
    """Return whether somebody works near a hot thing."""
    head = situation.head
    if head is None or not isinstance(situation.action, Drive | Inspect):
        return False
    tree = tree_of(site, situation.surroundings, name)
    distance = float(point_distance(tree, head.point).distance[0])
    return distance <= site.limit("near_structure").value + SURE


@asked_whole
def _stay(site: Site, situation: Situation) -> tuple[Situation, ...]:
    """Return what the same body does in one stay at the place of a situation, in order."""
    mine = [
        one for one in site.asked if (one.worker, one.case) == (situation.worker, situation.case)
    ]
    if not any(one is situation for one in mine):
        return (situation,)
    k = next(i for i, one in enumerate(mine) if one is situation)
    begin, end = k, k + 1
    while begin > 0 and _is_same_place(mine[begin - 1], situation):
        begin -= 1
    while end < len(mine) and _is_same_place(mine[end], situation):
        end += 1
    return tuple(mine[begin:end])


def _is_same_place(one: Situation, other: Situation) -> bool:
    return one.passage is None and one.at == other.at


def celsius(kelvin: float) -> str:
    """Return a temperature in words.

    Examples
    --------
    >>> celsius(336.15), celsius(233.15)
    ('63.0 degC', '-40.0 degC')
    """
    return f"{kelvin - 273.15 + 0.0:.1f} degC"
