"""What a batch runs: scenes with their procedures, and how each is varied."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from reach.model.record import Record

Varied = Literal["crew", "hands", "sizes"]


class Run(Record):
    """One scene and procedure of a batch, as planned and varied.

    Paths are relative to the folder of the list; ``procedure`` may also be a file of the
    scene's folder, and is the scene's own when left out.
    """

    name: str = Field(default="", description="what the tables call it; else the scene's path")
    scene: str = Field(min_length=1, description="folder, scene file or shipped scene")
    procedure: str | None = Field(default=None, min_length=1)
    sizes: tuple[str, ...] = Field(
        default=(), description="size classes instead of each worker's own body"
    )
    vary: tuple[Varied, ...] | None = Field(
        default=None, description="crew swapped, hands swapped, every size class"
    )
    what_if: tuple[str, ...] | None = Field(
        default=None, description="texts such as 'SK3 blocked', each run beside as planned"
    )
    population: str | None = Field(
        default=None, min_length=1, description="such as 'n=1000, sex=mixed, seed=1'"
    )


class RunList(Record):
    """A list of runs for `reach batch`."""

    format: Literal[1]
    title: str = ""
    runs: tuple[Run, ...] = Field(min_length=1)
