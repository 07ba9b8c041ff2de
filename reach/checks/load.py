"""Question. Does the socket bear what the step puts on the restraint, force and moment at once?

Margin. Share of the rating that is left: 0 at the limit, the least over force and moment. The
low end counts what the work may put on the socket, the high end what it puts there for certain.

Limit. ``rating`` of the socket, else ``socket_force`` and ``socket_moment`` of the scene's
limits, which hold for both applied together. A station is asked only where it has a ``rating``.
Forces are exact, and the moment of a torque alone that is felt in full: there equal passes.

Blind spots. Static, with the push and the torque that scene and step say, the tool straight on
the fastener. The push acts along the fastener's axis, the torque about it: in full at most, for
certain the share ``felt``. A ratchet or wrench is turned by the least force across its lever,
which acts at the grip, out by lever, shaft, bit and extension; on which side the lever stands is
not known, so every side counts. Two hands may turn it by opposite forces: then no force is
certain but the push. What a body throws on the socket by moving, and what the restraint bears,
are not looked at.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from reach.bearing import Burden, burden_of
from reach.checks.braking import rating_of
from reach.checks.wording import SURE, drives, finding_on, not_asked, point
from reach.crane.at_rest import crane_named
from reach.finding import Finding, Limit, Mark
from reach.loading import left_of, lever_of, load_of
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
    burden = burden_of(situation, socket)
    low = [left_of(one.value, at) for one, at in zip(most, burden.most, strict=True)]
    high = [left_of(one.value, at) for one, at in zip(most, burden.sure, strict=True)]
    if load.peak > 0.0 or lever_of(held) > 0.0:  # the moment hangs on where it is
        low[1], high[1] = low[1] - SURE, high[1] + SURE
    fails = min(high) < 0.0
    shares = high if fails else low
    worst = shares.index(min(shares))
    return finding_on(
        NAME,
        situation,
        _because(place, head.name, burden, fails, most),
        min(low),
        min(high),
        "",
        (most[worst], most[1 - worst]),
        _fix(burden.most, most) if min(low) < 0.0 else "",
        (
            Mark(
                "segment",
                (point(socket), point(head.point)),
                f"lever arm at {place.name}",
                bad=fails,
            ),
        ),
        {
            "force": burden.most[0],
            "moment": burden.most[1],
            "certain force": burden.sure[0],
            "certain moment": burden.sure[1],
            "arm of the push": burden.arm,
        },
    )


def _because(
    place: Place, name: str, burden: Burden, fails: bool, most: tuple[Limit, Limit]
) -> str:
    force, moment = burden.sure if fails else burden.most
    bound = "" if burden.most == burden.sure else " at least" if fails else " at most"
    return (
        f"Work on {name} puts {text_of(force, 'N')} and {text_of(moment, 'N m')}{bound} on "
        f"{place.name}, which bears {text_of(most[0].value, 'N')} and "
        f"{text_of(most[1].value, 'N m')} together."
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
    if not is_socket and place.name not in scene.stations:
        # A tip that a path has taken along: its plate is that of all stations on it.
        on_tip = [one for one in scene.stations.values() if one.on == crane_named(site, place.name)]
        return rating_of(site, place.name) if any(one.rating for one in on_tip) else None
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


def _fix(burden: tuple[float, float], most: tuple[Limit, Limit]) -> str:
    """Say how much less is enough: force and moment both shrink with push and torque together."""
    share = min(one.value / put for one, put in zip(most, burden, strict=True) if put > 0.0)
    return f"Push and turn with {math.floor(100.0 * share)}% of it."
