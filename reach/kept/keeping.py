"""Findings kept from run to run: given again where all that they have seen is as it was.

Of every check of every step it is noted what it read (`reach.kept.noting`), each with a digest
of its value.  A later run gives the kept findings where each of these values is the same, and
runs the check where not.  Dear parts of the work, such as the way of a crane, are kept likewise.
"""

from __future__ import annotations

import importlib
from collections import OrderedDict
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Any

from reach.finding import Finding
from reach.kept.digest import Digester, NoDigestError
from reach.kept.noting import ANSWER, UNKNOWN, Memo, Name, Note, Reads

MOST_VARIANTS = 4
"""Answers of one question that are kept, for what was seen by turns."""

MOST_ALIKE = 64
"""Ways of one kind that are kept, of whatever step."""

MOST_ENTRIES = 200_000
"""Questions whose answers are held; beyond that those go that were not asked for the longest."""

WORK = (
    "way found",
    "crane way",
    "swung",
    "gaps",
    "watched",
    "curve",
    "shift",
    "standing by",
    "lit",
    "at work",
    "apart",
    "minutes home",
    "at hand",
    "widest step",
)
"""Kinds of memo entries that are kept, about one motion, situation or place: plain data."""

_SELF = None
"""Stands in kept notes for the name of the step that was asked about."""

_KIND = {
    "situation": ("action", "place", "passage", "worker", "case"),
    "carriage": ("action", "poses", "case"),
}
"""What tells most steps of one kind from others; the rest is looked at one by one."""

Seen = tuple[tuple[Note, bytes], ...]
"""What was read, each with the digest of its value."""


@dataclass(frozen=True, slots=True)
class Entry:
    """An answer with what was seen in finding it."""

    seen: Seen
    value: Any


class Kept:
    """What was found by earlier runs, for as long as the object lives; see `reach.run.check`.

    Runs of other scenes may share it.  It holds plain data, no scene.
    """

    def __init__(self) -> None:
        self._entries: OrderedDict[Name, tuple[Entry, ...]] = OrderedDict()
        self.made: list[tuple[Name, Entry, int]] | None = None

    def of(self, question: Name) -> tuple[Entry, ...]:
        """Return what is kept of a question, the latest first."""
        found = self._entries.get(question, ())
        if found:
            self._entries.move_to_end(question)
        return found

    def keep(self, question: Name, entry: Entry, most: int = MOST_VARIANTS) -> None:
        """Keep an answer in front of those that saw something else."""
        if self.made is not None:
            self.made.append((question, entry, most))
        others = (one for one in self._entries.get(question, ()) if one.seen != entry.seen)
        self._entries[question] = (entry, *others)[:most]
        self._entries.move_to_end(question)
        while len(self._entries) > MOST_ENTRIES:
            self._entries.popitem(last=False)


class Keeping:
    """What runs over one scene give and keep; with nowhere to keep they find all of it anew.

    Parameters
    ----------
    kept : Kept or None
    basis : plain data and records
        All that every answer depends on: the scene, its meshes and arms.
    """

    def __init__(self, kept: Kept | None, basis: object) -> None:
        self._kept = kept
        self._basis = b"" if kept is None else Digester().of(basis)

    def of(self, site: Any) -> Run | PlainRun:
        """Return a run over a site with its situations and carriages."""
        return PlainRun() if self._kept is None else Run(self._kept, self._basis, site)


class PlainRun:
    """A run that keeps nothing."""

    @contextmanager
    def noting(self) -> Iterator[None]:
        """Do nothing until the end of the block."""
        yield

    def has(self, check: str, step: str, subjects: tuple[Any, ...]) -> bool:
        """Return False."""
        return False

    def findings(
        self, check: str, step: str, subjects: tuple[Any, ...], find: Callable[[], list[Finding]]
    ) -> list[Finding]:
        """Return what a check finds in a step."""
        return find()


class Run:
    """One run over a site: gives what is kept, and keeps what it has to find.

    Parameters
    ----------
    kept : Kept
    basis : bytes
        Digest of all that every answer depends on.
    site : Site
        With its situations and carriages.
    """

    def __init__(self, kept: Kept, basis: bytes, site: Any) -> None:
        self.kept, self._basis = kept, basis
        records, inner = _named(site)
        self._reads = Reads(site, records, inner)
        self._reads.recall, self._reads.learn = self._recall, self._learn
        site.memo.recall = self._recalled
        self._large: dict[int, tuple[Any, bytes]] = {}
        self._digesters: dict[Any, Digester] = {}
        self._kinds: dict[Any, bytes | None] = {}
        self._values: dict[Note, bytes | None] = {}

    @contextmanager
    def noting(self) -> Iterator[None]:
        """Give and keep parts of the work until the end of the block."""
        with self._reads.noting():
            yield

    def has(self, check: str, step: str, subjects: tuple[Any, ...]) -> bool:
        """Return whether what a check finds in a step is kept."""
        with self._reads.noting(), self._reads.apart():
            question = self._question(check, subjects)
            return question is not None and any(
                self._is_same(entry.seen, step) for entry in self.kept.of(question)
            )

    def findings(
        self, check: str, step: str, subjects: tuple[Any, ...], find: Callable[[], list[Finding]]
    ) -> list[Finding]:
        """Return what a check finds in a step: as kept, or found now.

        What was found in another step serves too, where nothing that was seen differs but the
        name of the step.

        Parameters
        ----------
        check, step : str
        subjects : tuple of records
            The situations and motions of the step.
        find : callable
            Finds it; it may see ``subjects``, the site and nothing else that varies.
        """
        self._reads.step = step
        with self._reads.noting():
            question = self._question(check, subjects)
            if question is None:
                with self._reads.apart():
                    return find()
            for entry in self.kept.of(question):
                if self._is_same(entry.seen, step):
                    return [replace(one, step=step) for one in entry.value]
            with self._reads.apart() as notes:
                found = find()
            if any(not _is_of(one, step) for one in found):
                # The name of the step counts in what is said.
                notes.add((self._reads.names_of(subjects[:1])[0], "step"))  # type: ignore[index]
            seen = self._seen(notes, step)
        if seen is not None:
            self.kept.keep(question, Entry(seen, found), MOST_ALIKE)
        return found

    def _question(self, check: str, subjects: tuple[Any, ...]) -> Name | None:
        """Return what the check is asked of, whatever the step is called."""
        names = self._reads.names_of(subjects)
        if names is None:
            return None
        if names not in self._kinds:
            kind: list[bytes | None] = []
            for name in names:
                told = (self._value((name, field)) for field in _KIND[name[0]])
                kind += [name[0].encode(), *told]
            self._kinds[names] = None if None in kind else Digester().of(tuple(kind))
        asked = self._kinds[names]
        return None if asked is None else (self._basis, asked, check)

    # ---- parts of the work -------------------------------------------------------------

    def _recalled(self, memo: Memo, key: Any, kind: str) -> bool:
        """Put a kept entry into a memo after the run, for pictures."""
        with self._reads.noting(), self._reads.apart():
            return self._recall(memo, key, kind)

    def _recall(self, memo: Memo, key: Any, kind: str) -> bool:
        """Put a kept entry into a memo, if there is one that saw the same."""
        question, step = self._alike(key, kind)
        if question is None:
            return False
        for entry in self.kept.of(question):
            if self._is_same(entry.seen, step):
                notes = frozenset(_renamed(note, _SELF, step) for note, _ in entry.seen)
                memo.put(key, entry.value, notes)
                return True
        return False

    def _learn(self, key: Any, value: Any, notes: frozenset[Note]) -> None:
        question, step = self._alike(key, key[0] if isinstance(key, tuple) and key else "")
        if question is None:
            return
        seen = self._seen(notes, step)
        try:
            Digester(_refused).of(value)
        except NoDigestError:
            return
        if seen is not None:
            self.kept.keep(question, Entry(seen, value), MOST_ALIKE)

    def _alike(self, key: Any, kind: Any) -> tuple[Name | None, Any]:
        """Return the question of a memo entry whatever the step of its motion, and the step."""
        if kind not in WORK:
            return None, ""
        names = self._reads.names_of(key[1:])
        if not names:
            return None, ""
        if not isinstance(names[0], tuple):  # of the scene, not of a step
            return (self._basis, kind, *names), ""
        return (self._basis, kind, names[0][2], *names[1:]), names[0][1]

    # ---- what is seen ------------------------------------------------------------------

    def _seen(self, notes: Any, step: str) -> Seen | None:
        """Return notes with the digests of what was read; None if that cannot be told."""
        if UNKNOWN in notes:
            return None
        found = [(note, self._value(note)) for note in sorted(notes, key=_rank)]
        if any(value is None for _, value in found):
            return None
        return tuple(
            (_renamed(note, step, _SELF), value) for note, value in found if value is not None
        )

    def _is_same(self, seen: Seen, step: str) -> bool:
        return all(self._value(_renamed(note, _SELF, step)) == value for note, value in seen)

    def _value(self, note: Note) -> bytes | None:
        """Return the digest of what a note is about in this run; None if it is not there."""
        if note not in self._values:
            self._values[note] = self._digest(note)
        return self._values[note]

    def _digest(self, note: Note) -> bytes | None:
        name, field = note
        records = self._reads.records
        try:
            if field.startswith(ANSWER):
                args = tuple(records[one] if isinstance(one, tuple) else one for one in name)
                found = self._reads.answer(_asked(field), args, name)
                step = next((one[1] for one in name if isinstance(one, tuple)), None)
            else:
                step = name[1] if len(name) > 1 else None
                found = records[name]
            with self._reads.unnoted():
                if not field.startswith(ANSWER):
                    for part in field.split("."):
                        found = found[int(part)] if part.isdigit() else getattr(found, part)
                return self._digester(step).of(found)
        except Exception:  # what cannot be asked again is not the same
            return None

    def _digester(self, step: Any) -> Digester:
        """Return digests in which records of a step count as its own, whatever its name."""
        if step not in self._digesters:

            def refer(value: Any) -> object:
                called = self._reads.called(value)
                if called is None or called[2]:
                    return None
                name, prefix, _ = called
                own = len(name) > 1 and name[1] == step
                return ((name[0], "own step", *name[2:]) if own else name, prefix)

            self._digesters[step] = Digester(refer, self._large)
        return self._digesters[step]


def _named(site: Any) -> tuple[dict[Name, Any], Mapping[tuple[Name, str], Any]]:
    """Return the records of a site by name, and the riders that are part of motions."""
    records: dict[Name, Any] = {}
    inner: dict[tuple[Name, str], Any] = {}
    for kind, some in (("situation", site.asked), ("carriage", site.carriages)):
        count: dict[str, int] = {}
        for one in some:
            k = count[one.step] = count.get(one.step, -1) + 1
            records[kind, one.step, k] = one
            if kind == "carriage" and one.rider is not None:
                inner[(kind, one.step, k), "rider"] = one.rider
            for i, stay in enumerate(one.bystanders if kind == "carriage" else ()):
                inner[(kind, one.step, k), f"bystanders.{i}.situation"] = stay.situation
    return records, inner


def _asked(field: str) -> Any:
    module, _, name = field.removeprefix(ANSWER).partition(":")
    return getattr(importlib.import_module(module), name)


def _renamed(note: Note, old: Any, new: Any) -> Note:
    """Return a note with another name of a step in the names of records."""
    name, field = note
    if field.startswith(ANSWER):
        return tuple(_moved(one, old, new) if type(one) is tuple else one for one in name), field
    return _moved(name, old, new), field


def _moved(name: Name, old: Any, new: Any) -> Name:
    return (name[0], new, *name[2:]) if len(name) > 1 and name[1] == old else name


def _is_of(finding: Finding, step: str) -> bool:
    """Return whether a finding names a step as its own and nowhere else."""
    return finding.step == step and step not in repr(replace(finding, step=""))


def _rank(note: Note) -> tuple[bool, str, str]:
    """Return what orders notes: fields first, for answers take longer to ask for again."""
    return note[1].startswith(ANSWER), note[1], repr(note[0])


def _refused(value: Any) -> object:
    """Raise for records of a site: kept data must not hold any."""
    if type(value).__module__ == "reach.site":
        raise NoDigestError(f"{type(value).__name__} belongs to one run")
    return None
