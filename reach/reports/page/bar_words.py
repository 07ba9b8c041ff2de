"""Words on bars of the timeline, beside them where they hold none, and marks over them."""

from __future__ import annotations

from html import escape

from reach.pictures.palette import INK, PAPER
from reach.reports.clock import hours_text
from reach.reports.page.lettering import two_lines, width_of
from reach.reports.page.svg import text
from reach.reports.verdicts import SHAPE

SIZE, SMALL = 9.6, 9.0
"""Of names on bars, and of all else."""

PAD = 3.0
_LEAST_LETTER = 7.2


def label_of(name: str, label: str, x: float, wide: float, top: float, high: float) -> str:
    """Return the words on a bar, standing up where its number alone does not lie in it."""
    shown = two_lines(label, SIZE, wide - 2 * PAD)
    if not shown or shown[0] in SHAPE.values():
        shown = two_lines(name, SIZE, wide - 2 * PAD)
    if shown:
        middle = top + 0.5 * high + 4.6
        if len(shown) == 1:
            return text(x + PAD, middle, shown[0], SIZE)
        return text(x + PAD, middle - 5.2, shown[0], SIZE) + text(
            x + PAD, middle + 5.2, shown[1], SIZE
        )
    number = name.split(" ")[0]
    size = min(SMALL, wide - 0.6)
    if size < _LEAST_LETTER or width_of(number, size) > high - 2.0:
        return ""
    at = (x + 0.5 * wide + 0.36 * size, top + high - 1.5)
    return (
        f'<text transform="translate({at[0]:.1f} {at[1]:.1f}) rotate(-90)" '
        f'font-size="{size:.1f}">{escape(number)}</text>'
    )


def beside(number: str, left: float, right: float, free: tuple[float, float], y: float) -> str:
    """Return the number of a bar that holds no letters, where there is room beside it."""
    wide = width_of(number, SMALL)
    if right + PAD + wide <= free[1]:
        return text(right + PAD, y, number, SMALL)
    if left - PAD - wide >= free[0]:
        return text(left - PAD, y, number, SMALL, "end")
    return ""


def glove(x: float, y: float, moment: float) -> str:
    """Return the mark of a moment (s) at which gloves are looked at."""
    says = f"gloves looked at {hours_text(moment)}"
    return (
        f"<g><title>{escape(says)}</title>"
        f'<circle cx="{x:.1f}" cy="{y + 4.0:.1f}" r="5.4" fill="{PAPER}" stroke="{INK}"/>'
        f"{text(x, y + 7.2, 'G', SMALL, 'middle', 'bold')}</g>"
    )
