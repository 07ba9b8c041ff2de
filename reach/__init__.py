"""Can a worker, held by this restraint, reach, see and turn this fastener: with proof and margins.

>>> import reach
>>> outcome = reach.check("brackenfall", only=["torque"])
>>> sorted({finding.verdict.value for finding in outcome.findings})
['fail', 'not asked', 'pass']

`check` asks a whole procedure, `question` makes one of a single question, `ways`,
`minutes_home` and `sweep` ask about moves and payloads, `check_many` runs many cases,
`picture_of` and `pictures_of` draw what was found.  Planning aid only: see `Outcome.cautions`.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from reach.files.procedure import load_procedure
    from reach.files.question import question
    from reach.files.scene import load_scene
    from reach.finding import Finding, Verdict
    from reach.inquiries import check_many, minutes_home, sweep, ways
    from reach.pictures import picture_of
    from reach.pictures.answers import pictures_of
    from reach.reports.margin import margin_text
    from reach.routes import rail_graph
    from reach.run import Outcome, check

__version__ = "0.1.0"

_HOME = {
    "check": "reach.run",
    "Outcome": "reach.run",
    "Finding": "reach.finding",
    "Verdict": "reach.finding",
    "load_scene": "reach.files.scene",
    "load_procedure": "reach.files.procedure",
    "question": "reach.files.question",
    "ways": "reach.inquiries",
    "minutes_home": "reach.inquiries",
    "sweep": "reach.inquiries",
    "check_many": "reach.inquiries",
    "rail_graph": "reach.routes",
    "margin_text": "reach.reports.margin",
    "picture_of": "reach.pictures",
    "pictures_of": "reach.pictures.answers",
}

__all__ = [
    "Finding",
    "Outcome",
    "Verdict",
    "__version__",
    "check",
    "check_many",
    "load_procedure",
    "load_scene",
    "margin_text",
    "minutes_home",
    "picture_of",
    "pictures_of",
    "question",
    "rail_graph",
    "sweep",
    "ways",
]


def __getattr__(name: str) -> Any:
    """Import a public name when it is first used: `import reach` stays quick."""
    if name in _HOME:
        return getattr(import_module(_HOME[name]), name)
    raise AttributeError(f"module 'reach' has no attribute {name!r}")
