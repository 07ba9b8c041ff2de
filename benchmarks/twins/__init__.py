"""Slow twins: what checks say of small random scenes, against answers worked out another way."""

from benchmarks.twins import errand, move, work

FAMILIES = {"errand": errand, "move": move, "work": work}
"""Name -> module with `CHECKS`, `draw` and `opinions`."""
