"""All tables and cards of a dossier, in the order in which they are printed."""

from __future__ import annotations

from collections.abc import Callable

from reach.dossier.basis import Basis
from reach.dossier.bodies import differences
from reach.dossier.bolts import bolts
from reach.dossier.cabling import cables
from reach.dossier.cards import cards_of, worksites
from reach.dossier.changing import changes
from reach.dossier.contingency import contingency_phases, contingency_steps
from reach.dossier.cranes import crane_poses, crane_support
from reach.dossier.ending import end_state
from reach.dossier.hazards import hazards
from reach.dossier.moving import translation_plan
from reach.dossier.payloads import payload_clearance, payload_release
from reach.dossier.records import Table
from reach.dossier.resting_on import assumptions, blind_spots, limits, not_asked
from reach.dossier.restraints import restraint_settings
from reach.dossier.review import causes, findings, inputs, summary, to_verify
from reach.dossier.stowing import bag_packing, stowage, tools_and_hardware
from reach.dossier.tasks import cut_order, optional_tasks, task_description
from reach.dossier.tethers import tether_plan, tether_swaps
from reach.dossier.times import timeline, windows

MAKERS: tuple[Callable[[Basis], Table], ...] = (
    summary,
    causes,
    changes,
    task_description,
    cut_order,
    timeline,
    windows,
    worksites,
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
    contingency_phases,
    contingency_steps,
    hazards,
    optional_tasks,
    end_state,
    differences,
    to_verify,
    findings,
    assumptions,
    limits,
    not_asked,
    blind_spots,
    inputs,
)
"""One maker for each table, in the order of print."""


def tables_of(basis: Basis) -> tuple[Table, ...]:
    """Return all tables of a dossier."""
    return tuple(make(basis) for make in MAKERS)


__all__ = ["MAKERS", "cards_of", "tables_of"]
