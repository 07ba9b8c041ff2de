"""A payload's way: how near it comes to everything, and what the checks say of it."""

from __future__ import annotations

import math
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from reach.checks import CHECKS, findings_in, takes_carriages
from reach.checks.carrying import leg_ends, leg_words, moved_words
from reach.checks.kept import kept_finding
from reach.checks.no_way import no_way_finding
from reach.files.carry_question import Asked, CarryQuestion
from reach.files.people import load_population
from reach.files.scene import LoadedScene
from reach.files.way_text import FoundWay, free_names
from reach.finding import Finding, exit_code
from reach.geometry.motion import turn_between
from reach.paths import Found
from reach.payload.at_waypoints import AtWaypoint, at_waypoints, pair_at_waypoints
from reach.payload.clock import moments, time_at
from reach.payload.curve import curve_of
from reach.payload.gaps import gaps_of
from reach.payload.parts import farthest_of
from reach.payload.planned import settled, told
from reach.payload.records import Curve, PartGap
from reach.run import Outcome, Say, outcome_of
from reach.site import Carriage, Site, Situation
from reach.situations import resolve

Array = NDArray[np.float64]

SPANS = 40
"""Spans of the curve to a leg, where nothing else is asked."""

OWN = "sweep"
"""Name of the check whose answer a way that is not there has."""


@dataclass(frozen=True, eq=False)
class Swept:
    """One motion of the payload, looked at.

    Attributes
    ----------
    carriage : Carriage
        Its way found, where it was blank.
    found : Found or None
        What a search for the way came to; None where it is written.
    gaps : tuple of PartGap
        Least margin first, contact that is meant last; empty without a way or with a threshold.
    waypoints : tuple of AtWaypoint
    short : mapping of (part, thing) -> AtWaypoint
        Of the pairs that come too near: the waypoint at which they are nearest.
    curves : tuple of Curve
    findings : tuple of Finding
        What the checks say of it.
    ends : ndarray, shape (k - 1,)
        Share of the time at the end of each leg.
    """

    carriage: Carriage
    found: Found | None
    gaps: tuple[PartGap, ...]
    waypoints: tuple[AtWaypoint, ...]
    short: Mapping[tuple[str, str], AtWaypoint]
    curves: tuple[Curve, ...]
    findings: tuple[Finding, ...]
    ends: Array

    @property
    def what(self) -> str:
        """What is moved, in words."""
        return moved_words(self.carriage)

    def where(self, at: float) -> str:
        """Return in words where on its way it is: leg number plus time 0 to 1."""
        return leg_words(self.carriage, at)

    def leg(self, at: float) -> int:
        """Return the leg of a moment."""
        return min(int(at), max(len(self.carriage.legs) - 1, 0))

    def ends_of_leg(self, leg: int) -> tuple[str, str]:
        """Return the poses with names between which a leg runs."""
        return leg_ends(self.carriage, leg)

    def share(self, at: float) -> float:
        """Return which share of its time is over then."""
        return time_at(self.ends, at)

    def turned(self, gap: PartGap) -> tuple[str, float, Array]:
        """Return since which pose, by how much (rad) and about which axis it has turned by a gap.

        The axis is in the directions of what is moved; the pose is the last one with a name.
        """
        first = min(int(gap.at), len(self.carriage.legs) - 1)
        while first > 0 and not self.carriage.names[first]:
            first -= 1
        before, now = self.carriage.poses[first], gap.pose
        axis, angle = turn_between(before[None, :3, :3], now[None, :3, :3])
        return self.carriage.names[first], float(angle[0]), axis[0]

    @property
    def judged(self) -> tuple[PartGap, ...]:
        """The gaps that something is asked of, least margin first."""
        return tuple(gap for gap in self.gaps if not gap.is_contact_meant)

    @property
    def worst(self) -> PartGap | None:
        """The gap with the least margin."""
        return next(iter(self.judged), None)

    @property
    def has_way(self) -> bool:
        """Whether there is a way to look at."""
        return self.found is None or self.found.poses is not None


@dataclass(frozen=True, eq=False)
class Sweeps:
    """The answer to a question for a payload's way.

    Attributes
    ----------
    question : CarryQuestion
    asked : Asked
    seed : int
        Of the search for blank ways.
    clearance : float or None, m
        The threshold, where only that is asked.
    swept : tuple of Swept
        In the order of steps, then bodies.
    outcome : Outcome
    """

    question: CarryQuestion
    asked: Asked
    seed: int
    clearance: float | None
    swept: tuple[Swept, ...]
    outcome: Outcome

    @property
    def site(self) -> Site:
        """The scene made computable."""
        return self.outcome.site

    @property
    def exit_code(self) -> int:
        """As for checks."""
        return exit_code(self.outcome.findings)


def sweeps_of(
    loaded: LoadedScene,
    question: CarryQuestion,
    asked: Asked,
    *,
    sizes: Sequence[str] | None = None,
    seed: int = 0,
    spans: int = SPANS,
    clearance: float | None = None,
    say: Say | None = None,
) -> Sweeps:
    """Look at the motions that are asked about and run the checks on what is moved.

    Parameters
    ----------
    loaded : LoadedScene
    question : CarryQuestion
    asked : Asked
        As `reach.files.carry_question.carry_question` makes it of the question.
    sizes : sequence of str, optional
        Size classes instead of the workers' own bodies.
    seed : int
        Of the search for blank ways.
    spans : int
        Of the curve, to a leg.
    clearance : float, m, optional
        Ask only whether everything is kept so far off.
    say : callable, optional
        Told (done, total, words) as the work goes on.
    """
    began = time.perf_counter()
    written = asked.procedure.procedure
    site, _ = resolve(
        loaded.scene, loaded.meshes, written, load_population, sizes, arms=loaded.arms
    )
    mine = [one for one in site.carriages if one.step in asked.steps]
    mine = [one for one in mine if one.payload == question.payload]
    ways = []
    for done, one in enumerate(mine):
        if say:
            say(done, 2 * len(mine), f"way of {one.step}" if one.is_blank else one.step)
        ways.append(settled(site, one, seed))
    known = {id(one): way for one, (way, _) in zip(mine, ways, strict=True)}
    carriages = tuple(known.get(id(one), one) for one in site.carriages)
    site = replace(site, carriages=carriages)
    swept = []
    for done, (one, found) in enumerate(ways):
        if say:
            say(len(mine) + done, 2 * len(mine), one.step)
        swept.append(_swept(site, one, found, spans, clearance))
    findings = [finding for one in swept for finding in one.findings]
    seconds = time.perf_counter() - began
    people = tuple(person for one, _ in ways for person in _people(one))
    outcome = outcome_of(loaded, asked.procedure, site, people, findings, (), seconds)
    # What is to be said of found ways stands beside each.
    said = told(site)
    outcome = replace(outcome, warnings=tuple(w for w in outcome.warnings if w not in said))
    return Sweeps(question, asked, seed, clearance, tuple(swept), outcome)


def _swept(
    site: Site, carriage: Carriage, found: Found | None, spans: int, clearance: float | None
) -> Swept:
    ends = moments(carriage, farthest_of(site, carriage))
    if found is not None and found.poses is None:
        return Swept(carriage, found, (), (), {}, (), (no_way_finding(OWN, carriage, found),), ends)
    if clearance is not None:
        kept = kept_finding(OWN, site, carriage, clearance)
        return Swept(carriage, found, (), (), {}, (), (kept,), ends)
    gaps = sorted(gaps_of(site, carriage), key=lambda gap: (gap.is_contact_meant, least(gap)))
    findings: list[Finding] = []
    for one in CHECKS:
        if takes_carriages(one):
            findings += findings_in(one, site, (), (carriage,))
    return Swept(
        carriage,
        found,
        tuple(gaps),
        at_waypoints(site, carriage),
        _short(site, carriage, gaps),
        curve_of(site, carriage, spans),
        tuple(findings),
        ends,
    )


def _short(
    site: Site, carriage: Carriage, gaps: Sequence[PartGap]
) -> dict[tuple[str, str], AtWaypoint]:
    found = {}
    for gap in gaps:
        if not gap.is_contact_meant and gap.margin[1] < 0.0:
            at = pair_at_waypoints(site, carriage, gap.part, gap.thing)
            if at is not None:
                found[gap.part, gap.thing] = at
    return found


def least(gap: PartGap) -> float:
    """Return what a gap is sorted by, m: the margin that is shown, else the one that is proved."""
    low, high = gap.margin
    return high if math.isfinite(high) else low


def _people(carriage: Carriage) -> tuple[Situation, ...]:
    """Return who rides and who stands by: the bodies that an answer rests on."""
    riders = () if carriage.rider is None else (carriage.rider,)
    return (*riders, *(stay.situation for stay in carriage.bystanders))


def found_ways(loaded: LoadedScene, sweeps: Sweeps) -> tuple[FoundWay, ...]:
    """Return the ways that were found, with names that the scene does not have yet."""
    ways: list[FoundWay] = []
    for one in sweeps.swept:
        if one.found is not None and one.found.poses is not None:
            ways.append(_written(loaded, one.carriage, ways))
    return tuple(ways)


def _written(loaded: LoadedScene, carriage: Carriage, others: Sequence[FoundWay]) -> FoundWay:
    poses = carriage.poses[1:-1]
    path, names = free_names(loaded, carriage.payload, len(poses), others)
    axes, angles = turn_between(np.tile(np.eye(3), (len(poses), 1, 1)), poses[:, :3, :3])
    about = carriage.legs[0].about
    return FoundWay(
        carriage.payload,
        path,
        (carriage.names[0], *names, carriage.names[-1]),
        poses[:, :3, 3],
        tuple(zip(axes, angles.tolist(), strict=True)),
        (0.0, 0.0, 0.0) if about is None else about,
    )
