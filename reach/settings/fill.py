"""Blank settings of a procedure filled in: one setting for all that is done from one stand.

A stand is a run of steps of one lane at one socket.  One setting that serves everything turned
there is looked for first, then one for each step.  Checks judge the filled procedure like any
other; what no setting was found for stays blank.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from reach.files.filling import Values, write_filled, written_setting
from reach.files.people import load_population
from reach.files.procedure import LoadedProcedure, procedure_file
from reach.files.scene import LoadedScene, read_files
from reach.model.procedure import Drive
from reach.plan.grid import TableOf, grid_of
from reach.plan.ranking import Served, rank
from reach.settings.choose import Judged, judged_settings, standing_at, tables_of
from reach.settings.wording import sure
from reach.site import Site, Situation
from reach.situations import resolve

Say = Callable[[int, int, str], None]

TOP = 6
"""Settings of a stand that are put to the checks."""


@dataclass(frozen=True, eq=False, slots=True)
class Stand:
    """A run of steps of one lane at one socket whose setting is blank."""

    socket: str
    steps: tuple[str, ...]
    asks: tuple[Situation, ...]


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
    settings: dict[str, Values] = {}
    notes = []
    for n, stand in enumerate(stands):
        if say:
            say(n, len(stands), f"setting for {', '.join(stand.steps)}")
        found, words = _stand(site, stand, tables)
        settings |= found
        notes.append(words)
    return Filled(settings, tuple(notes))


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
        Stand(where, tuple(steps), tuple(
            s for s in situations if s.step in steps and isinstance(s.action, Drive)))
        for _, where, steps in runs
        if steps
    )  # fmt: skip


def _stand(site: Site, stand: Stand, tables: TableOf) -> tuple[dict[str, Values], str]:
    """Return step -> setting, and one sentence about it."""
    names = ", ".join(stand.steps)
    if not stand.asks:
        return {}, f"{stand.socket} ({names}): nothing is turned from there, so it stays blank."
    one = _best(site, stand.socket, stand.asks, tables)
    if one:
        served, lacks = one.served, f"; {one.lacks}" if one.lacks else ""
        words = f"{stand.socket} ({names}): {served.candidate.words}, worst margin "
        words = f"{words}{sure(one.worst)} at least{lacks}."
        return {stand.steps[0]: _values(stand.asks[0], served)}, words
    found: dict[str, Values] = {}
    missing = []
    for step in dict.fromkeys(ask.step for ask in stand.asks):
        mine = [ask for ask in stand.asks if ask.step == step]
        best = _best(site, stand.socket, mine, tables)
        if best:
            found[step] = _values(mine[0], best.served)
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


def _values(ask: Situation, served: Served) -> Values:
    assert ask.place is not None
    return written_setting(ask.place.restraint, served.candidate.angles)
