"""Serial arms from URDF, the open robot format: read into records, every problem at once.

Read are links with their collision geometry and joints with their limits, as the XML
specification of the format has them (wiki.ros.org/urdf/XML, link and joint; from memory).
Visuals, masses, materials, transmissions and what simulators add are passed over.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

from reach.files.marked import read_marked
from reach.files.places import inside
from reach.files.problem import InputError, Problem, in_file_order, unknown
from reach.files.shipped import shipped_path
from reach.files.toml import read_bytes
from reach.files.urdf_chain import chain_of
from reach.files.urdf_parts import Reader
from reach.model.arm import Arm


def load_arm(path: str | Path, tip: str | None = None) -> Arm:
    """Return the serial arm of a URDF file.

    Parameters
    ----------
    path : str or Path
        Mesh files are looked for in its folder and below only.
    tip : str, optional
        The last link of the chain; the only end of the tree where it is not given.  The
        base is the one link that is nobody's child.

    Returns
    -------
    arm : Arm

    Raises
    ------
    InputError
        With every problem of the file.
    """
    file = Path(path)
    shown = f"{file.resolve().parent.name}/{file.name}"
    content = read_bytes(file, shown)
    root = read_marked(content, shown)
    if root.name != "robot":
        message = f"begins with <{root.name}>, not with <robot>: this is not URDF"
        raise InputError([Problem(shown, "", root.line, message)])
    reader = Reader(shown, file.parent)
    parts = reader.read(root)
    chain = chain_of(parts, tip, shown, reader.problems)
    if reader.problems or chain is None:
        raise InputError(in_file_order(reader.problems))
    links, joints = chain
    name = root.attributes.get("name", file.stem)
    return Arm(name, links, joints, shown, hashlib.sha256(content).hexdigest())


def arm_of(name: str, tip: str | None, folder: Path) -> Arm:
    """Return the arm that a scene names: ``shipped:<name>``, or a file of the scene's folder.

    Raises
    ------
    InputError
        With every problem of the file.
    ValueError
        If the file is not inside the folder.
    """
    kind, mark, rest = name.partition(":")
    if mark and kind == "shipped":
        return shipped_arm(rest, tip)
    return load_arm(inside(folder, name), tip)


def shipped_arm(name: str, tip: str | None = None) -> Arm:
    """Return an arm that comes with the package, by the name of its file.

    Raises
    ------
    InputError
        If there is none of that name; the message names the nearest.

    Examples
    --------
    >>> arm = shipped_arm("brackenfall")
    >>> len(arm.moving), arm.tip
    (7, 'boot_plate')
    """
    names = sorted(file.stem for file in shipped_path("cranes").glob("*.urdf"))
    if name not in names:
        raise InputError([Problem("", "", None, unknown("crane", name, names))])
    return load_arm(shipped_path("cranes", f"{name}.urdf"), tip)
