"""Pictures of worksites, from outside and the worker's eyes, of moves, payloads and minutes home.

They show the posture that the findings speak of, or the nearest one where there is none, and
mark what fails by shape, words and colour.  The drawing library is loaded on first use.
"""

from __future__ import annotations

from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING

from reach.run import Outcome
from reach.site import Situation

if TYPE_CHECKING:
    from PIL.Image import Image

    from reach.cranes import CraneAnswer
    from reach.returns import Returns
    from reach.sweeps import Sweeps


def draw(outcome: Outcome, folder: str | Path) -> list[Path]:
    """Draw every worksite and move of a run into a folder and return the files written.

    A worksite is one action of one step; of several bodies the worst one is drawn.  A move is
    drawn from two sides; a payload's way too, with the curve of its clearance beside it.  The
    folder is made where it does not exist; each file is written whole.

    Parameters
    ----------
    outcome : Outcome
    folder : str or Path

    Raises
    ------
    RuntimeError
        If there is no off-screen renderer; the message names the package that brings one.
    InputError
        If a file cannot be written.
    """
    from reach.pictures.answers import drawn

    written = _written(drawn(outcome), Path(folder))
    return sorted(written, key=lambda path: int(path.name.split("-")[0]))


def draw_sweeps(sweeps: Sweeps, folder: str | Path) -> list[Path]:
    """Draw the ways that were asked about and their curves into a folder; return the files.

    Raises
    ------
    RuntimeError
        If there is no off-screen renderer; the message names the package that brings one.
    InputError
        If a file cannot be written.
    """
    from reach.pictures.answers import drawn

    return _written(drawn(sweeps), Path(folder))


def draw_returns(returns: Returns, folder: str | Path) -> list[Path]:
    """Draw the grips of a scene by minutes home into a folder and return the files written.

    Raises
    ------
    RuntimeError
        If there is no off-screen renderer; the message names the package that brings one.
    InputError
        If a file cannot be written.
    """
    from reach.pictures.answers import drawn

    return _written(drawn(returns), Path(folder))


def draw_crane(answer: CraneAnswer, folder: str | Path) -> list[Path]:
    """Draw a crane at its station into a folder and return the files written.

    Raises
    ------
    RuntimeError
        If there is no off-screen renderer; the message names the package that brings one.
    InputError
        If a file cannot be written.
    """
    from reach.pictures.crane import CraneStudio
    from reach.pictures.worksite import stem_of

    stem = stem_of(1, answer.crane, answer.asked.station)
    with CraneStudio(answer.site) as studio:
        return _written([(stem, studio.crane(answer))], Path(folder))


def _written(pictures: Iterable[tuple[str, Image]], target: Path) -> list[Path]:
    """Write pictures as they come, all of them or none; make the folder if need be."""
    from reach.files.results import Together, make_folder
    from reach.pictures.studio import png_of

    def write(path: Path, picture: Image) -> Path:
        make_folder(target)  # not before there is anything to write
        files.add(path, png_of(picture))
        return path

    # Files are packed on the other core while the next picture is drawn.
    with Together() as files:
        with ThreadPoolExecutor(1) as writer:
            written = [
                writer.submit(write, target / f"{name}.png", picture) for name, picture in pictures
            ]
        paths = [file.result() for file in written]
    return paths


def picture_of(
    outcome: Outcome, situation: Situation | None = None, view: str = "outside"
) -> bytes:
    """Return one picture as the bytes of a PNG file, 1600 x 1000 pixels.

    Parameters
    ----------
    outcome : Outcome
    situation : Situation, optional
        One of the outcome's; left out, the first one that can be drawn, in its worst body.
    view : str
        ``"outside"`` or ``"eyes"``.

    Raises
    ------
    RuntimeError
        If there is no off-screen renderer; the message names the package that brings one.
    ValueError
        If the view is unknown or the worker stands nowhere.
    """
    from reach.pictures.sheet import write_what_if
    from reach.pictures.studio import Studio, png_of
    from reach.pictures.worksite import worksite_of, worksites_of

    if situation is None:
        known = worksites_of(outcome)
        if not known:
            raise ValueError("no step has a place and a setting, so there is nothing to draw")
        worksite = known[0]
    else:
        worksite = worksite_of(outcome, situation)
    with Studio(outcome.site) as studio:
        picture = studio.draw(worksite, (view,))[view]
    write_what_if(picture, outcome.what_if)
    return png_of(picture)
