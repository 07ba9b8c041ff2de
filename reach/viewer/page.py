"""The page: what is on the desk as a picture and words, and what is asked of it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from trame.app import get_server
from trame.ui.html import DivLayout
from trame.widgets import client

from reach.files.problem import InputError
from reach.viewer import rows
from reach.viewer.desk import Desk
from reach.viewer.scenery import Scenery
from reach.viewer.telling import tell_first, tell_trial
from reach.viewer.trying import Trying
from reach.viewer.workshop import Workshop

TURNS = {
    "ArrowLeft": (-15.0, 0.0), "ArrowRight": (15.0, 0.0), "ArrowUp": (0.0, 15.0),
    "ArrowDown": (0.0, -15.0),
}  # fmt: skip
"""Keys that with Alt turn the picture, and by how many degrees."""

NEARER = 1.25

_HERE = Path(__file__).parent


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
        self.desk = desk
        self.server = get_server("reach-view", client_type="vue3")
        self.state: Any = self.server.state
        self.scenery = Scenery(desk, self._clicked)
        self.trying = Trying(self.state, desk, self.scenery, shops, out)
        tell_first(self.state, desk)
        tell_trial(self.state, desk)
        mine: dict[str, Callable[..., None]] = {
            "pick": self.pick, "use": self.use, "list_key": self.list_key, "key": self.key,
            "turn": self.scenery.turn, "look": self.scenery.look, "mode": self.mode,
        }  # fmt: skip
        for name, what in (mine | self.trying.triggers).items():
            self.server.trigger(name)(self._careful(what))
        self._layout()
        self.scenery.redraw()
        self.scenery.look("work")

    def _careful(self, what: Callable[..., None]) -> Callable[..., None]:
        """Have problems of the input told on the page."""

        def done(*args: Any) -> None:
            self.state.problem = ""
            try:
                what(*args)
            except InputError as error:
                words = "; ".join(f"{one.place}: {one.message}" for one in error.problems)
                self.state.problem = f"That does not fit. {words}"
                tell_trial(self.state, self.desk)
                self.state.dirty("fields", "joints")

        return done

    def _clicked(self, kind: str, name: str) -> None:
        with self.state:
            self.pick(kind, name)

    def pick(self, kind: str, name: str) -> None:
        """Pick a thing: outline it and say what it is."""
        self.desk.pick(kind, name)
        picked, state = self.desk.picked, self.state
        state.picked = f"{kind} {name}" if picked is not None else ""
        state.picked_name = name if picked is not None else ""
        words = rows.thing_words(self.desk, picked) if picked is not None else ("", "")
        state.picked_words, state.picked_use = words
        self.scenery.outline()
        self.scenery.push()

    def use(self, kind: str, name: str) -> None:
        """Take a thing into the trial."""
        if kind == "fastener":
            self.trying.change("fastener", name)
        elif kind in ("socket", "station"):
            self.trying.change("where", name)

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
        self.state.mode = mode

    def _layout(self) -> None:
        html = (_HERE / "page.html").read_text(encoding="utf-8")
        panels = [one.read_text(encoding="utf-8") for one in sorted(_HERE.glob("panel-*.html"))]
        before, after = html.replace("<!--PANELS-->", "".join(panels)).split("<!--VIEW-->")
        with DivLayout(self.server) as layout:
            client.Style((_HERE / "page.css").read_text(encoding="utf-8"))
            layout.root.add_child(before)
            self.scenery.widget()
            layout.root.add_child(after)
