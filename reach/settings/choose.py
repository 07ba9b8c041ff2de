"""The setting from which everything asked works, with its proof, or why there is none.

Scores propose, postures rank, checks judge: the best settings of `reach.plan.ranking` are run
through every check like any step of a procedure, and the best one that they pass is the answer.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from reach.checks import CHECKS, clearance, ingress, of_outing, takes_carriages
from reach.checks.clearance import closest_of
from reach.checks.reach import lacking
from reach.checks.wording import best_attempt
from reach.files.people import load_population
from reach.files.problem import InputError
from reach.files.procedure import LoadedProcedure, load_procedure
from reach.files.scene import LoadedScene, load_scene
from reach.files.tables import is_kept, table_of
from reach.finding import Finding, Verdict
from reach.model.procedure import Drive, Ingress
from reach.placing import place_of
from reach.plan.grid import Candidate, Grid, TableOf, grid_of
from reach.plan.per_target import PerTarget, per_target
from reach.plan.ranking import MOST, Ranking, Served, Stands, rank
from reach.plan.remedies import Remedy, remedies
from reach.run import Outcome, outcome_of
from reach.settings import wording
from reach.settings.asking import asking_of
from reach.settings.wording import heads
from reach.site import Site, Situation
from reach.situations import resolve
from reach.table.table import ReachTable
from reach.worker.figure import Figure
from reach.worker.posing import capsules_of

Say = Callable[[int, int, str], None]

JUDGED = tuple(
    one
    for one in CHECKS
    if one.NAME not in ("socket", "sizes", "share")
    and not takes_carriages(one)
    and not of_outing(one)
)
"""Checks that a setting is put to; what is asked of all sockets or all bodies is asked here."""


MOST_JUDGED = 12
"""Settings put to the checks, until enough pass."""

FEW = 20_000
"""Up to this many questions are searched one by one rather than have a table made for them."""


@dataclass(frozen=True, eq=False, slots=True)
class Judged:
    """A setting that reaches, clears and sees everything, and what the checks say of it."""

    served: Served
    findings: tuple[Finding, ...]

    @property
    def worst(self) -> float:
        """The least margin of reach over targets and bodies, m."""
        return self.served.worst

    def count(self, verdict: Verdict) -> int:
        """Return how many findings have a verdict."""
        return sum(finding.verdict is verdict for finding in self.findings)

    @property
    def lacks(self) -> str:
        """What does not pass, in words: ``"open: ingress"``; empty when everything does."""
        return lacks_of(self.findings)


def lacks_of(findings: Sequence[Finding]) -> str:
    """Return which checks do not pass, in words: ``"open: ingress"``; empty when all do."""
    words = []
    for verdict in (Verdict.FAIL, Verdict.OPEN, Verdict.REVIEW):
        names = [finding.check for finding in findings if finding.verdict is verdict]
        if names:
            words.append(f"{verdict}: {', '.join(dict.fromkeys(names))}")
    return "; ".join(words)


@dataclass(frozen=True, eq=False, slots=True)
class Choice:
    """The answer to a search for settings.

    Attributes
    ----------
    outcome : Outcome
        One finding on the search itself and those on the best setting.
    asks : tuple of Situation
        One for each target and body.
    judged : tuple of Judged
        The best settings, best first.
    grid : Grid
    ranking : Ranking
    each : tuple of PerTarget
        Sockets with a setting of its own for each target, best first.
    each_judged : dict of Served -> Judged
        What the checks say of the settings in ``each``.
    remedies : tuple of Remedy
    spread : tuple of str
        Sockets over which the scene's procedure spreads these targets.
    """

    outcome: Outcome
    asks: tuple[Situation, ...]
    judged: tuple[Judged, ...]
    grid: Grid
    ranking: Ranking
    each: tuple[PerTarget, ...]
    each_judged: dict[Served, Judged]
    remedies: tuple[Remedy, ...]
    spread: tuple[str, ...]


def choose(
    scene: LoadedScene | str,
    targets: Sequence[str],
    *,
    restraint: str | None = None,
    sockets: Sequence[str] | None = None,
    sizes: Sequence[str] | None = None,
    procedure: LoadedProcedure | None = None,
    top: int = 3,
    step: float | None = None,
    most: int = MOST,
    mend: bool = True,
    say: Say | None = None,
    **asked: Any,
) -> Choice:
    """Return the best settings for all targets and bodies together.

    Parameters
    ----------
    scene : LoadedScene or str
    targets : sequence of str
        Fasteners.
    restraint : str, optional
        The only foot restraint with joints that there is, when left out.
    sockets : sequence of str, optional
        Sockets to look at; all free ones when left out.
    sizes : sequence of str, optional
        Size classes instead of the worker's own body.
    procedure : LoadedProcedure, optional
        Where these targets are done now: gives tool, bit, extension, hand and the poses of
        payloads where ``asked`` leaves them out, and says when one socket does for several.
    top : int
    step : float, optional, rad
        Step of joints without detents.
    most : int
        Settings tried by postures, at most.
    mend : bool
        Whether to look for the smallest changes where no setting serves, nor one socket
        with a setting for each target.
    say : callable, optional
        Told (done, total, words).
    **asked
        Worker, tool, bit, extension, hand and placed, as `reach.files.question.question` takes.

    Raises
    ------
    InputError
        With everything that does not fit the scene.
    """
    start = time.perf_counter()
    loaded = scene if isinstance(scene, LoadedScene) else load_scene(scene)
    request = asking_of(loaded, targets, restraint, sockets, procedure, **asked)
    name, names, asking = request.restraint, request.sockets, request.steps
    site, asks = resolve(loaded.scene, loaded.meshes, asking.procedure, load_population, sizes)
    place = asks[0].place
    assert place is not None
    kept = place.restraint

    tables = tables_of(say)
    grid = grid_of(site, asks, kept, tables, names, step)
    stands = standing_at(site, asks, name)
    ranking = rank(site, grid, asks, max(top, MOST_JUDGED), most, say, stands=stands)
    judged = judged_settings(site, asks, ranking.served, name, top)
    each: tuple[PerTarget, ...] = ()
    each_judged: dict[Served, Judged] = {}

    def pick(mine: Sequence[Situation], served: Sequence[Served]) -> Served:
        best = judged_settings(site, mine, served, name, 1)[0]
        each_judged[best.served] = best
        return best.served

    changes: tuple[Remedy, ...] = ()
    if not judged:
        each = per_target(site, asks, grid, tables, pick, stands) if len(heads(asks)) > 1 else ()
        if mend and not any(all_pass(one, each_judged) for one in each):
            changes = tuple(remedies(site, asks, kept, grid))
    spread = _spread(procedure, asks[0].worker, request.targets)
    if judged:
        limit = site.limit("reach_margin")
        notes = _notes(judged[0].served, asks, spread)
        best, lacks = judged[0].served, judged[0].lacks
        finding = wording.found(asks, grid, ranking, best, name, limit, notes, lacks)
    else:
        anew = [one.socket for one in each if all_pass(one, each_judged)]
        finding = wording.none_found(
            asks, grid, ranking, anew, changes, name,
            set(names) == set(loaded.scene.free_sockets), _blocked(site, asks, ranking, name),
        )  # fmt: skip
    shown = judged[0].findings if judged else ()
    outcome = outcome_of(
        loaded, asking, site, asks, [finding, *shown], [one.NAME for one in CHECKS],
        time.perf_counter() - start,
    )  # fmt: skip
    if len(outcome.findings) == 1:
        why = "No setting was found that could be put to the checks."
        outcome = replace(outcome, not_asked=(("every check", why),))
    return Choice(outcome, asks, judged, grid, ranking, each, each_judged, changes, spread)


def tables_of(say: Say | None) -> TableOf:
    """Return what gives reach tables: one that is kept, one made for many questions, or none."""

    def told(words: str) -> None:
        if say:
            say(0, 1, f"table of what is reached, once on this computer: {words}")

    def tables(figure: Figure, n: int) -> ReachTable | None:
        if n <= FEW and not is_kept(figure):
            return None
        return table_of(figure, told)

    return tables


def placed_at(site: Site, ask: Situation, restraint: str, candidate: Candidate) -> Situation:
    """Return a situation as it is at a setting."""
    kept = ask.place.restraint if ask.place is not None else site.scene.restraints[restraint]
    setting = {
        joint.name: joint.stops.index(joint.nearest_stop(candidate.angles[joint.name]))
        if joint.numbered
        else candidate.angles[joint.name]
        for joint in kept.joints
    }
    world_from = ask.surroundings.world_from
    place = place_of(site.scene, world_from, candidate.socket, restraint, setting)
    return replace(ask, place=place)


def findings_at(
    site: Site, asks: Sequence[Situation], restraint: str, candidate: Candidate
) -> tuple[Finding, ...]:
    """Return what the checks say of everything asked at one setting, getting in included."""
    placed = [placed_at(site, ask, restraint, candidate) for ask in asks]
    situations = (*_getting_in(placed), *placed)
    return tuple(finding for one in JUDGED for finding in one.find(site, situations))


def standing_at(site: Site, asks: Sequence[Situation], restraint: str) -> Stands:
    """Return what tells whether getting in passes at a setting, for every body; asked once each."""
    known: dict[tuple[str, str], bool] = {}

    def stands(candidate: Candidate) -> bool:
        key = (candidate.socket, candidate.words)
        if key not in known:
            placed = [placed_at(site, ask, restraint, candidate) for ask in asks]
            found = [f for one in (clearance, ingress) for f in one.find(site, _getting_in(placed))]
            known[key] = all(one.verdict in (Verdict.PASS, Verdict.NOT_ASKED) for one in found)
        return known[key]

    return stands


def _getting_in(placed: Sequence[Situation]) -> tuple[Situation, ...]:
    """Return one situation of getting in for each body and surroundings, in their order."""
    first = {(one.case, id(one.surroundings)): _standing(one) for one in reversed(placed)}
    return tuple(reversed(first.values()))


def _standing(ask: Situation) -> Situation:
    """Return the same worker getting into the restraint there."""
    action = Ingress(do="ingress")
    return replace(ask, step="getting in", action=action, head=None, held=None, wanted_torque=None)


def judged_settings(
    site: Site, asks: Sequence[Situation], settings: Sequence[Served], restraint: str, top: int
) -> tuple[Judged, ...]:
    """Return ``top`` settings: those that pass every check first, then by worst margin.

    Best margin first they are put to the checks until so many pass, or all have been.
    """
    found: list[Judged] = []
    for served in settings:
        if sum(not one.lacks for one in found) >= top:
            break
        found.append(Judged(served, findings_at(site, asks, restraint, served.candidate)))

    def place(one: Judged) -> tuple[int, int, float]:
        unsure = one.count(Verdict.OPEN) + one.count(Verdict.REVIEW)
        return one.count(Verdict.FAIL), unsure, -one.worst

    return tuple(sorted(found, key=place)[:top])


def all_pass(each: PerTarget, judged: dict[Served, Judged]) -> bool:
    """Whether a socket has a setting for every target by which every check passes."""
    found = each.settings.values()
    return all(one is not None and not judged[one].lacks for one in found)


def _blocked(site: Site, asks: Sequence[Situation], ranking: Ranking, restraint: str) -> str:
    """Return what the nearest posture lacks at the setting that comes nearest, in words."""
    if not ranking.misses:
        return ""
    miss = ranking.misses[0]
    attempt = best_attempt(site, placed_at(site, asks[miss.ask], restraint, miss.candidate))
    posed = attempt.nearest_miss
    words = lacking(posed)
    if min(posed.body_room, posed.arm_room) < 0.0:
        capsules = capsules_of(attempt.figure, attempt.bulk, attempt.target, posed.posture)
        closest = closest_of(
            attempt.surroundings, attempt.world_from_boots, capsules, attempt.floor, attempt.names
        )
        words = f"{words} ({closest.part} and {closest.solid})"
    return words


def _spread(
    procedure: LoadedProcedure | None, worker: str, targets: Sequence[str]
) -> tuple[str, ...]:
    """Return the places from which a procedure has a worker do these targets."""
    if procedure is None:
        return ()
    where = ""
    found: dict[str, None] = {}
    for step in procedure.procedure.steps:
        if step.lane != worker:
            continue
        where = step.where or where
        for action in step.actions:
            if isinstance(action, Drive) and action.fastener in targets:
                found[where] = None
    return tuple(found)


def _notes(best: Served, asks: Sequence[Situation], spread: Sequence[str]) -> list[str]:
    """Return what the setting would spare, in words."""
    if len(spread) < 2:
        return []
    return [
        f"One setting in {best.candidate.socket} does for {', '.join(heads(asks))}, which the "
        f"procedure spreads over {', '.join(spread)}."
    ]


def own_procedure(loaded: LoadedScene) -> LoadedProcedure | None:
    """Return the procedure that a scene names, None where there is none that can be used."""
    if loaded.scene.procedure is None:
        return None
    try:
        return load_procedure(None, loaded)
    except InputError:
        return None
