"""Blank settings of a procedure filled in: one setting for all that is done from one stand.

A stand is a run of steps of one lane at one socket.  One setting that serves everything turned
there is looked for first, then one for each step.  Where nothing is turned the setting is the one
that other steps need there, or one by which getting in passes.  Checks judge the filled procedure
like any other; what no setting was found for stays blank.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from reach.files.filling import Values, write_filled, written_setting
from reach.files.people import load_population
from reach.files.procedure import LoadedProcedure, procedure_file
from reach.files.scene import LoadedScene, read_files
from reach.model.procedure import Drive
from reach.plan.grid import Candidate, TableOf, grid_of
from reach.plan.ranking import rank
from reach.settings.choose import Judged, judged_settings, standing_at, tables_of
from reach.settings.standing import standing_setting
from reach.settings.wording import sure
from reach.site import Site, Situation
from reach.situations import resolve

Say = Callable[[int, int, str], None]

TOP = 6
"""Settings of a stand that are put to the checks."""


@dataclass(frozen=True, eq=False, slots=True)
class Stand:
    """A run of steps of one lane at one socket whose setting is blank.

    ``situations`` is everything asked in them, ``asks`` what is turned.
    """

    socket: str
    steps: tuple[str, ...]
    situations: tuple[Situation, ...]

    @property
    def asks(self) -> tuple[Situation, ...]:
        """What is turned."""
        return tuple(one for one in self.situations if isinstance(one.action, Drive))


@dataclass(frozen=True, eq=False, slots=True)
class Filled:
    """Settings found for steps, and what is to be said of stands that stay blank."""

    settings: dict[str, Values] = field(default_factory=dict)
    notes: tuple[str, ...] = ()


def fill(
    scene: LoadedScene,
    procedure: LoadedProcedure,
    sizes: Sequence[str] | None = None,
    say: Say | None = None,
) -> Filled:
    """Return a setting for each blank stand of a procedure."""
    site, situations = resolve(
        scene.scene, scene.meshes, procedure.procedure, load_population, sizes
    )
    tables = tables_of(say)
    stands = blank_stands(procedure, situations)
    chosen: dict[str, Candidate] = {}
    notes: dict[Stand, str] = {}
    # Where nothing is turned comes last: what is needed there by then is known.
    for n, stand in enumerate(sorted(stands, key=lambda one: not one.asks)):
        if say:
            say(n, len(stands), f"setting for {', '.join(stand.steps)}")
        if stand.asks:
            found, notes[stand] = _stand(site, stand, tables)
        else:
            found, notes[stand] = _only_standing(site, stand, situations, chosen)
        chosen |= found
    restraints = {one.step: one.place.restraint for one in situations if one.place is not None}
    settings: dict[str, Values] = {
        step: written_setting(restraints[step], one.angles) for step, one in chosen.items()
    }
    return Filled(settings, (*(notes[stand] for stand in stands), *_blank_ways(scene, site)))


def _blank_ways(scene: LoadedScene, site: Site) -> list[str]:
    """Return how to have the ways of payloads written that steps leave blank.

    A path is part of the scene: the copy of a procedure cannot hold one.
    """
    said = {
        f"Step {one.step} leaves the path of {one.payload} blank, which stays so: reach sweep "
        f"{scene.name} {one.payload} --from {one.names[0]} --to {one.names[-1]} --write FILE "
        "writes one into a copy of the scene.": None
        for one in site.carriages
        if one.is_blank
    }
    return list(said)


def write_fill(
    scene: LoadedScene, procedure: str | Path | None, target: Path, filled: Filled
) -> list[Path]:
    """Write the copy of a procedure with what was found; return its files."""
    source, shown = procedure_file(procedure, scene)
    return write_filled(source, shown, target, filled.settings, read_files(scene))


def blank_stands(procedure: LoadedProcedure, situations: Sequence[Situation]) -> tuple[Stand, ...]:
    """Return the runs of steps whose boots are nowhere because a setting is blank."""
    blank = {
        s.step for s in situations
        if s.place is not None and s.place.world_from_socket is not None
        and s.place.world_from_boots is None
    }  # fmt: skip
    runs: list[tuple[str, str, list[str]]] = []
    current: dict[str, tuple[str, str, list[str]]] = {}
    for step in procedure.procedure.steps:
        run = current.get(step.lane)
        if step.where is not None and (run is None or step.where != run[1]):
            run = (step.lane, step.where, [])
            current[step.lane] = run
            runs.append(run)
        if run is not None and step.name in blank:
            run[2].append(step.name)
    return tuple(
        Stand(where, tuple(steps), tuple(s for s in situations if s.step in steps))
        for _, where, steps in runs
        if steps
    )  # fmt: skip


def _only_standing(
    site: Site, stand: Stand, situations: Sequence[Situation], chosen: Mapping[str, Candidate]
) -> tuple[dict[str, Candidate], str]:
    """Return step -> setting where nothing is turned, and one sentence about it."""
    needed = _needed(stand, situations, chosen)
    found, words = standing_setting(site, stand.situations, needed)
    return (
        {stand.steps[0]: found} if found else {},
        f"{stand.socket} ({', '.join(stand.steps)}): {words}.",
    )


def _needed(
    stand: Stand, situations: Sequence[Situation], chosen: Mapping[str, Candidate]
) -> list[Candidate]:
    """Return the settings of other steps of the worker at this place: later ones, then earlier."""
    mine = stand.situations[0]
    assert mine.place is not None
    before: list[Candidate] = []
    after: list[Candidate] = []
    for n, one in enumerate(situations):
        place = one.place
        if one.worker != mine.worker or place is None or place.name != stand.socket:
            continue
        if place.restraint is not mine.place.restraint:
            continue
        given = Candidate(place.name, place.setting, place.shown) if place.setting else None
        found = chosen.get(one.step, given)
        if found:
            (after if n > situations.index(mine) else before).append(found)
    return after + before[::-1]


def _stand(site: Site, stand: Stand, tables: TableOf) -> tuple[dict[str, Candidate], str]:
    """Return step -> setting where something is turned, and one sentence about it."""
    names = ", ".join(stand.steps)
    one = _best(site, stand.socket, stand.asks, tables)
    if one:
        served, lacks = one.served, f"; {one.lacks}" if one.lacks else ""
        words = f"{stand.socket} ({names}): {served.candidate.words}, worst margin "
        words = f"{words}{sure(one.worst)} at least{lacks}."
        return {stand.steps[0]: served.candidate}, words
    found: dict[str, Candidate] = {}
    missing = []
    for step in dict.fromkeys(ask.step for ask in stand.asks):
        mine = [ask for ask in stand.asks if ask.step == step]
        best = _best(site, stand.socket, mine, tables)
        if best:
            found[step] = best.served.candidate
        else:
            missing.append(step)
    if found:
        # Steps before the first one that turns something stand as they will for it.
        found = {stand.steps[0]: next(iter(found.values()))} | found
    words = f"{stand.socket} ({names}): no one setting was found for all, so each has its own"
    if missing:
        words = f"{stand.socket}: no setting was found for {', '.join(missing)}"
        found = {} if stand.steps[0] in missing else found
    return found, f"{words}."


def _best(site: Site, socket: str, asks: Sequence[Situation], tables: TableOf) -> Judged | None:
    """Return the best setting of a socket that the checks pass, else the best one found."""
    place = asks[0].place
    assert place is not None
    grid = grid_of(site, asks, place.restraint, tables, [socket])
    stands = standing_at(site, asks, place.restraint_name)
    served = rank(site, grid, asks, TOP, stands=stands).served
    return next(iter(judged_settings(site, asks, served, place.restraint_name, 1)), None)
