"""The page on checks: question, margin, limit, blind spots, and the limits that each uses."""

from __future__ import annotations

import inspect
import re
import tomllib
from collections.abc import Iterable
from types import ModuleType

from pages.examples import ROOT
from pages.markdown import MADE, anchor, plain, table
from reach.checks import CHECKS
from reach.model.limits import LIMITS
from reach.reports.explain import PARAGRAPHS, explain
from reach.settings import wording as settings
from reach.units import SI

INTRO = """\
# The checks

Each check asks one question of each step, motion or outing that it is about. Its answer is a
margin that is known to lie in an interval; the verdict follows from that. What a check does not
look at stands under *Blind spots*: read it before you rely on a pass. `reach explain NAME`
prints the same.
"""

ABOUT_LIMITS = """\
## All limits

Limits are data: a scene may give its own under `[limits]`, and each result names the values that
it rests on. The mark says how far a value can be trusted; only *published* needs no confirmation
by the planner. *From memory* and *common practice* have to be confirmed; *invented for the demo*
has to be replaced.
"""

MORE = {
    "effort": tuple(name for name in LIMITS if "_strength_" in name),
    "sight": ("head_radius",),
    "corridor": ("hang_back",),
    "passing": ("hang_back",),
    "share": ("body_clearance", "arm_clearance", "hand_clearance", "visible_share", "sight_angle"),
}
"""Check -> limits that it uses by names put together, or in what its question asks."""


def pages() -> dict[str, str]:
    """Return the page on checks."""
    modules = [*CHECKS, settings]
    names = [
        (f"[{module.NAME}](#{anchor(module.NAME)})", ", ".join(module.IDS), _question(module))
        for module in modules
    ]
    parts = [MADE, INTRO, table(("check", "ids", "question"), names)]
    parts += [_section(module) for module in modules]
    parts += [ABOUT_LIMITS, _limits(LIMITS, _users(modules))]
    return {"checks.md": "\n".join(parts)}


def _section(module: ModuleType) -> str:
    _, *paragraphs = explain(module, 100).strip().split("\n\n")
    ids = ", ".join(module.IDS)
    parts = [f"## {module.NAME}\n", f"Id{'s' if ',' in ids else ''}: {ids}.\n"]
    for word, paragraph in zip(PARAGRAPHS, paragraphs, strict=True):
        parts.append(f"**{word}** {plain(paragraph.removeprefix(word).strip())}\n")
    if used := limits_of(module):
        parts.append(_limits(used))
    return "\n".join(parts)


def _question(module: ModuleType) -> str:
    paragraph = explain(module, 10_000).split("\n\n")[1]
    text = plain(paragraph.removeprefix(PARAGRAPHS[0]).strip())
    return text.partition("? ")[0].rstrip("?") + "?"


def limits_of(module: ModuleType) -> list[str]:
    """Return the limits that a check names in its text or asks for in its module, in order."""
    told = re.findall(r"``([a-z_]+)``", inspect.getdoc(module) or "")
    asked = re.findall(r'limit\(\s*"([a-z_]+)"\s*\)', inspect.getsource(module))
    names = dict.fromkeys([*told, *asked, *MORE.get(module.NAME, ())])
    return [name for name in names if name in LIMITS]


def _users(modules: Iterable[ModuleType]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for module in modules:
        for name in limits_of(module):
            found.setdefault(name, []).append(f"[{module.NAME}](#{anchor(module.NAME)})")
    return found


def _limits(names: Iterable[str], users: dict[str, list[str]] | None = None) -> str:
    """Return limits with value, unit, source and mark; with what uses them, where that is told."""
    shipped = tomllib.loads((ROOT / "models" / "limits.toml").read_text("utf-8"))["limits"]
    rows = []
    for name in names:
        kind, what = LIMITS[name]
        written = shipped[name]
        source = ", ".join(part for part in (written["source"], written.get("place", "")) if part)
        if note := written.get("note"):
            source += f". {note}"
        row = [f"`{name}`", what, _value(written["value"], kind), source, written["mark"]]
        if users is not None:
            row.append(", ".join(users.get(name, [])) or _otherwise(name))
        rows.append(row)
    head = ["limit", "what it is", "value", "source", "mark"]
    return table(head if users is None else [*head, "used by"], rows)


def _otherwise(name: str) -> str:
    """Return what a limit serves that no check names."""
    return "durations left blank" if name.endswith("_time") else "places of things"


def _value(value: object, kind: str) -> str:
    if isinstance(value, str):
        return value
    return f"{value} {SI[kind]}".rstrip()
