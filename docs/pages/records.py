"""Pages on files: every record with its sentences, its keys and a real example."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from pages.examples import example_of
from pages.markdown import MADE, cell, code, link, plain, table
from pages.words import default, meaning, takes
from reach.files.schema import procedure_schema, records_of, runs_schema, scene_schema
from reach.model.limits import LIMITS, WrittenLimit
from reach.model.procedure import Procedure
from reach.model.runs import RunList
from reach.model.scene import Scene
from reach.reports.record_schema import findings_schema

RUNS_EXAMPLE = """\
format = 1
title = "both sites, both crews"

[[runs]]
scene = "sites/north"
vary = ["crew"]

[[runs]]
name = "south, small bodies"
scene = "sites/south"
procedure = "panel.toml"
sizes = ["small"]
what_if = ["SK3 blocked"]
"""
"""No file of the demo is a list of runs."""

INTRO = {
    "scene": """\
# The scene file

`scene.toml` says everything there is at a worksite; procedures are written about it. Every thing
has a name of its own, and no two things may share one, whatever tables they stand in. A thing
stands in a frame, named by `in`: the world, or another thing.

Lengths, angles, forces and the like are plain SI numbers (m, rad, N, N m, kg, s, K) or texts
with a unit such as `"24 in"`; [the guide](guide.md#units) lists the units. What a key does not
say counts as *not known*, and a check that needs it is *not asked*: it never passes for lack of
a number. Unknown keys are refused, with the nearest known one. `reach schema scene` prints the
same as JSON Schema, for editors that complete and check TOML.

Long lists may be CSV files, named under `tables`: one record a row, columns named like the keys.
""",
    "procedure": """\
# The procedure file

A procedure says what is asked of whom: steps in lanes, each with a place to work from and
actions from a closed set; how the outing begins; what must hold meanwhile; how it is to end.
Names are those of the [scene](scene.md); a lane of kind `worker` has the name of a worker there.
Times are minutes and hours since the start (`"01:14"`), durations texts such as `"6 min"`, plain
numbers are seconds.

A step that leaves something out goes on as before: the same place, the same setting, the same
line. `reach schema procedure` prints the same as JSON Schema.

Steps, items and lines may be CSV files, named under `tables`. A row of steps without a name adds
an action to the step above; its columns are the keys of the action.
""",
    "runs": """\
# The list of runs

`reach batch LIST` does many runs. The list is TOML as below, or CSV with the keys of a run as
columns and `;` between several. Paths are relative to the folder of the list; a run's own keys
win over the options of the command. `reach schema runs` prints the same as JSON Schema.
""",
    "findings": """\
# The findings file

`reach check --json FILE` (and `ask`, `settings`, `route` and others) writes what was asked, what
was found and what it rests on. All numbers are SI. The same inputs give the same bytes: no time
of day, no folder of your computer. `reach schema findings` prints the same as JSON Schema.

A verdict follows from the margin alone: at least 0 throughout is *pass*, below 0 throughout is
*fail*; an interval across 0 is *review* where it is narrow, else *open*; without a margin it is
*not asked*. See [how to read an answer](guide.md#how-to-read-an-answer).

`--csv FILE` writes a row for each finding, with the limit that decides.
""",
}


class Shown(NamedTuple):
    """One record as a page shows it."""

    name: str
    told: Mapping[str, Any]
    record: type[BaseModel] | None


def pages() -> dict[str, str]:
    """Return name -> text of the four pages on files."""
    return {
        "scene.md": _page("scene", scene_schema(), Scene),
        "procedure.md": _page("procedure", procedure_schema(), Procedure),
        "runs.md": _page("runs", runs_schema(), RunList),
        "findings.md": _page("findings", findings_schema(), None),
    }


def _page(kind: str, schema: dict[str, Any], model: type[BaseModel] | None) -> str:
    records = dict(records_of(model)) if model else {}
    if kind == "scene":
        records |= records_of(WrittenLimit)
    top = model.__name__ if model else "Findings"
    shown = [Shown(n, t, records.get(n)) for n, t in _in_order(top, schema)]
    users = _users(shown)
    parts = [MADE, INTRO[kind], "## All records\n", _contents(shown, users)]
    for one in shown:
        parts.append(_section(one, schema, users.get(one.name, []), kind))
    return "\n".join(parts)


def _in_order(top: str, schema: dict[str, Any]) -> list[tuple[str, Mapping[str, Any]]]:
    """Return the records from the top on, each followed by what it holds, each once."""
    found: dict[str, Mapping[str, Any]] = {}

    def visit(name: str, told: Mapping[str, Any]) -> None:
        if name in found or not told.get("properties"):
            return
        found[name] = told
        for key, one in told["properties"].items():
            inner = _inner(one)
            if inner is not None:
                visit(f"{name}.{key}", inner)
            for ref in _refs(one):
                visit(ref, schema["$defs"][ref])

    visit(top, schema)
    return list(found.items())


def _inner(told: Mapping[str, Any]) -> Mapping[str, Any] | None:
    """Return a table that is described where it is used, as those of the findings are."""
    told = told.get("items", told) if told.get("type") == "array" else told
    is_limits = "reach_margin" in told.get("properties", {})
    return told if told.get("properties") and not is_limits else None


def _refs(told: Any) -> Iterator[str]:
    """Yield the records that a key refers to, in order."""
    if isinstance(told, dict):
        if "$ref" in told:
            yield str(told["$ref"]).rpartition("/")[2]
        for key, one in told.items():
            if key not in ("discriminator", "default"):
                yield from _refs(one)
    elif isinstance(told, list):
        for one in told:
            yield from _refs(one)


def _users(shown: list[Shown]) -> dict[str, list[str]]:
    """Return for each record where it stands, in words."""
    found: dict[str, list[str]] = {}
    for one in shown:
        for key, told in one.told["properties"].items():
            inner = [f"{one.name}.{key}"] if _inner(told) is not None else []
            for ref in dict.fromkeys([*_refs(told), *inner]):
                found.setdefault(ref, []).append(f"`{key}` of {link(one.name)}")
    return found


def _contents(shown: list[Shown], users: Mapping[str, list[str]]) -> str:
    led = {
        name: meaning(told).rstrip(".")
        for one in shown
        for key, told in one.told["properties"].items()
        for name in (*_refs(told), f"{one.name}.{key}")
    }
    rows = [
        (
            link(one.name),
            _about(one) or led[one.name],
            ", ".join(users.get(one.name, [])),
        )
        for one in shown
    ]
    return table(("record", "what it is", "where it stands"), rows)


def _about(one: Shown) -> str:
    """Return the first sentence of a record, and of an action what `do` says."""
    text = " ".join(_sentences(one).split("\n\n")[0].split()).split(". ")[0].rstrip(".")
    do = _action_of(one)
    return f"{do}: {text[:1].lower()}{text[1:]}" if do else text


def _sentences(one: Shown) -> str:
    """Return the record's own sentences, without the lists of attributes."""
    text = str(one.told.get("description", ""))
    return plain(text.partition("\n\nAttributes\n")[0])


def _action_of(one: Shown) -> str:
    """Return what `do` says of an action, or nothing."""
    do = one.told["properties"].get("do", {})
    words = [do["const"]] if "const" in do else do.get("enum", [])
    return " / ".join(f"`{word}`" for word in words)


def _section(one: Shown, schema: dict[str, Any], users: list[str], kind: str) -> str:
    parts = [f"## {one.name}\n"]
    if sentences := _sentences(one):
        parts.append(sentences + "\n")
    if users:
        parts.append(f"Stands in: {', '.join(users)}.\n")
    parts.append(_keys(one, schema))
    if one.name == "Scene":
        parts.append(_limits())
    if shown := _example(one, kind):
        parts.append(shown)
    return "\n".join(parts)


def _keys(one: Shown, schema: dict[str, Any]) -> str:
    fields = {f.alias or key: f for key, f in one.record.model_fields.items()} if one.record else {}
    rows = []
    for key, told in one.told["properties"].items():
        words = _words(one, key, told, schema, fields.get(key))
        rows.append((f"`{key}`", words, default(key, told, one.told), cell(plain(meaning(told)))))
    return table(("key", "takes", "must, or default", "meaning"), rows)


def _words(
    one: Shown, key: str, told: Mapping[str, Any], schema: dict[str, Any], field: FieldInfo | None
) -> str:
    if one.name == "Scene" and key == "limits":
        return f"names, each with a number, text with a unit, or {link('WrittenLimit')}"
    if _inner(told) is not None:
        inner = link(f"{one.name}.{key}")
        return f"list of {inner}" if told.get("type") == "array" else inner
    return takes(told, schema, field)


def _limits() -> str:
    return (
        f"There are {len(LIMITS)} limits; [the page on checks](checks.md#all-limits) lists them\n"
        "with value, unit and source. What a scene does not give is taken from the shipped ones.\n"
    )


def _example(one: Shown, kind: str) -> str:
    if kind == "runs":
        return code(RUNS_EXAMPLE, "toml") if one.name == "RunList" else ""
    if kind == "findings":
        return ""
    do = one.told["properties"].get("do", {})
    action = str(do.get("const") or (do.get("enum") or [""])[0])
    found = example_of(one.name, kind == "procedure", action)
    if found is None:
        return ""
    return f"From {_named(found.file)}:\n\n{code(found.text, 'toml')}"


def _named(file: str) -> str:
    return file if "`" in file else f"`{file}`"
