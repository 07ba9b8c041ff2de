"""What the browser is told of the desk, in words: the state of the page."""

from __future__ import annotations

from typing import Any

from reach.cautions import cautions
from reach.finding import Verdict
from reach.viewer import rows
from reach.viewer.desk import Desk
from reach.viewer.naming import lists

FIELDS = {
    "worker": ("worker", ""),
    "size": ("body", "their own"),
    "where": ("place", ""),
    "restraint": ("held by", "as the place has it"),
    "fastener": ("target", "nothing"),
    "tool": ("tool", "none"),
    "bit": ("bit", "the one that fits"),
    "extension": ("extension", "none"),
    "hand": ("hand", ""),
}
"""Part of a trial -> what it is called, and what an empty one means."""

KEYS = (
    ("Tab, Shift Tab", "from one part of the page to the next and back"),
    ("Up, Down, Home, End", "in a list: pick the next thing"),
    ("Enter", "in a list: take what is picked into the trial"),
    ("Alt with an arrow key", "turn the picture"),
    ("+ and -", "go nearer to the picture, and farther"),
    ("Drag, wheel, click", "in the picture: turn, go nearer, pick"),
    ("Esc", "close a sheet"),
)


DRAWN = (
    ("pale teal body", "what the tip of the tool reaches by joint limits"),
    ("ochre arm, ivory arm", "the arm that works, and the idle one"),
    ("ochre bars", "handrails"),
    ("flat ink rings", "stations"),
    ("brown, seen through", "hazards"),
    ("thin lines", "what findings measure: violet where it fails, ink where not"),
    ("ochre ring", "what is picked"),
)

MARGINS = (
    ("inside by", "so much is left before the answer tips over"),
    ("short by", "so much is missing"),
    ("..", "anything between; met and not met stand where there is no measure"),
)


def _pairs(said: tuple[tuple[str, str], ...]) -> list[dict[str, str]]:
    return [{"keys": keys, "words": words} for keys, words in said]


def tell_first(state: Any, desk: Desk) -> None:
    """Put down what a page begins with."""
    state.trame__title = "reach"
    state.mode = "trial"
    state.help = state.cautions_open = state.is_stale = state.is_busy = False
    state.keys = _pairs(KEYS)
    state.drawn_key, state.margin_key = _pairs(DRAWN), _pairs(MARGINS)
    state.legend = [rows.verdict_row(verdict) for verdict in Verdict]
    state.problem = state.wrote = ""
    state.job, state.found = None, {"words": "", "rows": []}
    state.picked = state.picked_name = state.picked_words = state.picked_use = ""
    state.picked_place = state.why = ""
    state.why_words = []
    # Lists are made anew at each change: whether their folded part is open is kept here.
    state.findings_open = state.step_findings_open = state.way_findings_open = False
    state.not_asked_open = False
    tell_scene(state, desk)


def tell_scene(state: Any, desk: Desk) -> None:
    """Put down what is read from the files: titles, lists, cautions."""
    asked = desk.inputs.asked
    state.title = desk.inputs.loaded.scene.title or desk.inputs.loaded.name
    state.subtitle = asked.procedure.title if asked is not None else "no procedure"
    modes = [("trial", "Trial", True), ("procedure", "Procedure", asked is not None),
             ("way", "Ways", bool(desk.inputs.loaded.scene.handrails)),
             ("versions", "Versions", desk.inputs.other is not None)]  # fmt: skip
    state.modes = [{"key": key, "words": words} for key, words, is_there in modes if is_there]
    every = cautions(desk.inputs.loaded.files.items())
    state.cautions, state.caution = list(every), every[0]
    state.lists = lists(desk)


def tell_trial(state: Any, desk: Desk) -> None:
    """Put down the trial and what is known of it."""
    trial, quick, answer = desk.trial, desk.quick, desk.answer
    if trial is None or quick is None:
        state.fields, state.joints, state.findings, state.targets = [], [], [], []
        state.quick = rows.WAITING | {"margin": "", "words": "Nothing can be tried here."}
        state.overall = rows.WAITING | {"words": "nothing can be tried here"}
        state.stage = state.counts = state.not_asked = state.targets_stage = state.drawn = ""
        state.can_fill = state.targets_more = False
        return
    choices = desk.choices()
    state.fields = [
        {
            "part": part, "words": words, "value": getattr(trial, part),
            "none": "none" if part == "bit" and choices[part] == [""] else none,
            "options": choices[part],
        }
        for part, (words, none) in FIELDS.items()
    ]  # fmt: skip
    state.joints = desk.joints()
    state.overall = rows.overall_row(answer)
    first = {"margin": quick.margin, "words": quick.words}
    state.quick = rows.verdict_row(quick.verdict) | first
    state.stage = "First answer, reach alone; the checks are at work."
    if answer is not None:
        state.stage = "Every check has answered."
    state.findings = rows.finding_rows(answer.findings) if answer else []
    state.counts = rows.count_words(answer.findings) if answer else "not yet known"
    state.not_asked = rows.not_asked_words(answer) if answer else ""
    tell_targets(state, desk)
    if state.mode == "trial":
        state.drawn = "" if quick.shown is None else f"Drawn: {quick.shown.words}."
    state.can_fill = bool(trial.setting) and desk.inputs.asked is not None


def tell_targets(state: Any, desk: Desk) -> None:
    """Put down what is known of all targets from the trial's place."""
    assert desk.trial is not None
    near, wanted = desk.near_targets(), desk.wanted_targets()
    listed = [
        rows.target_row(name, desk.targets.get(name), away) | {"on": name == desk.trial.fastener}
        for name, away in near
        if name in desk.targets or name == desk.trial.fastener or name in wanted
    ]
    state.targets = listed
    state.targets_more = len(listed) < len(near)
    n_left = sum(row["look"] == "wait" for row in listed)
    state.targets_stage = f"{n_left} still to be answered" if n_left else ""
