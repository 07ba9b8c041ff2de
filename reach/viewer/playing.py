"""The procedure on the page: gone through step by step or played, its ledger beside it."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from reach.finding import Finding, Verdict, worst_of
from reach.ledgers import Entry
from reach.viewer import rows
from reach.viewer.answers import Answer
from reach.viewer.desk import Desk
from reach.viewer.drawing import Drawing, drawn_words
from reach.viewer.exporting import write_findings, write_picture, wrote
from reach.viewer.scenery import Scenery
from reach.viewer.steps import Moment, Steps, action_words
from reach.viewer.workshop import Job, Workshop

NOT_CHECKED = "The whole procedure has not been checked here."

OTHER_FILES = "The files have changed since this page read them: take the new ones first."

REST, FRAME = 1.2, 0.12
"""How long a step and a picture of a motion stand while the procedure is played, s."""


class Playing:
    """Shows one step after another.

    Parameters
    ----------
    state : the page's
    desk, scenery, shops, out
        As `reach.viewer.trying.Trying` takes them.
    """

    def __init__(
        self, state: Any, desk: Desk, scenery: Scenery, shops: tuple[Workshop, Workshop], out: Path
    ) -> None:
        self.state, self.desk, self.scenery = state, desk, scenery
        (self.shop, self.long), self.out = shops, out
        self.steps: Steps | None = None
        self.ledger: dict[str, Entry] = {}
        self.number, self.frame = 0, 0
        self._task: asyncio.Task[None] | None = None
        self._before: dict[str, list[Finding]] = {}
        self.drawing = Drawing(state, desk, scenery)
        state.steps, state.step, state.ledger_open = [], {}, False
        state.is_playing, state.follows, state.n_steps, state.frame = False, True, 0, 0
        state.n_lacking = 0
        state.wrote_all, state.is_step_old, state.changed_files = "", False, []
        state.check_words = NOT_CHECKED
        self.reread()

    @property
    def triggers(self) -> dict[str, Callable[..., None]]:
        """What the page may call, by name."""
        return {
            "step": self.go, "play": self.play, "frame": self.to_frame, "next": self.next,
            "next_lacking": self.next_lacking, "check_all": self.check_all,
            "stop_check": self.stop_check, "export_all": self.export_all,
        }  # fmt: skip

    def reread(self) -> None:
        """Take the steps as they are read now; what was found of them before is out of date."""
        state, name = self.state, ""
        if self.steps is not None:
            name = self.steps.steps[self.number].name
            self._before = self.steps.findings or self._before
        self.steps, self.ledger = self.desk.steps(), {}
        self.drawing.forget()
        self._workers = list(self.desk.inputs.loaded.scene.workers)
        state.check_job, state.n_steps = None, 0
        state.ledger_changes, state.ledger_facts, state.step_findings = [], [], []
        if self._before:
            state.check_words = "Out of date: the files have changed since. Check it again."
        if self.steps is not None:
            self.number, state.n_steps = self.steps.number(name), len(self.steps.steps)
            self._list()

    def tell_age(self) -> None:
        """Say of each step whether what is known of it is out of date."""
        self._list()
        self._retell()

    @property
    def _is_old(self) -> bool:
        """Whether findings that are shown are of other files than there are now."""
        has_changed = bool(self.state.changed_files)
        return has_changed or (self.steps is not None and not self.steps.is_checked)

    def _known(self, step: str) -> list[Finding]:
        """Return what was found of a step last, out of date or not."""
        assert self.steps is not None
        known = self.steps.findings if self.steps.is_checked else self._before
        return known.get(step, [])

    def _badge(self, step: str) -> rows.Row:
        """Return the verdict on a step: waiting before the first check, old after a change."""
        assert self.steps is not None
        if not self.steps.is_checked and not self._before:
            return rows.WAITING
        if self._is_old:
            return rows.OLD
        return rows.verdict_row(worst_of(self._known(step)))

    # ---- going through it ---------------------------------------------------------------------

    def enter(self) -> None:
        """Show the step that was shown last, and have the ledger made."""
        if not self.ledger and self.steps is not None:
            self.shop.ask(Job("ledger", (), self._take_ledger, self._failed))
        self.scenery.view.look_at_all()  # each step is then looked at from that side
        self.go(self.number)

    def leave(self) -> None:
        """Stop playing, and draw no step any more."""
        if self._task is not None:
            self._task.cancel()
        self.state.is_playing = False
        self.drawing.leave()

    def go(self, number: int | str) -> None:
        """Show a step, by number or by name."""
        if self.steps is None:
            return
        known = self.steps.number(number) if isinstance(number, str) else int(number)
        self.number = min(max(known, 0), len(self.steps.steps) - 1)
        self.frame = 0
        moment = self.steps.at(self.number)
        self._tell(moment)
        self.drawing.want(moment, drawn_words(moment, self._workers))

    def next(self, by: int) -> None:
        """Go on or back by some steps."""
        self.go(self.number + int(by))

    def next_lacking(self, by: int) -> None:
        """Go on or back to the next step that does not pass; around the end."""
        if self.steps is None or not self.steps.is_checked:
            return
        names = [step.name for step in self.steps.steps]
        n = len(names)
        for k in range(1, n + 1):
            at = (self.number + (k if by > 0 else -k)) % n
            verdict = worst_of(self._known(names[at]))
            if verdict not in (Verdict.PASS, Verdict.NOT_ASKED):
                self.go(at)
                return

    def to_frame(self, frame: int) -> None:
        """Show one picture of the motion of a step."""
        if self.steps is not None and not self.state.drawing:
            self.frame = int(frame)
            self.state.frame = self.frame
            self.drawing.motion(self.steps.at(self.number), self.frame)
            self.scenery.push()

    def play(self) -> None:
        """Play on from here, or stop."""
        if self.state.is_playing:
            self.leave()
            return
        self.state.is_playing = True
        self._task = asyncio.get_running_loop().create_task(self._played())

    async def _played(self) -> None:
        assert self.steps is not None
        while self.number < len(self.steps.steps):
            moment = self.steps.at(self.number)
            while self.state.drawing:
                await asyncio.sleep(FRAME)
            for frame in range(1, moment.n_frames):
                await asyncio.sleep(FRAME)
                with self.state:
                    self.to_frame(frame)
            begin = time.monotonic()
            if self.number == len(self.steps.steps) - 1:
                break
            following = self.steps.at(self.number + 1)
            await self.drawing.worked_out(following)
            await asyncio.sleep(max(0.0, REST - (time.monotonic() - begin)))
            with self.state:
                self.next(1)
        with self.state:
            self.state.is_playing = False

    # ---- words ----------------------------------------------------------------------------------

    def _list(self) -> None:
        self.state.n_lacking = 0
        if self.steps is not None:
            passing = (Verdict.PASS, Verdict.NOT_ASKED)
            self.state.n_lacking = sum(
                worst_of(self._known(step.name)) not in passing
                for step in (self.steps.steps if self.steps.is_checked else ())
            )
            self.state.steps = [
                {"name": step.name, "lane": step.lane} | self._badge(step.name)
                for step in self.steps.steps
            ]

    def _tell(self, moment: Moment) -> None:
        assert self.steps is not None
        state, step = self.state, moment.step
        found = self._known(step.name)
        entry = self.ledger.get(step.name)
        times = "" if entry is None else f"{rows.clock(entry.begin)} to {rows.clock(entry.end)}"
        counts = rows.count_words(found) if self.steps.is_checked else "not checked yet"
        state.is_step_old = self._is_old and bool(found)
        state.step = self._badge(step.name) | {
            "number": moment.number, "name": step.name, "lane": step.lane, "times": times,
            "lines": action_words(step), "note": step.note,
            "where": "" if entry is None else rows.where_words(entry, self._workers),
            "n_frames": moment.n_frames,
            "can_try": self.steps.worksite(step.name) is not None,
            "counts": "out of date" if state.is_step_old else counts,
        }  # fmt: skip
        state.frame = self.frame
        state.step_findings = rows.finding_rows(found)
        state.ledger_changes = [] if entry is None else rows.change_rows(entry)
        state.ledger_facts = [] if entry is None else rows.fact_rows(entry)

    def _take_ledger(self, found: dict[str, Entry]) -> None:
        with self.state:
            self.ledger = found
            self._retell()

    def _retell(self) -> None:
        if self.steps is not None and self.state.mode == "procedure":
            self._tell(self.steps.at(self.number))

    # ---- checks ---------------------------------------------------------------------------------

    def check_all(self) -> None:
        """Have every check asked about the whole procedure; it can be stopped."""
        state = self.state
        self._begin("loading the scene")

        def done(answer: Answer) -> None:
            with state:
                state.check_job = None
                if self.steps is None or not self.desk.is_of_these_files(answer):
                    state.check_words = OTHER_FILES
                    return
                self.steps.take(answer.findings)
                self._before = {}
                state.check_words = rows.count_words(answer.findings)
                self._list()
                self._retell()

        def ended(words: str = "Stopped before the end; nothing was found.") -> None:
            with state:
                state.check_job, state.check_words = None, words

        self.long.ask(Job("procedure", (), done, ended, say=self._say, stopped=ended))

    def stop_check(self) -> None:
        """Stop the check of the procedure, or the export that checks it."""
        self.long.stop("procedure")
        self.long.stop("texts")

    def export_all(self, what: str) -> None:
        """Write the picture of the step, or the findings of the whole procedure; say where."""
        state = self.state
        if what == "picture":
            words = f"{state.subtitle}, step {state.step['name']}"
            path = write_picture(self.out, self.scenery.view.pixels(), words, state.caution)
            state.wrote_all = f"Wrote {path}"
        elif what == "findings" and self.steps is not None:
            state.wrote_all = ""
            self._begin("checking the procedure")

            def done(texts: tuple[str, str]) -> None:
                with state:
                    state.check_job = None
                    state.wrote_all = wrote(lambda: write_findings(self.out, *texts))

            def ended(words: str = "Stopped before the end; nothing was written.") -> None:
                with state:
                    state.check_job, state.wrote_all = None, words

            self.long.ask(Job("texts", (None,), done, ended, say=self._say, stopped=ended))

    def _begin(self, words: str) -> None:
        self.state.check_job = {"words": words, "done": 0, "total": 1}

    def _say(self, done: int, total: int, words: str) -> None:
        with self.state:
            self.state.check_job = {"words": words, "done": done, "total": max(total, 1)}

    def _failed(self, words: str) -> None:
        with self.state:
            self.state.problem = words
