"""One answer on all safety lines that somebody wears at once: that of the worst line, by name."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from reach.finding import RANK, Finding, Verdict
from reach.passage import Line


def together(lines: Sequence[Line], found: Sequence[Finding]) -> Finding:
    """Return one finding on several lines from the findings on each.

    The margin is the least of them: a fail of any is a fail.  Of a line on which nothing could
    be asked nothing is known: then it is open, if no other fails.  What does not pass is told of
    every line; of one line alone the finding is that line's own.

    Parameters
    ----------
    lines : sequence of Line
        Those that are worn, at least one.
    found : sequence of Finding
        One for each line.
    """
    if len(found) == 1:
        return found[0]
    each = list(zip(lines, found, strict=True))
    lost = [(line, one) for line, one in each if one.verdict is Verdict.NOT_ASKED]
    known = [(line, one) for line, one in each if one.verdict is not Verdict.NOT_ASKED]
    unknown = [f"Of {line.tether} it is not known. {one.because}" for line, one in lost]
    if not known:
        return replace(found[0], because=_joined(unknown))
    known.sort(key=lambda pair: (RANK[pair[1].verdict], pair[1].high, pair[1].low))
    line, worst = known[0]
    told = [worst, *(one for _, one in known[1:] if one.verdict is not Verdict.PASS)]
    return replace(
        worst,
        because=_joined([*(one.because for one in told), *unknown]),
        low=-math.inf if lost else min(one.low for _, one in known),
        high=min(one.high for _, one in known),
        limits=tuple(dict.fromkeys(limit for one in told for limit in one.limits)),
        fix=_joined([one.fix for one in told]),
        marks=tuple(mark for one in told for mark in one.marks),
        numbers={
            **worst.numbers,
            "line": line.tether,
            "lines": {one.tether: of.numbers for one, of in each},
        },
    )


def _joined(sentences: Sequence[str]) -> str:
    """Return sentences as one text, each of them once."""
    return " ".join(dict.fromkeys(one for one in sentences if one))
