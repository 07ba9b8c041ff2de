"""Slow twins: what checks say of small random scenes, against answers worked out another way."""

from benchmarks.twins import carry, errand, lines, meet, move, ride, stand, watch, work

FAMILIES = {
    "carry": carry,
    "errand": errand,
    "lines": lines,
    "meet": meet,
    "move": move,
    "ride": ride,
    "stand": stand,
    "watch": watch,
    "work": work,
}
"""Name -> module with `CHECKS`, `draw` and `opinions`."""
