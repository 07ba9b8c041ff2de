"""What each leg asks to be kept off from each thing: stand-offs, and where contact is meant."""

from __future__ import annotations

import numpy as np

from reach.geometry import path_gap
from reach.model.procedure import Align
from reach.model.scene import Scene
from reach.payload.parts import parts_of
from reach.payload.records import Part, Thing
from reach.payload.things import things_of
from reach.site import Carriage, Site


def asked_by(
    site: Site, carriage: Carriage, part: Part, thing: Thing
) -> list[tuple[float, tuple[int, ...]]]:
    """Return each stand-off that is asked of a part and a thing (m), with the legs that ask it.

    A leg that is written to ask another stand-off of the thing overrides it; the last leg of a
    way into a guide asks nothing of what the payload seats on.  Contact is meant of the payload
    alone: a leg's stand-off of 0 leaves rider and boot plate the thing's own.
    """
    by: dict[float, list[int]] = {}
    is_payload = part.kind == "payload"
    seats = seat_of(site, carriage) if is_payload else frozenset()
    for i, leg in enumerate(carriage.legs):
        stand_off = leg.stand_off.get(thing.name, thing.stand_off)
        if not is_payload and stand_off == 0.0:
            stand_off = thing.stand_off
        if i == len(carriage.legs) - 1 and thing.name in seats:
            stand_off = 0.0
        by.setdefault(stand_off, []).append(i)
    return [(stand_off, tuple(legs)) for stand_off, legs in by.items()]


def is_meant(site: Site, carriage: Carriage, part: Part, thing: Thing, leg: int) -> bool:
    """Return whether a part may touch a thing on a leg: written so, or what it seats on.

    Nobody means structure to be touched by a rider or a boot plate, whatever a leg says.
    """
    if part.kind != "payload":
        return False
    if carriage.legs[leg].stand_off.get(thing.name) == 0.0:
        return True
    return leg == len(carriage.legs) - 1 and thing.name in seat_of(site, carriage)


def guide_of(scene: Scene, carriage: Carriage) -> str:
    """Return the guide into which a motion brings a payload, or nothing."""
    if isinstance(carriage.action, Align):
        return carriage.action.guide
    ends = carriage.names[-1] if carriage.names else ""
    return next(
        (
            name
            for name, guide in scene.guides.items()
            if guide.payload == carriage.payload and guide.pose == ends
        ),
        "",
    )


def seat_of(site: Site, carriage: Carriage) -> frozenset[str]:
    """Return the solids that a payload seats on at the end of its way (kept on the site).

    Those that come within the ``offset`` of the guide where it is seated: what is meant to be
    touched.  None where the way does not end in a guide.
    """
    key = ("seat", carriage)
    if key not in site.memo:
        site.memo[key] = _seat(site, carriage)
    found: frozenset[str] = site.memo[key]
    return found


def _seat(site: Site, carriage: Carriage) -> frozenset[str]:
    name = guide_of(site.scene, carriage)
    if not name or not len(carriage.legs):
        return frozenset()
    offset, end = site.scene.guides[name].offset, np.array([carriage.poses[-1]] * 2)
    payloads = [part for part in parts_of(site, carriage) if part.kind == "payload"]
    return frozenset(
        thing.name
        for part in payloads
        for thing in things_of(site, carriage)
        if not thing.is_hazard
        and path_gap(thing.tree, part.tree, end, beyond=offset + 1e-3).gap.high <= offset
    )
