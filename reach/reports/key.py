"""Findings compared with a key: a table of what a run must find, and nothing worse beside it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from reach.files.problem import InputError, Problem, unknown
from reach.files.table import Column, Row, read_table
from reach.finding import Finding, Verdict
from reach.reports.margin import margin_text

_FORMS = {"case": "list", "about": "list", "at_least": "number"}
_REQUIRED = ("check", "step", "verdict")
COLUMNS = tuple(
    Column(name, (name,), _FORMS.get(name, "text"), name in _REQUIRED)
    for name in (
        "fault",
        "check",
        "step",
        "case",
        "about",
        "verdict",
        "at_least",
        "consequence_of",
        "note",
    )
)
"""Columns of a key; lists are separated by semicolons."""

_VERDICTS = tuple(str(verdict) for verdict in Verdict)
_MEASURED = (Verdict.FAIL, Verdict.PASS)


@dataclass(frozen=True, slots=True)
class KeyRow:
    """One line of a key.

    Attributes
    ----------
    line : int
        Where it stands in the file.
    fault : str
        Name of the fault in the scene, or of the clean case.
    check, step : str
        A finding of this check about this step is asked for.
    cases : tuple of str
        Each of them must be found; when empty, every case that was run.
    about : tuple of str
        Names that the finding must be about, among others.
    verdict : Verdict
    at_least : float or None, SI
        For a fail what must be missing at least, for a pass what must be left at least.
    consequence_of : str
        The fault that this one follows from.
    note : str
    """

    line: int
    fault: str
    check: str
    step: str
    cases: tuple[str, ...]
    about: tuple[str, ...]
    verdict: Verdict
    at_least: float | None = None
    consequence_of: str = ""
    note: str = ""

    def asks_about(self, finding: Finding) -> bool:
        """Return whether this row has a say about the finding, whatever its verdict.

        A finding without a case holds for every one.
        """
        return (
            finding.check == self.check
            and finding.step == self.step
            and (not self.cases or not finding.case or finding.case in self.cases)
            and set(self.about) <= set(finding.about)
        )


def load_key(path: Path, names: Mapping[str, str] | None = None) -> tuple[KeyRow, ...]:
    """Return the rows of a key file, a CSV table with the columns of `COLUMNS`.

    Parameters
    ----------
    path : Path
    names : mapping, optional
        Check id -> plain name, for keys that write ids.

    Raises
    ------
    InputError
        With every problem of the file.
    """
    problems: list[Problem] = []
    table = read_table(path, path.name, COLUMNS, problems)
    rows = tuple(_key_row(row, names or {}, problems) for row in table.rows)
    if problems:
        raise InputError(problems)
    return rows


def _key_row(row: Row, names: Mapping[str, str], problems: list[Problem]) -> KeyRow:
    cell = row.data
    verdict = cell.get("verdict", "")
    if verdict not in _VERDICTS:
        problems.append(row.problem(("verdict",), unknown("verdict", verdict, _VERDICTS)))
        verdict = Verdict.FAIL
    at_least = cell.get("at_least")
    if at_least is not None and not (verdict in _MEASURED and _is_amount(at_least)):
        message = f"goes with fail or pass and is an SI number, 0 or more; found {at_least!r}"
        problems.append(row.problem(("at_least",), message))
    check = str(cell.get("check", ""))
    return KeyRow(
        line=row.line,
        fault=str(cell.get("fault", "")),
        check=names.get(check, check),
        step=str(cell.get("step", "")),
        cases=tuple(cell.get("case", ())),
        about=tuple(cell.get("about", ())),
        verdict=Verdict(verdict),
        at_least=at_least,
        consequence_of=str(cell.get("consequence_of", "")),
        note=str(cell.get("note", "")),
    )


def _is_amount(value: object) -> bool:
    return isinstance(value, int | float) and math.isfinite(value) and value >= 0.0


def compare(rows: Iterable[KeyRow], findings: Sequence[Finding]) -> list[str]:
    """Return what differs between a key and findings, one sentence each; empty when equal.

    Every row must be met by the findings it asks about, and every finding that does not pass
    must be asked about by a row: no other fail.
    """
    rows = tuple(rows)
    differences = [sentence for row in rows for sentence in _unmet(row, findings)]
    differences += [
        f"{_said(finding)} is not in the key: {finding.because}"
        for finding in findings
        if finding.verdict in (Verdict.FAIL, Verdict.OPEN, Verdict.REVIEW)
        and not any(row.asks_about(finding) for row in rows)
    ]
    return differences


def comparison(rows: Sequence[KeyRow], differences: Sequence[str]) -> str:
    """Return the outcome of `compare` as text."""
    n_rows = f"{len(rows)} row{'' if len(rows) == 1 else 's'}"
    if not differences:
        return f"\nKEY  equal: {n_rows} met, and nothing else fails or is unknown\n"
    n = f"{len(differences)} difference{'' if len(differences) == 1 else 's'}"
    lines = "".join(f"  - {sentence}\n" for sentence in differences)
    return f"\nKEY  not equal: {n} from its {n_rows}\n{lines}"


def _unmet(row: KeyRow, findings: Sequence[Finding]) -> list[str]:
    asked = [finding for finding in findings if row.asks_about(finding)]
    found = {finding.case for finding in asked}
    missing = [] if "" in found else [case for case in row.cases if case not in found]
    name = f"{row.fault or 'key'} (line {row.line})"
    sentences = [f"{name}: {what} was not answered." for what in _what(row, missing, asked)]
    for finding in asked:
        if finding.verdict is not row.verdict:
            sentences.append(f"{name}: {_said(finding)}, the key says {row.verdict}.")
        elif row.at_least is not None and _size(finding) < row.at_least:
            margin = margin_text(finding.low, finding.high, finding.unit)
            asked_for = f"{row.at_least:g} {finding.unit}".rstrip()
            sentences.append(
                f"{name}: {_said(finding)} as the key says, but {margin}, "
                f"where the key asks for {asked_for} at least."
            )
    return sentences


def _what(row: KeyRow, missing: Sequence[str], asked: Sequence[Finding]) -> list[str]:
    question = f"{row.check} in step {row.step}"
    if row.about:
        question += f" about {', '.join(row.about)}"
    if missing:
        return [f"{question} for {case}" for case in missing]
    return [] if asked else [question]


def _size(finding: Finding) -> float:
    """Return what is missing at least in a fail, or left at least in a pass."""
    return -finding.high if finding.verdict is Verdict.FAIL else finding.low


def _said(finding: Finding) -> str:
    about = ", ".join(finding.about)
    case = f" for {finding.case}" if finding.case else ""
    return f"{finding.check} in step {finding.step} ({about}){case} is {finding.verdict}"
