"""What may come of a spoilt input: an answer, or one message that names its place."""

from __future__ import annotations

import signal
import traceback
import warnings
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import FrameType

from reach.files.problem import InputError
from reach.files.procedure import load_procedure
from reach.files.scene import LoadedScene, load_scene
from reach.run import check

LIMIT_S = 20
"""Longer than this, reading a file of a few kilobytes counts as a hang."""

LIMIT_CHECKED_S = 180
"""And longer than this reading and checking it."""

CHECKED = ("reach", "hooked", "outing", "slots", "gap", "sequence", "present", "energy", "meeting")
"""Checks that are cheap and see much of scene and procedure."""


@dataclass(frozen=True, slots=True)
class Told:
    """What came of one input.

    Attributes
    ----------
    how : str
        ``"read"``, ``"refused"``, ``"checked"``, ``"crashed"``, ``"hung"`` or ``"unplaced"``.
    where : str
        The same for inputs that fail alike: error and innermost place in the package.
    text : str
        The whole trace, or the message that names no place.
    """

    how: str
    where: str = ""
    text: str = ""

    @property
    def is_bad(self) -> bool:
        """Whether it may not be."""
        return self.how in ("crashed", "hung", "unplaced")


class _HungError(BaseException):
    pass


def _ring(number: int, frame: FrameType | None) -> None:
    raise _HungError


@cache
def _sound(folder: Path) -> LoadedScene:
    """Return the scene of a folder in which only a procedure is spoilt."""
    return load_scene(folder)


def judged(folder: Path, procedure: str | None, with_checks: bool) -> Told:
    """Read a scene folder, or a procedure of it, check it if asked, and say what came of it."""
    signal.signal(signal.SIGALRM, _ring)
    signal.alarm(LIMIT_CHECKED_S if with_checks else LIMIT_S)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            return _read(folder, procedure, with_checks)
    except InputError as error:
        return _refused(error)
    except _HungError as error:
        return Told("hung", _place(error), traceback.format_exc())
    except BaseException as error:  # whatever it is, it is what is looked for
        return Told("crashed", f"{type(error).__name__} {_place(error)}", traceback.format_exc())
    finally:
        signal.alarm(0)


def _read(folder: Path, procedure: str | None, with_checks: bool) -> Told:
    loaded = load_scene(folder) if procedure is None else _sound(folder)
    asked = None
    if procedure is not None or with_checks:
        path = folder / procedure if procedure is not None else None
        asked = load_procedure(path, loaded)
    if not with_checks:
        return Told("read")
    assert asked is not None
    check(loaded, asked, only=CHECKED)
    return Told("checked")


def _refused(error: InputError) -> Told:
    for problem in error.problems:
        if not problem.file or not problem.message or "Traceback" in problem.message:
            return Told("unplaced", problem.message[:80], str(error))
    with suppress(UnicodeEncodeError):
        str(error).encode()
        return Told("refused")
    return Told("unplaced", "a message that cannot be printed", repr(str(error)))


def _place(error: BaseException) -> str:
    frames = traceback.extract_tb(error.__traceback__)
    mine = [one for one in frames if "/reach/" in one.filename]
    last = mine[-1] if mine else frames[-1]
    return f"{Path(last.filename).name}:{last.name}"
