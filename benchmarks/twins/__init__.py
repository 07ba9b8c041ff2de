"""Slow twins: what checks say of small random scenes, against answers worked out another way."""

from benchmarks.twins import carry, errand, move, stand, work

FAMILIES = {"carry": carry, "errand": errand, "move": move, "stand": stand, "work": work}
"""Name -> module with `CHECKS`, `draw` and `opinions`."""
