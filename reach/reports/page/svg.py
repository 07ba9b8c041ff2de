"""Parts of a drawing as the text of SVG elements."""

from __future__ import annotations

from html import escape

from reach.pictures.palette import INK


def rect(
    x: float, y: float, wide: float, high: float, fill: str, edge: str, stroke: float = 0.8
) -> str:
    """Return a rectangle."""
    return (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{wide:.1f}" height="{high:.1f}" fill="{fill}" '
        f'stroke="{edge}" stroke-width="{stroke:g}"/>'
    )


def line(x1: float, y1: float, x2: float, y2: float, tone: str, wide: float, dash: str = "") -> str:
    """Return a line, broken where a dash is given."""
    broken = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{tone}" '
        f'stroke-width="{wide:g}"{broken}/>'
    )


def text(
    x: float, y: float, words: str, size: float, anchor: str = "start", weight: str = "normal",
    colour: str = INK,
) -> str:  # fmt: skip
    """Return one line of words; nothing without any."""
    if not words:
        return ""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:g}" text-anchor="{anchor}" '
        f'font-weight="{weight}" fill="{colour}">{escape(words)}</text>'
    )
