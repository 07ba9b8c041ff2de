"""What the page lists, as plain rows of words: verdicts, findings, places, joints."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from reach.checks import CHECKS
from reach.finding import RANK, Finding, Verdict, worst_of
from reach.reports.explain import paragraphs
from reach.reports.margin import margin_text
from reach.reports.verdicts import MEANING, SHAPE
from reach.units import text_of
from reach.viewer.answers import Answer, Best, Compared, Flipped, Target

if TYPE_CHECKING:
    from reach.comparing.edits import Edit
    from reach.ledgers import Entry
    from reach.viewer.stands import Stand

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

NO_WAY: Row = {"shape": SHAPE[Verdict.FAIL], "word": "NO WAY", "look": "fail", "meaning": "proved"}

OLD: Row = {
    "shape": "…",
    "word": "out of date",
    "look": "wait",
    "meaning": "asked anew it may differ",
}


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
    for verdict in RANK:
        n = sum(one.verdict is verdict for one in findings)
        if n or verdict in (Verdict.FAIL, Verdict.OPEN):
            parts.append(f"{SHAPE[verdict]} {n} {verdict}")
    return "   ".join(parts)


LACKING = {Verdict.FAIL: "fails", Verdict.OPEN: "open", Verdict.REVIEW: "too close to call"}
"""What is said of checks that do not pass."""


def overall_row(answer: Answer | None) -> Row:
    """Return the verdict of all checks together, and which of them do not pass."""
    if answer is None:
        return WAITING | {"words": "the checks are at work"}
    told = []
    for verdict, words in LACKING.items():
        checks = dict.fromkeys(one.check for one in answer.findings if one.verdict is verdict)
        told += [f"{words}: {', '.join(checks)}"] if checks else []
    n_pass = sum(one.verdict is Verdict.PASS for one in answer.findings)
    words = "; ".join(told) or (f"all {n_pass} answers of the checks" if n_pass else "")
    return verdict_row(worst_of(answer.findings)) | {"words": words}


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


def stand_words(stands: Sequence[Stand]) -> str:
    """Return which steps take a setting, what else is done from it, and what else is turned."""
    written = [name for one in stands for name in one.written]
    words = f"the setting of {_steps(written)}"
    if others := [s for one in stands for s in one.steps if s not in one.written]:
        words += f"; {_steps(others)} then stand{'s' if len(others) == 1 else ''} by it too"
    turned = list(dict.fromkeys(name for one in stands for name in one.turned))
    return f"{words}. From there {', '.join(turned)} {'is' if len(turned) == 1 else 'are'} turned."


def _steps(names: Sequence[str]) -> str:
    quoted = ", ".join(f"'{name}'" for name in names)
    return f"step {quoted}" if len(names) == 1 else f"steps {quoted}"


def not_asked_words(answer: Answer) -> str:
    """Return which checks had nothing to judge: with the reason where this trial has one."""
    whole = [name for name, _ in answer.not_asked]
    silent = [one for one in answer.findings if one.verdict is Verdict.NOT_ASKED]
    each = [f"{one.check} ({one.because.rstrip('.')})" for one in silent]
    return ", ".join(dict.fromkeys((*each, *whole)))


def clock(seconds: float) -> str:
    """Return a time since the start.

    Examples
    --------
    >>> clock(5820.0)
    '01:37'
    """
    return f"{int(seconds // 3600):02d}:{int(seconds // 60 % 60):02d}"


def change_rows(entry: Entry) -> list[Row]:
    """Return what a step changed."""
    return [
        {"thing": now.thing, "what": now.what, "was": was.value, "now": now.value}
        for was, now in entry.changes
    ]


def fact_rows(entry: Entry) -> list[Row]:
    """Return how everything stands after a step."""
    return [{"thing": one.thing, "what": one.what, "value": one.value} for one in entry.facts]


def where_words(entry: Entry, workers: Sequence[str]) -> str:
    """Return where everyone is by the ledger when a step ends, and what their boots are in."""
    told = []
    for name in workers:
        known = {one.what: one.value for one in entry.facts if one.thing == name}
        if "place" in known:
            boots = known.get("boots", "")
            told.append(f"{name} at {known['place']}" + (f", boots {boots}" if boots else ""))
    return f"When it ends: {'; '.join(told)}." if told else ""


def edit_row(edit: Edit) -> Row:
    """Return one edit between two versions."""
    changes = [f"{one.key}: {one.old} → {one.new}" for one in edit.changes]
    return {
        "name": edit.name, "was": edit.was or edit.name, "kinds": ", ".join(edit.kinds),
        "changes": changes, "step": edit.part == "step",
        "in_old": "added" not in edit.kinds, "in_new": "removed" not in edit.kinds,
    }  # fmt: skip


def flip_row(flip: Flipped) -> Row:
    """Return one question whose answer changed."""
    told = flip.new or flip.old
    assert told is not None
    sides: Row = {}
    for name, one in (("old", flip.old), ("new", flip.new)):
        sides[name] = None if one is None else verdict_row(one.verdict)
        sides[f"{name}_margin"] = "" if one is None else margin_text(one.low, one.high, one.unit)
    return {
        "change": flip.change, "check": told.check, "step": told.step, "because": told.because,
        "look": STYLE[told.verdict] if flip.is_worse else "none",
        "kind": "worse" if flip.is_worse else "better" if flip.is_better else "other", **sides,
    }  # fmt: skip


def compared_words(found: Compared) -> str:
    """Return how many answers are worse and better."""
    worse = sum(flip.is_worse for flip in found.flips)
    better = sum(flip.is_better for flip in found.flips)
    one = "1 answer is" if worse == 1 else f"{worse} answers are"
    return f"{one} worse, {better} better, {len(found.flips) - worse - better} changed otherwise."
