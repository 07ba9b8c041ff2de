"""A crane at a station: every branch with what limits it, the time it takes, what checks say."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from reach.arm import duration
from reach.checks import CHECKS, findings_in, takes_carriages
from reach.crane import CraneAt, crane_at
from reach.crane.along import quickest
from reach.files.crane_question import ABOARD, CraneQuestion
from reach.files.people import load_population
from reach.files.procedure import LoadedProcedure
from reach.files.scene import LoadedScene
from reach.finding import Finding, exit_code
from reach.payload.crane_way import CraneWay, crane_way_of
from reach.placing import station_pose
from reach.run import Outcome, Say, outcome_of
from reach.site import Carriage, Site, Situation
from reach.situations import resolve


@dataclass(frozen=True, eq=False)
class CraneThere:
    """A crane at a station with one body on its plate, or with nobody.

    Attributes
    ----------
    situation : Situation or None
        Who stands there.
    at : CraneAt
        Every branch found.
    carriage : Carriage
        Its motion there, of one pose where it is not known where it comes from.
    way : CraneWay or None
        The joints' way there.
    seconds : float or None
        What that takes at the joints' rates; None where it is not known.
    least : float, s
        What it takes at least in any posture; 0 where it is not known where it comes from.
    """

    situation: Situation | None
    at: CraneAt
    carriage: Carriage
    way: CraneWay | None
    seconds: float | None
    least: float

    @property
    def case(self) -> str:
        """Size class of the body; empty for nobody."""
        return "" if self.situation is None else self.situation.case


@dataclass(frozen=True, eq=False)
class CraneAnswer:
    """The answer to a question for a crane.

    Attributes
    ----------
    asked : CraneQuestion
    crane : str
    there : tuple of CraneThere
        One for each body, at least one.
    outcome : Outcome
        What the checks on cranes and on what they carry found.
    """

    asked: CraneQuestion
    crane: str
    there: tuple[CraneThere, ...]
    outcome: Outcome

    @property
    def site(self) -> Site:
        """The scene made computable."""
        return self.outcome.site

    @property
    def worst(self) -> CraneThere:
        """The body with which it comes out worst."""
        return min(self.there, key=lambda one: one.at.best.worst if one.at.best else -np.inf)

    @property
    def exit_code(self) -> int:
        """As for checks."""
        return exit_code(self.outcome.findings)


def crane_answer(
    loaded: LoadedScene,
    procedure: LoadedProcedure,
    asked: CraneQuestion,
    *,
    sizes: Sequence[str] | None = None,
    say: Say | None = None,
) -> CraneAnswer:
    """Look for the branches of a crane at a station and run the checks on them.

    Parameters
    ----------
    loaded : LoadedScene
    procedure : LoadedProcedure
        The question as `reach.files.crane_question.crane_question` makes it.
    asked : CraneQuestion
    sizes : sequence of str, optional
        Size classes instead of the worker's own body.
    say : callable, optional
        Told (done, total, words) as the work goes on.
    """
    began = time.perf_counter()
    site, situations = resolve(
        loaded.scene, loaded.meshes, procedure.procedure, load_population,
        sizes if asked.worker else None, arms=loaded.arms,
    )  # fmt: skip
    findings: list[Finding] = []
    checks = [one for one in CHECKS if takes_carriages(one)]
    steps = [step.name for step in procedure.procedure.steps if step.name != ABOARD]
    for done, step in enumerate(steps):
        if say:
            say(done, len(steps), step)
        mine = tuple(one for one in situations if one.step == step)
        moved = tuple(one for one in site.carriages if one.step == step)
        for check in checks:
            findings += findings_in(check, site, mine, moved)
    # Of what nothing is carried for is not asked: those checks are not listed.
    told = {finding.check for finding in findings}
    names = [one.NAME for one in checks if one.NAME in told]
    there = tuple(_there(site, asked, carriage, situations) for carriage in site.carriages)
    seconds = time.perf_counter() - began
    outcome = outcome_of(loaded, procedure, site, situations, findings, names, seconds)
    return CraneAnswer(asked, site.carriages[0].crane, there, outcome)


def _there(
    site: Site, asked: CraneQuestion, carriage: Carriage, situations: Sequence[Situation]
) -> CraneThere:
    pose = station_pose(site.scene.stations[asked.station], carriage.surroundings.world_from)
    mine = [
        one for one in situations
        if one.step != ABOARD and (not carriage.case or one.case == carriage.case)
    ]  # fmt: skip
    rider = mine[0] if mine else None
    at = crane_at(site, carriage.crane, pose, carriage.surroundings, rider)
    assert at is not None
    way, seconds, least = None, None, 0.0
    if len(carriage.poses) > 1:
        way = crane_way_of(site, carriage)
        assert carriage.payload_from_tip is not None
        least = quickest(at.rig.chain, carriage.poses @ carriage.payload_from_tip)
        if way is not None and len(way.q) > 1 and np.isnan(way.stuck_at):
            total = float(duration(way.chain, way.q).sum())
            seconds = None if np.isnan(total) else total
    return CraneThere(rider, at, carriage, way, seconds, least)
