"""The command line: read what was typed, call, render; everything heavy is imported when needed.

Exit codes: 0 all that was asked passes, 1 something fails, 2 the input cannot be used,
3 nothing fails but not everything is known, 70 a defect of this program, 130 interrupted.
"""

from __future__ import annotations

import sys
import traceback

# Commands are listed in the order in which their modules are imported.
from reach.cli import check  # isort: skip
from reach.cli import compare  # isort: skip
from reach.cli import settings  # isort: skip
from reach.cli import route  # isort: skip
from reach.cli import returns  # isort: skip
from reach.cli import clock  # isort: skip
from reach.cli import crane  # isort: skip
from reach.cli import sweep  # isort: skip
from reach.cli import ledger  # isort: skip
from reach.cli import report  # isort: skip
from reach.cli import view  # isort: skip
from reach.cli import batch  # isort: skip
from reach.cli import about  # isort: skip
from reach.cli.options import app, note

DEFECT = 70

__all__ = [
    "about", "app", "batch", "check", "clock", "compare", "crane", "ledger", "main", "report",
    "returns", "route", "settings", "sweep", "view",
]  # fmt: skip


def main() -> None:
    """Run the command line; a defect of this program never looks like an answer."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        app()
    except Exception:
        traceback.print_exc()
        note("This is a defect of the program, not an answer about the scene.")
        sys.exit(DEFECT)
