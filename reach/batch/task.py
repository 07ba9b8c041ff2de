"""One task of a batch: what goes to a worker process and what comes back.

This module imports nothing heavy: a worker process reads it before it sets its threads.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Ending = Literal["done", "broken", "lost"]
"""*done*: there are findings.  *broken*: the input cannot be used.  *lost*: neither is known,
because the program failed or its process ended."""


@dataclass(frozen=True, slots=True)
class Options:
    """What is asked of `reach.run.check` besides the scene and the procedure."""

    sizes: tuple[str, ...] = ()
    only: tuple[str, ...] = ()
    population: str | None = None


@dataclass(frozen=True, slots=True)
class Task:
    """A scene, a procedure and options as one piece of data that needs no file.

    Attributes
    ----------
    key : str
        Hash of everything the result depends on.
    program : str
        Hash of the program and the models that come with it.
    variation : str
        In words: how the scene and the procedure differ from their files.
    payload : bytes
        The loaded scene, the loaded procedure and the options, pickled.
    """

    key: str
    program: str
    variation: str
    payload: bytes


@dataclass(frozen=True, slots=True)
class Ended:
    """How a task ended: the text to keep when done, else what to tell, line by line."""

    key: str
    ending: Ending
    text: str


class OtherProgramError(Exception):
    """A worker of a cluster has another version of the program or of its models."""
