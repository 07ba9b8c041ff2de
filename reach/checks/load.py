"""Question. Does the socket bear what the step puts on the restraint, force and moment at once?

Margin. Share of the rating that is left: 0 at the limit, the least over force and moment.

Limit. ``rating`` of the socket, else ``socket_force`` and ``socket_moment`` of the scene's
limits, which hold for both applied together. A station is asked only where it has a ``rating``.
Exact: equal passes.

Blind spots. Static, with the push and the torque that scene and step say. The force is taken
in its worst direction: its moment is force times the distance from socket to fastener, to which
the lever of a ratchet or wrench is added; the torque of other tools is added to it in full. What
a body throws on the socket by moving, and what the restraint bears, are not looked at.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from reach.checks.wording import drives, finding_on, not_asked, point
from reach.finding import Finding, Limit, Mark
from reach.loading import hand_force, left_of, lever_of, load_of
from reach.model.provenance import Provenance
from reach.site import Place, Site, Situation
from reach.units import text_of

NAME = "load"
IDS = ("D2",)


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each thing turned and each body."""
    return [_finding(site, situation) for situation in drives(situations)]


def _finding(site: Site, situation: Situation) -> Finding:
    place, head, held = situation.place, situation.head, situation.held
    assert head is not None
    assert held is not None
    load = load_of(situation)
    if place is None:
        return not_asked(NAME, situation, "The step names no place to work from.")
    most = _rating(site, place)
    if most is None:
        return not_asked(NAME, situation, f"{place.name} is no socket and gives no rating.")
    if not load.is_any:
        return not_asked(NAME, situation, f"Nothing says how hard {head.name} is worked.")
    socket = _origin(place)
    lever = lever_of(held)
    force = hand_force(load, lever)
    arm = float(np.linalg.norm(head.point - socket)) + lever
    moment = force * arm + (0.0 if lever > 0.0 else load.torque)
    shares = [left_of(most[0].value, force), left_of(most[1].value, moment)]
    margin = min(shares)
    worst = shares.index(margin)
    because = (
        f"Work on {head.name} puts {text_of(force, 'N')} and {text_of(moment, 'N m')} on "
        f"{place.name}, which bears {text_of(most[0].value, 'N')} and "
        f"{text_of(most[1].value, 'N m')} together."
    )
    ends = point(socket), point(head.point)
    return finding_on(
        NAME,
        situation,
        because,
        margin,
        margin,
        "",
        (most[worst], most[1 - worst]),
        _fix(worst, force, moment, most) if margin < 0.0 else "",
        (Mark("segment", ends, f"lever arm at {place.name}", bad=margin < 0.0),),
        {"force": force, "moment": moment, "distance": arm},
    )


def _origin(place: Place) -> NDArray[np.float64]:
    """Return where the place is, m, world: its socket, or the boots on a station."""
    pose = place.world_from_socket
    pose = place.world_from_boots if pose is None else pose
    assert pose is not None
    return pose[:3, 3]


def _rating(site: Site, place: Place) -> tuple[Limit, Limit] | None:
    scene = site.scene
    is_socket = place.world_from_socket is not None
    record = scene.sockets[place.name] if is_socket else scene.stations[place.name]
    own = record.rating
    if own is None and not is_socket:
        return None
    if own is None:
        return site.limit("socket_force"), site.limit("socket_moment")
    return (
        Limit("rating.force", own.force, "N", Provenance()),
        Limit("rating.moment", own.moment, "N m", Provenance()),
    )


def _fix(worst: int, force: float, moment: float, most: tuple[Limit, Limit]) -> str:
    share = most[worst].value / (force, moment)[worst]
    nearer = "" if worst == 0 else ", or work from a socket that much nearer"
    return f"Push and turn with {math.floor(100.0 * share)}% of it{nearer}."
