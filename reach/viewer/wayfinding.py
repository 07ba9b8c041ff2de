"""A way between two places on the page: asked for, found, drawn with its tube and line, checked."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any

from reach.files.moves_question import MoveQuestion, move_question
from reach.files.problem import InputError
from reach.pictures.moves import moves_of
from reach.pictures.moving import subject
from reach.routes import Routes, routes_between
from reach.viewer import rows, way_rows
from reach.viewer.desk import Desk
from reach.viewer.scenery import Scenery
from reach.viewer.workshop import StoppedError

PARTS = ("worker", "size", "start", "stop", "tether", "anchor", "others")
"""What of a question is one of a list; empty for the worker's own."""

HELD = ("", "carrying", "in_hand")
"""Where an item is: left behind, on the suit, in a hand."""

MOST_OTHERS = 3
"""Other ways that the page asks for at most."""

BLANK = {"words": "", "more": "", "counts": "", "asked": "", "step": "", "look": "wait",
         "shape": "", "word": ""}  # fmt: skip


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
        self._task: asyncio.Task[None] | None = None
        self._run = 0
        scene = desk.inputs.loaded.scene
        places, workers = desk.places(), list(scene.workers)
        state.way_asked = {
            "worker": next(iter(workers), ""), "size": "", "start": next(iter(places), ""),
            "stop": next(reversed(places), ""), "tether": "", "anchor": "", "others": "0",
        }  # fmt: skip
        state.way_held, state.way_avoid, state.way_job = {}, [], ""
        state.items_open = state.way_step_open = False
        self.reread()

    def reread(self) -> None:
        """Take what there is to choose from from the scene as it is now; forget what was found."""
        state, scene = self.state, self.desk.inputs.loaded.scene
        self.found: Routes | None = None
        self.shown = 0
        self._of: tuple[Any, ...] = ()
        state.way_places = way_rows.place_groups(scene)
        state.way_workers, state.way_sizes = list(scene.workers), ["", *scene.sizes]
        state.way_lines, state.way_anchors = way_rows.line_options(scene), ["", *scene.anchors]
        state.way_items = way_rows.item_rows(scene)
        state.way_others = [str(n) for n in range(MOST_OTHERS + 1)]
        state.way, state.way_is_old = dict(BLANK), False
        state.way_legs, state.way_findings, state.way_choices = [], [], []
        rails = {*scene.handrails, *scene.handholds}
        state.way_held = {name: to for name, to in state.way_held.items() if name in scene.items}
        state.way_avoid = [name for name in state.way_avoid if name in rails]

    @property
    def triggers(self) -> dict[str, Callable[..., None]]:
        """What the page may call, by name."""
        return {
            "way": self.set, "way_item": self.hold, "way_avoid": self.avoid, "find_way": self.find,
            "stop_way": self.stop, "show_way": self.show,
        }  # fmt: skip

    def enter(self) -> None:
        """Draw the way that was found last."""
        self.draw()

    # ---- the question -----------------------------------------------------------------------

    def set(self, part: str, value: str) -> None:
        """Set who goes, from where to where, on which line, and how many other ways to look for."""
        if part in PARTS:
            self.state.way_asked = {**self.state.way_asked, part: str(value)}
            self._compare()

    def hold(self, item: str, where: str) -> None:
        """Put an item on the suit ("carrying") or in a hand ("in_hand"), or leave it ("")."""
        if item in self.desk.inputs.loaded.scene.items and where in HELD:
            held = {name: at for name, at in self.state.way_held.items() if name != item}
            self.state.way_held = held | ({item: where} if where else {})
            self._compare()

    def avoid(self, rail: str) -> None:
        """Leave a rail out of ways, or let it be used again."""
        scene, now = self.desk.inputs.loaded.scene, list(self.state.way_avoid)
        if rail in now:
            now.remove(rail)
        elif rail in scene.handrails or rail in scene.handholds:
            now.append(rail)
        self.state.way_avoid = now
        self._compare()

    def asked(self) -> tuple[MoveQuestion, list[str] | None, int]:
        """Return what is asked now: the question, the size classes, how many other ways."""
        way, held, trial = self.state.way_asked, self.state.way_held, self.desk.trial
        placed = dict(trial.placed) if trial is not None else {}
        on_suit, in_hand = (
            tuple(name for name, at in held.items() if at == place) for place in HELD[1:]
        )
        question = MoveQuestion(
            way["start"], way["stop"], way["worker"] or None, on_suit, in_hand,
            tuple(self.state.way_avoid), way["tether"] or None, way["anchor"] or None, placed,
        )  # fmt: skip
        n_others = int(way["others"]) if way["others"] in self.state.way_others else 0
        return question, [way["size"]] if way["size"] else None, n_others

    def _compare(self) -> None:
        """Say whether what was found answers what is asked now."""
        self.state.way_is_old = self.found is not None and self.asked() != self._of

    # ---- looking ----------------------------------------------------------------------------

    def find(self) -> None:
        """Look for the way, and check it.

        Raises
        ------
        InputError
            With what does not fit the scene.
        """
        asked, sizes, others = of = self.asked()
        loaded = self.desk.inputs.loaded
        procedure = move_question(loaded, asked)
        self._run += 1
        run = self._run
        self.state.way_job = f"from {asked.start} to {asked.stop}"

        def say(done: int, total: int, words: str) -> None:
            if self._run != run:
                raise StoppedError

        def work() -> Routes:
            return routes_between(loaded, procedure, asked, sizes=sizes, others=others, say=say)

        self._task = asyncio.get_running_loop().create_task(self._found(work, of, run))

    def stop(self) -> None:
        """Look no further; what was begun ends at its next step and is thrown away."""
        self._run += 1
        self.state.way_job = ""

    async def _found(self, work: Callable[[], Routes], of: tuple[Any, ...], run: int) -> None:
        problem, found = "", None
        try:
            found = await asyncio.to_thread(work)
        except StoppedError:
            return
        except InputError as error:
            problem = "; ".join(one.message for one in error.problems)
        except Exception as error:
            problem = f"The way could not be worked out: {error}"
        if self._run != run:
            return
        with self.state:
            self.state.way_job = ""
            if found is None:
                self.state.problem = problem
                return
            self.found, self.shown, self._of = found, 0, of
            self._compare()
            self._tell(found)
            if self.state.mode == "way":
                self.draw()

    def show(self, k: int) -> None:
        """Show another of the ways that were found."""
        if self.found is not None and 0 <= int(k) < len(self.found.choices):
            self.shown = int(k)
            self._tell(self.found)
            self.draw()

    # ---- what is shown ----------------------------------------------------------------------

    def draw(self) -> None:
        """Draw the way, or why there is none."""
        self.scenery.clear()
        view, desk = self.scenery.view, self.desk
        if self.found is None:
            view.stand(desk.site, desk.around)
            self.scenery.names()
            self.scenery.look("all")
            self.state.drawn = "Drawn: the scene. No way has been looked for yet."
            return
        found = self.found
        view.stand(found.site, found.situation.surroundings)
        step = found.steps[self.shown] if found.choices else None
        moves = [one for one in moves_of(found.outcome) if step in (None, one.situation.step)]
        if moves:
            view.move(moves[0])
            view.marks(moves[0].findings)
            self.scenery.subject = subject(moves[0], with_line=False)
            view.look_at_all()
            view.look_at_points(self.scenery.subject)
        self.scenery.names()
        self.scenery.outline()
        self.scenery.push()
        self.state.drawn = way_rows.way_words(found, self.shown)["drawn"]

    def _tell(self, found: Routes) -> None:
        state, k = self.state, self.shown
        mine = way_rows.findings_of(found, k)
        asked, sizes, n_others = self._of
        state.way = {
            **way_rows.way_badge(found, k), **way_rows.way_words(found, k, n_others), "number": k,
            "counts": rows.count_words(mine), "step": way_rows.step_words(found, k),
            "asked": way_rows.asked_words(asked, (sizes or [""])[0]),
        }  # fmt: skip
        state.way_choices = way_rows.choice_rows(found)
        state.way_legs = way_rows.leg_rows(found, k)
        state.way_findings = rows.finding_rows(mine)
