"""Questions asked from Python: what the commands ask, with plain arguments and plain answers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from reach.batch.batch import Told, run_batch
from reach.batch.plan import Defaults
from reach.batch.task import Options
from reach.checks import check_named
from reach.files.carry_question import CarryQuestion, carry_question
from reach.files.moves_question import MoveQuestion, move_question
from reach.files.procedure import LoadedProcedure, load_procedure
from reach.files.runs import load_runs
from reach.files.scene import LoadedScene, load_scene
from reach.model.runs import Varied
from reach.returns import Returns, returns_of
from reach.routes import Routes, routes_between
from reach.sweeps import SPANS, Sweeps, sweeps_of
from reach.units import quantity

Scene = LoadedScene | str | Path
"""A scene, its folder or file, or the name of a shipped one."""


def ways(
    scene: Scene,
    start: str,
    stop: str,
    *,
    worker: str | None = None,
    carrying: Sequence[str] = (),
    in_hand: Sequence[str] = (),
    avoid: Sequence[str] = (),
    tether: str | None = None,
    anchor: str | None = None,
    placed: Mapping[str, str] | None = None,
    sizes: Sequence[str] | None = None,
    others: int = 0,
) -> Routes:
    """Find the ways from one place to another along rails, and check each.

    Parameters
    ----------
    scene : LoadedScene, str or Path
    start, stop : str
        A hatch, socket, station, anchor, handhold or rail, or ``"RL09@1.5"``.
    worker : str, optional
        May be left out where the scene has one.
    carrying, in_hand : sequence of str
        Items on the suit and in a hand.
    avoid : sequence of str
        Rails that are not to be used.
    tether, anchor : str, optional
        The safety line worn and where its hook is; else the worker's own.
    placed : mapping of str -> str, optional
        Payload -> pose.
    sizes : sequence of str, optional
        Size classes instead of the worker's own body.
    others : int
        Other ways, at most.

    Returns
    -------
    routes : Routes
        ``choices``, the quickest first; or ``none``, the proof that there is no way.

    Raises
    ------
    InputError
        With everything that does not fit the scene.

    Examples
    --------
    >>> import reach
    >>> found = reach.ways("tallowmere", "RUNG-8", "RUNG-9", worker="R2")
    >>> [choice.route.rails for choice in found.choices]
    [('RUNG-8', 'RUNG-9')]
    """
    loaded = _loaded(scene)
    asked = MoveQuestion(
        start, stop, worker, tuple(carrying), tuple(in_hand), tuple(avoid), tether, anchor,
        placed or {},
    )  # fmt: skip
    procedure = move_question(loaded, asked)
    return routes_between(loaded, procedure, asked, sizes=sizes, others=others)


def minutes_home(
    scene: Scene,
    procedure: LoadedProcedure | str | Path | None = None,
    *,
    workers: Sequence[str] = (),
    sizes: Sequence[str] | None = None,
    swaps: int | None = None,
) -> Returns:
    """Say how long it is back to the lock from every grip, place and step.

    Parameters
    ----------
    scene : LoadedScene, str or Path
    procedure : LoadedProcedure, str or Path, optional
        Whose steps are looked at, too.
    workers : sequence of str
        All of the scene where left empty.
    sizes : sequence of str, optional
        Size classes instead of each worker's own body.
    swaps : int, optional
        Of safety lines on the way; else counted, or the scene's own number.

    Returns
    -------
    returns : Returns
        Times in s, lengths in m.

    Raises
    ------
    InputError
        If the scene has no hatch, or with what is wrong in the files.
    """
    loaded = _loaded(scene)
    asked = None if procedure is None else _procedure(procedure, loaded)
    return returns_of(loaded, asked, workers=workers, sizes=sizes, swaps=swaps)


def sweep(
    scene: Scene,
    payload: str,
    *,
    path: str | None = None,
    start: str | None = None,
    stop: str | None = None,
    procedure: LoadedProcedure | str | Path | None = None,
    crane: str | None = None,
    worker: str | None = None,
    station: str | None = None,
    placed: Mapping[str, str] | None = None,
    sizes: Sequence[str] | None = None,
    clearance: float | str | None = None,
    spans: int = SPANS,
    seed: int = 0,
) -> Sweeps:
    """Say how near a payload comes to everything on its way, and what the checks say of it.

    Parameters
    ----------
    scene : LoadedScene, str or Path
    payload : str
    path : str, optional
        The way as it is written; else one from ``start`` to ``stop`` is looked for.
    start, stop : str, optional
        Poses.
    procedure : LoadedProcedure, str or Path, optional
        Whose steps say who rides and stands by; the scene's own where left out, unless ``crane``,
        ``worker``, ``station``, ``start`` or ``placed`` make it a question of its own.
    crane, worker, station : str, optional
        What carries it, who rides on its tip, and where that is as the motion begins.
    placed : mapping of str -> str, optional
        Payload -> pose.
    sizes : sequence of str, optional
        Size classes instead of the workers' own bodies.
    clearance : float (m) or str, optional
        Ask only whether everything is kept so far off.
    spans : int
        Of the curve, to a leg.
    seed : int
        Of the search for a way.

    Raises
    ------
    InputError
        With everything that does not fit the scene.
    ValueError
        If the clearance is no length.
    """
    loaded = _loaded(scene)
    question = CarryQuestion(payload, path, start, stop, crane, worker, station, placed or {})
    written = None
    if not question.stands_alone and (procedure or loaded.scene.procedure):
        written = _procedure(procedure, loaded)
    asked = carry_question(loaded, question, written)
    least = None if clearance is None else quantity(clearance, "length")
    return sweeps_of(
        loaded, question, asked, sizes=sizes, seed=seed, spans=spans, clearance=least
    )  # fmt: skip


def check_many(
    runs: str | Path,
    folder: str | Path,
    *,
    vary: Sequence[Varied] = (),
    what_if: Sequence[str] = (),
    sizes: Sequence[str] = (),
    only: Sequence[str] = (),
    population: str | None = None,
    jobs: int | None = None,
) -> Told:
    """Check many scenes, procedures and variations; keep each, and write one table.

    Called again it does only what is missing or changed.

    Parameters
    ----------
    runs : str or Path
        A list of runs, a scene, or a pattern such as ``"sites/*"``.
    folder : str or Path
        Where ``findings.csv``, ``summary.txt`` and a file a task go.
    vary : sequence of "crew", "hands", "sizes"
    what_if : sequence of str
        Texts such as ``"SK3 blocked"``; each is a case of its own.
    sizes : sequence of str
        Size classes instead of each worker's own body.
    only : sequence of str
        Names or ids of the checks to run.
    population : str, optional
        People that each worker may be, such as ``"n=1000, sex=mixed, seed=1"``.
    jobs : int, optional
        Processes, else one a core.

    Returns
    -------
    told : Told
        Exit code, files written, and how many tasks were run and kept.

    Raises
    ------
    InputError
        If the list has problems or the folder cannot be written to.
    ValueError
        If a check is unknown.
    """
    checks = tuple(check_named(name).NAME for name in only)
    options = Options(tuple(sizes), checks, population)
    defaults = Defaults(options, tuple(vary), tuple(what_if))
    return run_batch(load_runs(str(runs)), folder, defaults=defaults, jobs=jobs)


def _loaded(scene: Scene) -> LoadedScene:
    return scene if isinstance(scene, LoadedScene) else load_scene(scene)


def _procedure(
    procedure: LoadedProcedure | str | Path | None, loaded: LoadedScene
) -> LoadedProcedure:
    if isinstance(procedure, LoadedProcedure):
        return procedure
    return load_procedure(procedure, loaded)
