"""Whether the files that the page was made from are still what it read."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from reach.files.procedure import LoadedProcedure, procedure_file
from reach.files.results import hash_of
from reach.files.scene import LoadedScene

if TYPE_CHECKING:
    from reach.viewer.answers import Inputs


class Watched:
    """The files of scene and procedures with their digests as they were read.

    Files that come with the program (limits, suits, tools) are not among them.

    Attributes
    ----------
    files : dict of Path -> (str, str)
        Name as shown, sha256 as read.
    """

    def __init__(self, inputs: Inputs) -> None:
        self.files: dict[Path, tuple[str, str]] = {}
        self.of_scene: set[Path] = set()
        self._seen: dict[Path, tuple[tuple[int, ...], str]] = {}
        loaded = inputs.loaded
        for path, shown in _found(loaded, loaded.files, [loaded.folder]):
            self.files[path] = (shown, loaded.files[shown])
            self.of_scene.add(path)
        for name, asked in (
            (inputs.procedure_name, inputs.asked),
            (inputs.other_name, inputs.other),
        ):
            if asked is not None:
                self.files |= files_of(name, asked, loaded)

    def changed(self) -> list[Path]:
        """Return the files that are not what was read any more, or are gone."""
        return [path for path, (_, read) in self.files.items() if self._digest(path) != read]

    def shown(self, path: Path) -> str:
        """Return the name of a file as shown."""
        return self.files[path][0]

    def _digest(self, path: Path) -> str:
        """Return the digest of a file as it is now; read again only where its date has changed."""
        try:
            now = path.stat()
        except OSError:
            return ""
        stamp = (now.st_mtime_ns, now.st_ctime_ns, now.st_size, now.st_ino)
        if path not in self._seen or self._seen[path][0] != stamp:
            self._seen[path] = (stamp, hash_now(path))
        return self._seen[path][1]


def files_of(
    name: str | None, asked: LoadedProcedure, loaded: LoadedScene
) -> dict[Path, tuple[str, str]]:
    """Return the files of a procedure: path -> (name as shown, sha256 as read)."""
    source, _ = procedure_file(name, loaded)
    files = dict(asked.files) or {asked.file: asked.sha256}
    found = {path: (shown, files[shown]) for path, shown in _found(loaded, files, [source.parent])}
    return {source: (asked.file, asked.sha256)} | {
        path: known for path, known in found.items() if path.resolve() != source.resolve()
    }


def hash_now(file: Path) -> str:
    """Return the sha256 of a file; empty where it cannot be read."""
    try:
        return hash_of(file)
    except OSError:
        return ""


def _found(
    loaded: LoadedScene, files: dict[str, str], folders: list[Path]
) -> Iterator[tuple[Path, str]]:
    """Yield where files are that are shown by these names."""
    inside = f"{loaded.name}/"
    for shown in files:
        places = [loaded.folder / shown.removeprefix(inside)] if shown.startswith(inside) else []
        places += [Path(shown), *(folder / Path(shown).name for folder in folders)]
        path = next((one for one in places if one.is_file()), None)
        if path is not None:
            yield path, shown
