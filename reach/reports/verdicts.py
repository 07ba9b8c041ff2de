"""How a verdict looks: a shape, a word and a colour, so that it never hangs on colour alone.

The colours run from dark violet over a middle to a pale blue, so they differ in lightness and
stay apart for every kind of colour vision and on a grey print.
"""

from __future__ import annotations

from reach.finding import Verdict

SHAPE = {
    Verdict.FAIL: "■",
    Verdict.OPEN: "◇",
    Verdict.REVIEW: "≈",
    Verdict.PASS: "○",
    Verdict.NOT_ASKED: "–",
}

STYLE = {
    Verdict.FAIL: "bold white on #5b2a86",
    Verdict.OPEN: "bold black on #9cc9e8",
    Verdict.REVIEW: "bold white on #2b6ea6",
    Verdict.PASS: "dim",
    Verdict.NOT_ASKED: "dim italic",
}
"""Rich styles by verdict."""

MEANING = {
    Verdict.FAIL: "proved not to work as asked",
    Verdict.OPEN: "not settled, neither shown nor disproved",
    Verdict.REVIEW: "too close to call",
    Verdict.PASS: "shown to work",
    Verdict.NOT_ASKED: "nothing was asked",
}


def badge(verdict: Verdict) -> str:
    """Return shape and word, for example ``"■ FAIL"``."""
    return f"{SHAPE[verdict]} {verdict.upper()}"
