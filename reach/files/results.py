"""Results written to disk: whole or not at all."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Collection, Iterator
from contextlib import contextmanager
from pathlib import Path

from reach.files.problem import InputError, Problem


def check_writable(path: str | Path) -> None:
    """Refuse before long work what could not be written after it.

    Raises
    ------
    InputError
        If the folder does not exist or the path is a folder.
    """
    target = Path(path)
    if not target.parent.is_dir():
        raise InputError([Problem(str(path), "", None, _no_folder(target.parent))])
    if target.is_dir():
        raise InputError([Problem(str(path), "", None, "is a folder; give a file name")])


def refuse_inputs(path: str | Path, read: Collection[Path]) -> None:
    """Refuse to write over a file that was read.

    Raises
    ------
    InputError
        If ``path`` is one of the files ``read``.
    """
    target = Path(path)
    if target.exists() and any(one.exists() and target.samefile(one) for one in read):
        message = "is read by this run; give another file to write to"
        raise InputError([Problem(str(path), "", None, message)])


def write_whole(path: str | Path, content: str | bytes) -> None:
    r"""Write a file so that it is there complete or, if anything fails, unchanged.

    Parameters
    ----------
    path : str or Path
    content : str or bytes
        Text is written as UTF-8 with ``\n`` line ends.

    Raises
    ------
    InputError
        If the folder does not exist or cannot be written to.
    """
    data = content.encode() if isinstance(content, str) else content
    with whole(path) as temporary:
        temporary.write_bytes(data)


@contextmanager
def whole(path: str | Path) -> Iterator[Path]:
    """Give a temporary file to fill; it takes the place of ``path`` when nothing failed.

    For results that are too long to be held at once; `write_whole` says the rest.

    Raises
    ------
    InputError
        If the folder does not exist or cannot be written to.
    """
    check_writable(path)
    target = Path(path)
    temporary = None
    try:
        handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.")
        os.close(handle)
        temporary = Path(name)
        yield temporary
        os.chmod(temporary, _mode(target))
        os.replace(temporary, target)
    except OSError as error:
        reason = error.strerror or "unknown reason"
        raise InputError([Problem(str(path), "", None, f"cannot be written: {reason}")]) from None
    finally:
        if temporary is not None:
            temporary.unlink(missing_ok=True)


def _no_folder(folder: Path) -> str:
    if folder.exists():
        return f"cannot be written: {str(folder)!r} is not a folder"
    return f"cannot be written: there is no folder {str(folder)!r}; make it first"


def _mode(target: Path) -> int:
    """Return the permissions of the file that is replaced, or those a new file gets."""
    if target.exists():
        return target.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask
