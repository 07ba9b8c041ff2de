"""The hazard table: every declared hazard, and what every outing is in danger of."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from reach.checks.wording import at_least
from reach.dossier.basis import Basis
from reach.dossier.records import Row, Table
from reach.dossier.wording import UNTOLD, columns, listed, sure, table
from reach.finding import RANK, Finding, Verdict, count_of
from reach.model.shapes import Hazard
from reach.units import text_of

NONE = "No finding speaks of it."

NEAR = (
    "stand-off", "passing", "kick", "exposure", "edge", "sag", "swing", "hand-hazard", "sweep",
    "bystander", "clearance", "pinch", "links", "touch",
)  # fmt: skip
"""Checks that look at declared hazards."""

CAUSES = {
    "no-touch": "body, load, line or payload comes nearer than the stand-off",
    "keep-out": "body, load, line or payload comes nearer than the stand-off",
    "sharp edge": "a glove or a line runs over the edge",
    "hot": "a glove or a body stays at the hot surface",
    "cold": "a glove or a body stays at the cold surface",
    "vent": "somebody is in the cone while it is active",
    "pinch": "a hand is where it closes",
    "stored energy": "a hand is where it lets go",
    "shock": "a glove or a tool touches what is live",
}
"""Kind of hazard -> how it comes about, for lack of words in the scene."""


class Danger(NamedTuple):
    """What every outing is in danger of, and which checks control it."""

    name: str
    cause: str
    control: str
    checks: tuple[str, ...]


DANGERS = (
    Danger(
        "worker adrift", "no safety line that is hooked to an anchor that stays or rides along",
        "a line on the suit at all times, seen locked, swaps made before they are broken",
        ("hooked", "locked", "anchored", "tether-riding", "tether", "anchor", "hook"),
    ),
    Danger(
        "lines that foul", "lines cross, sag into something or are led where nobody gets back",
        "lines led along the rails used, crossings declared",
        ("crossing", "sag", "swing", "line-home"),
    ),
    Danger(
        "worker does not get home", "no partner near enough, no time left, no way along rails",
        "partner in reach, latest start home, clean-up by phase",
        ("rescue", "companion", "clean-up", "safe-stop", "outing", "route", "gap", "rails"),
    ),
    Danger(
        "item adrift or left behind", "a piece that is tied to nothing, or that nobody calls",
        "every piece tied at every step, an inventory in the end",
        ("custody", "loose", "inventory", "left-as", "left-record", "parking"),
    ),
    Danger(
        "payload adrift", "nobody has hold of it when the last fastener lets go",
        "guards, order of bolts, hands or crane on it before",
        ("held", "guard", "receiver", "sequence", "grips", "hand-time"),
    ),
    Danger(
        "struck by what moves", "a payload or a crane comes too near to structure or to somebody",
        "paths with proved gaps, clear-callers, cameras, rates",
        ("sweep", "bystander", "links", "watch", "approach", "stop", "momentum", "pinch"),
    ),
    Danger(
        "suit against structure", "helmet, backpack, arms or legs touch in the posture of the work",
        "postures found with room", ("clearance", "ingress", "corridor", "passing", "meeting",
        "helmets", "glove", "access"),
    ),
    Danger(
        "torn glove", "gloves not looked at, sharp edges", "checks of gloves, edges guarded",
        ("glove-check", "edge"),
    ),
    Danger(
        "hot or cold surface", "a glove holds what is beyond its limits", "surfaces with known "
        "temperatures", ("touch",),
    ),
    Danger(
        "electric shock or lost payload power", "a connector is handled live, or too late",
        "inhibits confirmed, windows and clocks kept", ("guard", "window", "unpowered", "strain"),
    ),
    Danger(
        "over-loaded worker or structure", "more force or torque than arm, restraint or part bears",
        "limits on force and torque", ("effort", "torque", "load", "push", "dial", "burden"),
    ),
    Danger(
        "fragile things kicked", "a boot within the kick band of what does not bear it",
        "ways and places that keep away", ("kick",),
    ),
)  # fmt: skip
"""In the order in which they are printed."""

HEADS = columns(
    "hazard", "kind", "cause", "control", "checks that looked at it", "evidence", "in steps",
    "fail", "open", "review", "pass", "open or unknown", "verdict of what was asked",
)  # fmt: skip


def hazards(basis: Basis) -> Table:
    """Return every declared hazard and every danger with cause, control, check and evidence."""
    says = (
        "First every hazard that the scene declares, those too that no check looked at; then what "
        "every outing is in danger of, with all checks that control it. The evidence is the worst "
        "finding, the least margin among equals. The verdict is that of what was asked: beside it "
        "stands what is open, and which of its checks had nothing to judge."
    )
    rows = [hazard_row(basis, name, one) for name, one in basis.scene.hazards.items()]
    rows += [_danger(basis, one) for one in DANGERS]
    return table("hazards", "Hazards", says, HEADS, rows)


def hazard_row(basis: Basis, name: str, hazard: Hazard, steps: Iterable[str] | None = None) -> Row:
    """Return the line of one declared hazard, from the findings of some steps or of all."""
    answers = basis.answers(steps, NEAR, where=lambda one: names_hazard(one, name))
    title = f"{name} ({hazard.title})" if hazard.title else name
    cause = CAUSES[hazard.kind]
    if hazard.stand_off:
        cause += f" of {text_of(hazard.stand_off, 'm')}"
    if hazard.active:
        cause += ", while it is active"
    return _row(basis, answers, title, hazard.kind, cause, hazard.control or UNTOLD, name)


def names_hazard(one: Finding, name: str) -> bool:
    """Return whether a finding is about a hazard: its names, limits, numbers or words say so."""
    if name in one.about or any(limit.name.endswith(f" {name}") for limit in one.limits):
        return True
    if one.check == "sweep":
        return name in (one.numbers.get("gaps") or {}) and one.verdict is Verdict.PASS
    told = (one.numbers.get("thing"), one.numbers.get("what"))
    return name in told or _says(one.because, name)


def _says(words: str, name: str) -> bool:
    """Return whether words contain a name as a whole, whatever mark follows it."""
    return re.search(rf"(?<![\w@-]){re.escape(name)}(?![\w@-])", words) is not None


def _danger(basis: Basis, danger: Danger) -> Row:
    answers = basis.answers(checks=danger.checks)
    return _row(
        basis,
        answers,
        danger.name,
        "of every outing",
        danger.cause,
        danger.control,
        checks=danger.checks,
    )


def _row(
    basis: Basis,
    answers: tuple[int, ...],
    title: str,
    kind: str,
    cause: str,
    control: str,
    name: str = "",
    checks: Sequence[str] = (),
) -> Row:
    found = [basis.findings[k] for k in answers]
    judged = [one for one in found if one.verdict is not Verdict.NOT_ASKED]
    counts = count_of(found)
    told = [one for one in (told_of(one, name) for one in judged) if one is not None]
    worst = min(told, key=lambda one: one[:2], default=None)
    bad = counts[Verdict.FAIL] or counts[Verdict.OPEN] or counts[Verdict.REVIEW]
    verdict = basis.verdict(answers)
    return Row(
        (
            title,
            kind,
            cause,
            control,
            listed((one.check for one in judged), "none"),
            worst[2] if worst else NONE,
            listed(one.step for one in judged if one.verdict is verdict) if bad else _steps(judged),
            counts[Verdict.FAIL],
            counts[Verdict.OPEN],
            counts[Verdict.REVIEW],
            counts[Verdict.PASS],
            " ".join([*_unknown(judged), *_unasked(judged, checks)]) or "nothing",
            verdict,
        ),
        answers,
    )


def _steps(found: list[Finding]) -> str:
    names = list(dict.fromkeys(one.step for one in found))
    return f"{len(names)} steps" if len(names) != 1 else names[0]


def told_of(one: Finding, hazard: str) -> tuple[int, float, str] | None:
    """Return how bad a finding is, by verdict and margin, and what it says.

    Of a declared hazard a motion tells the gap to that hazard, not to what was nearest; what only
    mentions a hazard among others tells nothing of its own.
    """
    rank, margin, words = RANK[one.verdict], sure(one), one.because
    gaps = one.numbers.get("gaps") or {}
    if hazard and hazard not in one.about and hazard in gaps:
        low, asked = gaps[hazard]["gap"][0], gaps[hazard]["stand-off"]
        margin = low - asked
        words = (
            f"{one.about[0]} and who rides it keep {at_least(low)} from {hazard} at least in step "
            f"'{one.step}'; {text_of(asked, 'm')} is asked."
        )
    elif hazard and one.check == "links" and one.numbers.get("thing") != hazard:
        return None
    return rank, margin if margin is not None and one.unit else math.inf, words


def _unasked(judged: Sequence[Finding], checks: Sequence[str]) -> Iterator[str]:
    """Yield that nothing was judged, or which of the checks judged nothing."""
    found = {one.check for one in judged}
    left = [check for check in checks if check not in found]
    if not judged:
        yield "All of it is unknown: nothing was judged."
    elif left:
        yield f"Not asked: {', '.join(left)}."


def _unknown(found: Iterable[Finding]) -> Iterator[str]:
    yield from dict.fromkeys(
        f"{one.check} in '{one.step}': {one.because}"
        for one in found
        if one.verdict in (Verdict.OPEN, Verdict.REVIEW)
    )
