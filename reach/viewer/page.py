"""The page: what is on the desk as a picture and words, and what is asked of it."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from trame.app import get_server
from trame.ui.html import DivLayout
from trame.widgets import client
from trame_pyvista.widgets import PyVistaRemoteView

from reach.cautions import cautions
from reach.files.problem import InputError
from reach.finding import Verdict
from reach.pictures.live import LiveView
from reach.viewer import rows
from reach.viewer.answers import Answer, Target
from reach.viewer.desk import Desk
from reach.viewer.workshop import Job, Workshop

SIZE = (1000, 760)
"""Width and height of the picture before the browser says its own, px."""

CLICK = 4.0
"""A press and release no farther apart are a click, px."""

FIELDS = {
    "worker": ("worker", ""), "size": ("body", "their own"), "where": ("place", ""),
    "restraint": ("held by", "as the place has it"), "fastener": ("target", "nothing"),
    "tool": ("tool", "none"), "bit": ("bit", "the one that fits"),
    "extension": ("extension", "none"), "hand": ("hand", ""),
}  # fmt: skip

KEYS = (
    ("Tab, Shift Tab", "from one part of the page to the next and back"),
    ("Up, Down, Home, End", "in a list: pick the next thing"),
    ("Enter", "in a list: take what is picked into the trial"),
    ("Alt with an arrow key", "turn the picture"),
    ("+ and -", "go nearer to the picture, and farther"),
    ("Drag, wheel, click", "in the picture: turn, go nearer, pick"),
    ("Esc", "close this sheet"),
)

_HERE = Path(__file__).parent


class Page:
    """One page over one desk.

    Parameters
    ----------
    desk : Desk
    shop : Workshop
        Works the whole checks out.
    out : Path
        Where exports go.
    """

    def __init__(self, desk: Desk, shop: Workshop, out: Path) -> None:
        self.desk, self.shop, self.out = desk, shop, out
        self.server = get_server("reach-view", client_type="vue3")
        self.state: Any = self.server.state
        self.view = LiveView(desk.site, desk.around, SIZE)
        self.pressed: tuple[float, float] | None = None
        self.found: list[Any] = []
        self._first_state()
        self._triggers()
        self._layout()
        self.redraw()
        if desk.quick is not None and desk.quick.shown is not None:
            self.view.look_at_worksite(desk.quick.situation, desk.quick.shown)
        self._watch_mouse()

    # ---- what the browser is told -----------------------------------------------------------

    def _first_state(self) -> None:
        desk, state = self.desk, self.state
        asked = desk.inputs.asked
        state.trame__title = "reach"
        state.title = desk.inputs.loaded.scene.title or desk.inputs.loaded.name
        state.subtitle = asked.procedure.title if asked is not None else "no procedure"
        state.mode, state.modes = "trial", [{"key": "trial", "words": "Trial"}]
        state.help = state.cautions_open = False
        state.keys = [{"keys": keys, "words": words} for keys, words in KEYS]
        state.legend = [rows.verdict_row(verdict) for verdict in Verdict]
        every = cautions(desk.inputs.loaded.files.items())
        state.cautions, state.caution = list(every), every[0]
        state.problem = state.wrote = ""
        state.job, state.found = None, {"words": "", "rows": []}
        state.picked = state.picked_name = state.picked_words = state.picked_use = ""
        state.why, state.why_words = "", []
        state.lists = rows.lists(desk)
        self._tell()

    def _tell(self) -> None:
        """Put what the desk knows into words."""
        desk, state = self.desk, self.state
        trial, quick = desk.trial, desk.quick
        if trial is None or quick is None:
            state.fields, state.joints, state.findings, state.targets = [], [], [], []
            state.quick = rows.WAITING | {"margin": "", "words": "Nothing can be tried here."}
            state.stage = state.counts = state.not_asked = state.targets_stage = state.drawn = ""
            state.can_fill = state.targets_more = False
            return
        choices = desk.choices()
        state.fields = [
            {"part": part, "words": words, "none": none, "value": getattr(trial, part),
             "options": choices[part]}
            for part, (words, none) in FIELDS.items()
        ]  # fmt: skip
        state.joints = desk.joints()
        state.quick = rows.verdict_row(quick.verdict) | {
            "margin": quick.margin, "words": quick.words,
        }  # fmt: skip
        answer = desk.answer
        is_known = answer is not None
        state.stage = (
            "Every check has answered." if is_known else "First answer, reach alone; the checks are at work."
        )
        state.findings = rows.finding_rows(answer.findings) if answer else []
        state.counts = rows.count_words(answer.findings) if answer else "not yet known"
        state.not_asked = rows.not_asked_words(answer) if answer else ""
        self._tell_targets()
        state.drawn = "" if quick.shown is None else f"Drawn: {quick.shown.words}."
        state.can_fill = bool(trial.setting) and desk.inputs.asked is not None

    def _tell_targets(self) -> None:
        desk = self.desk
        assert desk.trial is not None
        near = desk.near_targets()
        listed = [
            rows.target_row(name, desk.targets.get(name), away) | {"on": name == desk.trial.fastener}
            for name, away in near
            if name in desk.targets or name == desk.trial.fastener or name in desk.wanted_targets()
        ]
        self.state.targets = listed
        self.state.targets_more = len(listed) < len(near)
        n_left = sum(row["look"] == "wait" for row in listed)
        self.state.targets_stage = f"{n_left} still to be answered" if n_left else ""

    # ---- the picture --------------------------------------------------------------------------

    def redraw(self) -> None:
        """Draw the trial as it is, and send the picture."""
        desk, view = self.desk, self.view
        quick = desk.quick
        view.stand(desk.site if quick is None else quick.site, desk.around)
        if quick is not None and quick.shown is not None:
            view.worker("trial", quick.situation, quick.shown, True)
        else:
            view.gone("worker", "envelope")
        view.marks(desk.answer.findings if desk.answer is not None else ())
        view.names([one for one in view.things if one.kind in ("socket", "station")])
        view.outline(desk.picked)
        self.push()

    def push(self) -> None:
        """Send the picture as it is now."""
        self.view.plotter.renderer.ResetCameraClippingRange()
        self.remote.update()

    def _watch_mouse(self) -> None:
        interactor = self.view.plotter.render_window.GetInteractor()
        interactor.AddObserver("LeftButtonPressEvent", self._press)
        interactor.AddObserver("LeftButtonReleaseEvent", self._release)

    def _press(self, interactor: Any, _event: str) -> None:
        self.pressed = interactor.GetEventPosition()

    def _release(self, interactor: Any, _event: str) -> None:
        at, self.pressed = interactor.GetEventPosition(), None if self.pressed is None else self.pressed
        start, self.pressed = self.pressed, None
        if start is None or abs(at[0] - start[0]) + abs(at[1] - start[1]) > CLICK:
            return
        thing = self.view.pick(at[0], self.view.size[1] - at[1])
        with self.state:
            self.pick(*((thing.kind, thing.name) if thing is not None else ("", "")))

    # ---- what is asked of it --------------------------------------------------------------------

    def _triggers(self) -> None:
        for name, what in {
            "pick": self.pick, "use": self.use, "list_key": self.list_key, "key": self.key,
            "change": self.change, "joint": self.joint, "turn": self.turn, "look": self.look,
            "why": self.why, "all_targets": self.all_targets, "mode": self.mode,
        }.items():  # fmt: skip
            self.server.trigger(name)(self._careful(what))

    def _careful(self, what: Callable[..., None]) -> Callable[..., None]:
        """Have problems of the input told on the page."""

        def done(*args: Any) -> None:
            self.state.problem = ""
            try:
                what(*args)
            except InputError as error:
                words = "; ".join(f"{one.place}: {one.message}" for one in error.problems)
                self.state.problem = f"That does not fit. {words}"
                self._tell()
                self.state.dirty("fields", "joints")

        return done

    def pick(self, kind: str, name: str) -> None:
        """Pick a thing: outline it and say what it is."""
        self.desk.pick(kind, name)
        picked, state = self.desk.picked, self.state
        state.picked = f"{kind} {name}" if picked is not None else ""
        state.picked_name = name if picked is not None else ""
        words = rows.thing_words(self.desk, picked) if picked is not None else ("", "")
        state.picked_words, state.picked_use = words
        self.view.outline(picked)
        self.push()

    def use(self, kind: str, name: str) -> None:
        """Take a thing into the trial."""
        if kind == "fastener":
            self.change("fastener", name)
        elif kind in ("socket", "station"):
            self.change("where", name)
        self.look("work")

    def list_key(self, kind: str, key: str) -> None:
        """Go through a list by keys."""
        names = next(([row["name"] for row in one["rows"]] for one in self.state.lists
                      if one["kind"] == kind), [])  # fmt: skip
        picked = self.desk.picked
        at = names.index(picked.name) if picked is not None and picked.name in names else -1
        to = {"ArrowDown": at + 1, "ArrowUp": at - 1, "Home": 0, "End": len(names) - 1}.get(key)
        if key == "Enter" and at >= 0:
            self.use(kind, names[at])
        elif to is not None and names:
            self.pick(kind, names[min(max(to, 0), len(names) - 1)])

    def key(self, key: str, alt: bool, tag: str) -> None:
        """Turn the picture by keys."""
        ways = {"ArrowLeft": (-15, 0, 1), "ArrowRight": (15, 0, 1), "ArrowUp": (0, 15, 1),
                "ArrowDown": (0, -15, 1)}  # fmt: skip
        if alt and key in ways:
            self.turn(*ways[key])
        elif key in ("+", "-") and tag not in ("SELECT", "INPUT"):
            self.turn(0, 0, 1.25 if key == "+" else 0.8)

    def change(self, part: str, value: str) -> None:
        """Change one part of the trial."""
        self.desk.change(part, value)
        self.changed()
        if part in ("where", "fastener"):
            self.look("work")

    def joint(self, joint: str, value: str) -> None:
        """Set one joint of the restraint."""
        self.desk.turn_joint(joint, value)
        self.changed()

    def changed(self) -> None:
        """Show the trial as it is now and have it checked."""
        self._tell()
        self.redraw()
        self.ask_whole()

    def ask_whole(self) -> None:
        """Have every check asked about the trial, then about the targets near it."""
        trial = self.desk.trial
        if trial is None:
            return
        self.shop.stop("targets")

        def done(answer: Answer) -> None:
            if self.desk.trial is trial:
                with self.state:
                    self.desk.take(answer)
                    self._tell()
                    self.view.marks(answer.findings)
                    self.push()
                    self.ask_targets(self.desk.wanted_targets())

        self.shop.ask(Job("whole", (trial,), done, self.failed))

    def ask_targets(self, names: list[str]) -> None:
        """Have every check asked about other targets from the same place."""
        trial = self.desk.trial
        if trial is None or not names:
            return

        def part(target: Target) -> None:
            if self.desk.trial is trial:
                with self.state:
                    self.desk.take_target(target)
                    self._tell_targets()

        self.shop.ask(Job("targets", (trial, names), lambda _: None, self.failed, part=part))

    def all_targets(self) -> None:
        """Ask about the targets that are farther away too."""
        known = self.desk.targets
        self.ask_targets([name for name, _ in self.desk.near_targets() if name not in known])

    def failed(self, words: str) -> None:
        """Say that something could not be worked out."""
        with self.state:
            self.state.problem = words

    def turn(self, right: float, up: float, nearer: float) -> None:
        """Turn the camera."""
        self.view.turn(float(right), float(up), float(nearer))
        self.push()

    def look(self, at: str) -> None:
        """Look at the whole scene or at the worksite."""
        quick = self.desk.quick
        if at == "work" and quick is not None and quick.shown is not None:
            self.view.look_at_worksite(quick.situation, quick.shown)
        else:
            self.view.look_at_all()
        self.view.outline(self.desk.picked)
        self.push()

    def why(self, check: str, key: int) -> None:
        """Show or hide what a check asks."""
        name = f"{check}{key}"
        self.state.why = "" if self.state.why == name else name
        self.state.why_words = rows.explained(check)

    def mode(self, mode: str) -> None:
        """Go to another part of the page."""
        self.state.mode = mode

    # ---- how it looks -----------------------------------------------------------------------------

    def _layout(self) -> None:
        html = (_HERE / "page.html").read_text(encoding="utf-8")
        panels = "".join(
            one.read_text(encoding="utf-8") for one in sorted(_HERE.glob("panel-*.html"))
        )
        before, after = html.replace("<!--PANELS-->", panels).split("<!--VIEW-->")
        with DivLayout(self.server) as layout:
            client.Style((_HERE / "page.css").read_text(encoding="utf-8"))
            layout.root.add_child(before)
            self.remote = PyVistaRemoteView(
                self.view.plotter, interactive_ratio=0.6, still_ratio=1, interactive_quality=60
            )
            layout.root.add_child(after)


def stamp() -> str:
    """Return a time for names of files."""
    return time.strftime("%Y%m%d-%H%M%S")
