"""What the page lists, as plain rows of words: verdicts, findings, places, joints."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from reach.checks import CHECKS
from reach.finding import RANK, Finding, Verdict, worst_of
from reach.reports.explain import paragraphs
from reach.reports.margin import margin_text
from reach.reports.verdicts import MEANING, SHAPE
from reach.units import text_of
from reach.viewer.answers import Answer, Best, Target

if TYPE_CHECKING:
    from reach.model.scene import Scene
    from reach.pictures.things import Thing
    from reach.viewer.desk import Desk

Row = dict[str, Any]

STYLE = {
    Verdict.FAIL: "fail",
    Verdict.OPEN: "open",
    Verdict.REVIEW: "review",
    Verdict.PASS: "pass",
    Verdict.NOT_ASKED: "none",
}
"""Verdict -> its class in the style sheet."""

WAITING: Row = {"shape": "…", "word": "not yet known", "look": "wait", "meaning": "under way"}


def verdict_row(verdict: Verdict) -> Row:
    """Return shape, word and class of a verdict."""
    return {
        "shape": SHAPE[verdict],
        "word": str(verdict).upper(),
        "look": STYLE[verdict],
        "meaning": MEANING[verdict],
    }


def finding_rows(findings: Iterable[Finding]) -> list[Row]:
    """Return findings as rows, worst first; what was not asked is left out."""
    asked = [one for one in findings if one.verdict is not Verdict.NOT_ASKED]
    rows = []
    for number, one in enumerate(sorted(asked, key=lambda finding: RANK[finding.verdict])):
        limit = one.limits[0] if one.limits else None
        rows.append(
            verdict_row(one.verdict)
            | {
                "key": number,
                "check": one.check,
                "name": f"{one.check}, {one.answer}" if one.answer else one.check,
                "about": ", ".join(one.about),
                "case": one.case,
                "margin": margin_text(one.low, one.high, one.unit),
                "because": one.because,
                "fix": one.fix,
                "limit": limit_words(limit) if limit is not None else "",
                "why": [],
            }
        )
    return rows


def limit_words(limit: Any) -> str:
    """Return a limit with where it comes from."""
    source = limit.source
    return f"{limit.name}: {text_of(limit.value, limit.unit)} ({source.source}; {source.mark})"


def count_words(findings: Sequence[Finding]) -> str:
    """Return how many findings have each verdict; what fails and what is open stand first."""
    parts = []
    for verdict in (Verdict.FAIL, Verdict.OPEN, Verdict.REVIEW, Verdict.PASS):
        n = sum(one.verdict is verdict for one in findings)
        if n or verdict in (Verdict.FAIL, Verdict.OPEN):
            parts.append(f"{SHAPE[verdict]} {n} {verdict}")
    return "   ".join(parts)


def explained(check: str) -> list[str]:
    """Return the four paragraphs of a check by name; nothing where there is none."""
    module = next((one for one in CHECKS if check == one.NAME), None)
    return [] if module is None else paragraphs(module)


def target_row(name: str, target: Target | None, distance: float) -> Row:
    """Return one line of the table of targets."""
    row: Row = {
        "name": name,
        "distance": text_of(distance, "m"),
        "tool": "",
        "margin": "",
        "lacks": "",
    }
    if target is None:
        return row | WAITING
    trial = target.trial
    row["tool"] = " + ".join(one for one in (trial.tool, trial.extension, trial.bit) if one)
    if target.answer is None:
        return row | verdict_row(Verdict.NOT_ASKED) | {"lacks": target.problem}
    findings = target.answer.findings
    reach = [one for one in findings if one.check == "reach"]
    row["margin"] = margin_text(reach[0].low, reach[0].high, reach[0].unit) if reach else ""
    worst = worst_of(findings)
    lacking = [f.check for f in findings if f.verdict is worst and worst is not Verdict.PASS]
    row["lacks"] = ", ".join(dict.fromkeys(lacking))
    return row | verdict_row(worst)


def best_rows(found: Iterable[Best]) -> list[Row]:
    """Return settings that were found, best first."""
    return [
        {"socket": one.socket, "words": one.words, "lacks": one.lacks,
         "worst": margin_text(one.worst, one.worst, "m")}
        for one in found
    ]  # fmt: skip


def not_asked_words(answer: Answer) -> str:
    """Return which checks had nothing to judge."""
    return ", ".join(name for name, _ in answer.not_asked)


def lists(desk: Desk) -> list[Row]:
    """Return the lists beside the picture."""
    scene = desk.inputs.loaded.scene
    kinds = {"fastener": "Fasteners", "socket": "Sockets", "station": "Stations", "rail": "Rails"}
    things = desk.things()
    told = []
    for kind, words in kinds.items():
        mine = [
            {"name": one.name, "more": _more(scene, kind, one.name)}
            for one in things
            if one.kind == kind
        ]
        if mine:
            told.append({"kind": kind, "words": words, "rows": mine})
    return told


def _more(scene: Scene, kind: str, name: str) -> str:
    if kind == "fastener":
        record = scene.fasteners[name]
        return record.head or record.kind
    if kind == "socket":
        status = scene.sockets[name].status
        return "" if status == "free" else status
    if kind == "rail" and name in scene.handrails:
        rail = scene.handrails[name]
        return ", ".join(([] if rail.rated else ["not rated"]) + (
            [] if rail.condition == "free" else [rail.condition]))  # fmt: skip
    return ""


def thing_words(desk: Desk, thing: Thing) -> tuple[str, str]:
    """Return what a thing is in words, and what taking it into the trial is called."""
    scene = desk.inputs.loaded.scene
    at = "x {:.2f}, y {:.2f}, z {:.2f} m".format(*thing.middle)
    if thing.kind == "fastener":
        record = scene.fasteners[thing.name]
        parts = [record.title, record.kind, record.head]
        parts += [text_of(record.torque, "N m")] if record.torque else []
        parts += [f"{record.turns:g} turns"] if record.turns else []
        return ", ".join([*(one for one in parts if one), at]), "Turn this"
    if thing.kind == "socket":
        socket = scene.sockets[thing.name]
        return ", ".join(
            [one for one in (socket.title, "socket", socket.status, at) if one]
        ), "Work from here"
    if thing.kind == "station":
        station = scene.stations[thing.name]
        words = [station.title, "station", station.restraint, at]
        return ", ".join(one for one in words if one), "Work from here"
    rail = scene.handrails.get(thing.name)
    length = float(np.linalg.norm(thing.ends[1] - thing.ends[0]))
    words = [rail.title if rail is not None else "", "handrail" if rail is not None else "handhold"]
    words += [text_of(length, "m"), "" if rail is None or rail.rated else "not rated", at]
    return ", ".join(one for one in words if one), ""
