"""Question. Does the place of the boots bear it when the crane stops, and is the time enough?

Asked of motions of a crane. Two answers. *Boots*: the crane comes to rest from the highest speed
of its tip; rider and what is carried are slowed down by force and moment on the boots' plate.
*Rates*: the joints are quick enough for the duration that is written.

Margin. Boots: share of the rating that is left, the least over force and moment; the low end
counts every lever in full, the high end the force alone. Rates: seconds between the duration and
the time that the postures found take at the joints' rates. The low ends are those of the shortest
time that the step may last.

Limit. ``stop_time`` is what a stop takes, ``rider_mass`` a worker with suit; the ``rating`` of the
station, else ``socket_force`` and ``socket_moment``. The joints' rates stand with the arm.

Blind spots. The slowing down is even; a stop that jerks asks for more. Of a payload the mass is
taken to sit in the middle of the box round it; hands hold it stiffly and bear their share through
the boots. Speeds are those of a motion that is constant in time: a planner's ramps add to them.
Another branch of postures may be quicker: a time that is short is *open* unless no arm with these
rates and lengths, in any posture, could do it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.arm import duration
from reach.checks.carrying import finding_of_carriage, leg_words, not_asked_of_carriage
from reach.checks.craning import The, the, travels, unknown_arm, unknown_hold
from reach.checks.wording import SURE, point
from reach.crane import Rig, rig_of
from reach.crane.along import Extreme, fastest_asked, fastest_moved, least_time, quickest
from reach.crane.at_rest import crane_named
from reach.finding import Finding, Limit, Mark
from reach.geometry import inverse
from reach.loading import left_of
from reach.model.provenance import Provenance
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
    crane, lasts = the(carriage.crane), carriage.duration
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


@dataclass(frozen=True, slots=True)
class _Weight:
    """What the boots slow down: mass (kg) and how far its middle is from them (m)."""

    name: str
    mass: float
    middle: Array


def _boots(site: Site, carriage: Carriage, rig: Rig, way: CraneWay | None) -> Finding:
    crane, more = the(carriage.crane), {"answer": BOOTS}

    def none(because: str) -> Finding:
        return finding_of_carriage(NAME, carriage, because, math.nan, math.nan, "", numbers=more)

    rider = carriage.rider
    if rider is None or carriage.payload_from_boots is None:
        return none(f"Nobody stands on the tip of {crane}.")
    fastest = _fastest(site, carriage, way)
    if fastest is None:
        return none(f"How fast {crane} moves is not known.")
    weights, unknown = _weights(site, carriage)
    if unknown:
        return none(f"What {unknown} weighs is not known.")
    time = site.limit("stop_time")
    # A step that may be over sooner than is likely moves so much faster.
    if carriage.duration and carriage.shortest is not None:
        if carriage.shortest <= 0.0:
            return none(f"How fast {crane} moves is not known: the step may take no time.")
        fastest = fastest._replace(high=fastest.high * carriage.duration / carriage.shortest)
    slowing = fastest.high / time.value
    force = slowing * sum(one.mass for one in weights)
    moment = slowing * sum(one.mass * float(np.linalg.norm(one.middle)) for one in weights)
    rated = _rating(site, rider.place.name if rider.place else "")
    low = min(left_of(rated[0].value, force), left_of(rated[1].value, moment))
    sure = sum(one.mass for one in weights) * fastest.low / time.value
    high = left_of(rated[0].value, sure)
    at = leg_words(carriage, fastest.at)
    because = (
        f"{The(carriage.crane)} has its tip at {fastest.high:.3f} m/s {at}, the fastest; stopped "
        f"in {text_of(time.value, 's')} that puts {text_of(force, 'N')} and "
        f"{text_of(moment, 'N m')} at most on the boots of {rider.worker}, where "
        f"{text_of(rated[0].value, 'N')} and {text_of(rated[1].value, 'N m')} are borne."
    )
    worst = 0 if left_of(rated[0].value, force) <= left_of(rated[1].value, moment) else 1
    numbers = {
        **more, "speed": fastest.high, "force": force, "moment": moment,
        "braking way": 0.5 * fastest.high * time.value, "masses": {w.name: w.mass for w in weights},
    }  # fmt: skip
    if way is not None and way.gaps:
        numbers["least gap of the links"] = min(gap.low for gap in way.gaps)
    fix = ""
    if low < 0.0:
        share = min(rated[0].value / force, rated[1].value / moment if moment > 0.0 else math.inf)
        fix = f"Move at {math.floor(100.0 * share)} % of the speed at most, or stop more slowly."
    return finding_of_carriage(
        NAME, carriage, because, low - SURE, max(low, high) + SURE, "",
        (rated[worst], rated[1 - worst], time, site.limit("rider_mass")), fix,
        _marks(carriage, weights, high < 0.0), numbers, (rider.worker,),
    )  # fmt: skip


def _fastest(site: Site, carriage: Carriage, way: CraneWay | None) -> Extreme | None:
    """Return the highest speed of the tip, m/s.

    Where the step gives no time it is what the path allows, or what the joints' rates make of it.
    """
    lasts = carriage.duration
    if carriage.payload:
        if lasts is None or lasts <= 0.0:
            speed = carriage.speed
            return None if speed is None else Extreme(speed, speed, 0.0)
        if carriage.payload_from_tip is None:
            return None
        seconds = lasts * np.diff(
            np.concatenate([[0.0], moments(carriage, farthest_of(site, carriage))])
        )
        return fastest_asked(carriage, seconds)
    if not _found(way):
        return None
    assert way is not None
    if lasts is None or lasts <= 0.0:
        lasts = float(duration(way.chain, way.q).sum())
        if math.isnan(lasts) or lasts <= 0.0:
            return None
    found = fastest_moved(way.chain, way.q, _seconds(site, carriage, way, lasts))
    k = min(int(found.at), len(way.q) - 2)
    return found._replace(at=float(way.at[k] + (found.at - k) * (way.at[k + 1] - way.at[k])))


def _weights(site: Site, carriage: Carriage) -> tuple[list[_Weight], str]:
    """Return what the boots slow down in the frame of the boots, and what has no known mass."""
    rider = carriage.rider
    assert rider is not None
    links = rider.body.links
    height = 0.5 * (links.hip + links.shoulder) + rider.suit.sole
    body = _Weight(rider.worker, site.limit("rider_mass").value, np.array([0.0, 0.0, height]))
    if not carriage.payload:
        return [body], ""
    mass = site.scene.payloads[carriage.payload].mass
    if mass is None:
        return [], carriage.payload
    assert carriage.payload_from_boots is not None
    world_from_boots = carriage.poses[0] @ carriage.payload_from_boots
    middle = _middle(carriage, site)
    to_boots = inverse(world_from_boots)
    return [body, _Weight(carriage.payload, mass, to_boots[:3, :3] @ middle + to_boots[:3, 3])], ""


def _middle(carriage: Carriage, site: Site) -> Array:
    """Return the middle of the box round a payload in its first pose, m, world."""
    around = carriage.surroundings
    mine = [
        i for i, name in enumerate(around.names)
        if site.scene.rides_on(name) == carriage.payload
    ]  # fmt: skip
    rows = np.isin(around.solid_of[around.tree.face], mine)
    if not rows.any():
        return np.asarray(carriage.poses[0][:3, 3])
    # In the payload's own directions, so that it is the same box wherever the payload is.
    own = inverse(carriage.poses[0])
    corners = around.tree.tri.reshape(-1, 3, 3)[rows].reshape(-1, 3) @ own[:3, :3].T + own[:3, 3]
    middle = 0.5 * (corners.min(axis=0) + corners.max(axis=0))
    return np.asarray(carriage.poses[0][:3, :3] @ middle + carriage.poses[0][:3, 3])


def _rating(site: Site, place: str) -> tuple[Limit, Limit]:
    """Return what boots may put on a place, force and moment.

    On a tip that a path has taken along they stand on the plate of all of the crane's stations:
    the least that any of them bears counts.
    """
    scene, known = site.scene, (site.limit("socket_force"), site.limit("socket_moment"))
    crane = crane_named(site, place)
    here = [scene.stations[place]] if place in scene.stations else [
        one for one in scene.stations.values() if crane and one.on == crane
    ]  # fmt: skip
    rated = [
        known if one.rating is None else (
            Limit("rating.force", one.rating.force, "N", Provenance()),
            Limit("rating.moment", one.rating.moment, "N m", Provenance()),
        )
        for one in here
    ] or [known]  # fmt: skip
    force, moment = (min((one[i] for one in rated), key=lambda x: x.value) for i in (0, 1))
    return force, moment


def _marks(carriage: Carriage, weights: Sequence[_Weight], bad: bool) -> tuple[Mark, ...]:
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
