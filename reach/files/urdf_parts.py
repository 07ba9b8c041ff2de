"""The links and joints of a URDF file, each by itself; problems are gathered, not raised."""

from __future__ import annotations

import math
import os
from dataclasses import dataclass, replace
from difflib import get_close_matches
from pathlib import Path
from typing import cast

import numpy as np
from numpy.typing import NDArray

from reach.files.marked import Element
from reach.files.meshes import read_mesh
from reach.files.problem import Problem, unknown
from reach.model.arm import ArmJoint, ArmLink, JointKind, LinkShape
from reach.model.shapes import MeshFile

Floats = NDArray[np.float64]

KINDS = ("fixed", "revolute", "continuous", "prismatic")
_LIMITED = ("revolute", "prismatic")
_SIZES = {"box": ("size",), "cylinder": ("radius", "length"), "sphere": ("radius",)}
_READ = {
    "robot": ("link", "joint"),
    "link": ("collision",),
    "collision": ("origin", "geometry"),
    "joint": ("origin", "parent", "child", "axis", "limit", "mimic"),
}
"""What is read below an element; all else is passed over."""
_ONCE = ("origin", "geometry", "parent", "child", "axis", "limit")
_KEYS = {
    "origin": ("xyz", "rpy"),
    "axis": ("xyz",),
    "limit": ("lower", "upper", "velocity", "effort", "acceleration", "deceleration", "jerk"),
    "parent": ("link",),
    "child": ("link",),
    "mesh": ("filename", "scale"),
    **_SIZES,
}
"""Attributes that the format has; of the last three of a limit nothing is asked."""
_ALIKE = 0.75
"""Share of letters in common from which an element is meant for one that is read."""
_SHORTEST_AXIS = 1e-9
"""An axis shorter than this is a slip of the pen, not a direction."""


@dataclass(frozen=True, slots=True)
class ReadJoint:
    """A joint with the names of the links it joins and its line."""

    joint: ArmJoint
    parent: str
    child: str
    line: int


@dataclass(frozen=True, slots=True)
class Parts:
    """What stands in a file: links by name with their lines, joints in file order."""

    links: dict[str, ArmLink]
    lines: dict[str, int]
    joints: list[ReadJoint]
    line: int


class Reader:
    """Reads one file; what is wrong is kept in ``problems``."""

    def __init__(self, file: str, folder: Path) -> None:
        self.file = file
        self.folder = folder
        self.problems: list[Problem] = []

    def wrong(self, place: str, line: int, message: str) -> None:
        """Keep a problem."""
        self.problems.append(Problem(self.file, place, line, message))

    def read(self, root: Element) -> Parts:
        """Return the links and joints below <robot>."""
        self._check(root, "")
        links: dict[str, ArmLink] = {}
        lines: dict[str, int] = {}
        for element in root.all("link"):
            link = self._link(element, f"link[{len(lines)}]")
            if link.name in links:
                self.wrong(link.name, element.line, f"is a second link called {link.name!r}")
            links[link.name], lines[link.name] = link, element.line
        if not links:
            self.wrong("", root.line, "holds no <link>")
        joints: list[ReadJoint] = []
        for n, element in enumerate(root.all("joint")):
            read = self._joint(element, f"joint[{n}]", links)
            if read and any(read.joint.name == other.joint.name for other in joints):
                message = f"is a second joint called {read.joint.name!r}"
                self.wrong(read.joint.name, element.line, message)
            joints += [read] if read else []
        return Parts(links, lines, joints, root.line)

    def _check(self, element: Element, place: str) -> None:
        """Note what would be passed over though it is meant to be read, and what is there twice."""
        place = element.attributes.get("name", "").strip() or place
        known, seen = _READ.get(element.name, ()), set[str]()
        for child in element.children:
            if child.name not in known:
                near = get_close_matches(child.name.casefold(), known, n=1, cutoff=_ALIKE)
                if near:
                    message = f"unknown element <{child.name}>; did you mean <{near[0]}>?"
                    self.wrong(place, child.line, message)
                if element.name != "geometry":
                    continue
            if child.name in seen and child.name in _ONCE:
                self.wrong(place, child.line, f"has a second <{child.name}>")
            seen.add(child.name)
            for key in child.attributes:
                if child.name in _KEYS and key not in _KEYS[child.name] and ":" not in key:
                    message = unknown("attribute", key, _KEYS[child.name])
                    self.wrong(place, child.line, f"<{child.name}>: {message}")
            if element.name != "geometry":
                self._check(child, place)

    def _name(self, element: Element, otherwise: str) -> str:
        name = element.attributes.get("name", "").strip()
        if not name:
            self.wrong(otherwise, element.line, f"<{element.name}> has no name")
        return name or otherwise

    def _link(self, element: Element, otherwise: str) -> ArmLink:
        name = self._name(element, otherwise)
        shapes = [self._shape(each, name) for each in element.all("collision")]
        return ArmLink(name, tuple(shape for shape in shapes if shape is not None))

    def _shape(self, element: Element, link: str) -> LinkShape | None:
        place = f"{link}.collision"
        pose = self._origin(element, place)
        geometry = element.first("geometry")
        given = [each for each in geometry.children if each] if geometry else []
        if len(given) != 1:
            self.wrong(place, element.line, "needs one shape in its <geometry>")
            return None
        shape = given[0]
        if shape.name == "mesh":
            return self._mesh(shape, place, pose)
        if shape.name not in _SIZES:
            names = [*_SIZES, "mesh"]
            self.wrong(place, shape.line, unknown("shape", shape.name, names))
            return None
        size: list[float] = []
        for key in _SIZES[shape.name]:
            size += self._numbers(shape, key, place, 3 if shape.name == "box" else 1) or [math.nan]
        if any(value <= 0.0 for value in size):
            self.wrong(place, shape.line, f"a {shape.name} needs sizes above zero, found {size}")
        return LinkShape(shape.name, tuple(size), pose)  # type: ignore[arg-type]

    def _mesh(self, element: Element, place: str, pose: Floats) -> LinkShape | None:
        name = element.attributes.get("filename", "").strip()
        scale = self._numbers(element, "scale", place, 3, [1.0, 1.0, 1.0]) or [1.0, 1.0, 1.0]
        if 0.0 in scale:
            self.wrong(place, element.line, f"scale needs numbers other than zero, found {scale}")
        reason = self._out_of_bounds(name)
        declared = MeshFile(file=name, unit="m", up="z")
        if reason is None and declared.is_step:
            reason = "is a STEP file, which is not read for a link; export it as STL in m"
        if reason is None:
            try:
                read = read_mesh(self.folder / name, declared)
                # Of a link nobody is told what is left out, and its cover would be too small.
                if not read.left_out:
                    return LinkShape("mesh", (), pose, read.triangles * np.array(scale))
                reason = f"{read.left_out[0]}; export it again"
            except FileNotFoundError:
                reason = "is not there"
            except (OSError, ValueError) as error:
                reason = str(error)
        self.wrong(place, element.line, f"mesh {name!r} {reason}")
        return None

    def _out_of_bounds(self, name: str) -> str | None:
        if not name:
            return "has no file name; write filename = '...'"
        if "://" in name:
            return "is named by an address; name it from the folder of this file"
        path = (self.folder / name).resolve()
        if not path.is_relative_to(self.folder.resolve()):
            return "lies outside the folder of this file, where nothing is read"
        # Unlike Path.is_file() this one says no to a name too long for any file.
        return None if os.path.isfile(path) else "is not there"

    def _joint(
        self, element: Element, otherwise: str, links: dict[str, ArmLink]
    ) -> ReadJoint | None:
        name = self._name(element, otherwise)
        kind = element.attributes.get("type", "")
        if kind not in KINDS:
            message = unknown("joint type", kind, KINDS) if kind else "has no type"
            self.wrong(name, element.line, message)
            kind = "fixed"
        if (mimic := element.first("mimic")) is not None:
            self.wrong(name, mimic.line, "follows another joint (mimic), which is not read")
        ends = [self._end(element, key, name, links) for key in ("parent", "child")]
        joint = ArmJoint(
            name,
            cast(JointKind, kind),
            self._origin(element, name),
            self._axis(element, name) if kind != "fixed" else np.array([1.0, 0.0, 0.0]),
        )
        joint = self._limited(element, joint)
        if ends[0] is None or ends[1] is None:
            return None
        return ReadJoint(joint, ends[0], ends[1], element.line)

    def _end(self, element: Element, key: str, joint: str, links: dict[str, ArmLink]) -> str | None:
        end = element.first(key)
        name = end.attributes.get("link", "") if end else ""
        if end is None or not name:
            self.wrong(joint, (end or element).line, f"names no {key} link")
            return None
        if name not in links:
            self.wrong(joint, end.line, unknown("link", name, links))
            return None
        return name

    def _limited(self, element: Element, joint: ArmJoint) -> ArmJoint:
        """Return the joint with its limits; URDF asks for them where there is an end."""
        limit = element.first("limit")
        if joint.kind == "fixed":
            return joint
        if limit is None:
            if joint.kind in _LIMITED:
                self.wrong(joint.name, element.line, f"is {joint.kind} and has no <limit>")
            return replace(joint, lower=-math.inf, upper=math.inf)
        velocity, effort = (self._number(limit, key, joint.name) for key in ("velocity", "effort"))
        for key, value in (("velocity", velocity), ("effort", effort)):
            if value <= 0.0:
                self.wrong(joint.name, limit.line, f"{key} must be above zero, found {value:g}")
        lower, upper = -math.inf, math.inf
        if joint.kind in _LIMITED:
            lower, upper = (self._number(limit, key, joint.name) for key in ("lower", "upper"))
        if lower > upper:
            message = f"lower {lower:g} is above upper {upper:g}"
            self.wrong(joint.name, limit.line, message)
        return replace(joint, lower=lower, upper=upper, velocity=velocity, effort=effort)

    def _axis(self, element: Element, name: str) -> Floats:
        given = element.first("axis")
        along = [1.0, 0.0, 0.0]  # what the format has where none is written
        if given is not None:
            along = self._numbers(given, "xyz", name, 3, along) or along
        length = math.hypot(*along)
        if length < _SHORTEST_AXIS:
            self.wrong(name, (given or element).line, f"its axis has zero length: {along}")
            return np.array([1.0, 0.0, 0.0])
        return np.array(along) / length

    def _origin(self, element: Element, place: str) -> Floats:
        """Return the pose of <origin>: rpy turns about the fixed x, then y, then z."""
        pose = np.eye(4)
        origin = element.first("origin")
        if origin is None:
            return pose
        zero = [0.0, 0.0, 0.0]
        pose[:3, 3] = self._numbers(origin, "xyz", place, 3, zero) or zero
        roll, pitch, yaw = self._numbers(origin, "rpy", place, 3, zero) or zero
        (cr, sr), (cp, sp), (cy, sy) = ((math.cos(a), math.sin(a)) for a in (roll, pitch, yaw))
        pose[:3, :3] = [
            [cy * cp, cy * sp * sr - sy * cr, cy * sp * cr + sy * sr],
            [sy * cp, sy * sp * sr + cy * cr, sy * sp * cr - cy * sr],
            [-sp, cp * sr, cp * cr],
        ]
        return pose

    def _number(self, element: Element, key: str, place: str) -> float:
        """Return one number that must be there; nan, with a problem kept, where it is not."""
        return (self._numbers(element, key, place, 1) or [math.nan])[0]

    def _numbers(
        self, element: Element, key: str, place: str, n: int, otherwise: list[float] | None = None
    ) -> list[float] | None:
        text = element.attributes.get(key)
        if text is None:
            if otherwise is None:
                self.wrong(place, element.line, f"<{element.name}> has no {key}")
            return otherwise
        try:
            values = [] if "_" in text else [float(word) for word in text.split()]
        except ValueError:
            values = []
        if len(values) != n or not np.isfinite(values).all():
            wanted = f"needs {n} number{'s' if n > 1 else ''}"
            self.wrong(place, element.line, f"{key} {wanted}, found {text!r}")
            return otherwise
        return values
