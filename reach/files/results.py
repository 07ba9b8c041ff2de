"""Results written to disk: whole or not at all."""

from __future__ import annotations

import os
import tempfile
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
    check_writable(path)
    target = Path(path)
    data = content.encode() if isinstance(content, str) else content
    temporary = None
    try:
        handle, temporary = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.")
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        os.chmod(temporary, _mode(target))
        os.replace(temporary, target)
    except OSError as error:
        if temporary is not None:
            Path(temporary).unlink(missing_ok=True)
        reason = error.strerror or "unknown reason"
        raise InputError([Problem(str(path), "", None, f"cannot be written: {reason}")]) from None


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
