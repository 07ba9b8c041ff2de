"""Rigid poses as (4, 4) arrays, named ``a_from_b``: neighbours cancel left to right.

``world_from_socket @ socket_from_feet`` takes feet coordinates to the world.
Rotations follow the right-hand rule; angles are radians.  Nothing is
normalised behind the caller's back except where a docstring says so.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def rotation_about(axis: ArrayLike, angle: float) -> Floats:
    """Return the rotation by `angle` about an axis through the origin.

    Parameters
    ----------
    axis : array_like, shape (3,)
        Of any length but zero.
    angle : float, rad
        Positive by the right-hand rule.

    Returns
    -------
    rotation : ndarray, shape (3, 3)

    Raises
    ------
    ValueError
        If the axis has no direction.

    Examples
    --------
    >>> rotation_about([0, 0, 2], np.pi / 2).round(3) @ [1, 0, 0]
    array([0., 1., 0.])
    """
    x, y, z = _unit("axis", axis)
    s, c = np.sin(angle), np.cos(angle)
    skew = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    # 1 - cos without cancellation: small turns stay orthonormal to the last digit.
    versine = 2.0 * np.sin(0.5 * angle) ** 2
    outer = np.array([[x * x, x * y, x * z], [x * y, y * y, y * z], [x * z, y * z, z * z]])
    rotation: Floats = c * np.eye(3) + s * skew + versine * outer
    return rotation


def rotation_x(angle: float) -> Floats:
    """Return the rotation by `angle` (rad) about x, shape (3, 3): y turns towards z."""
    return rotation_about((1.0, 0.0, 0.0), angle)


def rotation_y(angle: float) -> Floats:
    """Return the rotation by `angle` (rad) about y, shape (3, 3): z turns towards x."""
    return rotation_about((0.0, 1.0, 0.0), angle)


def rotation_z(angle: float) -> Floats:
    """Return the rotation by `angle` (rad) about z, shape (3, 3): x turns towards y."""
    return rotation_about((0.0, 0.0, 1.0), angle)


def pose_of(rotation: ArrayLike, translation: ArrayLike) -> Floats:
    """Return ``a_from_b`` from b's axes and origin, both seen in a.

    Parameters
    ----------
    rotation : array_like, shape (3, 3)
        Columns are the axes of b in a.
    translation : array_like, shape (3,), m, in a
        Origin of b.

    Returns
    -------
    a_from_b : ndarray, shape (4, 4)
    """
    pose = np.eye(4)
    pose[:3, :3] = rotation
    pose[:3, 3] = translation
    return pose


def inverse(pose: ArrayLike) -> Floats:
    """Return ``b_from_a`` of a rigid ``a_from_b``, shape (4, 4) each."""
    given = np.asarray(pose, dtype=np.float64)
    back = given[:3, :3].T
    return pose_of(back, -back @ given[:3, 3])


def transform_points(pose: ArrayLike, points: ArrayLike) -> Floats:
    """Return points of b as points of a.

    Parameters
    ----------
    pose : array_like, shape (4, 4)
        ``a_from_b``.
    points : array_like, shape (..., 3), m, in b

    Returns
    -------
    points : ndarray, shape (..., 3), m, in a
    """
    given = np.asarray(pose, dtype=np.float64)
    moved: Floats = np.asarray(points, dtype=np.float64) @ given[:3, :3].T + given[:3, 3]
    return moved


def transform_directions(pose: ArrayLike, directions: ArrayLike) -> Floats:
    """Return directions of b as directions of a: turned, not moved.

    Parameters
    ----------
    pose : array_like, shape (4, 4)
        ``a_from_b``.
    directions : array_like, shape (..., 3), in b

    Returns
    -------
    directions : ndarray, shape (..., 3), in a
    """
    given = np.asarray(pose, dtype=np.float64)
    turned: Floats = np.asarray(directions, dtype=np.float64) @ given[:3, :3].T
    return turned


def frame_from_axes(z: ArrayLike, x: ArrayLike) -> Floats:
    """Return the rotation whose z axis is `z` and whose x axis lies towards `x`.

    Parameters
    ----------
    z : array_like, shape (3,)
        Direction of the third column, of any length but zero.
    x : array_like, shape (3,)
        Direction of the first column once its part along `z` is taken away.

    Returns
    -------
    rotation : ndarray, shape (3, 3)

    Raises
    ------
    ValueError
        If an axis has no direction or the two are parallel.

    Examples
    --------
    >>> frame_from_axes([0, 0, 2], [1, 0, 5])
    array([[1., 0., 0.],
           [0., 1., 0.],
           [0., 0., 1.]])
    """
    up = _unit("z", z)
    side = _unit("x", x)
    across = np.cross(up, side)
    if np.linalg.norm(across) < 1e-9:
        raise ValueError(f"z {np.asarray(z).tolist()} and x {np.asarray(x).tolist()} are parallel")
    y = across / np.linalg.norm(across)
    return np.column_stack([np.cross(y, up), y, up])


def angle_between(a: ArrayLike, b: ArrayLike) -> Floats:
    """Return the angle between two directions, accurate near 0 and near pi too.

    Parameters
    ----------
    a, b : array_like, shape (..., 3)
        Of any length; they broadcast.

    Returns
    -------
    angle : ndarray, shape (...), rad
        From 0 to pi.  ``nan`` for a direction without length.

    Notes
    -----
    Kahan's form, ``2 atan2(|a' - b'|, |a' + b'|)`` of the unit vectors.

    Examples
    --------
    >>> float(angle_between([1, 0, 0], [0, 3, 0])) == np.pi / 2
    True
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        u = np.asarray(a, dtype=np.float64)
        v = np.asarray(b, dtype=np.float64)
        u = u / np.linalg.norm(u, axis=-1, keepdims=True)
        v = v / np.linalg.norm(v, axis=-1, keepdims=True)
    apart = np.linalg.norm(u - v, axis=-1)
    together = np.linalg.norm(u + v, axis=-1)
    return np.asarray(2.0 * np.arctan2(apart, together))


def mirrored_pose(pose: ArrayLike) -> Floats:
    """Return the pose seen in a mirror in the plane y = 0, shape (4, 4).

    ``M pose M`` with ``M = diag(1, -1, 1, 1)``: left becomes right, and the
    result is a rotation again.
    """
    mirror = np.diag([1.0, -1.0, 1.0, 1.0])
    mirrored: Floats = mirror @ np.asarray(pose, dtype=np.float64) @ mirror
    return mirrored


def _unit(name: str, given: ArrayLike) -> Floats:
    axis = np.asarray(given, dtype=np.float64)
    if axis.shape != (3,):
        raise ValueError(f"{name} must have shape (3,), not {axis.shape}")
    length = np.linalg.norm(axis)
    if not (0.0 < length < np.inf):
        raise ValueError(f"{name} has no direction: {axis.tolist()}")
    unit: Floats = axis / length
    return unit
