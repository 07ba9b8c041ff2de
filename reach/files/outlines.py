"""Faces with more than three corners, cut into triangles that cover them and nothing else.

A fan from the first corner covers more than a face with a dent, the hole of a window for one.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

LEAST = 3
"""Corners of a face."""
MOST_DENTED = 2000
"""Corners of a face with dents, of which each is looked at from each."""
WARPED = 1e-3
"""How far corners may lie beside the plane of their face, as a share of its size."""
CROSSES = "crosses itself"
THIN = ("with fewer than three corners", "left out")
NOT_FLAT = ("with corners beside its plane", "cut into triangles in one way of several")
"""What a note says of faces, and what is done about them."""
_QUAD, _OTHER = 4, ((3, 0, 1), (1, 2, 3))
"""Corners of a face that has two diagonals, and its triangles beside the second."""
_MEASURED = 1e100
_ALIKE = 1e-12
"""A share of a face's area that is no more than rounding."""


class OutlineError(ValueError):
    """An outline that cannot be cut into triangles; ``which`` of those asked."""

    def __init__(self, why: str, which: int) -> None:
        super().__init__(why)
        self.which = which


def in_triangles(
    points: NDArray[np.float64],
    where: NDArray[np.int64],
    sizes: NDArray[np.int64],
    lines: Sequence[int] = (),
) -> tuple[NDArray[np.int64], list[str]]:
    """Return the triangles of faces, and a note on those that are not flat.

    Parameters
    ----------
    points : ndarray, shape (n, 3)
    where : ndarray, shape (sum of sizes,)
        Which corners the faces have, one face after the other.
    sizes : ndarray, shape (m,)
        How many corners each has, three at least.
    lines : sequence of int, optional
        Where in its file each face is.

    Returns
    -------
    triangles : ndarray, shape (k, 3)
    notes : list of str

    Raises
    ------
    ValueError
        If a corner is not there, or a face cannot be cut.
    """
    starts = np.cumsum(sizes) - sizes
    found, warped = [np.empty((0, LEAST), np.int64)], []
    for size in np.unique(sizes):
        mine = np.flatnonzero(sizes == size)
        faces = where[starts[mine][:, None] + np.arange(size)]
        missing = ((faces < 0) | (faces >= len(points))).any(axis=1)
        if missing.any():
            at = _at(lines, int(mine[missing.argmax()]))
            raise ValueError(f"has faces with corners that are not there{at}; export it again")
        if size > LEAST:
            try:
                corners, is_warped = cut(points[faces])
            except OutlineError as error:
                at = _at(lines, int(mine[error.which]))
                raise ValueError(f"has a face that {error}{at}; export it as triangles") from None
            warped += mine[is_warped].tolist()
            faces = np.take_along_axis(faces[:, None, :], corners, axis=2).reshape(-1, LEAST)
        found.append(faces)
    told_in = [lines[k] for k in warped] if len(lines) else []
    return np.concatenate(found), told(NOT_FLAT, told_in, len(warped))


def _at(lines: Sequence[int], face: int) -> str:
    return f", in line {lines[face]}" if len(lines) else ""


def cut(outlines: NDArray[np.float64]) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Return the triangles of some faces, all with equally many corners.

    Parameters
    ----------
    outlines : ndarray, shape (n, k, 3)
        Corners, going round.

    Returns
    -------
    corners : ndarray, shape (n, k - 2, 3)
        Which corners of its face each triangle has, going round the same way.
    warped : ndarray, shape (n,)
        Whether a face is not flat: other triangles would serve as well.

    Raises
    ------
    OutlineError
        If an outline crosses itself, or has dents and too many corners.

    Examples
    --------
    >>> dart = np.array([[[0, 0, 0], [2, 2, 0], [4, 0, 0], [2, 3, 0]]], float)
    >>> cut(dart)[0].tolist()
    [[[3, 0, 1], [1, 2, 3]]]
    """
    n, k = outlines.shape[:2]
    # What is not finite, or beyond all measure, is refused by whoever asks; it may be cut anyhow.
    is_measured = np.isfinite(outlines) & (np.abs(outlines) < _MEASURED)
    outlines = np.where(is_measured.all(axis=(1, 2), keepdims=True), outlines, 0.0)
    later = np.arange(1, k - 1)
    fan = np.stack([np.zeros_like(later), later, later + 1], axis=-1)
    corners = np.broadcast_to(fan, (n, *fan.shape)).copy()
    arms = outlines - outlines[:, :1]
    areas = np.cross(arms[:, 1:-1], arms[:, 2:])  # twice, as vectors
    whole = areas.sum(axis=1)
    size = np.linalg.norm(whole, axis=-1)
    covered = np.linalg.norm(areas, axis=-1).sum(axis=1)
    across = np.linalg.norm(np.ptp(outlines, axis=1), axis=-1)
    # All corners in a line: which way such a face turns is rounding.
    has_area = covered > _ALIKE * across**2
    folded = (size <= _ALIKE * covered) & has_area
    if folded.any():
        raise OutlineError(CROSSES, int(folded.argmax()))
    normal = whole / np.where(size > 0.0, size, 1.0)[:, None]
    turns = np.einsum("nti,ni->nt", areas, normal)
    rounding = _ALIKE * size[:, None]
    dented = (turns < -rounding).any(axis=1) & has_area
    # Three corners in a line make no triangle, and leave a seam open to the face beside it.
    in_line = (turns <= rounding).any(axis=1) & has_area & (k <= MOST_DENTED)
    other = (dented | in_line) & (k == _QUAD)
    if other.any():
        # Both triangles beside the other diagonal face as the whole: they cover it, and no more.
        beside = np.cross(
            outlines[:, [0, 2]] - outlines[:, [3, 1]], outlines[:, [1, 3]] - outlines[:, [3, 1]]
        )
        other &= (np.einsum("nti,ni->nt", beside, normal) > rounding).all(axis=1)
        corners[other] = _OTHER
    for one in np.flatnonzero((dented | in_line) & ~other):
        if k > MOST_DENTED:
            raise OutlineError(
                f"has {k} corners and dents, {MOST_DENTED} corners at most", int(one)
            )
        found = _clipped(_flat(arms[one], normal[one]))
        if found is not None:
            corners[one] = found
        elif dented[one]:
            raise OutlineError(CROSSES, int(one))
    off = np.abs(np.einsum("nki,ni->nk", arms - arms.mean(axis=1, keepdims=True), normal))
    return corners, has_area & (off.max(axis=1) > WARPED * across)


def told(said: tuple[str, str], lines: Sequence[int], n: int | None = None) -> list[str]:
    """Return a note on some faces, none for none; without lines on how many there are.

    Examples
    --------
    >>> told(THIN, [12, 7])
    ['has 2 faces with fewer than three corners, the first in line 7: left out']
    """
    n = len(lines) if n is None else n
    if not n:
        return []
    what, so = said
    faces = f"{n} faces" if n > 1 else "a face"
    where = f", {'the first ' if n > 1 else ''}in line {min(lines)}" if lines else ""
    return [f"has {faces} {what}{where}: {so}"]


def _flat(points: NDArray[np.float64], normal: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return points in the plane, shape (k, 2), going round to the left."""
    aside = np.eye(3)[np.abs(normal).argmin()]
    first = np.cross(aside, normal)
    first /= np.linalg.norm(first)
    return np.stack([points @ first, points @ np.cross(normal, first)], axis=-1)


def _clipped(points: NDArray[np.float64]) -> list[tuple[int, int, int]] | None:
    """Return the triangles of an outline, corner by corner cut off; None where none can be."""
    least = _ALIKE * float(np.abs(_turn(points, np.roll(points, -1, axis=0), points[:1])).sum())
    left, found, begin = list(range(len(points))), [], 0
    while len(left) > 3:
        n = len(left)
        # What was no ear before most likely is none now: go on beside the last one.
        round_ = ((begin + j) % n for j in range(n))
        ear = next((i for i in round_ if _is_ear(points, left, i, least)), None)
        if ear is None:
            return None
        begin = max(ear - 1, 0)
        found.append((left[ear - 1], left[ear], left[(ear + 1) % len(left)]))
        del left[ear]
    a, b, c = left
    if _turn(points[a], points[b], points[c]) < -least:
        return None
    return [*found, (a, b, c)]


def _is_ear(points: NDArray[np.float64], left: list[int], i: int, least: float) -> bool:
    """Return whether a corner turns left and no other lies in the triangle with its neighbours."""
    a, b, c = (points[left[j % len(left)]] for j in (i - 1, i, i + 1))
    if _turn(a, b, c) <= least:
        return False
    others = points[left]
    # Outlines that go round a hole pass some corners twice: those are no others.
    others = others[~np.any([(others == one).all(axis=-1) for one in (a, b, c)], axis=0)]
    sides = [_turn(p, q, others) for p, q in ((a, b), (b, c), (c, a))]
    return not (np.min(sides, axis=0) >= -least).any()


def _turn(
    a: NDArray[np.float64], b: NDArray[np.float64], c: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return twice the area of triangles in the plane, positive where they go round to the left."""
    u, v = b - a, c - a
    return np.asarray(u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0])


__all__ = [
    "LEAST",
    "MOST_DENTED",
    "NOT_FLAT",
    "THIN",
    "WARPED",
    "OutlineError",
    "cut",
    "in_triangles",
    "told",
]
