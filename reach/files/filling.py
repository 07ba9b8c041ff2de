"""A procedure written again with settings filled in; comments and layout stay as they are.

A line is put in after the one that says where the step is done, or written again where there is
one.  (TOML libraries that keep
comments put a new key after the comment that belongs to the next step.)
"""

from __future__ import annotations

import csv
import io
import re
import tomllib
from collections.abc import Collection, Mapping
from pathlib import Path

from reach.files.lines import scan
from reach.files.places import inside
from reach.files.problem import InputError, Problem
from reach.files.results import Together, check_writable, refuse_inputs
from reach.files.toml import read_text
from reach.model.hardware import Joint, Restraint

_WRITTEN = re.compile(r"(?P<before>\s*setting\s*=\s*)\{[^{}\n]*\}(?P<after>.*)", re.DOTALL)
"""A setting as these files hold it, in one line."""

Values = Mapping[str, int | str]
"""Joint -> detent number or angle as text."""


def written_setting(restraint: Restraint, angles: Mapping[str, float]) -> dict[str, int | str]:
    """Return joint angles (rad) as files hold them.

    Examples
    --------
    >>> joints = [{"name": "clocking", "turn": "z", "to": "330 deg", "step": "30 deg",
    ...            "numbered": True},
    ...           {"name": "pitch", "turn": "y", "from": "-90 deg", "to": "90 deg"}]
    >>> stand = Restraint.model_validate({"kind": "foot restraint", "chain": joints})
    >>> written_setting(stand, {"clocking": 1.0471975511965976, "pitch": -0.2617993877991494})
    {'clocking': 2, 'pitch': '-15 deg'}
    """
    return {joint.name: written_joint(joint, angles[joint.name]) for joint in restraint.joints}


def written_joint(joint: Joint, angle: float) -> int | str:
    """Return the angle (rad) of one joint as files hold it."""
    if joint.numbered:
        return joint.stops.index(joint.nearest_stop(angle))
    degrees = round(angle * 57.29577951308232, 9) + 0.0
    return f"{degrees:+.9g} deg" if degrees else "0 deg"


def write_filled(
    source: Path,
    shown: str,
    target: Path,
    settings: Mapping[str, Values],
    read: Collection[Path] = (),
) -> list[Path]:
    """Write a copy of a procedure with the settings of some steps filled in; return its files.

    Parameters
    ----------
    source : Path
        The procedure file.
    shown : str
        Its name in problems.
    target : Path
        The copy; steps in a table go into a copy of the table beside it, and so do other tables
        where the copy is in another folder.
    settings : mapping
        Step -> joint -> value.
    read : collection of Path
        Files that the scene was read from: they are never written over.

    Raises
    ------
    InputError
        If a step cannot be found in a form that takes a line more, or the copy cannot be
        written; nothing is written then.
    """
    check_writable(target)
    refuse_inputs(target, [source, *read])
    text, _ = read_text(source, shown)
    data = tomllib.loads(text)
    names = [step.get("name") for step in data.get("steps", []) if isinstance(step, dict)]
    here = {name: settings[name] for name in settings if name in names}
    rest = {name: settings[name] for name in settings if name not in here}
    filled = _filled(text, shown, names, here)
    copies: dict[Path, str] = {}
    for table, file in (data.get("tables") or {}).items():
        if table != "steps" and target.parent.resolve() == source.parent.resolve():
            continue  # the copy finds it where it is
        rows, _ = read_text(inside(source.parent, file), file)
        beside = target.with_name(f"{target.stem}-{table}.csv")
        inputs = [inside(source.parent, other) for other in data["tables"].values()]
        refuse_inputs(beside, [source, *inputs, *read])
        refuse_inputs(target, inputs)
        filled = filled.replace(f'"{file}"', f'"{beside.name}"', 1)
        if tomllib.loads(filled)["tables"][table] != beside.name:
            message = "write the name of the table in double quotes, in its own right"
            raise InputError([Problem(shown, f"tables.{table}", None, message)])
        copies[beside] = _filled_rows(rows, file, rest) if table == "steps" else rows
        _refuse_foreign(beside, copies[beside], target, table)
    with Together() as together:
        for beside, rows in copies.items():
            together.add(beside, rows)
        together.add(target, filled)
    return [target, *copies]


def _refuse_foreign(beside: Path, rows: str, target: Path, table: str) -> None:
    """Refuse to write a table over a file that is not of this copy, nor what is to be written."""
    if beside.exists() and not target.exists() and beside.read_bytes() != rows.encode():
        message = f"is there already; the table of {table} of {target.name} would go into it"
        raise InputError([Problem(str(beside), "", None, message)])


def filled_in_place(source: Path, shown: str, settings: Mapping[str, Values]) -> dict[Path, str]:
    """Return the files of a procedure that change when the settings of some steps are filled in.

    Parameters
    ----------
    source : Path
        The procedure file.
    shown : str
        Its name in problems.
    settings : mapping
        Step -> joint -> value.

    Returns
    -------
    dict of Path -> str
        File -> its new text: the procedure, or its table of steps, or both.

    Raises
    ------
    InputError
        If a step cannot be found in a form that takes a line more.
    """
    text, _ = read_text(source, shown)
    data = tomllib.loads(text)
    names = [step.get("name") for step in data.get("steps", []) if isinstance(step, dict)]
    here = {name: settings[name] for name in settings if name in names}
    rest = {name: settings[name] for name in settings if name not in here}
    new = {source: _filled(text, shown, names, here)} if here else {}
    if rest:
        file = (data.get("tables") or {}).get("steps", "")
        rows, _ = read_text(inside(source.parent, file), file)
        new[inside(source.parent, file)] = _filled_rows(rows, file, rest)
    return new


def _filled(text: str, shown: str, names: list[str | None], settings: Mapping[str, Values]) -> str:
    lines = text.splitlines(keepends=True)
    places = scan(text).lines
    problems, new = [], []
    for name, values in settings.items():
        place = ("steps", names.index(name))
        old = places.get((*place, "setting"))
        written = _WRITTEN.match(lines[old - 1]) if old is not None else None
        if old is not None and written is not None:
            lines[old - 1] = f"{written['before']}{_inline(values)}{written['after']}"
            continue
        after = next((places[(*place, key)] for key in ("restraint", "where", "lane", "name")
                      if (*place, key) in places), places[place])  # fmt: skip
        if after == places[place] or old is not None:
            message = "is written in one line; write it as [[steps]] to have its setting filled"
            if old is not None:
                message = "has a setting in another form; write it as setting = { joint = value }"
            problems.append(Problem(shown, f"step {name!r}", old or places[place], message))
        new.append((after, values))
    if problems:
        raise InputError(problems)
    for after, values in sorted(new, key=lambda one: -one[0]):
        end = "\r\n" if lines[after - 1].endswith("\r\n") else "\n"
        if not lines[after - 1].endswith("\n"):
            lines[after - 1] += end
        lines.insert(after, f"setting = {_inline(values)}{end}")
    return "".join(lines)


def _inline(values: Values) -> str:
    parts = [f"{_key(k)} = {v}" if isinstance(v, int) else f'{_key(k)} = "{v}"'
             for k, v in values.items()]  # fmt: skip
    return f"{{ {', '.join(parts)} }}"


def _key(name: str) -> str:
    bare = name.replace("-", "").replace("_", "")
    return name if bare.isascii() and bare.isalnum() else f'"{name}"'


def _filled_rows(text: str, shown: str, settings: Mapping[str, Values]) -> str:
    """Return a table of steps with columns ``setting.<joint>``; comments and line ends stay."""
    lines = text.splitlines()
    end = "\r\n" if "\r\n" in text else "\n"
    first = next(i for i, line in enumerate(lines) if line.strip() and not line.startswith("#"))
    header = next(csv.reader([lines[first]]))
    joints = dict.fromkeys(joint for values in settings.values() for joint in values)
    header += [f"setting.{j}" for j in joints if f"setting.{j}" not in header]
    name = header.index("name")
    left = set(settings)
    for i in range(first, len(lines)):
        if not lines[i].strip() or lines[i].startswith("#"):
            continue
        row = header if i == first else next(csv.reader([lines[i]]))
        row = [*row, *[""] * (len(header) - len(row))]
        if i > first and row[name] in settings:
            left.discard(row[name])
            for joint, value in settings[row[name]].items():
                row[header.index(f"setting.{joint}")] = str(value)
        lines[i] = _csv_line(row)
    if left:
        message = "no row of its own; its setting cannot be filled"
        raise InputError(Problem(shown, f"step {name!r}", None, message) for name in sorted(left))
    return end.join(lines) + end


def _csv_line(row: list[str]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="").writerow(row)
    return out.getvalue()
