"""Where the joints sit in the body: shares of surveyed dimensions, with their source."""

from __future__ import annotations

from pydantic import Field

from reach.model.provenance import Provenance
from reach.model.record import Record

Vector = tuple[float, float, float]


class JointCentres(Record):
    """Joint centres of one sex, as shares of that person's own dimensions (no unit).

    Attributes
    ----------
    shoulder_below_acromion, shoulder_rise : float
        Of acromion-radiale length; the rise is that of an arm held straight up.
    shoulder_from_midplane : float
        Of half the biacromial breadth.
    wall_to_shoulder : float
        Of biacromial breadth, from a wall behind the back.
    wrist_to_grip, wrist_to_thumb : float
        Of hand length.
    ankle_height, hip_height : float
        Of stature, for a person whose own heights are not known.
    idle_upper_arm, idle_forearm : tuple of 3 floats, torso frame
        Directions of the left arm while the right one works.
    """

    shoulder_below_acromion: float = Field(ge=0, lt=1)
    shoulder_from_midplane: float = Field(gt=0)
    wall_to_shoulder: float = Field(ge=0)
    shoulder_rise: float = Field(ge=0)
    wrist_to_grip: float = Field(gt=0)
    wrist_to_thumb: float = Field(gt=0)
    ankle_height: float = Field(gt=0, lt=1)
    hip_height: float = Field(gt=0, lt=1)
    idle_upper_arm: Vector
    idle_forearm: Vector
    sources: dict[str, Provenance] = Field(default_factory=dict)
