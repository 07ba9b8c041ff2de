"""Slow twins: what checks say of small random scenes, against answers worked out another way."""

from benchmarks.twins import carry, errand, halt, hold, move, serve, stand, work

FAMILIES = {
    "carry": carry,
    "errand": errand,
    "halt": halt,
    "hold": hold,
    "move": move,
    "serve": serve,
    "stand": stand,
    "work": work,
}
"""Name -> module with `CHECKS`, `draw` and `opinions`."""
