"""Body statistics, joint centres and suits from the shipped model files."""

from __future__ import annotations

import csv
import hashlib
import tomllib
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from reach.files.lines import Place, dotted
from reach.files.problem import InputError, Problem
from reach.files.records import read_record
from reach.files.shipped import shipped_path
from reach.model.centres import JointCentres
from reach.model.population import Population
from reach.model.population_draw import PopulationDraw
from reach.model.provenance import Provenance, SourceMark
from reach.model.suit import Suit

SEXES = ("male", "female")
_MM = 1e-3
_TENTH_KG = 0.1


@cache
def load_population(sex: str) -> Population:
    """Return the survey statistics of one sex in SI units (lengths m, mass kg).

    Raises
    ------
    ValueError
        If the sex is not one of `SEXES`.

    Examples
    --------
    >>> male = load_population("male")
    >>> float(male.mean[male.index("stature")].round(4))
    1.7562
    """
    if sex not in SEXES:
        raise ValueError(f"no population {sex!r}; there are {', '.join(SEXES)}")
    header, *rows = _rows(shipped_path("people", f"{sex}-statistics.csv"))
    names = tuple(row[0] for row in rows)
    table = np.array([row[1:] for row in rows], float)
    unit = np.array([_TENTH_KG if name == "weightkg" else _MM for name in names])
    return Population(
        sex=sex,
        names=names,
        mean=table[:, 1] * unit,
        sd=table[:, 2] * unit,
        levels=np.array([float(column[1:]) for column in header[4:]]),
        percentiles=table[:, 3:] * unit[:, None],
        correlation=_correlation(shipped_path("people", f"{sex}-correlation.csv"), names),
        n_people=int(table[0, 0]),
        centres=load_joint_centres(sex),
    )


@cache
def load_joint_centres(sex: str) -> JointCentres:
    """Return the shipped joint centres of one sex."""
    with shipped_path("people", "joint-centres.toml").open("rb") as file:
        table = tomllib.load(file)
    shares = {
        name: value[sex] if isinstance(value, dict) else value
        for name, value in table["shares"].items()
    }
    idle = {f"idle_{name}": value for name, value in table["idle_arm"].items()}
    return JointCentres(**shares, **idle, sources=table["sources"])


SURVEY = Provenance(
    source="ANSUR II survey of US Army personnel, measured 2010-2012 (report NATICK/TR-15/007)",
    place="statistics and correlations computed from the public data",
    mark=SourceMark.PUBLISHED,
)


DRAWN = Provenance(
    source="invented people, drawn by this project from the survey's statistics",
    place="correlated normal scores mapped through the surveyed percentiles",
    mark=SourceMark.DERIVED,
)


def draw_of(text: str | int, said: str = "population") -> PopulationDraw:
    """Return a draw of people as it is typed: a number, or "n=1000, sex=mixed, seed=1".

    Parameters
    ----------
    text : str or int
    said : str
        Where it was typed, for problems.

    Raises
    ------
    InputError
        With every problem, the nearest right key or sex with it.

    Examples
    --------
    >>> draw_of("1000").sex, draw_of("n=20, sex=female, seed=3").seed
    ('mixed', 3)
    """

    def report(place: Place, message: str) -> Problem:
        return Problem(said, dotted(place), None, message)

    problems: list[Problem] = []
    data: dict[str, object] = {}
    for part in str(text).strip().strip("{}").split(","):
        key, equals, value = (piece.strip() for piece in part.partition("="))
        if not equals:
            key, value = "n", key
        if key in data:
            problems.append(report((key,), "is given twice"))
        data[key] = _plain(value)
    found = read_record(PopulationDraw, data, report, problems)
    if found is None or problems:
        raise InputError(problems)
    return found


def _plain(text: str) -> object:
    bare = text.strip("'\"")
    for kind in (int, float):
        try:
            return kind(bare)
        except ValueError:
            continue
    return bare


def people_values(sex: str) -> list[tuple[str, str, Provenance]]:
    """Return what bodies of one sex rest on: (path, value in words, source)."""
    population = load_population(sex)
    values = [
        (
            f"people.{sex}",
            f"{len(population.names)} dimensions of {population.n_people} people",
            SURVEY,
        )
    ]
    centres = population.centres
    for name in (field for field in vars(centres) if field != "sources"):
        source = centres.sources.get(name.replace("_upper_arm", "_arm").replace("_forearm", "_arm"))
        shown = getattr(centres, name)
        values.append((f"people.{sex}.{name}", str(shown), source or centres.sources["*"]))
    return values


def people_files(sex: str) -> dict[str, str]:
    """Return the files that bodies of one sex come from, as shown, with their sha256."""
    names = (f"{sex}-statistics.csv", f"{sex}-correlation.csv", "joint-centres.toml")
    return {
        f"models/people/{name}": hashlib.sha256(
            shipped_path("people", name).read_bytes()
        ).hexdigest()
        for name in names
    }


@cache
def load_suits() -> dict[str, Suit]:
    """Return the shipped suits by name; working clothes are one of them."""
    with shipped_path("suits.toml").open("rb") as file:
        table = tomllib.load(file)
    return {name: Suit.model_validate(suit) for name, suit in table["suits"].items()}


def _rows(path: Path) -> list[list[str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file))


def _correlation(path: Path, names: tuple[str, ...]) -> NDArray[np.float64]:
    header, *rows = _rows(path)
    if tuple(header[1:]) != names or tuple(row[0] for row in rows) != names:
        raise ValueError(f"{path.name}: the dimensions are not those of the statistics")
    return np.array([row[1:] for row in rows], float)
