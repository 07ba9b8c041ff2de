"""Serial arms such as cranes: links with collision geometry, joints with limits and rates."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
JointKind = Literal["fixed", "revolute", "continuous", "prismatic"]
ShapeKind = Literal["box", "cylinder", "sphere", "mesh"]


@dataclass(frozen=True, eq=False, slots=True)
class LinkShape:
    """One piece of a link's collision geometry.

    Attributes
    ----------
    kind : str
        ``box``, ``cylinder`` (along z), ``sphere`` or ``mesh``; all but a mesh are centred.
    size : tuple of float, m
        Box: full sizes along x, y, z.  Cylinder: radius and length.  Sphere: radius.
        Empty for a mesh.
    link_from_shape : ndarray, shape (4, 4)
    triangles : ndarray, shape (n, 3, 3), m, shape frame
        Empty but for a mesh.
    """

    kind: ShapeKind
    size: tuple[float, ...]
    link_from_shape: Floats
    triangles: Floats = field(default_factory=lambda: np.empty((0, 3, 3)))


@dataclass(frozen=True, eq=False, slots=True)
class ArmLink:
    """A rigid piece of an arm; what hangs on it by fixed joints beside the chain counts to it."""

    name: str
    shapes: tuple[LinkShape, ...] = ()


@dataclass(frozen=True, eq=False, slots=True)
class ArmJoint:
    """What joins two links that follow each other.

    Attributes
    ----------
    name : str
    kind : str
        ``fixed``, ``revolute``, ``continuous`` (turns without end) or ``prismatic`` (slides).
    parent_from_joint : ndarray, shape (4, 4)
        Where the joint stands on the link nearer to the base.
    axis : ndarray, shape (3,), unit, joint frame
        Positive turns follow the right-hand rule.
    lower, upper : float, rad or m
        Infinite for a continuous joint, 0 for a fixed one.
    velocity : float, rad/s or m/s
        The highest rate; ``nan`` where the file gives none.
    effort : float, N m or N
        The highest torque or force; ``nan`` where the file gives none.
    """

    name: str
    kind: JointKind
    parent_from_joint: Floats
    axis: Floats
    lower: float = 0.0
    upper: float = 0.0
    velocity: float = float("nan")
    effort: float = float("nan")

    @property
    def moves(self) -> bool:
        """Whether the joint can be set."""
        return self.kind != "fixed"


@dataclass(frozen=True, eq=False, slots=True)
class Arm:
    """A serial arm: ``links[i]`` and ``links[i + 1]`` are joined by ``joints[i]``.

    Attributes
    ----------
    name : str
    links : tuple of ArmLink
        From the base to the tip.
    joints : tuple of ArmJoint
        One fewer than links.
    file : str
        Where it was read from, as shown; empty if made otherwise.
    sha256 : str
        Of the file's content.
    """

    name: str
    links: tuple[ArmLink, ...]
    joints: tuple[ArmJoint, ...]
    file: str = ""
    sha256: str = ""

    @property
    def moving(self) -> tuple[ArmJoint, ...]:
        """The joints that can be set, from the base on: what a posture has an entry for."""
        return tuple(joint for joint in self.joints if joint.moves)

    @property
    def base(self) -> str:
        """Name of the first link."""
        return self.links[0].name

    @property
    def tip(self) -> str:
        """Name of the last link: the boot plate, or what holds a payload."""
        return self.links[-1].name
