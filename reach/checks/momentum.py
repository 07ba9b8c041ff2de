"""Question. Can the hands that hold a payload bring it to rest within the distance they have?

Asked where a motion ends in hands: an alignment, a payload that is moved by hand, and one on a
crane whose rider holds it.

Margin. Newtons between the limit and the steady force that takes the payload's speed away over
``stop_distance``: m v^2 / (2 s). The speed is what the path allows, or the length of the path
over the time the step has, the least it may last, where that is more.

Limit. ``handling_force``, taken for the force that hands hold throughout. Of a way that is planned
only what every way from its first to its last pose asks proves a fail. Where the payload was moved
away from all who hold it, by this motion or before, whether hands are on it is not said: *open*.

Blind spots. One force for all hands, however many and however they are placed; turning is left
out, and so is the strength of the arms in the posture. A speed that is taken from length and
time is the mean: on the way it may be faster. The length of a leg is that of the point that runs
straight, or the turn times the payload's farthest point where that is more. A crane that stops
its rider does not help the hands.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from reach.checks.carrying import (
    NO_WAY,
    finding_of_carriage,
    has_no_way,
    is_way_known,
    not_asked_of_carriage,
)
from reach.checks.wording import ANOTHER_WAY
from reach.finding import Finding
from reach.geometry import inverse, transform_points
from reach.geometry.motion_chain import chain_of
from reach.grasping import riding
from reach.site import Carriage, Site
from reach.units import text_of

Array = NDArray[np.float64]

NAME = "momentum"
IDS = ("D5",)
TAKES = "carriages"

SURE = 1e-9
"""Least width of a margin, N."""


def find(site: Site, carriages: tuple[Carriage, ...]) -> list[Finding]:
    """Return one finding for each motion that ends in hands."""
    return [_finding(site, carriage) for carriage in carriages if hands_on(carriage)]


def hands_on(carriage: Carriage) -> tuple[str, ...]:
    """Return the workers whose hands hold what is moved; on a crane only its rider's."""
    holding = [worker for worker, grasp in carriage.holds.items() if grasp.holds(carriage.payload)]
    if carriage.crane:
        rider = "" if carriage.rider is None else carriage.rider.worker
        holding = [worker for worker in holding if worker == rider]
    return tuple(holding)


def _finding(site: Site, carriage: Carriage) -> Finding:
    mass = site.scene.payloads[carriage.payload].mass
    if mass is None:
        return _not_asked(carriage, f"The scene does not give the mass of {carriage.payload}.")
    if carriage.speed is None and carriage.shortest is None:
        return _not_asked(carriage, "Neither a speed nor the time of the motion is given.")
    if all(one in carriage.parted for one in hands_on(carriage)):
        return _doubtful(site, carriage, mass)
    speed, whence = carriage.speed or 0.0, "the most its path allows"
    likely, is_known = speed, is_way_known(carriage)
    if carriage.shortest is not None:
        length = _length(site, carriage)
        if carriage.duration:
            # Another way than the one that was chosen may be shorter, but not by more than this.
            sure = length if is_known else _least_length(site, carriage)
            likely = max(speed, sure / carriage.duration)
        if carriage.shortest <= 0.0:
            return _no_time(site, carriage, mass, likely)
        mean = length / carriage.shortest
        if mean > speed:
            speed, whence = mean, f"{text_of(length, 'm')} in {carriage.shortest:.0f} s"
    limit, way = site.limit("handling_force"), site.limit("stop_distance")
    force = mass * speed**2 / (2.0 * way.value)
    margin = limit.value - force
    hands = " and ".join(hands_on(carriage))
    because = (
        f"To bring {carriage.payload} ({mass:.0f} kg) from {speed:.3f} m/s ({whence}) to rest "
        f"over {text_of(way.value, 'm')}, the hands of {hands} push with "
        f"{text_of(force, 'N')}; the limit is {text_of(limit.value, 'N')}."
    )
    high = max(margin, limit.value - mass * likely**2 / (2.0 * way.value))
    if margin < 0.0 <= high and not is_known:
        because += ANOTHER_WAY
    unknown = has_no_way(site, carriage)
    if unknown:
        because += NO_WAY
    most = math.sqrt(2.0 * limit.value * way.value / mass)
    return finding_of_carriage(
        NAME,
        carriage,
        because,
        -math.inf if unknown else margin - SURE,
        high + SURE,
        "N",
        (limit, way),
        "" if margin >= 0.0 else f"Move it at {math.floor(1000.0 * most) / 1000.0} m/s at most.",
        numbers={"mass": mass, "speed": speed, "force": force},
        about=hands_on(carriage),
    )


def _no_time(site: Site, carriage: Carriage, mass: float, likely: float) -> Finding:
    """Return the finding of a step that may be over at once."""
    limit, way = site.limit("handling_force"), site.limit("stop_distance")
    because = (
        f"How fast {carriage.payload} is moved at most is not known: the step may take no time."
    )
    high = limit.value - mass * likely**2 / (2.0 * way.value) + SURE
    return finding_of_carriage(
        NAME, carriage, because, -math.inf, high, "N", (limit, way),
        "Say how long the step takes at least.", numbers={"mass": mass}, about=hands_on(carriage),
    )  # fmt: skip


def _doubtful(site: Site, carriage: Carriage, mass: float) -> Finding:
    """Return the finding of a motion of which all who hold may have let go."""
    hands, several = " and ".join(hands_on(carriage)), len(hands_on(carriage)) > 1
    because = (
        f"{carriage.payload} is moved away from {hands}, who hold{'' if several else 's'} it: "
        "whether the hold lasts is not said."
    )
    return finding_of_carriage(
        NAME, carriage, because, -math.inf, math.inf, "N",
        (site.limit("handling_force"), site.limit("stop_distance")),
        f"Let {hands} go along, or release {carriage.payload} before.",
        numbers={"mass": mass}, about=hands_on(carriage),
    )  # fmt: skip


def _not_asked(carriage: Carriage, why: str) -> Finding:
    return not_asked_of_carriage(NAME, carriage, why, "N", about=hands_on(carriage))


def _length(site: Site, carriage: Carriage) -> float:
    """Return the length of the way, m."""
    farthest = _corners(site, carriage)
    total = 0.0
    for i, leg in enumerate(carriage.legs):
        about = np.zeros(3) if leg.about is None else np.asarray(leg.about, float)
        _, _, step, _, angle = chain_of(carriage.poses[i : i + 2], about).motions
        arm = float(np.linalg.norm(farthest - about, axis=1).max(initial=0.0))
        total += max(float(np.linalg.norm(step[0])), float(angle[0]) * arm)
    return total


def _least_length(site: Site, carriage: Carriage) -> float:
    """Return how far the middle of the mass comes on every way, wherever in the box it is, m."""
    corners = _corners(site, carriage)
    middle = 0.5 * (corners.min(axis=0) + corners.max(axis=0)) if len(corners) else np.zeros(3)
    _, _, step, _, angle = chain_of(carriage.poses[[0, -1]], middle).motions
    far = float(np.linalg.norm(corners - middle, axis=1).max(initial=0.0))
    return max(0.0, float(np.linalg.norm(step[0])) - 2.0 * math.sin(0.5 * float(angle[0])) * far)


def _corners(site: Site, carriage: Carriage) -> Array:
    """Return the corners of what is moved, shape (n, 3), m, payload."""
    around = carriage.surroundings
    mine = riding(site.scene, around, carriage.payload)[around.tree.face]
    world = around.tree.tri[mine].reshape(-1, 3)
    return transform_points(inverse(around.world_from[carriage.payload]), world)
