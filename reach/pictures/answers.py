"""Pictures of an answer as bytes, for notebooks and programs: what commands draw into folders."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from reach.returns import Returns
from reach.routes import Routes
from reach.run import Outcome
from reach.sweeps import Sweeps

if TYPE_CHECKING:
    from PIL.Image import Image


def pictures_of(answer: Outcome | Routes | Returns | Sweeps) -> dict[str, bytes]:
    """Return name -> picture, each the bytes of a PNG file, as the commands draw them.

    Parameters
    ----------
    answer : Outcome, Routes, Returns or Sweeps
        Of a check: every worksite from outside and from the worker's eyes, every move, and every
        way of a payload with its curve.  Of ways, times home and sweeps: those.

    Raises
    ------
    RuntimeError
        If there is no off-screen renderer; the message names the package that brings one.
    """
    from reach.pictures.studio import png_of

    return {name: png_of(picture) for name, picture in drawn(answer)}


def drawn(answer: Outcome | Routes | Returns | Sweeps) -> Iterator[tuple[str, Image]]:
    """Yield name and picture, one by one, each saying for which variation of the files it holds.

    Raises
    ------
    RuntimeError
        If there is no off-screen renderer; the message names the package that brings one.
    """
    from reach.pictures.sheet import write_what_if

    outcome = answer if isinstance(answer, Outcome) else answer.outcome
    for name, picture in _drawn(answer):
        write_what_if(picture, outcome.what_if)
        yield name, picture


def _drawn(answer: Outcome | Routes | Returns | Sweeps) -> Iterator[tuple[str, Image]]:
    if isinstance(answer, Returns):
        from reach.pictures.home import HomeStudio

        with HomeStudio(answer.site) as studio:
            yield "minutes-home", studio.minutes(answer)
    elif isinstance(answer, Sweeps):
        yield from _carries(answer)
    elif isinstance(answer, Routes):
        yield from _moves(answer.outcome)
    else:
        yield from _worksites(answer)
        yield from _moves(answer)
        yield from _carries(answer)


def _worksites(outcome: Outcome) -> Iterator[tuple[str, Image]]:
    from reach.pictures.studio import Studio
    from reach.pictures.worksite import worksites_of

    if worksites := worksites_of(outcome):
        with Studio(outcome.site) as studio:
            for worksite in worksites:
                for view, picture in studio.draw(worksite).items():
                    yield f"{worksite.stem}-{view}", picture


def _moves(outcome: Outcome) -> Iterator[tuple[str, Image]]:
    from reach.pictures.moves import moves_of
    from reach.pictures.moving import MoveStudio

    if moves := moves_of(outcome):
        with MoveStudio(outcome.site) as studio:
            for move in moves:
                yield move.stem, studio.picture(move)


def _carries(answer: Outcome | Sweeps) -> Iterator[tuple[str, Image]]:
    from reach.pictures.carries import carries_among, carries_of
    from reach.pictures.carrying import CarryStudio
    from reach.pictures.curve import curve_picture

    if isinstance(answer, Sweeps):
        outcome = answer.outcome
        carries = carries_among(outcome, [one.carriage for one in answer.swept])
    else:
        outcome, carries = answer, carries_of(answer)
    if carries:
        with CarryStudio(outcome.site) as studio:
            for carry in carries:
                yield carry.stem, studio.sweep(carry)
                yield f"{carry.stem}-curve", curve_picture(carry)
