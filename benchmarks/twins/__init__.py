"""Slow twins: what checks say of small random scenes, against answers worked out another way."""

from benchmarks.twins import errand

FAMILIES = {"errand": errand}
"""Name -> module with `CHECKS`, `draw` and `opinions`."""
