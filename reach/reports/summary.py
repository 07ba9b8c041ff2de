"""The summary of a batch: failures first, counts for every task, cautions always.

It is gathered task by task into temporary files, so that it may be longer than memory.
"""

from __future__ import annotations

import hashlib
import math
import shutil
import textwrap
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from contextlib import ExitStack
from itertools import chain
from tempfile import TemporaryFile
from types import TracebackType
from typing import IO, Any, TextIO

from reach.cautions import as_varied, cautions
from reach.finding import RANK, Finding, Verdict, code_of
from reach.reports.order import UNSETTLED, grouped
from reach.reports.verdicts import MEANING, badge

WIDTH = 100
_CODES = {
    0: "everything that was asked passes",
    1: "something fails",
    3: "nothing fails, but not everything is known",
}
_SECTIONS = {
    "fails": "FAILS",
    "broken input": "BROKEN INPUT",
    "not finished": "NOT FINISHED",
    "unsettled": "UNKNOWN: OPEN OR UNDER REVIEW",
    "tasks": "TASKS",
    "not asked": "NOT CHECKED",
    "notes": "NOTES",
}
_REMARK = {
    "broken input": "these runs have no answer",
    "not finished": "the program came to no answer; the same command tries again",
    "tasks": "hash of the inputs, then how many answers",
    "not asked": "nothing was asked here, which is not a pass",
}


class Summary:
    """The summary while it is gathered; the order of the tasks is the caller's."""

    def __init__(self, left_out: Iterable[str] = ()) -> None:
        self._stack = ExitStack()
        self._sections: dict[str, IO[str]] = {name: self._section() for name in _SECTIONS}
        self._counts: Counter[Verdict] = Counter()
        self._ended: Counter[str] = Counter()
        self._unsure: Counter[str] = Counter()
        self._digest = hashlib.sha256()
        for name in left_out:
            self.note(f"{name} was left out: it is neither a scene nor a procedure.")

    def _section(self) -> IO[str]:
        section = TemporaryFile("w+", encoding="utf-8")  # noqa: SIM115, closed by the stack
        return self._stack.enter_context(section)

    def __enter__(self) -> Summary:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._stack.close()

    def add(self, name: str, record: Mapping[str, Any]) -> None:
        """Add a task by the record of its outcome, as `to_json` writes it."""
        findings = [_finding(data) for data in record["findings"]]
        counts = Counter(finding.verdict for finding in findings)
        self._counts += counts
        self._ended["done"] += 1
        self._digest.update(record["hash"].encode())
        fails = [finding for finding in findings if finding.verdict is Verdict.FAIL]
        unsettled = [finding for finding in findings if finding.verdict in UNSETTLED]
        for section, some in (("fails", fails), ("unsettled", unsettled)):
            if some:
                self._say(section, name, 2)
                self._groups(section, some)
        told = "  ".join(f"{verdict} {counts[verdict]}" for verdict in RANK)
        self._say("tasks", f"{name}  ({record['hash']})", 2)
        self._say("tasks", told, 6)
        self._not_asked(name, record)
        known = as_varied(record["what_if"])  # the name of a task says so already
        for warning in record["warnings"]:
            if warning not in known:
                self.note(f"{name}: {warning}")

    def add_failed(self, name: str, word: str, lines: Iterable[str]) -> None:
        """Add a task without an answer, with what there is to say about it."""
        self._ended[word] += 1
        self._digest.update(word.encode())
        self._say(word, name, 2)
        for line in lines:
            self._say(word, line, 6)

    def note(self, text: str) -> None:
        """Add a remark."""
        self._say("notes", text, 2)

    def write(self, out: TextIO) -> None:
        """Write the summary."""
        n = sum(self._ended.values())
        print(f"Batch of {n} {_plural('task', n)}: {self._counts.total()} answers.", file=out)
        for verdict in (verdict for verdict in RANK if verdict is not Verdict.NOT_ASKED):
            print(f"  {badge(verdict):<9} {MEANING[verdict]}", file=out)
        for name, title in _SECTIONS.items():
            self._copy(out, name, title)
        print("\nCOUNTS", file=out)
        counted = "    ".join(f"{badge(verdict)} {self._counts[verdict]}" for verdict in RANK)
        print(f"  {counted}", file=out)
        print(f"  {self._result()}", file=out)
        print("\nCAUTIONS", file=out)
        for number, text in enumerate(cautions([("batch", self._digest.hexdigest())]), 1):
            print(_wrapped(text, 6, f"  {number:>2}. "), file=out)

    def _copy(self, out: TextIO, name: str, title: str) -> None:
        part = self._sections[name]
        part.seek(0)
        first = part.readline()
        if not first and name in ("fails", "unsettled"):
            print(f"\n{title}  none", file=out)
        if first:
            remark = _REMARK.get(name, "")
            print(f"\n{title}{f'  {remark}' if remark else ''}\n{first}", file=out, end="")
            shutil.copyfileobj(part, out)

    def _result(self) -> str:
        parts = [f"Result: {_CODES[code_of(self._counts)]}"]
        for word in ("broken input", "not finished"):
            if self._ended[word]:
                n = self._ended[word]
                parts.append(f"{n} {_plural('task', n)} without an answer ({word})")
        return "; ".join(parts) + "."

    def _groups(self, section: str, findings: Iterable[Finding]) -> None:
        for group in grouped(findings):
            about = " · ".join(group.about)
            line = f"{badge(group.verdict)}  {group.check}, step {group.step}: {about}"
            self._say(section, line, 4)
            for entry in group.entries:
                self._say(section, entry.said, 6)
                self._say(section, entry.because, 8)
                if entry.fix:
                    self._say(section, f"Fix: {entry.fix}", 8)

    def _not_asked(self, name: str, record: Mapping[str, Any]) -> None:
        silent = Counter(
            finding["check"] for finding in record["findings"] if finding["verdict"] == "not asked"
        )
        whole = [f"{each['check']} ({each['because'].rstrip('.')})" for each in record["not_asked"]]
        part = [f"{check} in {n} {_plural('question', n)}" for check, n in silent.items()]
        if whole or part:
            self._say("not asked", f"{name}: {'; '.join(whole + part)}", 2)

    def _say(self, section: str, text: str, indent: int) -> None:
        print(_wrapped(text, indent, " " * indent), file=self._sections[section])


def shortened(lines: Iterable[str], most: int, place: str) -> Iterator[str]:
    r"""Yield a written summary with at most so many lines of each section, for a screen.

    Examples
    --------
    >>> print(*shortened(["\n", "FAILS\n", "  a\n", "  b\n", "\n", "COUNTS\n"], 2, "s.txt"), sep="")
    <BLANKLINE>
    FAILS
      a
      … 1 more line stands in s.txt
    <BLANKLINE>
    COUNTS
    <BLANKLINE>
    """
    row = left_out = 0
    for line in chain(lines, [""]):
        row = 0 if line in ("\n", "") else row + 1
        if row > most:
            left_out += 1
            continue
        if left_out:
            said = "line stands" if left_out == 1 else "lines stand"
            yield f"  … {left_out} more {said} in {place}\n"
            left_out = 0
        yield line


def _wrapped(text: str, indent: int, first: str) -> str:
    return textwrap.fill(
        text,
        WIDTH,
        initial_indent=first,
        subsequent_indent=" " * indent,
        break_long_words=False,
        break_on_hyphens=False,
    )


def _plural(word: str, n: int) -> str:
    return word if n == 1 else f"{word}s"


def _finding(data: Mapping[str, Any]) -> Finding:
    """Return a finding of a record, as far as its words and its margin go."""
    low, high = data["margin"]["low"], data["margin"]["high"]
    unknown = math.nan if data["verdict"] == "not asked" else None
    return Finding(
        check=data["check"],
        step=data["step"],
        about=tuple(data["about"]),
        case=data["case"],
        because=data["because"],
        low=_end(low, unknown, -math.inf),
        high=_end(high, unknown, math.inf),
        unit=data["margin"]["unit"],
        fix=data["fix"],
    )


def _end(value: float | None, unknown: float | None, infinite: float) -> float:
    if value is not None:
        return value
    return infinite if unknown is None else unknown
