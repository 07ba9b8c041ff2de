"""A way from place to place: the best, alternatives, and what the checks say of each."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from reach.checks import CHECKS, findings_in
from reach.files.moves_question import MoveQuestion, home_question, with_ways
from reach.files.people import load_population
from reach.files.procedure import LoadedProcedure
from reach.files.scene import LoadedScene, load_scene
from reach.finding import Finding, Limit, exit_code
from reach.model.procedure import Step
from reach.rails.proof import NoRoute
from reach.run import Outcome, Say, outcome_of
from reach.site import Site, Situation
from reach.situations import resolve
from reach.travel.choices import Choice, along, choices_of, none_of, span_limit, without
from reach.travel.ground import graph_in

if TYPE_CHECKING:
    import networkx

FAILS = 1


@dataclass(frozen=True, eq=False)
class Routes:
    """The answer to a question for a way.

    Attributes
    ----------
    asked : MoveQuestion
    situation : Situation
        The body that spans least of those asked about: the ways are ways for all of them.
    choices : tuple of Choice
        Best first; empty when there is no way.
    none : NoRoute or None
        The proof that there is no way.
    span : float, m
        The widest gap counted as one that can be spanned.
    outcome : Outcome
        What the checks found, one step a way.
    """

    asked: MoveQuestion
    situation: Situation
    choices: tuple[Choice, ...]
    none: NoRoute | None
    span: float
    outcome: Outcome

    @property
    def site(self) -> Site:
        """The scene made computable."""
        return self.outcome.site

    @property
    def steps(self) -> tuple[str, ...]:
        """Names of the steps that the ways were checked under."""
        return tuple(dict.fromkeys(situation.step for situation in self.outcome.situations))

    @property
    def gap(self) -> Limit:
        """The limit on gaps."""
        return self.site.limit("rail_gap")

    @property
    def exit_code(self) -> int:
        """As for checks; a proof that there is no way is a fail."""
        return FAILS if self.none is not None else exit_code(self.outcome.findings)


def rail_graph(
    scene: LoadedScene | str | Path,
    worker: str | None = None,
    *,
    size: str | None = None,
    avoid: Sequence[str] = (),
) -> networkx.Graph:
    """Return the rails of a scene as a graph of grips, with every place joined to them.

    Parameters
    ----------
    scene : LoadedScene, str or Path
        A scene, its folder or file, or the name of a shipped one.
    worker : str, optional
        Whose arms limit the gaps that are crossed; the first worker when left out.
    size : str, optional
        A size class instead of the worker's own body.
    avoid : sequence of str
        Rails to leave out.

    Returns
    -------
    graph : networkx.Graph
        Places are nodes by name, grips integers.  Nodes have ``kind`` ("place" or "grip"), ``x``,
        ``y``, ``z`` (m, world) and ``rail``, grips also ``along`` (m from the rail's start) and
        ``out_x``, ``out_y``, ``out_z`` (unit vector, side it is held from); edges ``kind``
        ("along", "gap" or "spot") and ``length`` (m).  Places are ends of ways: a way that leads
        on through one is none.

    Raises
    ------
    InputError
        With every problem of the scene, or where it has no hatch.
    ValueError
        If the size is unknown.

    Examples
    --------
    >>> import reach
    >>> graph = reach.rail_graph("brackenfall")
    >>> sorted({kind for _, _, kind in graph.edges(data="kind")})
    ['along', 'gap', 'spot']
    >>> import networkx
    >>> networkx.shortest_path_length(graph, "SK2", "SK3", weight="length") < 16.6
    True
    """
    loaded = scene if isinstance(scene, LoadedScene) else load_scene(scene)
    name = worker or next(iter(loaded.scene.workers), "")
    asked = home_question(loaded, [name])
    site, (situation, *_) = resolve(
        loaded.scene, loaded.meshes, asked.procedure, load_population, [size] if size else None
    )
    tables = (loaded.scene.hatches, loaded.scene.sockets, loaded.scene.stations,
              loaded.scene.anchors)  # fmt: skip
    places = tuple(place for table in tables for place in table)
    return _plain(graph_in(site, situation, places, tuple(avoid)).networkx())


def _plain(given: networkx.Graph) -> networkx.Graph:
    """Return the graph with numbers and texts alone, which every file format takes."""
    import networkx

    graph = networkx.Graph()
    names: dict[int, int | str] = {}
    for node, data in given.nodes(data=True):
        x, y, z = data["point"]
        is_grip = data["out"] is not None
        names[node] = node if is_grip else data["rail"]
        more = {"kind": "place", "rail": ""}
        if is_grip:
            out = dict(zip(("out_x", "out_y", "out_z"), data["out"], strict=True))
            more = {"kind": "grip", "rail": data["rail"], "along": data["along"], **out}
        graph.add_node(names[node], x=x, y=y, z=z, **more)
    for one, other, data in given.edges(data=True):
        graph.add_edge(names[one], names[other], **data)
    return graph


def routes_between(
    loaded: LoadedScene,
    procedure: LoadedProcedure,
    asked: MoveQuestion,
    *,
    sizes: Sequence[str] | None = None,
    others: int = 0,
    say: Say | None = None,
) -> Routes:
    """Look for ways and run the checks on each.

    Parameters
    ----------
    loaded : LoadedScene
    procedure : LoadedProcedure
        The question as `reach.files.moves_question.move_question` makes it.
    asked : MoveQuestion
    sizes : sequence of str, optional
        Size classes instead of the worker's own body.
    others : int
        How many alternatives, at most.
    say : callable, optional
        Told (done, total, words) as the work goes on.
    """
    began = time.perf_counter()
    if say:
        say(0, 1, "ways")
    site, plain = resolve(loaded.scene, loaded.meshes, procedure.procedure, load_population, sizes)
    blank = [without(situation, asked.avoid) for situation in plain]
    least = min(blank, key=lambda situation: span_limit(site, situation))
    choices = choices_of(site, least, others)
    none = None if choices else none_of(site, least)
    written, steps = procedure, [(blank[0].step, blank)]
    if choices:
        written = with_ways(procedure, [(c.route.rails, c.body) for c in choices])
        steps = [
            (step.name, [_as(situation, step, choice) for situation in blank])
            for step, choice in zip(written.procedure.steps, choices, strict=True)
        ]
    situations = tuple(situation for _, group in steps for situation in group)
    site = replace(site, asked=situations)
    findings: list[Finding] = []
    for done, (name, group) in enumerate(steps):
        if say:
            say(done, len(steps), name)
        # Ways are instead of each other: each is judged as if it were the only one.
        alone = replace(site, asked=tuple(group))
        for one in CHECKS:
            findings += findings_in(one, alone, tuple(group))
    # A way asks nothing of the checks on work: they are not listed as not asked.
    told = {finding.check for finding in findings}
    names = [one.NAME for one in CHECKS if one.NAME in told]
    seconds = time.perf_counter() - began
    outcome = outcome_of(loaded, written, site, situations, findings, names, seconds)
    return Routes(asked, least, choices, none, span_limit(site, least), outcome)


def _as(situation: Situation, step: Step, choice: Choice) -> Situation:
    moved = along(situation, choice.route, choice.body)
    return replace(moved, step=step.name, action=step.actions[0])
