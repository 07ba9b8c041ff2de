"""Question. Does the place of the boots bear it when the crane stops, and is the time enough?

Asked of motions of a crane. Two answers. *Boots*: the crane comes to rest from where its rider and
what the hands hold are fastest, each where its mass is; they are slowed down by force and moment
on the boots' plate. *Rates*: the joints are quick enough for the duration that is written.

Margin. Boots: share of the rating that is left, the least over force and moment; the low end
counts every lever in full, the high end the force alone, without a payload that the step does not
name or that the crane may hold by a grapple. Rates: seconds between the duration and
the time that the postures found take at the joints' rates. The low ends are those of the shortest
time that the step may last.

Limit. ``stop_time`` is what a stop takes, ``rider_mass`` a worker with suit; the ``rating`` of the
station, else ``socket_force`` and ``socket_moment``. The joints' rates stand with the arm.

Blind spots. The slowing down is even; a stop that jerks asks for more. Of a payload the mass is
taken to sit in the middle of the box round it, of a rider between hips and shoulders; hands hold
it stiffly and bear their share through the boots. Tools and bags of the rider count within
``rider_mass``. Speeds are those of a motion that is constant in time: a planner's ramps add to
them. Another branch of postures may be quicker: a time that is short is *open* unless no arm with
these rates and lengths, in any posture, could do it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from reach.arm import duration
from reach.checks.braking import Weight, middle_of, rating_of, weights_of
from reach.checks.carrying import (
    NO_WAY,
    finding_of_carriage,
    has_no_way,
    is_way_known,
    leg_words,
    not_asked_of_carriage,
)
from reach.checks.craning import The, the, travels, unknown_arm, unknown_hold
from reach.checks.wording import SURE, point
from reach.crane import Rig, rig_of
from reach.crane.along import Extreme, fastest_asked, fastest_moved, least_time, quickest
from reach.finding import Finding, Mark
from reach.geometry import transform_points
from reach.legs import placed_pose
from reach.loading import left_of
from reach.payload.clock import moments
from reach.payload.crane_way import CraneWay, crane_way_of
from reach.payload.parts import farthest_of
from reach.site import Carriage, Site
from reach.units import text_of

NAME = "stop"
IDS = ("D6",)
TAKES = "carriages"

BOOTS, RATES = "boots", "rates"
_SURE_TIME = 1e-6

Array = NDArray[np.float64]


def find(site: Site, carriages: Sequence[Carriage]) -> list[Finding]:
    """Return two findings for each motion of a crane: of the boots and of the joints' rates."""
    found: list[Finding] = []
    for carriage in travels(carriages):
        rig = rig_of(site, carriage.crane, carriage.surroundings)
        if rig is None:
            because = unknown_arm(carriage.crane)
            found.append(not_asked_of_carriage(NAME, carriage, because, ""))
            continue
        way = crane_way_of(site, carriage)
        found += [_boots(site, carriage, rig, way), _rates(site, carriage, rig, way)]
    return found


# ---- rates -----------------------------------------------------------------------------


def _rates(site: Site, carriage: Carriage, rig: Rig, way: CraneWay | None) -> Finding:
    crane = the(carriage.crane)
    lasts = carriage.longest if carriage.duration is None else carriage.duration
    more = {"answer": RATES}
    if lasts is None:
        because = f"The step does not say how long {crane} takes."
        return finding_of_carriage(NAME, carriage, because, math.nan, math.nan, "s", numbers=more)
    if carriage.payload_from_tip is None:
        return unknown_hold(NAME, carriage, "s", RATES)
    bound = quickest(rig.chain, carriage.poses @ carriage.payload_from_tip)
    needed = math.nan if not _found(way) else _needed(site, carriage, way)
    numbers = {**more, "least time": bound, "needed": None if math.isnan(needed) else needed}
    words = f"the step has {_minutes(lasts)}"
    if lasts < bound - _SURE_TIME:
        because = (
            f"No posture of {crane} gets its tip there in less than {_minutes(bound)} at the "
            f"joints' rates; {words}."
        )
        return finding_of_carriage(
            NAME, carriage, because, -math.inf, lasts - bound, "s", (),
            f"Give it {_minutes(needed if needed > bound else bound, up=True)} at least.",
            numbers=numbers,
        )  # fmt: skip
    if math.isnan(needed) and way is not None and way.shortage > 0.0:
        because = f"{The(carriage.crane)} is proved not to come there: see crane-reach."
        return finding_of_carriage(NAME, carriage, because, math.nan, math.nan, "s", numbers=more)
    if math.isnan(needed):
        because = (
            f"How long {crane} takes is not known, but for {_minutes(bound)} at the least: "
            f"{_why(way, rig)}; {words}."
        )
        return finding_of_carriage(
            NAME, carriage, because, -math.inf, lasts - bound, "s", numbers=numbers
        )
    left = (lasts if carriage.shortest is None else carriage.shortest) - needed
    if has_no_way(site, carriage):
        left = -math.inf
    because = (
        f"{The(carriage.crane)} takes {_minutes(needed)} at the joints' rates in the postures "
        f"found, no posture less than {_minutes(bound)}; {words}."
    )
    high = max(left, lasts - needed) + _SURE_TIME if left >= 0.0 else lasts - bound
    return finding_of_carriage(
        NAME, carriage, because, left - _SURE_TIME, high, "s", (),
        "" if left >= 0.0 else f"Give it {_minutes(needed, up=True)}.", numbers=numbers,
    )  # fmt: skip


def _found(way: CraneWay | None) -> bool:
    return way is not None and len(way.q) > 1 and math.isnan(way.stuck_at)


def _why(way: CraneWay | None, rig: Rig) -> str:
    if _found(way) and np.isnan(rig.chain.velocity).any():
        return "a joint has no rate"
    return "no postures were found that take it there"


def _needed(site: Site, carriage: Carriage, way: CraneWay | None) -> float:
    assert way is not None
    total = float(duration(way.chain, way.q).sum())
    shares = _shares(site, carriage, way)
    # Joints that move by themselves share out the time as their rates ask.
    return total if shares is None else least_time(way.chain, way.q, shares)


def _shares(site: Site, carriage: Carriage, way: CraneWay) -> Array | None:
    """Return which share of the time each piece of the way takes; None for a crane by itself."""
    if not carriage.payload:
        return None
    ends = np.concatenate([[0.0], moments(carriage, farthest_of(site, carriage))])
    times = np.interp(way.at, np.arange(len(ends)), ends)
    return np.asarray(np.diff(times))


def _seconds(site: Site, carriage: Carriage, way: CraneWay, lasts: float) -> Array:
    """Return how long each piece of the way takes, s."""
    shares = _shares(site, carriage, way)
    if shares is None:
        needed = duration(way.chain, way.q)
        total = float(needed.sum())
        even = np.full(len(needed), 1.0 / len(needed))
        shares = needed / total if total > 0.0 and not np.isnan(total) else even
    return np.asarray(lasts * shares)


# ---- boots -----------------------------------------------------------------------------


def _boots(site: Site, carriage: Carriage, rig: Rig, way: CraneWay | None) -> Finding:
    crane, more = the(carriage.crane), {"answer": BOOTS}

    def none(because: str) -> Finding:
        return finding_of_carriage(NAME, carriage, because, math.nan, math.nan, "", numbers=more)

    rider = carriage.rider
    if rider is None or carriage.payload_from_boots is None:
        return none(f"Nobody stands on the tip of {crane}.")
    tip, more_of = _fastest(site, carriage, way, None), _hurry(carriage)
    if tip is None and not math.isinf(more_of):
        return none(f"How fast {crane} moves is not known.")
    weights, unknown = weights_of(site, carriage)
    if unknown:
        return none(f"What {unknown} weighs is not known.")
    tip = tip or Extreme(0.0, 0.0, 0.0)
    speeds = [_fastest(site, carriage, way, one.middle) or tip for one in weights]
    sure = [one for one in weights if one.is_sure]
    together, at_least = (
        _fastest(site, carriage, way, middle_of(some)) or tip for some in (weights, sure)
    )
    time, mass = site.limit("stop_time"), sum(one.mass for one in weights)
    rated = rating_of(site, rider.place.name if rider.place else "")
    # The high end: what is slowed down for certain goes as its common middle does; on another way
    # than the one that was chosen at least as far as from its begin to its end.
    slowest = at_least.low if is_way_known(carriage) else _mean(carriage, middle_of(sure))
    high = left_of(rated[0].value, sum(one.mass for one in sure) * slowest / time.value)
    if math.isinf(more_of):
        return finding_of_carriage(
            NAME, carriage, f"How fast {crane} moves is not known: the step may take no time.",
            -math.inf, high, "", (*rated, time), "Say how long the step takes at least.",
            numbers=more, about=(rider.worker,),
        )  # fmt: skip
    tip = tip._replace(high=tip.high * more_of)
    force = more_of * mass * together.high / time.value
    moment = more_of * sum(
        one.mass * speed.high * float(np.linalg.norm(one.middle))
        for one, speed in zip(weights, speeds, strict=True)
    ) / time.value  # fmt: skip
    low = min(left_of(rated[0].value, force), left_of(rated[1].value, moment))
    at = leg_words(carriage, tip.at)
    because = (
        f"{The(carriage.crane)} has its tip at {tip.high:.3f} m/s {at}, the fastest; stopped "
        f"in {text_of(time.value, 's')} that puts {text_of(force, 'N')} and "
        f"{text_of(moment, 'N m')} at most on the boots of {rider.worker}, where "
        f"{text_of(rated[0].value, 'N')} and {text_of(rated[1].value, 'N m')} are borne."
    )
    worst = 0 if left_of(rated[0].value, force) <= left_of(rated[1].value, moment) else 1
    numbers = {
        **more, "speed": tip.high, "force": force, "moment": moment,
        "braking way": 0.5 * tip.high * time.value, "masses": {w.name: w.mass for w in weights},
        "speeds": {w.name: more_of * v.high for w, v in zip(weights, speeds, strict=True)},
    }  # fmt: skip
    if way is not None and way.gaps:
        numbers["least gap of the links"] = min(gap.low for gap in way.gaps)
    fix = ""
    if has_no_way(site, carriage):
        low, high, because = -math.inf, max(high, 0.0), because + NO_WAY
    elif low < 0.0:
        share = min(rated[0].value / force, rated[1].value / moment if moment > 0.0 else math.inf)
        fix = f"Move at {math.floor(100.0 * share)} % of the speed at most, or stop more slowly."
    return finding_of_carriage(
        NAME, carriage, because, low - SURE, max(low, high) + SURE, "",
        (rated[worst], rated[1 - worst], time, site.limit("rider_mass")), fix,
        _marks(carriage, weights, high < 0.0), numbers, (rider.worker,),
    )  # fmt: skip


def _hurry(carriage: Carriage) -> float:
    """Return how many times faster it goes where the step is over as soon as it may be."""
    lasts, shortest = _lasts(carriage), carriage.shortest
    if lasts is None or shortest is None:
        return 1.0
    if shortest <= 0.0:
        return math.inf
    return lasts / shortest


def _mean(carriage: Carriage, point: Array) -> float:
    """Return how fast a point (m, boots) goes at least in the mean, whatever the way, m/s."""
    lasts = _lasts(carriage)
    if not lasts:
        return 0.0
    assert carriage.payload_from_boots is not None
    ends = transform_points(carriage.payload_from_boots, point[None])
    start, stop = (transform_points(carriage.poses[k], ends)[0] for k in (0, -1))
    return float(np.linalg.norm(stop - start)) / lasts


def _lasts(carriage: Carriage) -> float | None:
    """Return how long a motion likely lasts, s; at least, where that alone is written."""
    return carriage.shortest if carriage.duration is None else carriage.duration


def _fastest(
    site: Site, carriage: Carriage, way: CraneWay | None, point: Array | None
) -> Extreme | None:
    """Return the highest speed of the tip, m/s, or of a point (m) in the frame of the boots.

    Where the step gives no time it is what the path allows, or what the joints' rates make of it.
    """
    lasts = _lasts(carriage)
    if carriage.payload:
        if lasts is None or lasts <= 0.0:
            speed = carriage.speed
            return None if speed is None else Extreme(speed, speed, 0.0)
        if carriage.payload_from_tip is None:
            return None
        seconds = lasts * np.diff(
            np.concatenate([[0.0], moments(carriage, farthest_of(site, carriage))])
        )
        return fastest_asked(carriage, seconds, _in_frame(carriage.payload_from_boots, point))
    if not _found(way):
        return None
    assert way is not None
    if lasts is None or lasts <= 0.0:
        lasts = float(duration(way.chain, way.q).sum())
        if math.isnan(lasts) or lasts <= 0.0:
            return None
    tip_from_boots = placed_pose(site.scene.cranes[carriage.crane].plate)
    found = fastest_moved(
        way.chain, way.q, _seconds(site, carriage, way, lasts), _in_frame(tip_from_boots, point)
    )
    k = min(int(found.at), len(way.q) - 2)
    return found._replace(at=float(way.at[k] + (found.at - k) * (way.at[k + 1] - way.at[k])))


def _in_frame(frame_from_boots: Array | None, point: Array | None) -> Array | None:
    if point is None or frame_from_boots is None:
        return None
    return np.asarray(frame_from_boots[:3, :3] @ point + frame_from_boots[:3, 3])


def _marks(carriage: Carriage, weights: Sequence[Weight], bad: bool) -> tuple[Mark, ...]:
    assert carriage.payload_from_boots is not None
    boots = carriage.poses[0] @ carriage.payload_from_boots
    return tuple(
        Mark(
            "segment",
            (point(boots[:3, 3]), point(boots[:3, :3] @ one.middle + boots[:3, 3])),
            f"lever of {one.name}", bad=bad,
        )
        for one in weights
    )  # fmt: skip


def _minutes(seconds: float, up: bool = False) -> str:
    if math.isinf(seconds):
        return "for ever"
    tenths = seconds / 6.0
    return f"{(math.ceil(tenths - 1e-9) if up else round(tenths)) / 10.0:.1f} min"
