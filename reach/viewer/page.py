"""The page: what is on the desk as a picture and words, and what is asked of it."""

from __future__ import annotations

import asyncio
import logging
import re
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

from trame.app import get_server
from trame.ui.html import DivLayout
from trame.widgets import client

from reach.files.problem import InputError
from reach.viewer.desk import Desk
from reach.viewer.entry import ENDED
from reach.viewer.naming import thing_words
from reach.viewer.playing import Playing
from reach.viewer.rereading import Rereading
from reach.viewer.scenery import Scenery
from reach.viewer.telling import tell_first, tell_trial
from reach.viewer.trying import Trying
from reach.viewer.versions import Versions
from reach.viewer.wayfinding import Wayfinding
from reach.viewer.workshop import Workshop

TURNS = {
    "ArrowLeft": (-15.0, 0.0), "ArrowRight": (15.0, 0.0), "ArrowUp": (0.0, 15.0),
    "ArrowDown": (0.0, -15.0),
}  # fmt: skip
"""Keys that with Alt turn the picture, and by how many degrees."""

NEARER = 1.25

CHANGING = {"change", "joint", "take_over", "use", "try_step", "reread", "export_into"}
"""What changes the trial, so that the answers shown are of before."""

LONG = {"mode", "look", "all_targets", "show_way", "export", "export_all"}
"""What else takes long enough that the page says that it is at work."""

OUT = 0.005
"""So long what the page is told takes to go out, while this process does nothing else, s."""

ALONE = 6.0
"""So long the first checks wait for a browser to be shown the first picture, s."""

_HERE = Path(__file__).parent
_FLIPS = re.compile(r"<!--FLIPS (\w+)-->")
"""Where a list of changed answers stands in a panel, and of which kind they are."""

_LISTED = re.compile(r"<!--FINDINGS (\w+)-->")
"""Where a list of findings stands in a panel, and in which variable of the state they are."""


class Page:
    """One page over one desk.

    Parameters
    ----------
    desk : Desk
    shops : tuple of Workshop
        One works out what is waited for, the other what takes long.
    out : Path
        Where exports go.
    """

    def __init__(self, desk: Desk, shops: tuple[Workshop, Workshop], out: Path) -> None:
        self.desk, self.shops = desk, shops
        self.server = get_server("reach-view", client_type="vue3")
        self.state: Any = self.server.state
        self.scenery = Scenery(desk, self._clicked)
        self.trying = Trying(self.state, desk, self.scenery, shops, out)
        self.state.is_drawn, self.state.trame__template_error = False, ENDED
        tell_first(self.state, desk)
        tell_trial(self.state, desk)
        self.playing = Playing(self.state, desk, self.scenery, shops, out)
        self.ways = Wayfinding(self.state, desk, self.scenery)
        self.versions = Versions(self.state, desk, self.playing, shops[1])
        self.rereading = Rereading(self)
        self.trying.take_new = self.rereading.reread
        mine: dict[str, Callable[..., None]] = {
            "pick": self.pick, "use": self.use, "list_key": self.list_key, "key": self.key,
            "turn": self.scenery.turn, "look": self.scenery.look, "mode": self.mode,
            "try_step": self.try_step,
        }  # fmt: skip
        for part in (self.trying, self.playing, self.ways, self.versions, self.rereading):
            mine |= part.triggers
        for name, what in mine.items():
            self.server.trigger(name)(self._careful(name, what))
        self._layout()
        self.scenery.redraw("work")

    def begin(self, loop: asyncio.AbstractEventLoop) -> None:
        """Have the first trial checked once its picture is out: both would share the cores."""
        waiting = loop.call_later(ALONE, self.trying.ask_whole)

        def drawn() -> None:
            with self.state:
                self.state.is_drawn = True
            if not waiting.cancelled() and loop.time() < waiting.when():
                waiting.cancel()
                self.trying.ask_whole()

        self.rereading.begin(loop)
        self.scenery.delivery.on_first = lambda: _soon(loop, drawn)

    def _careful(self, name: str, what: Callable[..., None]) -> Callable[..., Awaitable[None]]:
        """Say at once that the page is at work, and that answers are of before, then do it.

        Problems of the input are told on the page.
        """

        async def done(*args: Any) -> None:
            if name in CHANGING or name in LONG:
                with self.state:
                    self.state.problem = ""
                    self.state.is_stale, self.state.is_busy = name in CHANGING, True
                await asyncio.sleep(OUT)
            try:
                what(*args)
            except InputError as error:
                words = "; ".join(
                    f"{one.place or one.file}: {one.message}" for one in error.problems
                )
                self.state.problem = f"That does not fit. {words}"
                tell_trial(self.state, self.desk)
                self.state.dirty("fields", "joints")
            except (TypeError, ValueError, LookupError) as error:
                # Only a message that the page itself does not send gets here, or a mistake of ours.
                logging.getLogger(__name__).debug("asked for %s", name, exc_info=True)
                self.state.problem = f"That cannot be asked ({type(error).__name__}: {error})."
            finally:
                self.state.is_stale = self.state.is_busy = False

        return done

    def _clicked(self, kind: str, name: str) -> None:
        with self.state:
            self.pick(kind, name)

    def pick(self, kind: str, name: str) -> None:
        """Pick a thing: outline it and say what it is."""
        self.desk.pick(kind, name)
        self.retell_pick()
        self.scenery.outline()
        self.scenery.push()

    def retell_pick(self) -> None:
        """Say what is picked."""
        picked, state = self.desk.picked, self.state
        kind, name = ("", "") if picked is None else (picked.kind, picked.name)
        state.picked, state.picked_name = f"{kind} {name}".strip(), name
        words = thing_words(self.desk, picked) if picked is not None else ("", "")
        state.picked_words, state.picked_use = words
        state.picked_place = name if kind != "fastener" else ""

    def use(self, kind: str, name: str) -> None:
        """Take a thing into the trial."""
        part = {"fastener": "fastener", "socket": "where", "station": "where"}.get(kind)
        if part is None:
            return
        self.playing.leave()
        self.state.mode = "trial"
        try:
            self.trying.change(part, name)
        except InputError:
            self.scenery.redraw("work")  # the trial as it was
            raise

    def list_key(self, kind: str, key: str) -> None:
        """Go through a list by keys."""
        listed: list[Any] = next(
            (one["rows"] for one in self.state.lists if one["kind"] == kind), []
        )
        names, picked = [row["name"] for row in listed], self.desk.picked
        at = names.index(picked.name) if picked is not None and picked.name in names else -1
        to = {"ArrowDown": at + 1, "ArrowUp": at - 1, "Home": 0, "End": len(names) - 1}.get(key)
        if key == "Enter" and at >= 0:
            self.use(kind, names[at])
        elif to is not None and names:
            self.pick(kind, names[min(max(to, 0), len(names) - 1)])

    def key(self, key: str, alt: bool, tag: str) -> None:
        """Turn the picture by keys."""
        if alt and key in TURNS:
            self.scenery.turn(*TURNS[key], 1.0)
        elif key in ("+", "-") and tag not in ("SELECT", "INPUT"):
            self.scenery.turn(0.0, 0.0, NEARER if key == "+" else 1.0 / NEARER)

    def mode(self, mode: str) -> None:
        """Go to another part of the page."""
        if mode not in {one["key"] for one in self.state.modes}:
            return
        self.playing.leave()
        self.state.mode, self.state.confirm = mode, ""
        if mode == "trial":
            self.scenery.redraw("work")
            tell_trial(self.state, self.desk)
        elif mode == "procedure":
            self.playing.enter()
        elif mode == "way":
            self.ways.enter()
        elif mode == "versions":
            self.versions.enter()

    def try_step(self, name: str) -> None:
        """Take what is done in a step as the trial."""
        steps = self.playing.steps
        situation = steps.worksite(name) if steps is not None else None
        if situation is not None:
            self.desk.try_step(situation)
            self.mode("trial")
            self.trying.ask_whole()

    def _layout(self) -> None:
        panels = "".join(_text(one.name) for one in sorted(_HERE.glob("panel-*.html")))
        listed = _text("findings.html")
        flips = _text("flips.html")
        panels = _FLIPS.sub(lambda found: flips.replace("KIND", found[1]), panels)
        panels = _LISTED.sub(lambda found: listed.replace("ROWS", found[1]), panels)
        before, after = _text("page.html").replace("<!--PANELS-->", panels).split("<!--VIEW-->")
        with DivLayout(self.server) as layout:
            client.Style(_text("page.css"))
            layout.root.add_child(before)
            self.scenery.widget()
            layout.root.add_child(after)


def _soon(loop: asyncio.AbstractEventLoop, what: Callable[[], None]) -> None:
    loop.call_soon(what)


def _text(name: str) -> str:
    return (_HERE / name).read_text(encoding="utf-8")
