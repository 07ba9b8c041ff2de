"""What must be kept off while something is moved: solids that stay, and hazards."""

from __future__ import annotations

from reach.model.shapes import Shaped
from reach.payload.parts import errors_of, solids_on
from reach.payload.records import Thing
from reach.site import Carriage, Site
from reach.travel.hazards import is_active, is_active_throughout
from reach.travel.near import tree_of


def things_of(site: Site, carriage: Carriage) -> tuple[Thing, ...]:
    """Return the solids that stay and the hazards that may be active then (kept on the site).

    Hazards that ride on the payload are left out with its solids.
    """
    key = ("things", carriage)
    if key not in site.memo:
        site.memo[key] = (*_solids(site, carriage), *_hazards(site, carriage))
    things: tuple[Thing, ...] = site.memo[key]
    return things


def _solids(site: Site, carriage: Carriage) -> list[Thing]:
    scene, around = site.scene, carriage.surroundings
    riding = set(solids_on(site, carriage.payload)) if carriage.payload else set()
    asked = stand_off_of(site, carriage)
    found = []
    for name in around.names:
        if name in riding or not (around.solid_of == around.names.index(name)).any():
            continue
        own = scene.solids[name].stand_off
        error, excess = errors_of(site, around, name)
        tree = tree_of(site, around, name)
        found.append(Thing(name, "solid", tree, asked if own is None else own, error, excess))
    return found


def stand_off_of(site: Site, carriage: Carriage) -> float:
    """Return what a solid that says nothing else keeps from what is moved, m."""
    own = site.scene.payloads[carriage.payload].stand_off if carriage.payload else None
    return site.limit("payload_clearance").value if own is None else own


def _hazards(site: Site, carriage: Carriage) -> list[Thing]:
    found = []
    for name, kind, tree, stand_off in carriage.surroundings.hazards:
        record = site.scene.hazards[name]
        rides = carriage.payload and site.scene.rides_on(record.frame) == carriage.payload
        if rides or not is_active(record, carriage):
            continue
        error = stand_off - record.stand_off
        found.append(
            Thing(name, kind, tree, record.stand_off, error, error if _is_hollow(record) else 0.0,
                  is_active_throughout(record, carriage))
        )  # fmt: skip
    return found


def _is_hollow(record: Shaped) -> bool:
    bored = record.cylinder is not None and record.cylinder.bore > 0.0
    return bored or (record.plate is not None and bool(record.plate.holes))
