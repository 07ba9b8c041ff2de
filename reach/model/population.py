"""Statistics of a surveyed population: means, standard deviations, percentiles, correlations."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.model.centres import JointCentres


@dataclass(frozen=True, slots=True, eq=False)
class Population:
    """Body dimensions of one sex, SI units (lengths m, mass kg).

    Attributes
    ----------
    sex : str
        ``"male"`` or ``"female"``.
    names : tuple of str, length n
        Dimension keys of the survey, for example ``"stature"``.
    mean, sd : ndarray, shape (n,)
    levels : ndarray, shape (k,)
        Percentile levels in percent.
    percentiles : ndarray, shape (n, k)
    correlation : ndarray, shape (n, n)
    n_people : int
    centres : JointCentres
        Where the joints of these people sit.
    """

    sex: str
    names: tuple[str, ...]
    mean: NDArray[np.float64]
    sd: NDArray[np.float64]
    levels: NDArray[np.float64]
    percentiles: NDArray[np.float64]
    correlation: NDArray[np.float64]
    n_people: int
    centres: JointCentres

    def index(self, name: str) -> int:
        """Return the position of a dimension; ValueError names the ones there are."""
        try:
            return self.names.index(name)
        except ValueError:
            raise ValueError(f"no dimension {name!r}; there are {', '.join(self.names)}") from None
