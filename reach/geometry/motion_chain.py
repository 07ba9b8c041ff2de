"""A chain of poses with a motion between each and the next."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from reach.geometry.motion import turn_between
from reach.geometry.queries import finite_points_of
from reach.geometry.sweeping import poses_of
from reach.geometry.tree import Floats

_AXES = np.vstack([np.zeros(3), np.eye(3)])


@dataclass(frozen=True, eq=False)
class Chain:
    """Motions from pose to pose.

    Attributes
    ----------
    poses : ndarray, shape (k, 4, 4), world_from_body
    about : ndarray, shape (3,), m, body
        The point that runs straight.
    motions : tuple of ndarray, one row a motion
        Rotation at its start, shape (k - 1, 3, 3); start and step of that
        point, (k - 1, 3), m, world; turning axis, (k - 1, 3), body; angle,
        (k - 1,), rad.
    """

    poses: Floats
    about: Floats
    motions: tuple[Floats, Floats, Floats, Floats, Floats]

    def placed(self, piece: int, time: float, points: Floats) -> Floats:
        """Return body points (n, 3) in the world (m) at a time from 0 to 1 of a motion."""
        world: Floats = self.placed_at(piece, np.array([time]), points)[0]
        return world

    def placed_at(self, piece: int, times: Floats, points: Floats) -> Floats:
        """Return body points (n, 3) in the world at times of a motion, shape (k, n, 3), m."""
        turn, origin, step, axis, angle = (x[piece] for x in self.motions)
        x, y, z = axis.tolist()
        across = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
        theta = (float(angle) * times)[:, None, None]
        spin = np.eye(3) + np.sin(theta) * across + (1.0 - np.cos(theta)) * (across @ across)
        there = (points - self.about) @ np.swapaxes(turn @ spin, 1, 2)
        world: Floats = there + (origin + times[:, None] * step)[:, None]
        return world

    def poses_at(self, piece: int, times: Floats) -> Floats:
        """Return world_from_body at times of a motion, shape (k, 4, 4)."""
        ends = self.placed_at(piece, times, _AXES)
        poses = np.tile(np.eye(4), (len(times), 1, 1))
        poses[:, :3, :3] = np.swapaxes(ends[:, 1:] - ends[:, :1], 1, 2)
        poses[:, :3, 3] = ends[:, 0]
        return poses


def one_pose(name: str, given: ArrayLike) -> Floats:
    """Return a single rigid pose, shape (1, 4, 4).

    Raises
    ------
    ValueError
        If it is not one pose, or not rigid.
    """
    pose = poses_of(name, given)
    if len(pose) != 1:
        raise ValueError(f"{name} must be one pose, not {len(pose)}")
    return pose


def steps_of(given: ArrayLike, about: ArrayLike) -> tuple[Floats, Floats]:
    """Return how far each motion of a path takes the point that runs straight, and its turn.

    Parameters
    ----------
    given : array_like, shape (k, 4, 4), world_from_body
    about : array_like, shape (k - 1, 3), m, body
        The point of each motion.

    Returns
    -------
    step : ndarray, shape (k - 1, 3), m, world
    angle : ndarray, shape (k - 1,), rad

    Raises
    ------
    ValueError
        If a pose is not finite or not rigid.
    """
    poses, points = poses_of("poses", given), np.asarray(about, dtype=np.float64)[:, :, None]
    if not np.isfinite(poses).all():
        raise ValueError("a pose is not finite")
    turn, place = np.ascontiguousarray(poses[:, :3, :3]), poses[:, :3, 3]
    start = (turn[:-1] @ points)[..., 0] + place[:-1]
    return (turn[1:] @ points)[..., 0] + place[1:] - start, turn_between(turn[:-1], turn[1:])[1]


def chain_of(given: ArrayLike, about: ArrayLike) -> Chain:
    """Return the motions between poses.

    Parameters
    ----------
    given : array_like, shape (k, 4, 4), world_from_body
    about : array_like, shape (3,), m, body

    Raises
    ------
    ValueError
        With fewer than two poses, or one that is not finite or not rigid.
    """
    poses = poses_of("poses", given)
    if len(poses) < 2:
        raise ValueError(f"a path needs two poses or more, not {len(poses)}")
    if not np.isfinite(poses).all():
        bad = int(np.flatnonzero(~np.isfinite(poses).all(axis=(1, 2)))[0])
        raise ValueError(f"pose {bad} is not finite: {poses[bad].tolist()}")
    centre = finite_points_of("about", about, 1)[0]
    turn = np.ascontiguousarray(poses[:, :3, :3])
    axis, angle = turn_between(turn[:-1], turn[1:])
    place = turn @ centre + poses[:, :3, 3]
    motions = (turn[:-1], place[:-1], np.diff(place, axis=0), axis, angle)
    return Chain(poses, centre, motions)
