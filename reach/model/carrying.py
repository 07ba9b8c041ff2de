"""How bulky things are moved: paths from pose to pose, cranes, cameras, and where they seat."""

from __future__ import annotations

from pydantic import Field, model_validator

from reach.model.record import Angle, Direction, Length, Point, Record, Speed
from reach.model.shapes import Placed


class Leg(Record):
    """One leg of a path: how the payload comes to a pose from the one before.

    ``about`` is the point of the payload that runs straight while it turns; for a hinge a point
    of its pin.  ``axis`` is the axis it turns about, right-handed, in the payload's directions;
    left out, it turns the shortest way.  ``stand_off`` is what is asked of a solid or a hazard
    on this leg; 0 where contact is meant.
    """

    about: Point | None = None
    axis: Direction | None = None
    stand_off: dict[str, Length] = Field(default_factory=dict)


class Path(Record):
    """The way of a payload through some of its poses, in their order.

    ``about`` is the point of the payload that runs straight, its origin if left out; ``legs``
    says more on the leg that ends at a pose.
    """

    through: tuple[str, ...] = Field(min_length=2, description="poses of the payload, in order")
    about: Point = (0.0, 0.0, 0.0)
    legs: dict[str, Leg] = Field(default_factory=dict)
    speed: Speed | None = Field(default=None, gt=0, description="at most, of any part of it")
    title: str = ""

    @model_validator(mode="after")
    def _goes_on(self) -> Path:
        for before, after in zip(self.through, self.through[1:], strict=False):
            if before == after:
                raise ValueError(f"goes from pose {before!r} to itself")
        return self


class Crane(Placed):
    """A serial arm on its base; on its tip a boot plate for a rider, or what it holds.

    ``plate`` is where the boots stand, in the frame of the tip: z the sole normal, x the toes.
    """

    arm: str = Field(description="'shipped:<name>' or a URDF file of the scene's folder")
    tip: str | None = Field(default=None, description="link at the end, where there are several")
    plate: Placed = Field(default_factory=Placed)
    title: str = ""


class Camera(Record):
    """A camera: where it is, where it looks, and half of the angle it sees."""

    frame: str = Field(default="world", alias="in")
    at: Point
    look: Direction
    field: Angle = Field(
        gt=0, le=3.1415926535897932, description="from the middle of its picture to its edge"
    )
    title: str = ""


class Guide(Record):
    """A soft-capture guide: what misalignment it takes in when a payload comes to a pose.

    ``at`` is where it sits, in the payload's frame; ``offset`` how far off that point may come,
    ``angle`` by how much the payload may be askew.
    """

    payload: str
    pose: str
    at: Point = (0.0, 0.0, 0.0)
    offset: Length = Field(gt=0)
    angle: Angle = Field(gt=0)
    title: str = ""
