"""Three-component vectors as tuples, which the compiler keeps in registers."""

from __future__ import annotations

from reach.geometry.compiled import compiled

Vector = tuple[float, float, float]


@compiled
def plus(a: Vector, b: Vector) -> Vector:
    """Return ``a + b``."""
    return a[0] + b[0], a[1] + b[1], a[2] + b[2]


@compiled
def minus(a: Vector, b: Vector) -> Vector:
    """Return ``a - b``."""
    return a[0] - b[0], a[1] - b[1], a[2] - b[2]


@compiled
def along(a: Vector, t: float, u: Vector) -> Vector:
    """Return ``a + t u``."""
    return a[0] + t * u[0], a[1] + t * u[1], a[2] + t * u[2]


@compiled
def dot(a: Vector, b: Vector) -> float:
    """Return the scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


@compiled
def cross(a: Vector, b: Vector) -> Vector:
    """Return the vector product."""
    return (
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    )
