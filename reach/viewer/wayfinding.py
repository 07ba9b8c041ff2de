"""A way between two places on the page: found, drawn with its tube and safety line, checked."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any

from reach.files.moves_question import MoveQuestion, move_question
from reach.files.problem import InputError
from reach.finding import worst_of
from reach.pictures.moves import moves_of
from reach.pictures.moving import subject
from reach.routes import Routes, routes_between
from reach.viewer import rows
from reach.viewer.desk import Desk
from reach.viewer.scenery import Scenery
from reach.viewer.workshop import StoppedError


class Wayfinding:
    """Asks for ways; one at a time, in a thread, so that the page goes on answering.

    Parameters
    ----------
    state : the page's
    desk, scenery
        As `reach.viewer.trying.Trying` takes them.
    """

    def __init__(self, state: Any, desk: Desk, scenery: Scenery) -> None:
        self.state, self.desk, self.scenery = state, desk, scenery
        self.found: Routes | None = None
        self._task: asyncio.Task[None] | None = None
        self._is_stopped = False
        scene = desk.inputs.loaded.scene
        places = desk.places()
        workers = list(scene.workers)
        state.way_places, state.way_workers = places, workers
        blank = {"words": "", "more": "", "counts": "", "look": "wait", "shape": "", "word": ""}
        ends = {"start": next(iter(places), ""), "stop": next(reversed(places), "")}
        state.way = blank | ends | {"worker": next(iter(workers), "")}
        state.way_job, state.way_legs, state.way_findings = "", [], []

    @property
    def triggers(self) -> dict[str, Callable[..., None]]:
        """What the page may call, by name."""
        return {"way": self.set, "find_way": self.find, "stop_way": self.stop}

    def enter(self) -> None:
        """Draw the way that was found last."""
        self.draw()

    def set(self, part: str, value: str) -> None:
        """Set who goes, from where or to where."""
        if part in ("worker", "start", "stop"):
            self.state.way = {**self.state.way, part: value}

    def find(self) -> None:
        """Look for the way, and check it.

        Raises
        ------
        InputError
            With what does not fit the scene.
        """
        way, trial = self.state.way, self.desk.trial
        placed = dict(trial.placed) if trial is not None else {}
        asked = MoveQuestion(way["start"], way["stop"], way["worker"] or None, placed=placed)
        procedure = move_question(self.desk.inputs.loaded, asked)
        self._is_stopped = False
        self.state.way_job = f"from {asked.start} to {asked.stop}"

        def say(done: int, total: int, words: str) -> None:
            if self._is_stopped:
                raise StoppedError

        def work() -> Routes:
            return routes_between(self.desk.inputs.loaded, procedure, asked, say=say)

        self._task = asyncio.get_running_loop().create_task(self._found(work))

    def stop(self) -> None:
        """Look no further; what was begun ends at its next step and is thrown away."""
        self._is_stopped = True
        self.state.way_job = ""

    async def _found(self, work: Callable[[], Routes]) -> None:
        try:
            found = await asyncio.to_thread(work)
        except StoppedError:
            return
        except InputError as error:
            with self.state:
                self.state.way_job = ""
                self.state.problem = "; ".join(one.message for one in error.problems)
            return
        if self._is_stopped:
            return
        with self.state:
            self.found = found
            self.state.way_job = ""
            self._tell(found)
            self.draw()

    def draw(self) -> None:
        """Draw the way, or why there is none."""
        self.scenery.clear()
        view, desk = self.scenery.view, self.desk
        if self.found is None:
            view.stand(desk.site, desk.around)
            self.scenery.look("all")
            return
        site, around = self.found.site, self.found.situation.surroundings
        view.stand(site, around)
        moves = moves_of(self.found.outcome)
        if moves:
            view.move(moves[0])
            view.marks(moves[0].findings)
            self.scenery.subject = subject(moves[0], with_line=False)
            view.look_at_all()
            view.look_at_points(self.scenery.subject)
        self.scenery.names()
        self.scenery.outline()
        self.scenery.push()

    def _tell(self, found: Routes) -> None:
        state, findings = self.state, found.outcome.findings
        words = rows.way_words(found)
        badge = rows.verdict_row(worst_of(findings))
        if found.none is not None:
            badge = rows.NO_WAY
        state.way = {**state.way, **badge, **words, "counts": rows.count_words(findings)}
        state.way_legs = rows.leg_rows(found)
        state.way_findings = rows.finding_rows(findings)
        state.drawn = words["drawn"]
