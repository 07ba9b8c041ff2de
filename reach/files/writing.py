"""How every file is written: beside its place, under a name that tells, then put there at once.

Whatever ends the program, a file is as it was or wholly new.  A file that was being written when
the program was killed keeps its temporary name; the next program that writes into the folder
takes it away, unless it is still being written by another one.
"""

from __future__ import annotations

import errno
import os
import re
import secrets
import stat
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

try:
    import fcntl
except ImportError:  # not on Windows
    fcntl = None  # type: ignore[assignment]

ENDING = ".reach-part"
"""How the name of a file ends that is being written."""

FORGOTTEN = 86_400.0
"""Where files cannot be locked, one that has not changed for so long is nobody's any more, s."""

_LEFTOVER = re.compile(rf"\..+\.[0-9a-f]{{8}}{re.escape(ENDING)}", re.DOTALL)
_LONGEST = 40
_NO_LOCKS = (errno.ENOLCK, errno.EOPNOTSUPP, errno.EINVAL)
_swept: set[str] = set()


class Part:
    """A file beside the one it is to replace, locked while it is written.

    Parameters
    ----------
    target : Path
        Its folder is there; what was left there by programs that were killed is taken away
        the first time.

    Attributes
    ----------
    path : Path
        To be filled.

    Raises
    ------
    OSError
        If it cannot be made.
    """

    def __init__(self, target: Path) -> None:
        self.target = target
        _sweep_once(target.parent)
        while True:
            name = f".{target.name[:_LONGEST]}.{secrets.token_hex(4)}{ENDING}"
            self.path = target.parent / name
            try:
                self._handle = os.open(self.path, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o666)
            except FileExistsError:
                continue
            _lock(self._handle)
            if os.fstat(self._handle).st_nlink or fcntl is None:
                break
            os.close(self._handle)  # it was taken for a leftover before it could be locked
        if fcntl is None:
            self._close()  # elsewhere an open file cannot be moved

    def settle(self, is_lasting: bool = True) -> None:
        """Give it the permissions of the file that goes, and have it on the disk."""
        with suppress(FileNotFoundError):
            os.chmod(self.path, stat.S_IMODE(os.stat(self.target).st_mode))
        if is_lasting and self._handle >= 0:
            _sync(self._handle)

    def take_place(self) -> None:
        """Replace the target."""
        os.replace(self.path, self.target)

    def drop(self) -> None:
        """Let go of it; what has not taken its place is taken away."""
        with suppress(OSError):
            self.path.unlink(missing_ok=True)
        self._close()

    def _close(self) -> None:
        if self._handle >= 0:
            os.close(self._handle)
            self._handle = -1


@contextmanager
def replacing(target: Path, *, is_lasting: bool = True) -> Iterator[Path]:
    """Give a temporary file to fill; it takes the place of ``target`` when nothing failed.

    Parameters
    ----------
    target : Path
    is_lasting : bool
        Whether it must outlast a loss of power; not needed for what can be told from a whole
        one and made again.

    Raises
    ------
    OSError
    """
    part = Part(target)
    try:
        yield part.path
        part.settle(is_lasting)
        part.take_place()
    finally:
        part.drop()
    if is_lasting:
        sync_folder(target.parent)


def sync_folder(folder: Path) -> None:
    """Have the names of a folder on the disk, where the system can do so."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def sweep(folder: Path) -> list[Path]:
    """Take away what killed programs left half-written in a folder; return what is gone.

    A file that is being written is locked, which ends with the program however that ends.
    """
    gone = []
    with suppress(OSError), os.scandir(folder) as entries:
        for entry in entries:
            if _LEFTOVER.fullmatch(entry.name) and entry.is_file(follow_symlinks=False):
                path = Path(entry.path)
                with suppress(OSError):
                    if _taken_away(path):
                        gone.append(path)
    return gone


def _sweep_once(folder: Path) -> None:
    """Look through a folder the first time that this program writes into it."""
    name = os.path.abspath(folder)
    if name not in _swept:
        _swept.add(name)
        sweep(folder)


def _taken_away(path: Path) -> bool:
    """Take a file away unless a program is writing it."""
    if fcntl is not None:
        handle = os.open(path, os.O_RDONLY)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            path.unlink()  # while it is locked: a program that has just made it sees that
            return True
        except BlockingIOError:
            return False
        except OSError as error:
            if error.errno not in _NO_LOCKS:
                raise
        finally:
            os.close(handle)
    if time.time() - path.stat().st_mtime < FORGOTTEN:
        return False
    path.unlink()
    return True


def _lock(handle: int) -> None:
    """Lock a file of our own; one that looks through leftovers holds it but for a moment."""
    if fcntl is not None:
        with suppress(OSError):  # some network folders have no locks
            fcntl.flock(handle, fcntl.LOCK_EX)


def _sync(handle: int) -> None:
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno not in (errno.EINVAL, errno.ENOTSUP):
            raise  # that the disk is full may be told as late as here
