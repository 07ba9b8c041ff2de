"""How wide words are about to be, so that they fit what they are written on."""

from __future__ import annotations

FACE = "'Liberation Sans', Arial, Helvetica, sans-serif"
"""What drawings are lettered with: faces of the same widths, one of them on nearly any computer."""

_SPARE = 1.03
_OF = {
    0.23: "ijl'|",
    0.29: "tfI.,:;/!()[] -",
    0.34: "r",
    0.5: "ckszxyvJ",
    0.56: "abdeghnopqu0123456789_+#",
    0.73: "w&CNDHRU",
    0.79: "GOQ",
    0.84: "mM%",
    0.95: "W",
    1.02: "@…■◇≈○—",
}
_SHARE = {letter: share for share, letters in _OF.items() for letter in letters}
_ELSE = 0.68
"""Width of a letter as a share of the size; other capitals, and what is not listed."""


def width_of(words: str, size: float) -> float:
    """Return how wide words are at a size, in its unit, with a little to spare.

    Examples
    --------
    >>> width_of("12 CB1", 10.0) > width_of("12 CB", 10.0)
    True
    """
    return _SPARE * size * sum(_SHARE.get(letter, _ELSE) for letter in words)


def fitted(words: str, size: float, room: float) -> str:
    """Return as much of a step's name as there is room for: all, its beginning, its number, none.

    Examples
    --------
    >>> fitted("20 to Hazel", 10.0, 100.0), fitted("20 to Hazel", 10.0, 15.0)
    ('20 to Hazel', '20')
    >>> fitted("20 to Hazel", 10.0, 4.0)
    ''
    """
    if width_of(words, size) <= room:
        return words
    first = words.split(" ")[0]
    for n in range(len(words) - 1, len(first) + 2, -1):
        cut = words[:n].rstrip() + "…"
        if width_of(cut, size) <= room:
            return cut
    return first if width_of(first, size) <= room else ""


def two_lines(words: str, size: float, room: float) -> tuple[str, ...]:
    """Return words on one line or two, broken at a blank; the second one cut where it must be.

    Examples
    --------
    >>> two_lines("5 to the carrier", 10.0, 48.0)
    ('5 to the', 'carrier')
    >>> two_lines("12 CB1", 10.0, 48.0)
    ('12 CB1',)
    """
    if width_of(words, size) <= room:
        return (words,)
    parts = words.split(" ")
    for n in range(len(parts) - 1, 0, -1):
        head, tail = " ".join(parts[:n]), " ".join(parts[n:])
        if width_of(head, size) <= room:
            rest = fitted(tail, size, room)
            return (head, rest) if rest else (head,)
    cut = fitted(words, size, room)
    return (cut,) if cut else ()
