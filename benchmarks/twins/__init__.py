"""Slow twins: what checks say of small random scenes, against answers worked out another way."""

from benchmarks.twins import (
    carry,
    errand,
    halt,
    hold,
    lines,
    meet,
    move,
    ride,
    serve,
    stand,
    watch,
    work,
)

FAMILIES = {
    "carry": carry,
    "errand": errand,
    "halt": halt,
    "hold": hold,
    "lines": lines,
    "meet": meet,
    "move": move,
    "ride": ride,
    "serve": serve,
    "stand": stand,
    "watch": watch,
    "work": work,
}
"""Name -> module with `CHECKS`, `draw` and `opinions`."""
