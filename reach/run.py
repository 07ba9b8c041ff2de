"""The whole pipe: a loaded scene and procedure in, findings and what they rest on out."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from types import ModuleType

from reach.cautions import as_varied, cautions
from reach.checks import CHECKS, check_named, findings_in, of_outing, takes_carriages
from reach.files.assumptions import assumptions
from reach.files.people import DRAWN, draw_of, load_population, people_files, people_values
from reach.files.procedure import LoadedProcedure, load_procedure
from reach.files.scene import LoadedScene, load_scene
from reach.finding import Finding, Verdict
from reach.geometry import awake, on_one_core
from reach.kept.beside import beside, can_be_beside
from reach.kept.keeping import Keeping, Kept
from reach.lasting import lasting_of, lasting_words, outing_of
from reach.ledger import Outing
from reach.model.population_draw import PopulationDraw
from reach.model.procedure import Procedure
from reach.model.provenance import Provenance
from reach.model.scene import Scene
from reach.payload.planned import told, with_ways
from reach.site import Carriage, Site, Situation
from reach.situations import resolve

Say = Callable[[int, int, str], None]

WORTH = 12
"""With so many questions about motions left to find, a second process is worth its start."""


@dataclass(frozen=True, eq=False, slots=True)
class Outcome:
    """What a run found and what it rests on.

    Attributes
    ----------
    title, procedure : str
        Of the scene and the procedure.
    findings : tuple of Finding
        In the order of steps, then checks, then bodies.
    not_asked : tuple of (check name, why)
        Checks that had nothing to judge in the whole procedure.
    inputs : tuple of (file as given, sha256)
    assumptions : tuple of (path, value in words, Provenance)
    warnings : tuple of str
    seconds : float
    site, situations : Site, tuple of Situation
        For pictures.
    outing : Outing or None
        For the ledger and the timetable.
    what_if : tuple of str
        How scene and procedure differ from their files; empty as they are written.
    """

    title: str
    procedure: str
    findings: tuple[Finding, ...]
    not_asked: tuple[tuple[str, str], ...]
    inputs: tuple[tuple[str, str], ...]
    assumptions: tuple[tuple[str, str, Provenance], ...]
    warnings: tuple[str, ...]
    seconds: float
    site: Site
    situations: tuple[Situation, ...]
    outing: Outing | None = None
    what_if: tuple[str, ...] = ()

    @property
    def cautions(self) -> tuple[str, ...]:
        """What holds wherever these results are shown, with the hash of their inputs."""
        return cautions(self.inputs)


def check(
    scene: LoadedScene | str | Path,
    procedure: LoadedProcedure | str | Path | None = None,
    *,
    sizes: Sequence[str] | None = None,
    population: PopulationDraw | str | int | None = None,
    only: Sequence[str] | None = None,
    kept: Kept | None = None,
    processes: int = 1,
    say: Say | None = None,
) -> Outcome:
    """Run the checks of a procedure and return what they found.

    Parameters
    ----------
    scene : LoadedScene, str or Path
        A scene, its folder or file, or the name of a shipped one.
    procedure : LoadedProcedure, str or Path, optional
        The scene's own procedure when left out.
    sizes : sequence of str, optional
        Size classes to run instead of each worker's own body.
    population : PopulationDraw, str or int, optional
        People that each worker may be, such as ``"n=1000, sex=mixed, seed=1"`` or their
        number; workers keep their own bodies for checks that take one body.
    only : sequence of str, optional
        Names or ids of the checks to run.
    kept : Kept, optional
        What earlier runs found; it is given again where all that it rests on is as it was, and
        what this run finds is put into it.
    processes : int
        With 2 what is moved is looked at in a second process, where there can be one; what is
        found does not depend on it.
    say : callable, optional
        Told (done, total, words) as the work goes on.

    Raises
    ------
    InputError
        With every problem of the files, or of the population.
    ValueError
        If a size or a check is unknown.
    """
    start = time.perf_counter()
    loaded = scene if isinstance(scene, LoadedScene) else load_scene(scene)
    asked = (
        procedure if isinstance(procedure, LoadedProcedure) else load_procedure(procedure, loaded)
    )
    checks = [check_named(name) for name in only] if only else list(CHECKS)
    crowd = draw_of(population) if isinstance(population, str | int) else population
    site, situations = resolve(
        loaded.scene, loaded.meshes, asked.procedure, load_population, sizes, crowd, loaded.arms
    )
    if kept is None and processes > 1:
        kept = Kept()
    keeping = Keeping(kept, (loaded.scene, loaded.meshes, loaded.arms))
    if any(takes_carriages(one) for one in checks):
        with keeping.of(site).noting():
            site = with_ways(site)
    run = keeping.of(site)
    steps = _steps(asked.procedure, site)

    def found(some: Sequence[ModuleType], say: Say | None = None) -> list[Finding]:
        findings: list[Finding] = []
        for done, (step, mine, moved) in enumerate(steps):
            if say:
                say(done, len(steps), step)
            for one in some:
                find = partial(findings_in, one, site, mine, moved)
                findings += run.findings(one.NAME, step, (*mine, *moved), find)
        return findings

    by_step = [one for one in checks if not of_outing(one)]
    if kept is not None and processes > 1 and can_be_beside():
        moving = [one for one in by_step if takes_carriages(one)]
        left = [
            one
            for step, mine, moved in steps
            for one in moving
            if moved and not run.has(one.NAME, step, (*mine, *moved))
        ]
        if len(left) > WORTH:
            awake()  # once, not in both processes
            with on_one_core(), beside(lambda: found(moving), kept):
                found([one for one in by_step if one not in moving], say)
    findings = found(by_step, say)
    with run.noting():
        outing = outing_of(site, situations, asked.procedure)
        # An outing without a step has nothing to which a finding could belong.
        for one in checks if outing.steps else ():
            if of_outing(one):
                findings += one.find(site, outing)
    findings = _in_order(findings, asked.procedure, checks)
    if say:
        say(len(steps), len(steps), "done")
    names = [one.NAME for one in checks]
    took = time.perf_counter() - start
    return outcome_of(loaded, asked, site, situations, findings, names, took, outing)


def _in_order(
    findings: Sequence[Finding], procedure: Procedure, checks: Sequence[ModuleType]
) -> list[Finding]:
    """Return findings by step, then by check."""
    steps = {step.name: k for k, step in enumerate(procedure.steps)}
    names = {one.NAME: k for k, one in enumerate(checks)}
    return sorted(findings, key=lambda one: (steps[one.step], names.get(one.check, len(names))))


def _steps(
    procedure: Procedure, site: Site
) -> list[tuple[str, tuple[Situation, ...], tuple[Carriage, ...]]]:
    """Return the steps that ask for anything, each with its situations and motions."""
    asked: dict[str, tuple[list[Situation], list[Carriage]]] = {}
    for situation in site.asked:
        asked.setdefault(situation.step, ([], []))[0].append(situation)
    for carriage in site.carriages:
        asked.setdefault(carriage.step, ([], []))[1].append(carriage)
    return [
        (step.name, tuple(asked[step.name][0]), tuple(asked[step.name][1]))
        for step in procedure.steps
        if step.name in asked
    ]


def outcome_of(
    loaded: LoadedScene,
    asked: LoadedProcedure,
    site: Site,
    situations: tuple[Situation, ...],
    findings: Sequence[Finding],
    names: Sequence[str],
    seconds: float,
    outing: Outing | None = None,
) -> Outcome:
    """Return findings together with what they rest on; ``names`` are the checks that were run."""
    crowds = {situation.crowd.asked: None for situation in situations if situation.crowd}
    sexes = sorted(
        {situation.body.sex for situation in situations}
        | {sex for asked_people in crowds for sex in asked_people.sexes}
    )
    files = dict(loaded.files) | (asked.files or {asked.file: asked.sha256})
    values = [(a.path, a.value, a.source) for a in assumptions(loaded)]
    for sex in sexes:
        files |= people_files(sex)
        values += people_values(sex)
    values += [("people.drawn", asked_people.title, DRAWN) for asked_people in crowds]
    what_if = tuple(dict.fromkeys((*loaded.what_if, *asked.what_if)))
    return Outcome(
        title=loaded.scene.title or loaded.name,
        procedure=asked.procedure.title,
        findings=tuple(findings),
        not_asked=_not_asked(names, findings),
        inputs=tuple(sorted(files.items())),
        assumptions=tuple(values),
        warnings=(
            *as_varied(what_if),
            *loaded.warnings,
            *_unplaced(loaded.scene, asked.procedure),
            *told(site),
            *_blank(site, situations, outing),
        ),
        seconds=seconds,
        site=site,
        situations=situations,
        outing=outing,
        what_if=what_if,
    )


def _blank(site: Site, situations: Sequence[Situation], outing: Outing | None) -> list[str]:
    """Return a warning for each step of a whole outing whose duration is not known."""
    if outing is None or not outing.is_declared:
        return []
    return lasting_words(lasting_of(site, situations, outing.procedure))


def _unplaced(scene: Scene, procedure: Procedure) -> list[str]:
    """Return a warning for each payload that a step finds in a pose that nobody gave."""
    told: set[str] = set()
    warned: dict[str, str] = {}
    for step in procedure.steps:
        told |= step.placed.keys()
        for name, payload in scene.payloads.items():
            if step.actions and name not in told and len(payload.poses) > 1:
                pose = next(iter(payload.poses))
                warned.setdefault(
                    name, f"{name} is taken as {pose}, its first pose: step {step.name} gives none"
                )
    return list(warned.values())


def _not_asked(names: Sequence[str], findings: Sequence[Finding]) -> tuple[tuple[str, str], ...]:
    judged = {finding.check for finding in findings if finding.verdict is not Verdict.NOT_ASKED}
    told = {finding.check for finding in findings} - judged
    return tuple((name, _why(name, name in told)) for name in names if name not in judged)


def _why(name: str, is_told: bool) -> str:
    if is_told:
        return "No step gives it anything to judge."
    if of_outing(check_named(name)):
        return "The procedure declares nothing that it asks about."
    return "No step asks for it."
