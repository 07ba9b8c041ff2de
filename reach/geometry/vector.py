"""Three-component vectors as tuples, which the compiler keeps in registers."""

from __future__ import annotations

from reach.geometry.compiled import inlined

Vector = tuple[float, float, float]


@inlined
def least(a: float, b: float) -> float:
    """Return the smaller; `b` if either is ``nan``.  One instruction, unlike ``min``."""
    return a if a < b else b


@inlined
def greatest(a: float, b: float) -> float:
    """Return the larger; `b` if either is ``nan``.  One instruction, unlike ``max``."""
    return a if a > b else b


@inlined
def plus(a: Vector, b: Vector) -> Vector:
    """Return ``a + b``."""
    return a[0] + b[0], a[1] + b[1], a[2] + b[2]


@inlined
def minus(a: Vector, b: Vector) -> Vector:
    """Return ``a - b``."""
    return a[0] - b[0], a[1] - b[1], a[2] - b[2]


@inlined
def along(a: Vector, t: float, u: Vector) -> Vector:
    """Return ``a + t u``."""
    return a[0] + t * u[0], a[1] + t * u[1], a[2] + t * u[2]


@inlined
def dot(a: Vector, b: Vector) -> float:
    """Return the scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


@inlined
def cross(a: Vector, b: Vector) -> Vector:
    """Return the vector product."""
    return (
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    )
