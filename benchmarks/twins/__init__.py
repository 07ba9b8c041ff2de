"""Slow twins: what checks say of small random scenes, against answers worked out another way."""

from benchmarks.twins import errand, work

FAMILIES = {"errand": errand, "work": work}
"""Name -> module with `CHECKS`, `draw` and `opinions`."""
