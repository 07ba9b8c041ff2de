"""Question. Is what is turned or mated in a window only, such as a night, done inside one?

Margin. Seconds by which the whole step lies inside the window that it fits best, less what is
kept from both of its ends.

Limit. The windows that the guard of the fastener names, with their ``margin``. Exact. Where steps
say how long they take at least and at most, the probability is told as well; it does not decide.

Blind spots. Durations are drawn independently, from triangles: slow hours come together.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from reach.checks.ruling import clock_text, finding_in, minutes_text
from reach.clock import Event, Fit, Span, Window, fit
from reach.clock.tasks import SAME
from reach.finding import Finding
from reach.ledger import Deed, Outing
from reach.model.outing import Windows
from reach.site import Site
from reach.timing import chance_words, draws_of, settled, windowed, windows_of

NAME = "window"
IDS = ("T3", "O1")
TAKES = "outing"


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return one finding for each time that something is turned in a window only."""
    return [_finding(outing, deed, name) for deed, name in windowed(outing)]


def _finding(outing: Outing, deed: Deed, name: str) -> Finding:
    record, step = outing.procedure.windows[name], deed.step.name
    fastener = deed.action.fastener  # type: ignore[union-attr]
    span = outing.spans[step]
    windows = windows_of(record, name)
    told = fit(span, windows, record.margin, record.margin)
    margin = settled(told.margin)
    assert told.window is not None
    kept = f", {minutes_text(record.margin)} kept at both ends" if record.margin else ""
    because = (
        f"{deed.lane} works on {fastener} from {clock_text(span.begin)} to {clock_text(span.end)}; "
        f"the nearest window of {name} is {_text(told.window)}{kept}"
    )
    numbers: dict[str, Any] = {"begin": told.margin_begin, "end": told.margin_end}
    inside = _inside(outing, step, windows, record)
    if inside is not None:
        words, chance = chance_words(inside)
        because += f"; it is inside one {words}"
        numbers["probability"] = (chance.low, chance.high)
    return finding_in(
        NAME, step, (deed.lane, fastener, name), f"{because}.", margin, "s",
        fix=_fix(told, span), **numbers,
    )  # fmt: skip


def _inside(
    outing: Outing, step: str, windows: tuple[Window, ...], record: Windows
) -> NDArray[np.bool_] | None:
    """Return draw by draw whether a step lies in a window; None where nothing is drawn."""
    draws = draws_of(outing)
    if draws is None:
        return None
    begins, ends = draws.at(Event(step, "begin")), draws.at(Event(step, "end"))
    inside = [
        (begins >= one.begin + record.margin - SAME) & (ends <= one.end - record.margin + SAME)
        for one in windows
    ]
    found: NDArray[np.bool_] = np.any(inside, axis=0)
    return found


def _fix(told: Fit, span: Span) -> str:
    if told.too_long > SAME:
        return (
            f"Shorten the step by {minutes_text(told.too_long)}: it is too long for any window, "
            "or do a part of it outside."
        )
    ways = []
    if told.sooner is not None:
        ways.append(f"by {clock_text(told.sooner.start)} at the latest")
    if told.later is not None:
        ways.append(f"at {clock_text(told.later.start)} in {_text(told.later.window)}")
    length = minutes_text(span.end - span.begin)
    return f"Begin {', or '.join(ways)}, for {length}."


def _text(window: Window) -> str:
    return f"{clock_text(window.begin)} to {clock_text(window.end)}"
