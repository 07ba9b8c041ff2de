"""Variations read from a few words, such as ``"swap W1 and W2, SK3 blocked"``."""

from __future__ import annotations

import re
from collections.abc import Callable

from reach.files.problem import nearest
from reach.varying.making import UnfitError
from reach.varying.variation import (
    Handed,
    Limited,
    Marked,
    Reeled,
    Shifted,
    Sized,
    Swap,
    Variation,
)

BETWEEN = ","
"""What stands between variations that are to hold together."""

FORMS = (
    "swap W1 and W2",
    "W1 is large",
    "W1 is left-handed",
    "SK3 blocked",
    "RL08 gone",
    "SK3 free",
    "ST-1 length 20 m",
    "windows +10 min",
    "limit rail_gap 0.8 m",
)
"""One example of each form."""

_WORDS = (
    *("swap", "is", "left-handed", "right-handed", "blocked", "gone", "free"),
    *("length", "windows", "limit"),
)
_READERS: tuple[tuple[str, Callable[[re.Match[str]], Variation]], ...] = (
    (r"swap (?P<a>.+) and (?P<b>.+)", lambda m: Swap(m["a"], m["b"])),
    (r"swap (?P<a>\S+) (?P<b>\S+)", lambda m: Swap(m["a"], m["b"])),
    (r"limit (?P<a>\S+)(?: =)? (?P<b>.+)", lambda m: Limited(m["a"], m["b"])),
    (
        r"windows(?: (?P<a>.+))? (?P<sign>[+-]) ?(?P<b>[\d.].*)",
        lambda m: Shifted(m["a"] or "", m["sign"] + m["b"]),
    ),
    (
        r"(?P<a>.+?)(?: is)? (?P<b>blocked|gone|free)",
        lambda m: Marked(m["a"], m["b"]),  # type: ignore[arg-type]
    ),
    (
        r"(?P<a>.+) is (?P<b>left|right)-handed",
        lambda m: Handed(m["a"], m["b"]),  # type: ignore[arg-type]
    ),
    (r"(?P<a>.+) is (?P<b>.+)", lambda m: Sized(m["a"], m["b"])),
    (r"(?P<a>.+) length(?: =)? (?P<b>.+)", lambda m: Reeled(m["a"], m["b"])),
)
"""Form of a text, and the variation that it is; the first form that fits counts."""


def variations_of(*texts: str) -> tuple[Variation, ...]:
    """Return the variations in texts, in the order in which they are written.

    Parameters
    ----------
    *texts : str
        Each one or several with commas between them, in any of `FORMS`.

    Raises
    ------
    UnfitError
        With a message for each part that is none.

    Examples
    --------
    >>> from reach.varying.variation import words_of
    >>> [words_of(one) for one in variations_of("swap W1 W2, SK3 is blocked")]
    ['swap W1 and W2', 'SK3 blocked']
    >>> variations_of("ST-1 length = 20 m")
    (Reeled(tether='ST-1', length='20 m'),)
    """
    parts = [part for text in texts for part in parts_of(text)]
    found = {part: _read(part) for part in parts}
    wrong = [_unread(part) for part, variation in found.items() if variation is None]
    wrong += [
        f"names no variation, found {text!r}; such are {'; '.join(FORMS)}"
        for text in texts
        if not parts_of(text)
    ]
    if wrong:
        raise UnfitError(*wrong)
    return tuple(variation for part in parts if (variation := found[part]) is not None)


def parts_of(text: str) -> list[str]:
    """Return the parts of a text, one for each variation, with single blanks between words."""
    parts = (" ".join(part.split()) for part in text.split(BETWEEN))
    return [part for part in parts if part]


def _read(part: str) -> Variation | None:
    for form, make in _READERS:
        match = re.fullmatch(form, part)
        if match:
            return make(match)
    return None


def _unread(part: str) -> str:
    """Return why a part is no variation, with the nearest text that is one."""
    for word in part.split():
        near = nearest(word, _WORDS) if word not in _WORDS else None
        meant = part.replace(word, near) if near else part
        if _read(meant) is not None:
            return f"{part!r} is no variation; did you mean {meant!r}?"
    return f"{part!r} is no variation; such are {'; '.join(FORMS)}"
