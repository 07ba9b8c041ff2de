"""Body: one person's surveyed dimensions and the segment lengths that follow from them."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from reach.model.centres import JointCentres
from reach.model.population import Population

AXIS = (
    "stature",
    "acromialheight",
    "biacromialbreadth",
    "acromionradialelength",
    "radialestylionlength",
    "handlength",
    "chestdepth",
)
"""The dimensions whose first principal axis makes a percentile body."""

_NORMAL = NormalDist()
"""From the standard library: scipy's takes a quarter of a second to load, in every process."""

MAX_SD = 6.0
"""A measurement farther than this many SD from the mean is taken for a slip of the pen."""


@dataclass(frozen=True, slots=True)
class Links:
    """Segment lengths and heights of a barefoot standing body, m.

    Attributes
    ----------
    upper_arm, forearm, hand : float
        Shoulder centre to elbow to wrist to fingertip.
    grip, thumb : float
        Wrist to grip centre and to the pinched thumb tip.
    half : float
        Shoulder centre from the mid-plane.
    wall : float
        Shoulder centre ahead of a wall behind the back.
    rise : float
        Rise of the shoulder centre when the arm is straight up.
    ankle, hip, shoulder, eye : float
        Heights above the floor, arms hanging.
    """

    upper_arm: float
    forearm: float
    hand: float
    grip: float
    thumb: float
    half: float
    wall: float
    rise: float
    ankle: float
    hip: float
    shoulder: float
    eye: float


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """One person: all surveyed dimensions, in m (mass in kg).

    Attributes
    ----------
    sex : str
    dims : dict of str to float
    centres : JointCentres
        Where the joints sit, as shares of the dimensions.
    label : str
        How a report names this body.
    filled : tuple of str
        Dimensions that were not measured but taken from the survey, given the others.
    has_own_reaches : bool
        True makes thumb-tip reach, span and overhead reach those of ``dims``: wall, half and
        rise then take up what the bones leave, instead of their shares.
    """

    sex: str
    dims: Mapping[str, float]
    centres: JointCentres
    label: str
    filled: tuple[str, ...] = ()
    has_own_reaches: bool = False

    @property
    def links(self) -> Links:
        """The segment lengths and joint heights of this body."""
        d, c = self.dims, self.centres
        hand, upper, breadth = d["handlength"], d["acromionradialelength"], d["biacromialbreadth"]
        links = Links(
            upper_arm=upper * (1.0 - c.shoulder_below_acromion),
            forearm=d["radialestylionlength"],
            hand=hand,
            grip=c.wrist_to_grip * hand,
            thumb=c.wrist_to_thumb * hand,
            half=c.shoulder_from_midplane * breadth / 2.0,
            wall=c.wall_to_shoulder * breadth,
            rise=c.shoulder_rise * upper,
            ankle=d["lateralmalleolusheight"],
            hip=d["trochanterionheight"],
            shoulder=d["acromialheight"] - c.shoulder_below_acromion * upper,
            eye=d["stature"] - d["sittingheight"] + d["eyeheightsitting"],
        )
        return _with_own_reaches(links, d) if self.has_own_reaches else links


def overhead_reach(dims: Mapping[str, float]) -> float:
    """Return the standing overhead fingertip reach, m: legs as those between the two heights."""
    return dims["overheadfingertipreachsitting"] + dims["stature"] - dims["sittingheight"]


def _with_own_reaches(links: Links, dims: Mapping[str, float]) -> Links:
    """Set wall, half and rise so that the three surveyed reaches are those of ``dims``.

    A shoulder does not sink when the arm goes up: where the rise would be negative, the
    shoulder stands lower instead.
    """
    arm = links.upper_arm + links.forearm
    rise = overhead_reach(dims) - links.shoulder - arm - links.hand
    return replace(
        links,
        wall=dims["thumbtipreach"] - arm - links.thumb,
        half=0.5 * dims["span"] - arm - links.hand,
        rise=max(0.0, rise),
        shoulder=links.shoulder + min(0.0, rise),
    )


def percentile_body(population: Population, percentile: float) -> Body:
    """Return the body on the first principal axis whose stature is at ``percentile``.

    Percentiles of segments do not add, so no person has all of them at once.  This body
    goes along the direction in which people differ most (the first principal axis of the
    standardised dimensions `AXIS`) until its stature is at the percentile; what is not in
    `AXIS` takes its mean given those that are.

    Parameters
    ----------
    population : Population
    percentile : float, percent
        Within the levels of the survey, usually 1 to 99.

    Raises
    ------
    ValueError
        If the percentile lies outside the surveyed levels.

    Examples
    --------
    >>> from reach.files.people import load_population
    >>> body = percentile_body(load_population("male"), 95)
    >>> body.label, round(body.dims["stature"], 3), round(body.links.upper_arm, 3)
    ('male P95', 1.87, 0.319)
    """
    stature = _percentile(population, "stature", percentile)
    which = [population.index(name) for name in AXIS]
    correlation = population.correlation[np.ix_(which, which)]
    axis = np.linalg.eigh(correlation)[1][:, -1]
    at = which[0]
    z_stature = (stature - population.mean[at]) / population.sd[at]
    z = _given(population, which, z_stature * axis / axis[0])
    dims = dict(zip(population.names, (population.mean + z * population.sd).tolist(), strict=True))
    dims["stature"] = stature
    return Body(
        sex=population.sex,
        dims=_with_heights(dims, population.centres, measured=()),
        centres=population.centres,
        label=f"{population.sex} P{percentile:g}",
    )


def measured_body(
    population: Population, measurements: Mapping[str, float], label: str = "measured"
) -> Body:
    """Return a person with the given ``measurements`` (m; mass in kg).

    Dimensions that were not measured take their mean over people with these measurements;
    their names are in ``filled``.

    Raises
    ------
    ValueError
        Listing every unknown dimension, with the nearest known one, and every value
        farther than `MAX_SD` standard deviations from the mean.

    Examples
    --------
    >>> from reach.files.people import load_population
    >>> body = measured_body(load_population("female"), {"stature": 1.70, "span": 1.72})
    >>> round(body.dims["handlength"], 3), "handlength" in body.filled
    (0.187, True)
    """
    problems = _problems(population, measurements)
    if problems:
        raise ValueError("; ".join(problems))
    which = [population.index(name) for name in measurements]
    values = np.array([float(value) for value in measurements.values()])
    z = _given(population, which, (values - population.mean[which]) / population.sd[which])
    dims = dict(zip(population.names, (population.mean + z * population.sd).tolist(), strict=True))
    dims.update({name: float(value) for name, value in measurements.items()})
    return Body(
        sex=population.sex,
        dims=_with_heights(dims, population.centres, measured=measurements),
        centres=population.centres,
        label=label,
        filled=tuple(name for name in population.names if name not in measurements),
    )


def _with_heights(
    dims: dict[str, float], centres: JointCentres, measured: Iterable[str]
) -> dict[str, float]:
    """Set ankle and hip heights to their share of stature unless they were measured."""
    shares = {
        "lateralmalleolusheight": centres.ankle_height,
        "trochanterionheight": centres.hip_height,
    }
    known = set(measured)
    return dims | {k: share * dims["stature"] for k, share in shares.items() if k not in known}


def _given(population: Population, which: list[int], z: NDArray[np.float64]) -> NDArray[np.float64]:
    """Standardised mean of all dimensions over people whose dimensions ``which`` are ``z``."""
    if not which:
        return np.zeros(len(population.names))
    known = population.correlation[np.ix_(which, which)]
    mean = population.correlation[:, which] @ np.linalg.lstsq(known, z, rcond=None)[0]
    mean[which] = z
    return np.asarray(mean, np.float64)


def _percentile(population: Population, name: str, percentile: float) -> float:
    levels = population.levels
    if not levels[0] <= percentile <= levels[-1]:
        raise ValueError(
            f"percentile must be within {levels[0]:g} to {levels[-1]:g}, found {percentile!r}"
        )
    values = population.percentiles[population.index(name)]
    return float(np.interp(_NORMAL.inv_cdf(percentile / 100.0), _normal_of(levels), values))


def _normal_of(levels: NDArray[np.float64]) -> NDArray[np.float64]:
    """How many SD from the mean of a normal distribution so many percent lie at or below."""
    return np.array([_NORMAL.inv_cdf(level / 100.0) for level in levels])


def percentile_of(population: Population, name: str, value: float) -> float:
    """Return the share of people, in percent, with the dimension at or below ``value``.

    Outside the surveyed levels the normal tail of the survey's SD goes on.

    Examples
    --------
    >>> from reach.files.people import load_population
    >>> round(percentile_of(load_population("male"), "stature", 1.755), 6)
    50.0
    """
    i = population.index(name)
    at, values, sd = _normal_of(population.levels), population.percentiles[i], population.sd[i]
    if value < values[0]:
        z = at[0] + (value - values[0]) / sd
    elif value > values[-1]:
        z = at[-1] + (value - values[-1]) / sd
    else:
        z = np.interp(value, values, at)
    return float(100.0 * _NORMAL.cdf(z))


def _problems(population: Population, measurements: Mapping[str, float]) -> list[str]:
    problems = []
    for name, value in measurements.items():
        if name not in population.names:
            near = difflib.get_close_matches(name, population.names, n=1, cutoff=0.0)
            problems.append(f"no dimension {name!r}, the nearest is {near[0]!r}")
            continue
        i = population.index(name)
        low = population.mean[i] - MAX_SD * population.sd[i]
        high = population.mean[i] + MAX_SD * population.sd[i]
        if not low <= value <= high:
            unit = "kg" if name == "weightkg" else "m"
            problems.append(
                f"{name} must be within {low:.3f} to {high:.3f} {unit}, found {value!r}"
            )
    return problems
