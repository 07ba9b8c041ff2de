"""Can a worker, held by this restraint, reach, see and turn this fastener: with proof and margins.

>>> import reach
>>> outcome = reach.check("brackenfall", only=["torque"])
>>> sorted({finding.verdict.value for finding in outcome.findings})
['fail', 'not asked', 'pass']

Planning aid only: see `reach.cautions`.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from reach.files.procedure import load_procedure
    from reach.files.question import question
    from reach.files.scene import load_scene
    from reach.routes import rail_graph
    from reach.run import Outcome, check

__version__ = "0.1.0"

_HOME = {
    "check": "reach.run",
    "Outcome": "reach.run",
    "load_scene": "reach.files.scene",
    "load_procedure": "reach.files.procedure",
    "question": "reach.files.question",
    "rail_graph": "reach.routes",
}

__all__ = [
    "Outcome",
    "__version__",
    "check",
    "load_procedure",
    "load_scene",
    "question",
    "rail_graph",
]


def __getattr__(name: str) -> Any:
    """Import a public name when it is first used: `import reach` stays quick."""
    if name in _HOME:
        return getattr(import_module(_HOME[name]), name)
    raise AttributeError(f"module 'reach' has no attribute {name!r}")
