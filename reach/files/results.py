"""Results written to disk: whole or not at all, one file or several that belong together."""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Collection, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from types import TracebackType

from reach.files.problem import InputError, Problem
from reach.files.writing import Part, replacing, sync_folder


def check_writable(path: str | Path) -> None:
    """Refuse before long work what could not be written after it.

    Raises
    ------
    InputError
        If the folder does not exist or may not be written to, or the path is a folder.
    """
    target = Path(path)
    if not target.parent.is_dir():
        raise _refused(path, _no_folder(target.parent))
    if target.is_dir():
        raise _refused(path, "is a folder; give a file name")
    if not _is_stream(target) and not os.access(target.parent, os.W_OK | os.X_OK):
        raise _refused(path, f"cannot be written: the folder {str(target.parent)!r} is read-only")


def check_folder(folder: str | Path) -> None:
    """Refuse before long work a folder that could not be made or written to after it.

    Raises
    ------
    InputError
    """
    target = Path(folder)
    if target.exists() and not target.is_dir():
        raise _refused(folder, "is a file; give a folder")
    there = next((one for one in (target, *target.absolute().parents) if one.exists()), target)
    if not there.is_dir():
        raise _refused(folder, f"cannot be made: {str(there)!r} is not a folder")
    if not os.access(there, os.W_OK | os.X_OK):
        what = "written to" if there == target else "made"
        raise _refused(folder, f"cannot be {what}: the folder {str(there)!r} is read-only")


def make_folder(folder: str | Path, advice: str = "") -> Path:
    """Make a folder, with those it lies in, where there is none, and return it.

    Parameters
    ----------
    folder : str or Path
    advice : str
        Is put behind the reason.

    Raises
    ------
    InputError
        If it cannot be made.
    """
    target = Path(folder)
    try:
        target.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise _refused(folder, f"cannot be made: {_reason(error)}{advice}") from None
    return target


def refuse_inputs(path: str | Path, read: Collection[Path]) -> None:
    """Refuse to write over a file that was read.

    Raises
    ------
    InputError
        If ``path`` is one of the files ``read``.
    """
    target = Path(path)
    if target.exists() and any(one.exists() and target.samefile(one) for one in read):
        raise _refused(path, "is read by this run; give another file to write to")


def write_whole(path: str | Path, content: str | bytes, *, is_lasting: bool = True) -> None:
    r"""Write a file so that it is there complete or, if anything fails, unchanged.

    A pipe or a device, such as ``/dev/stdout``, is written into as it is.

    Parameters
    ----------
    path : str or Path
    content : str or bytes
        Text is written as UTF-8 with ``\n`` line ends.
    is_lasting : bool
        See `reach.files.writing.replacing`.

    Raises
    ------
    InputError
        If the folder does not exist or cannot be written to.
    """
    if _is_stream(Path(path)):
        with _told(path), Path(path).open("wb") as stream:
            stream.write(_bytes(content))
        return
    with whole(path, is_lasting=is_lasting) as temporary:
        temporary.write_bytes(_bytes(content))


@contextmanager
def whole(path: str | Path, *, is_lasting: bool = True) -> Iterator[Path]:
    """Give a temporary file to fill; it takes the place of ``path`` when nothing failed.

    For results that are too long to be held at once; `write_whole` says the rest.

    Raises
    ------
    InputError
        If the folder does not exist or cannot be written to.
    """
    check_writable(path)
    if _is_stream(Path(path)):
        raise _refused(path, "is no plain file; give a file name")
    with _told(path), replacing(Path(path), is_lasting=is_lasting) as temporary:
        yield temporary


class Together:
    """Files that are written together: all of them take their places at the end, or none does.

    Until then nothing that was there has changed, and what fails before leaves it so.  Only a
    program killed in the very moment in which they take their places can leave some of them old:
    then the list of contents, if there is one, is missing.

    Parameters
    ----------
    contents : Path, optional
        A file that lists the others with their hashes, as ``sha256sum -c`` reads it: taken away
        first and written last, so that it is there for a whole set only.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     with Together(Path(folder) / "contents.sha256") as files:
    ...         files.add(Path(folder) / "a.txt", "a")
    ...         before = is_whole(Path(folder) / "contents.sha256")
    ...     before, is_whole(Path(folder) / "contents.sha256")
    (False, True)
    """

    def __init__(self, contents: Path | None = None) -> None:
        self.contents = contents
        self._parts: list[Part] = []
        self._hashes: list[str] = []

    def __enter__(self) -> Together:
        return self

    def add(self, path: Path, content: str | bytes) -> None:
        """Write a file beside its place.

        Raises
        ------
        InputError
            If it cannot be written.
        """
        with self.filling(path) as part:
            part.write_bytes(_bytes(content))

    @contextmanager
    def filling(self, path: Path) -> Iterator[Path]:
        """Give a temporary file to fill, for one that is too long to be held at once.

        Raises
        ------
        InputError
            If it cannot be written.
        """
        check_writable(path)
        with _told(path):
            part = Part(path)
            self._parts.append(part)
            yield part.path
            part.settle()
            self._hashes.append(f"{hash_of(part.path)}  {path.name}\n")

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        try:
            if kind is None:
                self._take_places()
        finally:
            for part in self._parts:
                part.drop()

    def _take_places(self) -> None:
        if self.contents is not None:
            placed = list(self._parts)
            self.add(self.contents, "".join(self._hashes))
            with _told(self.contents):
                self.contents.unlink(missing_ok=True)
        else:
            placed = self._parts
        for part in placed:
            with _told(part.target):
                part.take_place()
        for folder in {part.target.parent for part in placed}:
            sync_folder(folder)
        for part in self._parts[len(placed) :]:
            with _told(part.target):
                part.take_place()
            sync_folder(part.target.parent)


def is_whole(contents: Path) -> bool:
    """Return whether a list of contents is there and every file is as it says."""
    try:
        for line in contents.read_text(encoding="utf-8").splitlines():
            expected, name = line.split("  ", 1)
            if Path(name).name != name:
                return False
            if hash_of(contents.parent / name) != expected:
                return False
    except (OSError, ValueError):
        return False
    return True


@contextmanager
def _told(path: str | Path) -> Iterator[None]:
    """Say of what the system refuses which file it is about, and why."""
    try:
        yield
    except OSError as error:
        raise _refused(path, f"cannot be written: {_reason(error)}") from None


def hash_of(path: Path) -> str:
    """Return the sha256 of a file, which need not fit into memory."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _refused(path: str | Path, message: str) -> InputError:
    return InputError([Problem(str(path), "", None, message)])


def _reason(error: OSError) -> str:
    return error.strerror or "unknown reason"


def _bytes(content: str | bytes) -> bytes:
    return content.encode() if isinstance(content, str) else content


def _is_stream(path: Path) -> bool:
    """Return whether something is there that is neither a plain file nor a folder."""
    with suppress(OSError):
        mode = path.stat().st_mode
        return not stat.S_ISREG(mode) and not stat.S_ISDIR(mode)
    return False


def _no_folder(folder: Path) -> str:
    if folder.exists():
        return f"cannot be written: {str(folder)!r} is not a folder"
    return f"cannot be written: there is no folder {str(folder)!r}; make it first"
