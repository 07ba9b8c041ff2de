"""A whole run as named parts: scene, ways, worksites with reach, and marks of what fails."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.files.glb import Part, glb_of
from reach.finding import Finding, Mark, Verdict
from reach.geometry import transform_points
from reach.pictures.carries import carries_of
from reach.pictures.envelope import known_envelope
from reach.pictures.export import (
    carry_parts,
    hazard_parts,
    move_parts,
    part,
    rail_parts,
    structure_parts,
)
from reach.pictures.moves import moves_of
from reach.pictures.palette import ENVELOPE, FAIL, FASTENER, OPEN, RESTRAINT, SUIT, rgb
from reach.pictures.shown import shown_of
from reach.pictures.surface import Surface, capsule, joined, rod
from reach.pictures.worker import COLOURS
from reach.pictures.worksite import Worksite, worksites_of
from reach.run import Outcome
from reach.site import Site, Surroundings

Array = NDArray[np.float64]

COARSE = (12, 2)
"""Facets round a capsule of a body, and rings on its ends: many bodies stand in one scene."""

_HEAD, _SPOT, _LINE = 0.025, 0.05, 0.015
_REACH = 0.22
"""How solid the reach of a tool tip is."""


@dataclass(frozen=True, slots=True)
class Named:
    """A part with what it belongs to.

    Attributes
    ----------
    group : str
        ``"structure"``, ``"hazard"``, ``"rail"``, ``"fastener"``, ``"way"``, ``"corridor"``,
        ``"payload"``, ``"worker"``, ``"reach"`` or ``"mark"``.
    part : Part
    """

    group: str
    part: Part


def around_of(outcome: Outcome) -> Surroundings | None:
    """Return everything as it is in the first thing that is asked; None where nothing is."""
    if outcome.situations:
        return outcome.situations[0].surroundings
    carriages = outcome.site.carriages
    return carriages[0].surroundings if carriages else None


def parts_of_outcome(outcome: Outcome) -> Iterator[Named]:
    """Yield all parts of a run; nothing where no step asks anything."""
    around = around_of(outcome)
    if around is None:
        return
    yield from (Named("structure", one) for one in structure_parts(around))
    yield from (Named("hazard", one) for one in hazard_parts(around))
    yield from (Named("rail", one) for one in rail_parts(outcome.site, around))
    seen: set[str] = set()
    for move in moves_of(outcome):
        if move.situation.step not in seen:
            seen.add(move.situation.step)
            for one in move_parts(move):
                yield Named("way" if one.opacity == 1.0 else "corridor", one)
    for carry in carries_of(outcome):
        yield from (Named("payload", one) for one in carry_parts(carry, riders=False))
    yield from _worksites(outcome)
    for finding in outcome.findings:
        yield from (Named("mark", one) for one in mark_parts(finding))


def glb_of_outcome(outcome: Outcome) -> bytes:
    """Return a whole run as the bytes of a GLB file: metres, y up, a node each under its name.

    Raises
    ------
    ValueError
        If no step asks anything, so that there is nothing to show.
    """
    parts = [one.part for one in parts_of_outcome(outcome)]
    if not parts:
        raise ValueError("no step asks anything, so there is nothing to show")
    return glb_of(parts)


def _worksites(outcome: Outcome) -> Iterator[Named]:
    """Yield fasteners, and one body for each stand of a worker: one that turns, if any does."""
    heads: set[str] = set()
    stands: dict[tuple[str, bytes], Worksite] = {}
    for site in worksites_of(outcome):
        head, place = site.situation.head, site.situation.place
        if head is not None and head.name not in heads:
            heads.add(head.name)
            bolt = rod(head.point - _HEAD * head.axis, head.point, _HEAD, FASTENER)
            yield Named("fastener", part(head.name, bolt, FASTENER))
        assert place is not None
        assert place.world_from_boots is not None
        key = site.situation.worker, np.round(place.world_from_boots, 4).tobytes()
        if key not in stands or (stands[key].situation.held is None and site.situation.held):
            stands[key] = site
    for site in stands.values():
        yield from _stand(outcome.site, site)


def _stand(site: Site, worksite: Worksite) -> Iterator[Named]:
    situation = worksite.situation
    assert situation.place is not None
    name = f"{situation.worker} at {situation.place.name}, {situation.step}"
    shown = shown_of(site, situation)
    yield Named("worker", part(name, body(shown.capsules, shown.names), SUIT))
    pose = situation.place.world_from_boots
    assert pose is not None
    plate = rod(pose[:3, 3] - 0.02 * pose[:3, 2], pose[:3, 3], 0.2, RESTRAINT)
    yield Named("worker", part(f"{name}, boots", plate, RESTRAINT))
    attempt = shown.attempt
    if attempt is None or situation.held is None:
        return
    found = known_envelope(site, attempt.figure, attempt.target.direction)
    if found is not None:
        points = transform_points(shown.world_from_boots, found.points)
        reach = Part(f"{name}, reach", points, found.faces, rgb(ENVELOPE), _REACH)
        yield Named("reach", reach)


def body(rows: Array, names: Sequence[str]) -> Surface:
    """Return capsules (n, 7), m, as one coarse surface."""
    return joined(
        capsule(row[:3], row[3:6], float(row[6]), COLOURS.get(name, SUIT), COARSE)
        for row, name in zip(rows, names, strict=False)
    )


def mark_parts(finding: Finding) -> Iterator[Part]:
    """Yield what shows why something fails or is open."""
    if finding.verdict not in (Verdict.FAIL, Verdict.OPEN, Verdict.REVIEW):
        return
    colour = FAIL if finding.verdict is Verdict.FAIL else OPEN
    for mark in finding.marks:
        if mark.bad:
            name = f"{finding.verdict.upper()} {finding.check}, {finding.step}: {mark.label}"
            solid = 1.0 if mark.kind in ("point", "segment") else 0.3
            yield part(name, _marked(mark, colour), colour, solid)


def _marked(mark: Mark, colour: str) -> Surface:
    ends = np.array([mark.points[0], mark.points[-1]], float)
    radius = {"point": _SPOT, "segment": _LINE}.get(mark.kind, mark.radius)
    return capsule(ends[0], ends[1], radius, colour, COARSE)
