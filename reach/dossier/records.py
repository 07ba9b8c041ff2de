"""Tables and cards of a report: plain data that page, paper and workbook print alike."""

from __future__ import annotations

from dataclasses import dataclass, field

from reach.finding import Verdict

Cell = str | float | int | Verdict | None
"""What stands in a table: words, a number in its column's unit, a verdict; None is not known."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table.

    Attributes
    ----------
    title : str
    unit : str
        SI unit of its numbers (``"m"``, ``"rad"``, ``"N m"``, ``"s"``, ``"kg"``), converted where
        a report is printed in both systems; empty for words, counts and verdicts.
    is_moment : bool
        Whether its seconds are a moment since the begin of the procedure, printed as hours and
        minutes; else they are how long something takes.
    """

    title: str
    unit: str = ""
    is_moment: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a table and what shows that it is so.

    Attributes
    ----------
    cells : tuple of Cell
        As many as there are columns; None where it is not known, never for "no".
    answers : tuple of int
        Places of the findings it rests on in `Dossier.outcome.findings`.
    """

    cells: tuple[Cell, ...]
    answers: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Table:
    """One table.

    Attributes
    ----------
    name : str
        Its anchor in the page and its sheet in the workbook, such as ``"restraint-settings"``.
    title : str
    says : str
        One or two sentences: what it tells, from what, and what it leaves out.
    columns : tuple of Column
    rows : tuple of Row
    nothing : str
        What is said instead of an empty table.
    """

    name: str
    title: str
    says: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    nothing: str = "Nothing of this kind is in the procedure."

    def __post_init__(self) -> None:
        if any(len(row.cells) != len(self.columns) for row in self.rows):
            raise ValueError(f"table {self.name!r} has a row that does not fit its columns")


@dataclass(frozen=True, slots=True)
class Card:
    """One worksite on one page, for the worker who goes there.

    A worksite is one stay of one worker in one place; its steps are in the order of the procedure.

    Attributes
    ----------
    number : int
        From 1, in the order of the procedure.
    title, worker, place : str
    steps : tuple of str
    stems : tuple of str
        Start of the names of its pictures (``pictures.worksite.Worksite.stem``), the one that
        stands for the card first; empty where nothing can be drawn.
    stands : tuple of (str, str)
        Restraint, socket, each joint and its setting; what holds the worker, else.
    bolts, tools, tether, hazards : Table
    if_stuck : tuple of str
        What to do when it does not go as written, each one sentence with where it comes from.
    answers : tuple of int
        Places of the findings about it in `Dossier.outcome.findings`.
    step_names : tuple of str
        Its own steps; what is found in others, such as the way to it, is told more briefly where
        there is much.
    """

    number: int
    title: str
    worker: str
    place: str
    steps: tuple[str, ...]
    stems: tuple[str, ...]
    stands: tuple[tuple[str, str], ...]
    bolts: Table
    tools: Table
    tether: Table
    hazards: Table
    if_stuck: tuple[str, ...]
    answers: tuple[int, ...] = field(default=())
    step_names: tuple[str, ...] = ()
