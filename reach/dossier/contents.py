"""All tables and cards of a dossier, in the order in which they are printed."""

from __future__ import annotations

from collections.abc import Callable

from reach.dossier.basis import Basis
from reach.dossier.bolts import bolts
from reach.dossier.cabling import cables
from reach.dossier.cranes import crane_poses, crane_support
from reach.dossier.moving import translation_plan
from reach.dossier.payloads import payload_clearance, payload_release
from reach.dossier.records import Card, Table
from reach.dossier.restraints import restraint_settings
from reach.dossier.stowing import bag_packing, stowage, tools_and_hardware
from reach.dossier.tasks import cut_order, optional_tasks, task_description
from reach.dossier.tethers import tether_plan, tether_swaps
from reach.dossier.times import timeline, windows

MAKERS: tuple[Callable[[Basis], Table], ...] = (
    task_description,
    cut_order,
    restraint_settings,
    bolts,
    translation_plan,
    tether_plan,
    tether_swaps,
    tools_and_hardware,
    bag_packing,
    stowage,
    payload_release,
    payload_clearance,
    crane_support,
    crane_poses,
    cables,
    timeline,
    windows,
    optional_tasks,
)
"""One maker for each table, in the order of print."""


def tables_of(basis: Basis) -> tuple[Table, ...]:
    """Return all tables of a dossier."""
    return tuple(make(basis) for make in MAKERS)


def cards_of(basis: Basis) -> tuple[Card, ...]:
    """Return the worksite cards of a dossier."""
    return ()
