"""Crowd: invented people drawn from the survey, correlated as the surveyed people are.

Standard normal scores with the survey's correlations are mapped through the percentiles of
each dimension, so that skewed dimensions stay skewed; beyond the surveyed levels the normal
tail of the survey's SD goes on, as in `reach.worker.body.percentile_of`.

Bones alone make people too alike: thumb-tip reach, span and overhead reach are drawn *with*
the bones, and each person's shoulder offsets (wall, half, rise) take up the difference.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from reach.model.population import Population
from reach.model.population_draw import PopulationDraw
from reach.worker.body import AXIS, Body, percentile_body

Array = NDArray[np.float64]

ANCHORS = (5.0, 50.0, 95.0)
"""Percentile bodies that a crowd is compared with, and whose postures it tries first."""

_MIDDLE = (*AXIS, "thumbtipreach", "span")
"""Dimensions by which the person nearest to the middle is chosen."""


@dataclass(frozen=True, slots=True, eq=False)
class Crowd:
    """People drawn together.

    Attributes
    ----------
    asked : PopulationDraw
    bodies : tuple of Body
        In the order drawn.
    anchors : tuple of Body
        The percentile bodies `ANCHORS` of each sex in it.
    """

    asked: PopulationDraw
    bodies: tuple[Body, ...]
    anchors: tuple[Body, ...]

    @property
    def case(self) -> str:
        """How findings name the crowd, without a comma."""
        return self.asked.title.replace(", ", " ")

    @property
    def middle(self) -> Body:
        """The person nearest to the middle, labelled so."""
        body = self.bodies[middle_of(self.bodies)]
        return replace(body, label=f"{body.label}, nearest to the middle")


def crowd_of(asked: PopulationDraw, population_of: Callable[[str], Population]) -> Crowd:
    """Return the people of a draw with the percentile bodies they are compared with."""
    anchors = tuple(
        percentile_body(population_of(sex), level) for sex in asked.sexes for level in ANCHORS
    )
    return Crowd(asked, draw(asked, population_of), anchors)


def draw(asked: PopulationDraw, population_of: Callable[[str], Population]) -> tuple[Body, ...]:
    """Return the people of a draw; the first ones of a larger draw are the same.

    Parameters
    ----------
    asked : PopulationDraw
    population_of : callable
        Statistics of a sex.

    Examples
    --------
    >>> from reach.files.people import load_population
    >>> bodies = draw(PopulationDraw(n=3, seed=4), load_population)
    >>> [body.label for body in bodies]
    ['male no. 1 of 3', 'female no. 2 of 3', 'male no. 3 of 3']
    """
    sexes = asked.sexes
    dims = {}
    for sex in sexes:
        population = population_of(sex)
        names = population.names
        rows = drawn_dimensions(population, -(-asked.n // len(sexes)), asked.seed).tolist()
        dims[sex] = [dict(zip(names, row, strict=True)) for row in rows]
    return tuple(
        Body(
            sex=(sex := sexes[i % len(sexes)]),
            dims=dims[sex][i // len(sexes)],
            centres=population_of(sex).centres,
            label=f"{sex} no. {i + 1} of {asked.n}",
            has_own_reaches=True,
        )
        for i in range(asked.n)
    )


def drawn_dimensions(population: Population, n: int, seed: int) -> Array:
    """Return all dimensions of ``n`` people, shape (n, len(population.names)), m (mass in kg).

    Row k depends on the seed, the sex and k alone.
    """
    from scipy.special import ndtri  # takes long, and not every run needs it

    sex_number = sum(population.sex.encode())
    factor = np.linalg.cholesky(population.correlation)
    noise = np.random.default_rng([seed, sex_number]).standard_normal((n, len(population.names)))
    # One row at a time in a fixed order of sums: the same person however many are drawn.
    z = np.einsum("ij,kj->ik", noise, factor)
    at = ndtri(population.levels / 100.0)
    dims = np.empty_like(z)
    for i, sd in enumerate(population.sd):
        values = population.percentiles[i]
        dims[:, i] = np.interp(z[:, i], at, values)
        dims[:, i] += sd * (np.minimum(z[:, i] - at[0], 0.0) + np.maximum(z[:, i] - at[-1], 0.0))
    return dims


def middle_of(bodies: tuple[Body, ...]) -> int:
    """Return the index of the person nearest to the middle: least sum of squared z-scores."""
    table = np.array([[body.dims[name] for name in _MIDDLE] for body in bodies])
    spread = table.std(axis=0)
    z = (table - table.mean(axis=0)) / np.where(spread > 0.0, spread, 1.0)
    return int(np.argmin((z**2).sum(axis=1)))
