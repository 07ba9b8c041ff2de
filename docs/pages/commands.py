"""The page on commands: usage, arguments, options, and one real session each."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import PurePath
from typing import Any, get_args

import typer

from pages.markdown import MADE, anchor, cell, code, table
from pages.sessions import LONG
from reach.cli import app

INTRO = """\
# The commands

`reach COMMAND --help` prints the same as the tables below. Sessions were run as shown, in a
folder in which `reach new my-site` had written its small scene; `brackenfall` and `tallowmere`
are scenes that come with the program. A line `…` stands for lines left out, and hashes and
seconds are left out for they differ.
"""

CODES = """\
## Exit codes

| code | meaning |
| --- | --- |
| 0 | all that was asked passes |
| 1 | something fails |
| 2 | the input cannot be used (each problem is told, with its line) or a result not written |
| 3 | nothing fails, but something is open or under review, or nothing was asked |
| 70 | a defect of the program, never an answer |
| 130 | stopped by the user; no file is left half-written |

Some commands say more on their own codes in [the README](../README.md).
"""


def commands() -> dict[str, Any]:
    """Return name -> command, as they are listed."""
    found: dict[str, Any] = typer.main.get_command(app).commands  # type: ignore[attr-defined]
    return found


def pages(sessions: Mapping[str, str]) -> dict[str, str]:
    """Return the page on commands, with the sessions given."""
    rows = [
        (f"[reach {name}](#{anchor(f'reach {name}')})", _first(command.help))
        for name, command in commands().items()
    ]
    parts = [MADE, INTRO, table(("command", "what it does"), rows)]
    parts += [_section(name, command, sessions) for name, command in commands().items()]
    return {"commands.md": "\n".join([*parts, CODES])}


def _first(text: str | None) -> str:
    return " ".join((text or "").split("\n\n")[0].split())


def _section(name: str, command: Any, sessions: Mapping[str, str]) -> str:
    shown = [one for one in command.params if not getattr(one, "hidden", False)]
    arguments = [one for one in shown if one.param_type_name == "argument"]
    options = [one for one in shown if one.param_type_name == "option" and "--help" not in one.opts]
    parts = [f"## reach {name}\n", (command.help or "").strip() + "\n"]
    words = [_metavar(one) if one.required else f"[{_metavar(one)}]" for one in arguments]
    usage = ["reach", name, *words, *(["[OPTIONS]"] if options else [])]
    parts.append(code(" ".join(usage)))
    if arguments:
        rows = [(f"`{_metavar(one)}`", cell(_help(one)), _default(one)) for one in arguments]
        parts.append(table(("argument", "what it is", "must, or default"), rows))
    if options:
        rows = [(_names(one), cell(_help(one)), _default(one)) for one in options]
        parts.append(table(("option", "what it does", "default"), rows))
    if name in sessions:
        parts.append(code(sessions[name]))
    elif name in LONG:
        parts.append(f"No session here: {LONG[name]}\n")
    return "\n".join(parts)


def _help(one: Any) -> str:
    text = str(one.help or "")
    return f"{text} May be repeated." if one.multiple and "repeat" not in text else text


def _names(one: Any) -> str:
    names = [f"`{name}`" for name in (*one.opts, *one.secondary_opts)]
    word = _metavar(one)
    return ", ".join(names) + (f" `{word}`" if word else "")


def _metavar(one: Any) -> str:
    """Return the word that stands for a value: the choices there are, else a name for it."""
    if getattr(one, "is_flag", False):
        return ""
    if choices := _choices(one):
        return " / ".join(choices)
    return str(one.metavar or one.name.upper())


def _choices(one: Any) -> tuple[str, ...]:
    described = getattr(one, "type_descriptor", None)
    if described is not None:
        found = get_args(described.annotation)
        return tuple(str(each) for each in found if isinstance(each, str))
    return tuple(getattr(getattr(one, "type", None), "choices", ()))


def _default(one: Any) -> str:
    if one.required:
        return "must"
    if one.default is None or one.default is False or one.default in ((), [], ""):
        return ""
    if one.default is True:
        return f"`{one.opts[0]}`"
    value = one.default.as_posix() if isinstance(one.default, PurePath) else one.default
    return f"`{value}`"
