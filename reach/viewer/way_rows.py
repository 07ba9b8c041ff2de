"""What is asked of a way and what was found, as rows of words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from reach.files.moves_question import MoveQuestion
from reach.finding import Verdict, worst_of
from reach.model.scene import Scene
from reach.reports.route import NO_FURTHER, NO_OTHER, as_step
from reach.routes import Routes
from reach.units import text_of
from reach.viewer import rows

Row = dict[str, Any]


def place_groups(scene: Scene) -> list[Row]:
    """Return what a way can lead from and to, in groups; rails too."""
    groups: dict[str, Mapping[str, Any]] = {
        "hatches": scene.hatches, "sockets": scene.sockets, "stations": scene.stations,
        "anchors": scene.anchors, "handholds": scene.handholds, "rails": scene.handrails,
    }  # fmt: skip
    return [{"words": words, "places": list(names)} for words, names in groups.items() if names]


def line_options(scene: Scene) -> list[Row]:
    """Return the safety lines that may be worn, each with its length, whose it is and its hook."""
    told = []
    for name, line in scene.tethers.items():
        parts = [text_of(line.length, "m")]
        parts += [line.worker] if line.worker else []
        parts += [f"from {line.anchor}"] if line.anchor else []
        told.append({"name": name, "words": f"{name} ({', '.join(parts)})"})
    return told


def item_rows(scene: Scene) -> list[Row]:
    """Return everything that can be carried, each with what it is."""
    told = []
    for name, item in scene.items.items():
        more = [
            item.kind,
            "bulky" if item.bulky else "",
            text_of(item.mass, "kg") if item.mass else "",
        ]
        told.append({"name": name, "more": ", ".join(one for one in more if one)})
    return told


def asked_words(asked: MoveQuestion, size: str) -> str:
    """Return a question for a way in a line."""
    parts = [f"{asked.worker} ({size})" if size else f"{asked.worker}"]
    parts += [f"from {asked.start} to {asked.stop}"]
    parts += [f"on the suit {', '.join(asked.carrying)}"] if asked.carrying else []
    parts += [f"in the hand {', '.join(asked.in_hand)}"] if asked.in_hand else []
    if asked.tether or asked.anchor:
        line = asked.tether or "their own line"
        parts += [f"on {line} from {asked.anchor}" if asked.anchor else f"on {line}"]
    parts += [f"without {', '.join(asked.avoid)}"] if asked.avoid else []
    return ", ".join(parts)


def way_words(found: Routes, k: int, n_others: int = 0) -> Row:
    """Return what is said of a way in a line, in a few more words, and under its picture.

    ``n_others`` is how many other ways were asked for.
    """
    if found.none is not None:
        gaps = "; ".join(
            f"{' and '.join(gap.names)}: {text_of(gap.width, 'm')} apart" for gap in found.none.gaps
        )
        return {
            "words": "No way: proved, no sequence of holds leads there",
            "more": f"The gaps that part both ends: {gaps}." if gaps else "",
            "drawn": "Drawn: the rails that can be reached from either end.",
        }
    if not found.choices:
        words = f"No way found with gaps up to {text_of(found.span, 'm')}"
        return {"words": words, "more": "This is no proof that there is none.", "drawn": ""}
    one = found.choices[k]
    line, lines = found.situation.line, found.situation.worn
    worn = " No safety line is worn." if not lines else "".join(
        f" Safety line: {one.tether} from {one.anchor}, {text_of(one.length, 'm')} at most."
        for one in lines
    )  # fmt: skip
    hands = "both hands free" if one.hands == 2 else f"{one.hands} hand free"
    few = ""
    if len(found.choices) <= n_others:
        few = f" {NO_OTHER if len(found.choices) == 1 else NO_FURTHER}"
    return {
        "words": _length(one),
        "more": f"Rails: {', '.join(one.route.rails) or 'none'}; {hands}.{worn}{few}",
        "drawn": "Drawn: rails used in strong ochre, the tube that must be free in teal"
        + (
            "."
            if line is None
            else ", the safety line as led in dark teal and pulled tight in ink."
        ),
    }


def way_badge(found: Routes, k: int) -> Row:
    """Return the verdict on a way: proved to be none, not found, or the worst of its checks."""
    if found.none is not None:
        return rows.NO_WAY
    if not found.choices:
        return rows.verdict_row(Verdict.OPEN)
    return rows.verdict_row(worst_of(findings_of(found, k)))


def findings_of(found: Routes, k: int) -> list[Any]:
    """Return what the checks say of one way; of all, where there is none."""
    if not found.choices:
        return list(found.outcome.findings)
    return [one for one in found.outcome.findings if one.step == found.steps[k]]


def choice_rows(found: Routes) -> list[Row]:
    """Return the ways to choose from, quickest first; none where there is but one."""
    if len(found.choices) < 2:
        return []
    return [
        way_badge(found, k)
        | {"number": k + 1, "words": _length(one), "rails": ", ".join(one.route.rails)}
        for k, one in enumerate(found.choices)
    ]


def leg_rows(found: Routes, k: int) -> list[Row]:
    """Return the legs of a way: spans with what is left of their limit, sides, time so far."""
    if not found.choices:
        return []
    told = []
    for one in found.choices[k].stages:
        left = one.margin
        told.append(
            {
                "kind": one.leg.kind, "start": one.names[0], "stop": one.names[1],
                "length": text_of(one.leg.length, "m"),
                "left": "" if left is None else text_of(left, "m"),
                "side": one.side, "until": f"{one.time / 60.0:.1f} min",
            }
        )  # fmt: skip
    return told


def step_words(found: Routes, k: int) -> str:
    """Return a way as a step of a procedure takes it; empty where there is none."""
    return "\n".join(as_step(found.choices[k])) if found.choices else ""


def _length(one: Any) -> str:
    return f"{text_of(one.route.length, 'm')} in {one.seconds / 60.0:.1f} min"
