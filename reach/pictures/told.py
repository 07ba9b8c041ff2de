"""What was found, beside a view: every fail first and whole, then the rest as room allows."""

from __future__ import annotations

from dataclasses import dataclass

from reach.finding import RANK, Finding, Verdict
from reach.pictures.palette import INK, SOFT_INK
from reach.pictures.pen import Pen, shortened, text_width, wrapped
from reach.pictures.worksite import margin_words, named

Findings = tuple[Finding, ...]

_TEXT, _SMALL, _LEAST = 15.0, 13.0, 11.0
_LINE, _ROW, _HEAD = 1.28, 24.0, 29.0
_SILENT = (Verdict.PASS, Verdict.NOT_ASKED)


@dataclass(frozen=True, slots=True)
class Manner:
    """How much is said of what does not pass.

    Attributes
    ----------
    size : float, px
        Of sentences and fixes.
    fails, others : bool
        Whether the sentence stands under a fail, under what is open or under review.
    fix : bool
        Whether the smallest fix does.
    short : bool
        Verdict, name and margin on one line.
    """

    size: float
    fails: bool = True
    others: bool = True
    fix: bool = True
    short: bool = False


MANNERS = (
    Manner(_SMALL), Manner(_LEAST), Manner(_SMALL, others=False), Manner(_LEAST, others=False),
    Manner(_LEAST, others=False, short=True), Manner(_LEAST, False, False, short=True),
    Manner(_LEAST, False, False, False, True),
)  # fmt: skip
"""From saying all to the least; of them the first that fits."""


def heading(pen: Pen, at: tuple[float, float], words: str) -> float:
    """Write a small heading and return where what is under it starts."""
    pen.text((at[0], at[1] + 9), words, 13, SOFT_INK, True)
    return at[1] + 22


def tell(
    pen: Pen, findings: Findings, at: tuple[float, float], width: float, end: float
) -> tuple[Manner, bool]:
    """Draw findings down to ``end`` (px); return how, and whether each pass has its own line.

    What does not pass comes first, fails before the rest, and none is left out: where room ends,
    sentences are, then fixes.  What passes has a line each, or one of names only.
    """
    if not findings:
        pen.paragraph(at, "Nothing was checked here.", _TEXT, width)
        return MANNERS[0], True
    told = sorted((f for f in findings if f.verdict not in _SILENT), key=lambda f: RANK[f.verdict])
    passed = [f for f in findings if f.verdict is Verdict.PASS]
    silent = [f.check for f in findings if f.verdict is Verdict.NOT_ASKED]
    names = [named(f) for f in passed]
    room = end - at[1]
    whole = _names_height(Verdict.PASS, names, width)
    whole += _names_height(Verdict.NOT_ASKED, silent, width)
    counts = 26.0 * (bool(names) + bool(silent))
    heights = [sum(_height(finding, manner, width) for finding in told) for manner in MANNERS]
    fits = (
        (manner, is_brief)
        for manner, height in zip(MANNERS, heights, strict=True)
        for is_brief, rest in ((False, whole), (True, counts))
        if height + rest <= room
    )
    manner, is_brief = next(fits, (MANNERS[-1], True))
    if is_brief:
        names = [f"{len(names)} checks"] if len(names) > 1 else names
        silent = [f"{len(silent)} checks"] if len(silent) > 1 else silent
    y = at[1]
    for finding in told:
        y = _one(pen, finding, manner, (at[0], y), width)
    listed = len(passed) * _ROW + _names_height(Verdict.NOT_ASKED, silent, width) <= end - y
    if listed:
        for finding in passed:
            y = _row(pen, finding, (at[0], y), width)
    else:
        y = _names(pen, Verdict.PASS, names, (at[0], y), width, end)
    _names(pen, Verdict.NOT_ASKED, silent, (at[0], y), width, end)
    return manner, listed


def _said(finding: Finding, manner: Manner) -> list[tuple[str, float, bool]]:
    """Return the paragraphs under the name of a finding: words, size, whether bold."""
    said = [] if manner.short else [(margin_words(finding), _TEXT, True)]
    if manner.fails if finding.verdict is Verdict.FAIL else manner.others:
        said.append((finding.because, manner.size, False))
    if finding.fix and manner.fix:
        said.append((f"Smallest fix: {finding.fix}", manner.size, True))
    return said


def _height(finding: Finding, manner: Manner, width: float) -> float:
    lines = sum(
        len(wrapped(words, size, width, is_bold)) * size * _LINE
        for words, size, is_bold in _said(finding, manner)
    )
    if manner.short:
        return _ROW + lines + (4.0 if lines else 0.0)
    return _HEAD + lines + 8.0


def _one(
    pen: Pen, finding: Finding, manner: Manner, at: tuple[float, float], width: float
) -> float:
    """Draw what does not pass: verdict, margin, the sentence and the smallest fix."""
    x, y = at
    if manner.short:
        y = _row(pen, finding, at, width)
        for words, size, is_bold in _said(finding, manner):
            y = pen.paragraph((x, y), words, size, width, INK, is_bold)
        return y + (4.0 if _said(finding, manner) else 0.0)
    right = pen.badge((x, y + 13), finding.verdict, 13) + 8
    name = shortened(named(finding), _TEXT, x + width - right, True)
    pen.text((right, y + 13), name, _TEXT, INK, True)
    y += _HEAD
    for words, size, is_bold in _said(finding, manner):
        y = pen.paragraph((x, y), words, size, width, INK, is_bold)
    return y + 8.0


def _row(pen: Pen, finding: Finding, at: tuple[float, float], width: float) -> float:
    """Draw a finding on one line: verdict, name, margin."""
    x, y = at
    right = pen.badge((x, y + 11), finding.verdict, 11) + 7
    name = shortened(named(finding), _SMALL, x + width - right, True)
    pen.text((right, y + 11), name, _SMALL, INK, True)
    start = right + text_width(name, _SMALL, True) + 8
    words = shortened(margin_words(finding), _SMALL, x + width - start)
    pen.text((start, y + 11), words, _SMALL, INK)
    return y + _ROW


def _badge_width(verdict: Verdict) -> float:
    return 7.0 + text_width(f"\u25cb {verdict.upper()}", 11.0, True) + 1.1 * 11.0


def _name_lines(verdict: Verdict, names: list[str], width: float) -> list[str]:
    count = f"{len(names)}: " if verdict is Verdict.PASS and len(names) > 1 else ""
    return wrapped(count + ", ".join(names), _SMALL, width - _badge_width(verdict))


def _names_height(verdict: Verdict, names: list[str], width: float) -> float:
    return 17.0 * len(_name_lines(verdict, names, width)) + 9.0 if names else 0.0


def _names(
    pen: Pen,
    verdict: Verdict,
    names: list[str],
    at: tuple[float, float],
    width: float,
    end: float,
) -> float:
    """Draw the names of checks with one verdict after their count, as many lines as fit."""
    x, y = at
    if not names or y + 20.0 > end + 4.0:
        return y
    right = pen.badge((x, y + 11), verdict, 11) + 7
    lines = _name_lines(verdict, names, width)
    room = max(1, int((end - y) / 17.0))
    if len(lines) > room:
        lines = [
            *lines[: room - 1],
            shortened(f"{lines[room - 1]} \u2026", _SMALL, x + width - right),
        ]
    for line in lines:
        pen.text((right, y + 11), line, _SMALL, INK)
        y += 17.0
    return y + 9.0
