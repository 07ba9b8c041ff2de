"""Directions in the words of a scene: nadir, forward."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reach.model.procedure import Aside
from reach.model.scene import Scene

Array = NDArray[np.float64]

NEAR = 0.9
"""A direction is called by a heading when the cosine of the angle between them is above this."""

SAME = 1e-9


def aside_vector(scene: Scene, aside: Aside) -> Array:
    """Return how far and where the body is held aside, shape (3,), m, world."""
    if not isinstance(aside.toward, str):
        return aside.by * np.asarray(aside.toward)
    for name, heading in scene.headings.items():
        if aside.toward == name:
            return aside.by * np.asarray(heading.to)
        if aside.toward == heading.opposite:
            return -aside.by * np.asarray(heading.to)
    raise KeyError(aside.toward)


def aside_words(scene: Scene, aside: Array) -> str:
    """Return a side in words: ``0.55 m nadir``, ``straight out``."""
    by = float(np.linalg.norm(aside))
    if by < SAME:
        return "straight out"
    word, cosine = _nearest(scene, aside / by)
    if cosine < NEAR:
        word = "towards [" + ", ".join(f"{round(v / by, 2) + 0.0:.2f}" for v in aside) + "]"
    return f"{by:.2f} m {word}"


def toward_word(scene: Scene, aside: Array) -> str | tuple[float, float, float]:
    """Return the heading that a side points along exactly, else its direction."""
    unit = aside / np.linalg.norm(aside)
    word, cosine = _nearest(scene, unit)
    return word if cosine > 1.0 - SAME else (float(unit[0]), float(unit[1]), float(unit[2]))


def _nearest(scene: Scene, unit: Array) -> tuple[str, float]:
    """Return the heading nearest to a direction and the cosine of the angle between them."""
    best = ("", -2.0)
    for name, heading in scene.headings.items():
        cosine = float(unit @ np.asarray(heading.to))
        for word, value in ((name, cosine), (heading.opposite, -cosine)):
            if word and value > best[1]:
                best = (word, value)
    return best
