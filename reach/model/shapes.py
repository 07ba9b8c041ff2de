"""Solid shapes and where they are: parametric or from a mesh file, each in a named frame."""

from __future__ import annotations

import math
from typing import Literal

from pydantic import Field, model_validator

from reach.model.record import (
    Angle,
    Direction,
    Elapsed,
    Force,
    Length,
    Point,
    Record,
    Temperatures,
)

Span = tuple[Elapsed, Elapsed]
"""From and to, s since the start."""


class Turn(Record):
    """A rotation by ``angle`` about ``axis`` (right-handed), in the parent's directions."""

    axis: Direction
    angle: Angle


class Placed(Record):
    """A thing with a pose in a named frame: the world, a solid, a payload or a frame.

    ``at`` is the origin (m) and ``turn`` the rotations, applied in the order written,
    both in the frame named by ``in``.
    """

    frame: str = Field(default="world", alias="in")
    at: Point = (0.0, 0.0, 0.0)
    turn: tuple[Turn, ...] = ()


LEAST = 1e-6
"""A part thinner than this (m) is a slip of the pen, not a part."""

MOST_TRIANGLES = 2_000_000
"""More than this one truss may not have: fewer facets round a tube say as much."""


MOST_HOLES = 1000
"""Holes of one plate: each is compared with every other."""


class Truss(Record):
    """An open lattice beam of round tubes along +x, centred on y = z = 0.

    Four chords, a square of battens at each bay end, one diagonal a face and bay,
    zigzag (alternating) or parallel.
    """

    bays: int = Field(ge=1, le=10_000)
    bay: Length = Field(ge=LEAST)
    width: Length = Field(ge=LEAST, description="between chord axes, along y")
    height: Length = Field(ge=LEAST, description="between chord axes, along z")
    chord: Length = Field(ge=LEAST, description="tube radius of the chords")
    batten: Length = Field(ge=LEAST, description="tube radius of the battens")
    diagonal: Length = Field(default=0.0, ge=0, description="tube radius; 0 leaves diagonals out")
    pattern: Literal["zigzag", "parallel"] = "zigzag"
    sides: int = Field(default=16, ge=6, le=96, description="facets round a tube")

    @model_validator(mode="after")
    def _is_not_too_large(self) -> Truss:
        if self.n_triangles > MOST_TRIANGLES:
            most = f"{MOST_TRIANGLES} at most"
            raise ValueError(f"has {self.n_triangles} triangles, {most}: take fewer bays or sides")
        return self

    @property
    def n_triangles(self) -> int:
        """How many triangles it is made of."""
        n_tubes = 4 + 4 * (self.bays + 1) + (4 * self.bays if self.diagonal else 0)
        return 4 * self.sides * n_tubes


class Cylinder(Record):
    """A round solid along z, centred on its origin; ``bore`` makes it a ring."""

    radius: Length = Field(ge=LEAST)
    height: Length = Field(ge=LEAST)
    bore: Length = Field(default=0.0, ge=0)
    sides: int = Field(default=32, ge=6, le=256)

    @model_validator(mode="after")
    def _bore_is_smaller(self) -> Cylinder:
        if self.bore >= self.radius:
            raise ValueError(f"bore {self.bore:g} m must be smaller than radius {self.radius:g} m")
        return self


class Cone(Record):
    """A cone or frustum along z: radius ``base`` at z = 0, ``top`` at z = ``height``."""

    base: Length = Field(ge=0)
    top: Length = Field(default=0.0, ge=0)
    height: Length = Field(ge=LEAST)
    sides: int = Field(default=32, ge=6, le=256)

    @model_validator(mode="after")
    def _is_solid(self) -> Cone:
        if self.base == 0.0 and self.top == 0.0:
            raise ValueError("base and top are both zero")
        return self


class Plate(Record):
    """A flat plate in x-y, thickness along z, centred on its origin, with round holes."""

    size: tuple[Length, Length]
    thickness: Length = Field(ge=LEAST)
    holes: tuple[tuple[Length, Length, Length], ...] = Field(
        default=(), max_length=MOST_HOLES, description="[x, y, radius] of round holes"
    )
    sides: int = Field(default=24, ge=6, le=256, description="facets round a hole")

    @model_validator(mode="after")
    def _holes_are_apart_and_inside(self) -> Plate:
        if min(self.size) <= 0:
            raise ValueError("plate sizes must be greater than zero")
        for i, (x, y, radius) in enumerate(self.holes):
            if radius <= 0:
                raise ValueError(f"hole {i + 1} needs a radius greater than zero")
            if abs(x) + radius >= self.size[0] / 2 or abs(y) + radius >= self.size[1] / 2:
                raise ValueError(f"hole {i + 1} leaves the plate")
            for j, (x_other, y_other, radius_other) in enumerate(self.holes[:i]):
                if math.hypot(x - x_other, y - y_other) <= radius + radius_other:
                    raise ValueError(f"holes {j + 1} and {i + 1} overlap")
        return self


class MeshFile(Record):
    """A triangle mesh from STL, OBJ, PLY, GLB or STEP; its unit and up-axis must be declared."""

    file: str
    unit: Literal["m", "mm", "cm", "in", "ft"]
    up: Literal["z", "y"]

    @property
    def is_step(self) -> bool:
        """Whether it holds curved surfaces, of which triangles are made when it is read."""
        return self.file.casefold().endswith((".step", ".stp"))


SHAPES = ("truss", "box", "cylinder", "cone", "plate", "mesh")


class Shaped(Placed):
    """A placed thing with exactly one shape."""

    truss: Truss | None = None
    box: tuple[Length, Length, Length] | None = Field(
        default=None, description="full sizes along x, y, z, centred on its origin"
    )
    cylinder: Cylinder | None = None
    cone: Cone | None = None
    plate: Plate | None = None
    mesh: MeshFile | None = None

    @model_validator(mode="after")
    def _has_one_shape(self) -> Shaped:
        given = [name for name in SHAPES if getattr(self, name) is not None]
        if len(given) != 1:
            found = ", ".join(given) or "none"
            raise ValueError(f"needs exactly one shape of {', '.join(SHAPES)}; found {found}")
        if self.box is not None and min(self.box) <= 0:
            raise ValueError("box sizes must be greater than zero")
        return self

    @property
    def shape(self) -> str:
        """Name of the one shape given."""
        return next(name for name in SHAPES if getattr(self, name) is not None)


class Solid(Shaped):
    """Structure: hands, helmets and tools must stay clear of it and it hides what is behind."""

    title: str = ""
    reference_face: bool = Field(
        default=False, description="kept for reference; solid and drawn like any other"
    )
    kick_load: Force | None = Field(
        default=None, ge=0, description="the kick of a boot that it bears; not known if left out"
    )
    stand_off: Length | None = Field(
        default=None,
        ge=0,
        description="what is moved keeps so far from it; the payload's stand_off if left out",
    )
    temperature: Temperatures | None = Field(
        default=None, description="coldest and hottest that its surface gets; not known if left out"
    )


HazardKind = Literal[
    "no-touch", "keep-out", "sharp edge", "hot", "cold", "vent", "pinch", "stored energy", "shock"
]


class Hazard(Shaped):
    """A volume to stay away from by ``stand_off`` (m), at all times or while it is active."""

    title: str = ""
    kind: Literal[
        "no-touch",
        "keep-out",
        "sharp edge",
        "hot",
        "cold",
        "vent",
        "pinch",
        "stored energy",
        "shock",
    ]
    stand_off: Length = Field(default=0.0, ge=0)
    active: tuple[Span, ...] = Field(
        default=(), description="[from, to] since the start; always if left out"
    )
    kick_load: Force | None = Field(
        default=None, ge=0, description="the kick of a boot that it bears; not known if left out"
    )
    control: str = Field(
        default="", description="how it is controlled where it cannot be kept away from"
    )
