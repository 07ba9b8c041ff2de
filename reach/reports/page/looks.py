"""How a report looks: colours by meaning, and the style sheets that use them."""

from __future__ import annotations

from importlib.resources import files

from reach.pictures.palette import FAIL, HAZARD, INK, OPEN, PAPER, SIGHT, SOFT_INK, STRIP, mixed

WHITE = "#ffffff"
BLACK = "#000000"

COLOURS = {
    "ink": INK,
    "soft-ink": SOFT_INK,
    "paper": PAPER,
    "sheet": WHITE,
    "strip": STRIP,
    "rule": mixed(SOFT_INK, PAPER, 0.55),
    "faint": mixed(SOFT_INK, PAPER, 0.88),
    "fail": FAIL,
    "fail-ink": WHITE,
    "open": OPEN,
    "open-ink": INK,
    "review": SIGHT,
    "review-ink": WHITE,
    "pass": PAPER,
    "pass-ink": INK,
    "silent": PAPER,
    "silent-ink": SOFT_INK,
    "link": mixed(SIGHT, BLACK, 0.25),
    "hazard": mixed(HAZARD, BLACK, 0.1),
}
"""Colour by what it is for; a style sheet calls it ``var(--name)``."""

PAIRS = (
    ("ink", "paper"), ("ink", "sheet"), ("ink", "faint"), ("soft-ink", "paper"),
    ("soft-ink", "sheet"), ("soft-ink", "faint"), ("paper", "strip"), ("fail-ink", "fail"),
    ("open-ink", "open"), ("review-ink", "review"), ("pass-ink", "pass"), ("silent-ink", "silent"),
    ("link", "paper"), ("link", "sheet"), ("link", "faint"), ("hazard", "sheet"), ("fail", "sheet"),
    ("fail", "paper"), ("hazard", "paper"),
)  # fmt: skip
"""Which colour letters stand in on which ground."""


def css(on_paper: bool = False) -> str:
    """Return the style sheet for the screen or for paper."""
    variables = "".join(f"--{name}:{colour};" for name, colour in COLOURS.items())
    sheets = [_sheet(name) for name in ("both.css", "paper.css" if on_paper else "screen.css")]
    return f":root{{{variables}}}\n" + "\n".join(sheets)


def card_css() -> str:
    """Return what cards have of their own, on top of the style sheet for paper."""
    return _sheet("cards.css")


def _sheet(name: str) -> str:
    folder = files("reach.reports.page") / "templates"
    return (folder / name).read_text(encoding="utf-8")


def contrast(one: str, other: str) -> float:
    """Return the contrast of two colours, 1 to 21 (W3C, Web Content Accessibility Guidelines 2.1).

    Examples
    --------
    >>> contrast("#000000", "#ffffff")
    21.0
    """
    dark, light = sorted((_luminance(one), _luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def _luminance(colour: str) -> float:
    parts = (int(colour[k : k + 2], 16) / 255.0 for k in (1, 3, 5))
    linear = (p / 12.92 if p <= 0.03928 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return sum(share * p for share, p in zip((0.2126, 0.7152, 0.0722), linear, strict=True))
