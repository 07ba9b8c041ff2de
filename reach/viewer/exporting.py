"""Writes what the user asks for, and nothing else: picture, findings, a setting in a procedure."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from reach.files.filling import filled_in_place, write_filled
from reach.files.problem import InputError, Problem
from reach.files.procedure import procedure_file
from reach.files.results import Together, make_folder, write_whole
from reach.files.scene import read_files
from reach.files.shipped import shipped_scenes
from reach.pictures.palette import INK, PAPER
from reach.pictures.pen import Pen, shortened
from reach.pictures.studio import png_of
from reach.viewer.answers import Inputs
from reach.viewer.trial import Trial
from reach.viewer.watching import files_of, hash_now

_BAND = 46


def write_picture(out: Path, pixels: NDArray[np.uint8], words: str, caution: str) -> Path:
    """Write what is seen, with what it shows and the caution under it; return the file."""
    view = Image.fromarray(pixels)
    sheet = Image.new("RGB", (view.width, view.height + _BAND), PAPER)
    sheet.paste(view, (0, 0))
    pen = Pen(sheet)
    room = view.width - 24
    pen.text((12.0, view.height + 13.0), shortened(words, 14, room, True), 14, INK, True)
    pen.text((12.0, view.height + 34.0), shortened(caution, 13, room), 13, INK)
    return _written(out, "picture", ".png", png_of(sheet))


def write_findings(out: Path, as_json: str, as_csv: str) -> list[Path]:
    """Write findings as JSON and as CSV; return the files."""
    stem = _free(out, "findings", (".json", ".csv"))
    files = [out / f"{stem}.json", out / f"{stem}.csv"]
    with Together() as together:
        for path, text in zip(files, (as_json, as_csv), strict=True):
            together.add(path, text)
    return files


def wrote(write: Callable[[], Sequence[Path]]) -> str:
    """Write, and return a sentence that says what was written or why nothing was."""
    try:
        return f"Wrote {', '.join(map(str, write()))}"
    except InputError as error:
        return "; ".join(f"{one.file}: {one.message}" for one in error.problems)


def write_setting(out: Path, inputs: Inputs, trial: Trial, steps: Sequence[str]) -> list[Path]:
    """Write a copy of the procedure with the setting of the trial in some steps; return its files.

    Raises
    ------
    InputError
        If one cannot be found in a form that takes a setting.
    """
    source, shown = procedure_file(inputs.procedure_name, inputs.loaded)
    target = out / f"{_free(out, source.stem, ('.toml',))}.toml"
    settings = {name: trial.setting for name in steps}
    return write_filled(source, shown, target, settings, read_files(inputs.loaded))


def write_setting_into(
    out: Path, inputs: Inputs, trial: Trial, steps: Sequence[str]
) -> tuple[list[Path], list[Path]]:
    """Write the setting of the trial into the procedure's own file.

    Parameters
    ----------
    out : Path
        Folder where the files stay as they were.
    inputs : Inputs
    trial : Trial
    steps : sequence of str

    Returns
    -------
    tuple of list of Path
        The files written, and copies of them as they were.

    Raises
    ------
    InputError
        If a file of the procedure is not what was read any more, it comes with reach, or a step
        does not take a setting.  Nothing is written then.
    """
    source, shown = procedure_file(inputs.procedure_name, inputs.loaded)
    if source.resolve().is_relative_to(shipped_scenes().resolve()):
        message = "comes with reach and stays as it is; write a copy instead"
        raise InputError([Problem(shown, "", None, message)])
    assert inputs.asked is not None
    _refuse_changed(inputs)
    texts = filled_in_place(source, shown, {name: trial.setting for name in steps})
    stem = _free(out, f"{source.stem}-before", ("",))
    make_folder(out / stem)
    before = [out / stem / path.name for path in texts]
    for path, kept in zip(texts, before, strict=True):
        write_whole(kept, path.read_bytes())
    _refuse_changed(inputs)  # once more, as late as can be: somebody else may be at it
    with Together() as together:
        for path, text in texts.items():
            together.add(path, text)
    return list(texts), before


def _refuse_changed(inputs: Inputs) -> None:
    """Refuse to write over what somebody else has written since."""
    assert inputs.asked is not None
    files = files_of(inputs.procedure_name, inputs.asked, inputs.loaded)
    message = "has changed since this page read it, so it is left as it is; take the new file first"
    changed = [shown for path, (shown, read) in files.items() if hash_now(path) != read]
    if changed:
        raise InputError([Problem(shown, "", None, message) for shown in changed])


def _written(out: Path, stem: str, ending: str, content: bytes) -> Path:
    path = out / f"{_free(out, stem, (ending,))}{ending}"
    write_whole(path, content)
    return path


def _free(out: Path, stem: str, endings: Sequence[str]) -> str:
    """Return a name that no file of the folder has; the folder is made where it is not there."""
    make_folder(out)
    base = f"{stem}-{time.strftime('%Y%m%d-%H%M%S')}"
    names = [base, *(f"{base}-{k}" for k in range(2, 100))]
    return next(one for one in names if not any((out / (one + end)).exists() for end in endings))
