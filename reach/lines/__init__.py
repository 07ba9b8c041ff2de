"""Geometry of safety lines."""

from reach.lines.taut import Taut, taut

__all__ = ["Taut", "taut"]
