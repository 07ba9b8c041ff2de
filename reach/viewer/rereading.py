"""The files on the disk while the page is open: what has changed is told, and taken when asked."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable
from contextlib import suppress
from typing import TYPE_CHECKING

from reach.files.problem import InputError
from reach.viewer.telling import tell_scene, tell_trial
from reach.viewer.watching import Watched

if TYPE_CHECKING:
    from reach.viewer.page import Page

EVERY = 2.0
"""So often the files are looked at, s."""


class Rereading:
    """Watches the files that a page was made from.

    Parameters
    ----------
    page : Page
        Everything on it is made anew when new files are taken.
    """

    def __init__(self, page: Page) -> None:
        self.page, self.state = page, page.state
        self.watched = Watched(page.desk.inputs)
        self._read_at = time.strftime("%H:%M")
        self._task: asyncio.Task[None] | None = None
        self.state.changed_files, self.state.changed_words = [], ""
        self.state.is_scene_old = False

    @property
    def triggers(self) -> dict[str, Callable[..., None]]:
        """What the page may call, by name."""
        return {"reread": self.reread}

    def begin(self, loop: asyncio.AbstractEventLoop) -> None:
        """Look at the files from now on."""
        self._task = loop.create_task(self._looked())

    async def _looked(self) -> None:
        while True:
            await asyncio.sleep(EVERY)
            with suppress(OSError):
                self.look()

    def look(self) -> None:
        """Say which files are not what this page read; what was found from them is out of date."""
        changed = self.watched.changed()
        names = [self.watched.shown(path) for path in changed]
        if names == list(self.state.changed_files):
            return
        with self.state as state:
            state.changed_files = names
            state.is_scene_old = any(path in self.watched.of_scene for path in changed)
            have = "has" if len(names) == 1 else "have"
            state.changed_words = (
                f"{', '.join(names)} {have} changed on the disk since this page read it at "
                f"{self._read_at}. What is shown is of what was read then."
                if names
                else ""
            )
            self.page.playing.tell_age()

    def reread(self) -> None:
        """Take the files as they are now; the trial stays where it fits, findings are out of date.

        Raises
        ------
        InputError
            With everything that does not fit in them; the page stays as it was.
        """
        page, state = self.page, self.state
        try:
            page.desk.reread()
        except InputError as error:
            words = "; ".join(f"{one.file} {one.place}: {one.message}" for one in error.problems)
            state.problem = f"The new files are not taken, for they do not fit. {words}"
            return
        self.watched = Watched(page.desk.inputs)
        self._read_at = time.strftime("%H:%M")
        state.changed_files, state.changed_words, state.is_scene_old = [], "", False
        for shop in page.shops:
            shop.renew()
        page.scenery.view.forget()
        tell_scene(state, page.desk)
        for part in (page.trying, page.playing, page.ways, page.versions):
            part.reread()
        page.mode(state.mode if state.mode in {one["key"] for one in state.modes} else "trial")
        tell_trial(state, page.desk)
        page.retell_pick()
        page.trying.ask_whole()
