"""Limit values that checks measure against: data with a source, never constants in code."""

from __future__ import annotations

from pydantic import Field

from reach.model.provenance import Provenance
from reach.model.record import Record
from reach.units import SI, quantity

LIMITS: dict[str, tuple[str, str]] = {
    "reach_margin": ("length", "how far a target must lie inside the reach"),
    "axis_tolerance": ("angle", "tool axis off the fastener axis, at most"),
    "body_clearance": ("length", "helmet, backpack, trunk and legs to structure, at least"),
    "arm_clearance": ("length", "arms and hand tool to structure, at least"),
    "hand_clearance": ("length", "gloved hand to structure, at least"),
    "inner_margin": ("length", "how far a target must lie outside the too-near region"),
    "access_gap": ("length", "gap round bit and shaft when they come on along the axis, at least"),
    "visible_share": ("ratio", "share of the fastener head seen, at least"),
    "sight_angle": ("angle", "line of sight off the fastener axis, at most"),
    "population_share": ("ratio", "share of a drawn population that can do it, at least"),
    "head_radius": ("length", "radius of a fastener head where the scene gives none"),
}
"""Limit name -> kind of quantity and meaning."""


class Limit(Record):
    """One limit: SI value with its provenance."""

    value: float
    unit: str
    source: Provenance = Field(default_factory=Provenance)


class WrittenLimit(Provenance):
    """One limit as files hold it: a value with or without a unit, and where it comes from."""

    value: float | str = Field(description="SI number or text with a unit")


def limit_of(name: str, written: WrittenLimit) -> Limit:
    """Return a written limit in SI.

    Raises
    ------
    ValueError
        If the value is not of the limit's kind or is negative.

    Examples
    --------
    >>> limit_of("body_clearance", WrittenLimit(value="1 in")).value
    0.0254
    """
    kind, _ = LIMITS[name]
    value = quantity(written.value, kind)
    if value < 0.0:
        raise ValueError(f"must not be negative, found {written.value!r}")
    fields = {key: getattr(written, key) for key in Provenance.model_fields}
    return Limit(value=value, unit=SI[kind], source=Provenance(**fields))
