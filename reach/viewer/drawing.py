"""Draws steps of a procedure: what takes long of one is worked out beside the page."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from typing import Any

import numpy as np

from reach.model.procedure import Drive
from reach.pictures.carrying import whole_subject
from reach.pictures.moving import subject
from reach.pictures.shown import shown_of
from reach.viewer.desk import Desk
from reach.viewer.scenery import Scenery
from reach.viewer.steps import Moment


class Drawing:
    """Draws the step that was wanted last.

    Parameters
    ----------
    state : the page's
    desk, scenery
        As `reach.viewer.trying.Trying` takes them.
    """

    def __init__(self, state: Any, desk: Desk, scenery: Scenery) -> None:
        self.state, self.desk, self.scenery = state, desk, scenery
        self._ready: set[Moment] = set()
        self._wanted: tuple[Moment, str] | None = None
        self._making: asyncio.Task[None] | None = None
        state.drawing = ""

    def forget(self) -> None:
        """Draw no step any more that was read before."""
        self.leave()
        self._ready = set()

    def leave(self) -> None:
        """Draw no step any more."""
        self._wanted, self.state.drawing = None, ""

    def want(self, moment: Moment, words: str) -> None:
        """Have a step drawn, with words under it: at once where it was drawn before.

        Postures, and ways of cranes above all, take seconds: meanwhile the page goes on answering.
        """
        self._wanted = moment, words
        if moment in self._ready:
            self._draw_wanted()
            return
        self.state.drawing = f"Step {moment.step.name} is being drawn …"
        if self._making is None or self._making.done():
            self._making = asyncio.get_running_loop().create_task(self._made())

    async def _made(self) -> None:
        """Work out the step that is wanted, and the one wanted by then, until it can be drawn."""
        while self._wanted is not None and self._wanted[0] not in self._ready:
            await self.worked_out(self._wanted[0])
        with self.state:
            self._draw_wanted()

    async def worked_out(self, moment: Moment) -> None:
        """Work out beside the page what takes long of a step, where that is not done yet."""
        if moment in self._ready:
            return
        ready = self._ready
        try:
            await asyncio.to_thread(work_out, moment)
        except Exception as error:
            with self.state:
                words = f"Step {moment.step.name} could not be worked out: {error}"
                self.state.problem = words
        ready.add(moment)

    def _draw_wanted(self) -> None:
        self.state.drawing = ""
        if self._wanted is not None:
            moment, self.state.drawn = self._wanted
            self.draw(moment)

    def draw(self, moment: Moment) -> None:
        """Draw a step: who stands where, their ways, what is moved at its first place."""
        view, points = self.scenery.view, []
        turning = None
        self.scenery.clear()
        view.stand(moment.site, moment.shown_around)
        self.scenery.names()
        riders = {c.carriage.rider.worker for c in moment.carries if c.carriage.rider is not None}
        for worker, situation in moment.people.items():
            if worker in riders:
                continue
            shown = shown_of(moment.site, situation)
            is_busy = worker in moment.busy and situation.step == moment.step.name
            is_turning = is_busy and isinstance(situation.action, Drive)
            view.worker(worker, situation, shown, is_turning)
            if is_turning:
                turning = (situation, shown)
            if worker in moment.busy:
                points += [shown.capsules[:, :3], shown.capsules[:, 3:6]]
        for move in moment.moves:
            view.move(move)
            points.append(subject(move, with_line=False))
        points += [whole_subject(carry) for carry in moment.carries]
        self.motion(moment, 0)
        if points:
            self.scenery.subject = np.concatenate(points)
        if self.state.follows and turning is not None:
            view.look_at_worksite(*turning)
        elif self.state.follows and points:
            view.look_at_points(np.concatenate(points))
        self.scenery.outline()
        self.scenery.push()

    def draw_scene(self, words: str) -> None:
        """Draw the scene without anybody, with words under it."""
        self.scenery.clear()
        self.scenery.view.stand(self.desk.site, self.desk.around)
        self.scenery.names()
        self.scenery.look("all")
        self.state.drawn = words

    def motion(self, moment: Moment, frame: int) -> None:
        """Draw what moves in a step at one picture of its motion."""
        if moment.carries:
            share = frame / max(moment.n_frames - 1, 1)
            self.scenery.view.moment(moment.carries[0], moment.place(share))


def work_out(moment: Moment) -> None:
    """Work out what takes long of a step that is to be drawn; all of it is remembered."""
    for situation in moment.people.values():
        shown_of(moment.site, situation)
    for move in moment.moves:
        subject(move, with_line=False)
    for carry in moment.carries:
        whole_subject(carry)
        carry.track, carry.crane_way  # noqa: B018
    moment.shown_around  # noqa: B018


def drawn_words(moment: Moment, workers: Sequence[str]) -> str:
    """Return who is drawn where, and who is not."""
    riders = {c.carriage.rider.worker for c in moment.carries if c.carriage.rider is not None}
    movers = {m.situation.worker for m in moment.moves}
    drawn = [f"{name} on the crane" for name in workers if name in riders]
    drawn += [f"{name} on the way" for name in workers if name in movers - riders]
    for name, one in moment.people.items():
        if name not in riders | movers and one.place is not None:
            drawn.append(f"{name} at {one.place.name}")
    absent = [name for name in workers if name not in riders | movers | set(moment.people)]
    words = f"Drawn: {', '.join(drawn) or 'nobody'}, as the steps are written."
    return words + (f" Not drawn: {', '.join(absent)}." if absent else "")
