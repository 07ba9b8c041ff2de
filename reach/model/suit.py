"""The suit: joint ranges, bulk and helmet of what is worn; working clothes are a suit too."""

from __future__ import annotations

from pydantic import Field, model_validator

from reach.model.provenance import Provenance
from reach.model.record import Angle, Length, Record

Range = tuple[Angle, Angle]


class Shell(Record):
    """One capsule of the suited body, fixed to a segment, in that segment's frame.

    Torso capsules are given from the hip centre with x ahead, y left, z along the
    spine; ``above`` says which landmark z counts from: the hip or the shoulder line.
    """

    start: tuple[Length, Length, Length] = Field(alias="from")
    end: tuple[Length, Length, Length] = Field(alias="to")
    radius: Length = Field(gt=0)
    above: str = Field(default="hip", pattern="^(hip|shoulders)$")


class Suit(Record):
    """Joint ranges (rad), bulk (m) and field of view (rad) of a suit.

    Ranges are about the neutral stance; left and right are mirror images.
    The upper arm stays inside a cone about ``arm_cone_axis`` = (degrees outward,
    degrees above the horizontal, both in the torso frame).
    """

    title: str = ""
    ankle_roll: Range
    ankle_pitch: Range
    hip_flexion: Range
    waist_lateral: Range
    waist_twist: Range
    arm_cone_axis: tuple[Angle, Angle]
    arm_cone: Angle = Field(gt=0)
    arm_twist: Angle = Field(gt=0)
    elbow: Range
    pronation: Angle = Field(gt=0)
    wrist_flexion: Angle = Field(gt=0)
    wrist_deviation: Angle = Field(gt=0)
    shoulder_rise: float = Field(default=0.0, ge=0, le=1)
    sole: Length = Field(default=0.0, ge=0)
    shoulder_ahead: Length = 0.0
    neck_turn: Angle
    neck_down: Angle
    neck_up: Angle
    view_side: Angle
    view_down: Angle
    view_up: Angle
    eye_ahead: Length = 0.1
    eye_above_shoulders: Length | None = None
    eye_turn: Angle = Field(ge=0, description="how far the eyes alone turn off the head's axis")
    head_play: Length = Field(default=0.0, ge=0)
    torso: dict[str, Shell] = Field(default_factory=dict)
    leg_radius: Length = Field(gt=0)
    boot_height: Length = Field(ge=0, description="boots are not held to the clearance below this")
    upper_arm_radius: Length = Field(gt=0)
    forearm_radius: Length = Field(gt=0)
    hand_radius: Length = Field(gt=0)
    grip_share: float = Field(
        default=1.0, gt=0, le=1, description="share of the bare hand's strength the glove leaves"
    )
    stance: Length = Field(default=0.2, ge=0)
    lamp: Length | None = Field(
        default=None,
        gt=0,
        description="how far the lamps of the helmet light, if known",
    )
    sources: dict[str, Provenance] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _ranges_run_upward(self) -> Suit:
        for name in ("ankle_roll", "ankle_pitch", "hip_flexion", "waist_lateral", "waist_twist"):
            low, high = getattr(self, name)
            if not low <= 0.0 <= high:
                found = f"[{low:g}, {high:g}]"
                raise ValueError(f"{name} must contain the neutral stance 0, found {found}")
        if not 0.0 <= self.elbow[0] < self.elbow[1]:
            raise ValueError("elbow must run upward from 0 (straight)")
        return self
