"""Two versions of a procedure on the page: edits, what became of the answers, the step drawn."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from reach.viewer import rows
from reach.viewer.answers import Compared
from reach.viewer.desk import Desk
from reach.viewer.playing import OTHER_FILES, Playing
from reach.viewer.steps import Moment, Steps
from reach.viewer.workshop import Job, Workshop

FEW = 12
"""Up to so many lines of a list are shown unfolded."""


class Versions:
    """Compares the procedure with the other version given at the start.

    Parameters
    ----------
    state : the page's
    desk : Desk
    playing : Playing
        Draws steps.
    long : Workshop
        Works the comparison out.
    """

    def __init__(self, state: Any, desk: Desk, playing: Playing, long: Workshop) -> None:
        self.state, self.desk, self.playing, self.long = state, desk, playing, long
        state.flips_open = state.better_open = state.edits_open = False
        self.reread()

    def reread(self) -> None:
        """Forget what was compared before the files were read."""
        state, inputs = self.state, self.desk.inputs
        self.found: Compared | None = None
        self._new: Steps | None = None
        self._shown: tuple[Moment, str] | None = None
        named = [
            "" if one is None else ", ".join(filter(None, (one.file, one.procedure.title)))
            for one in (inputs.asked, inputs.other)
        ]
        state.versions = {
            "was": named[0], "is_then": named[1], "words": "Not compared yet.", "is_known": False,
            "before": "", "now": "",
        }  # fmt: skip
        state.versions_job, state.edits, state.flips, state.shown_step = None, [], [], ""

    @property
    def triggers(self) -> dict[str, Callable[..., None]]:
        """What the page may call, by name."""
        return {"compare": self.compare, "stop_compare": self.stop, "show_step": self.show}

    def enter(self) -> None:
        """Draw the step that was shown last, else the scene."""
        if self._shown is not None:
            self.playing.drawing.want(*self._shown)
        else:
            self.playing.drawing.draw_scene("Drawn: the scene. No step of a version is shown yet.")

    def compare(self) -> None:
        """Check both versions and compare what was found; it can be stopped."""
        state = self.state
        state.versions_job = {"words": "loading the scene", "done": 0, "total": 1}

        def say(done: int, total: int, words: str) -> None:
            with state:
                state.versions_job = {"words": words, "done": done, "total": max(total, 1)}

        def done(found: Compared) -> None:
            with state:
                state.versions_job = None
                if self.desk.is_of_these_files(found.old):
                    self._tell(found)
                else:
                    state.versions = {**state.versions, "words": OTHER_FILES}

        def ended(words: str = "Stopped before the end; nothing was compared.") -> None:
            with state:
                state.versions_job = None
                state.versions = {**state.versions, "words": words}

        self.long.ask(Job("compared", (), done, ended, say=say, stopped=ended))

    def _tell(self, found: Compared) -> None:
        state, self.found = self.state, found
        inputs = self.desk.inputs
        steps = [
            {step.name for step in one.procedure.steps} if one is not None else set()
            for one in (inputs.asked, inputs.other)
        ]
        state.edits = [rows.edit_row(edit) for edit in found.edits]
        state.flips = [
            row | {"in_old": row["step"] in steps[0], "in_new": row["step"] in steps[1]}
            for row in map(rows.flip_row, found.flips)
        ]
        state.edits_open = len(state.edits) <= FEW
        state.better_open = sum(row["kind"] == "better" for row in state.flips) <= FEW
        state.versions = {
            **state.versions, "words": rows.compared_words(found), "is_known": True,
            "before": rows.count_words(found.old.findings),
            "now": rows.count_words(found.new.findings),
        }  # fmt: skip

    def stop(self) -> None:
        """Stop the comparison."""
        self.long.stop("compared")

    def show(self, step: str, which: str) -> None:
        """Draw a step of one of the versions."""
        steps = self.playing.steps
        if which == "new":
            self._new = self._new or self.desk.steps(is_other=True)
            steps = self._new
        if steps is None:
            return
        age = "as it is now" if which == "new" else "as it was"
        words = f"Drawn: step {step}, {age}, as the steps are written."
        self.state.shown_step = f"{step}, {age}"
        self._shown = steps.at(steps.number(step)), words
        self.playing.drawing.want(*self._shown)
