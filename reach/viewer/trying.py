"""What the trial panel asks for: changes, whole checks, the best setting, files."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from reach.viewer import rows
from reach.viewer.answers import Answer, Best, Target
from reach.viewer.desk import Desk
from reach.viewer.exporting import (
    write_findings,
    write_picture,
    write_setting,
    write_setting_into,
    wrote,
)
from reach.viewer.scenery import Scenery
from reach.viewer.stands import Stand, stands_turning
from reach.viewer.telling import tell_targets, tell_trial
from reach.viewer.trial import Trial
from reach.viewer.workshop import Job, Workshop


class Trying:
    """Changes the trial and has it worked out.

    Parameters
    ----------
    state : the page's
    desk : Desk
    scenery : Scenery
    shops : tuple of Workshop
        One works out what is waited for, the other what takes long.
    out : Path
        Where exports go.
    """

    def __init__(
        self, state: Any, desk: Desk, scenery: Scenery, shops: tuple[Workshop, Workshop], out: Path
    ) -> None:
        self.state, self.desk, self.scenery = state, desk, scenery
        (self.shop, self.long), self.out = shops, out
        self.found: list[Best] = []
        self._about: Trial | None = None
        self.take_new: Callable[[], None] = lambda: None
        state.confirm = ""

    @property
    def triggers(self) -> dict[str, Callable[..., None]]:
        """What the page may call, by name."""
        return {
            "change": self.change, "joint": self.joint, "why": self.why, "best": self.best,
            "all_targets": self.all_targets, "stop": self.stop, "take_over": self.take_over,
            "export": self.export, "export_into": self.export_into,
        }  # fmt: skip

    def change(self, part: str, value: str) -> None:
        """Change one part of the trial."""
        self.desk.change(part, value)
        self.changed("work" if part in ("where", "fastener") else "")

    def joint(self, joint: str, value: str) -> None:
        """Set one joint of the restraint."""
        self.desk.turn_joint(joint, value)
        self.changed()

    def changed(self, at: str = "") -> None:
        """Show the trial as it is now, looked at as `Scenery.look` does, and have it checked."""
        self.state.confirm = ""
        tell_trial(self.state, self.desk)
        self.scenery.redraw(at)
        self.ask_whole()

    def ask_whole(self) -> None:
        """Have every check asked about the trial, then about the targets near it."""
        trial = self.desk.trial
        if trial is None:
            return
        self.shop.stop("targets")

        def done(answer: Answer) -> None:
            if self.desk.trial is trial and self.desk.is_of_these_files(answer):
                with self.state:
                    self.desk.take(answer)
                    tell_trial(self.state, self.desk)
                    if self.state.mode == "trial":
                        self.scenery.view.marks(answer.findings)
                        self.scenery.push()
                    self.ask_targets(self.desk.wanted_targets())

        self.shop.ask(Job("whole", (trial,), done, self.failed))

    def ask_targets(self, names: list[str]) -> None:
        """Have every check asked about other targets from the same place."""
        trial = self.desk.trial
        if trial is None or not names:
            return

        def part(target: Target) -> None:
            is_old = target.answer and not self.desk.is_of_these_files(target.answer)
            if self.desk.trial is trial and not is_old:
                with self.state:
                    self.desk.take_target(target)
                    tell_targets(self.state, self.desk)

        self.shop.ask(Job("targets", (trial, names), lambda _: None, self.failed, part=part))

    def all_targets(self) -> None:
        """Ask about the targets that are farther away too."""
        known = self.desk.targets
        self.ask_targets([name for name, _ in self.desk.near_targets() if name not in known])

    # ---- long work and files --------------------------------------------------------------

    def reread(self) -> None:
        """Forget what was found from the files as they were."""
        self.found, self._about = [], None
        self.state.job, self.state.found = None, {"words": "", "rows": []}
        self.state.confirm = ""

    def best(self, is_here: bool) -> None:
        """Look for the best setting for the trial's target; it can be stopped."""
        trial, state = self.desk.trial, self.state
        if trial is None or not trial.fastener:
            state.problem = "Take a target into the trial first."
            return
        state.job = {"words": "loading the scene", "done": 0, "total": 1}
        state.found = {"words": "", "rows": []}

        def say(done: int, total: int, words: str) -> None:
            with state:
                state.job = {"words": words, "done": done, "total": max(total, 1)}

        def done(answer: tuple[str, list[Any]]) -> None:
            with state:
                words, self.found = answer
                state.job, state.found = None, {"words": words, "rows": rows.best_rows(self.found)}

        def ended(words: str = "Stopped before the end; nothing was found.") -> None:
            with state:
                state.job, state.found = None, {"words": words, "rows": []}

        self.long.ask(Job("best", (trial, is_here), done, ended, say=say, stopped=ended))

    def stop(self) -> None:
        """Stop the long work under way."""
        self.long.stop("best")

    def take_over(self, k: int) -> None:
        """Take a setting that was found into the trial."""
        self.desk.take_setting(self.found[int(k)])
        self.changed("work")

    def export(self, what: str) -> None:
        """Write a picture, the findings or the setting, and say where."""
        desk, state = self.desk, self.state
        trial = desk.trial
        if trial is None:
            return
        if what == "picture":
            path = write_picture(self.out, self.scenery.view.pixels(), trial.words, state.caution)
            state.wrote = f"Wrote {path}"
        elif what == "setting":
            self._write_setting(trial)
        elif what == "findings":
            state.wrote = "Writing the findings ..."

            def done(texts: tuple[str, str]) -> None:
                with state:
                    state.wrote = wrote(lambda: write_findings(self.out, *texts))

            self.shop.ask(Job("texts", (trial,), done, self.failed))

    def _write_setting(self, trial: Trial) -> None:
        stands = self._stands(trial)
        paths = write_setting(self.out, self.desk.inputs, trial, _written(stands))
        self.state.wrote = f"Wrote {', '.join(map(str, paths))}: {rows.stand_words(stands)}"

    def export_into(self, answer: str) -> None:
        """Ask before the procedure itself is written into, write when told so, or leave it."""
        desk, state, trial = self.desk, self.state, self.desk.trial
        asked = desk.inputs.asked
        if trial is None or asked is None:
            return
        if answer == "ask":
            stands = self._stands(trial)
            self._about, state.wrote = trial, ""
            state.confirm = f"This changes {asked.file} itself: {rows.stand_words(stands)}"
        elif answer == "write" and state.confirm and self._about is trial:
            state.confirm = ""
            steps = _written(self._stands(trial))
            files, before = write_setting_into(self.out, desk.inputs, trial, steps)
            self.take_new()
            state.wrote = (
                f"Wrote into {', '.join(map(str, files))}; as before: "
                f"{', '.join(map(str, before))}. The page goes on with the new procedure; what was "
                "found of the old one is out of date until it is checked again."
            )
        else:
            state.confirm = ""

    def _stands(self, trial: Trial) -> list[Stand]:
        asked = self.desk.inputs.asked
        return stands_turning(self.desk.situations, asked.procedure, trial) if asked else []

    def why(self, check: str, key: int) -> None:
        """Show or hide what a check asks."""
        name = f"{check}{key}"
        self.state.why = "" if self.state.why == name else name
        self.state.why_words = rows.explained(check)

    def failed(self, words: str) -> None:
        """Say that something could not be worked out."""
        with self.state:
            self.state.problem = words


def _written(stands: list[Stand]) -> list[str]:
    return [name for one in stands for name in one.written]
