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
from dataclasses import dataclass
from typing import Any, TypeVar, cast

from reach.kept.digest import Digester, NoDigestError
from reach.kept.noting import ANSWER, UNKNOWN, Memo, Name, Note, Reads

MOST_VARIANTS = 4
"""Answers of one question that are kept, for what was seen by turns."""

MOST_ALIKE = 64
"""Ways of one kind that are kept, of whatever step."""

MOST_ENTRIES = 200_000
"""Questions whose answers are held; beyond that those go that were not asked for the longest."""

WORK = ("way found", "crane way", "swung", "gaps", "watched", "curve", "shift")
"""Kinds of memo entries about one motion that are kept: plain data that takes long to find."""

_T = TypeVar("_T")
_SELF: Name = ("itself",)

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

    def of(self, question: Name) -> tuple[Entry, ...]:
        """Return what is kept of a question, the latest first."""
        found = self._entries.get(question, ())
        if found:
            self._entries.move_to_end(question)
        return found

    def keep(self, question: Name, entry: Entry, most: int = MOST_VARIANTS) -> None:
        """Keep an answer in front of those that saw something else."""
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

    def answer(self, title: str, subjects: tuple[Any, ...], find: Callable[[], _T]) -> _T:
        """Return what a question comes to."""
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
        self._digester = Digester(self._refer)
        self._values: dict[Note, bytes | None] = {}
        self.n_asked = self.n_given = 0

    @contextmanager
    def noting(self) -> Iterator[None]:
        """Give and keep parts of the work until the end of the block."""
        with self._reads.noting():
            yield

    def answer(self, title: str, subjects: tuple[Any, ...], find: Callable[[], _T]) -> _T:
        """Return what a question about records of the site comes to: as kept, or found now.

        Parameters
        ----------
        title : str
            Of the question.
        subjects : tuple of records
            What it is asked of.
        find : callable
            Finds the answer; it may see ``subjects``, the site and nothing else that varies.
        """
        self.n_asked += 1
        names = self._reads.names_of(subjects)
        if names is None:
            with self._reads.apart():
                return find()
        question: Name = (self._basis, title, *names)
        with self._reads.noting():
            for entry in self.kept.of(question):
                if self._is_same(entry.seen):
                    self.n_given += 1
                    return cast(_T, entry.value)
            with self._reads.apart() as notes:
                value = find()
            seen = self._seen(notes)
        if seen is not None:
            self.kept.keep(question, Entry(seen, value))
        return value

    # ---- parts of the work -------------------------------------------------------------

    def _recall(self, memo: Memo, key: Any, kind: str) -> bool:
        """Put a kept entry into a memo, if there is one that saw the same."""
        question, own = self._alike(key, kind)
        if question is None:
            return False
        for entry in self.kept.of(question):
            seen = tuple((_renamed(note, _SELF, own), value) for note, value in entry.seen)
            if self._is_same(seen):
                memo.put(key, entry.value, frozenset(note for note, _ in seen))
                return True
        return False

    def _learn(self, key: Any, value: Any, notes: frozenset[Note]) -> None:
        question, own = self._alike(key, key[0] if isinstance(key, tuple) and key else "")
        if question is None:
            return
        seen = self._seen(notes)
        try:
            Digester(_refused).of(value)
        except NoDigestError:
            return
        if seen is not None:
            told = tuple((_renamed(note, own, _SELF), digest) for note, digest in seen)
            self.kept.keep(question, Entry(told, value), MOST_ALIKE)

    def _alike(self, key: Any, kind: Any) -> tuple[Name | None, Name]:
        """Return the question of a memo entry whatever its motion is called, and the motion."""
        if kind not in WORK:
            return None, ()
        names = self._reads.names_of(key[1:])
        if not names or not isinstance(names[0], tuple):
            return None, ()
        return (self._basis, kind, *names[1:]), names[0]

    # ---- what is seen ------------------------------------------------------------------

    def _seen(self, notes: Any) -> Seen | None:
        """Return notes with the digests of what was read; None if that cannot be told."""
        if UNKNOWN in notes:
            return None
        found = [(note, self._value(note)) for note in sorted(notes, key=_rank)]
        if any(value is None for _, value in found):
            return None
        return tuple((note, value) for note, value in found if value is not None)

    def _is_same(self, seen: Seen) -> bool:
        return all(self._value(note) == value for note, value in seen)

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
                found = self._reads.answer(_question(field), args, name)
                with self._reads.unnoted():
                    return self._digester.of(found)
            with self._reads.unnoted():
                found = records[name]
                for part in field.split("."):
                    found = getattr(found, part)
                return self._digester.of(found)
        except (KeyError, AttributeError, NoDigestError):
            return None

    def _refer(self, value: Any) -> object:
        called = self._reads.called(value)
        return (called[0], called[1]) if called is not None and not called[2] else None


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
    return records, inner


def _question(field: str) -> Any:
    module, _, name = field.removeprefix(ANSWER).partition(":")
    return getattr(importlib.import_module(module), name)


def _renamed(note: Note, old: Name, new: Name) -> Note:
    name, field = note
    if name == old:
        return new, field
    if field.startswith(ANSWER):
        return tuple(new if one == old else one for one in name), field
    return note


def _rank(note: Note) -> tuple[bool, str, str]:
    """Return what orders notes: fields first, for answers take longer to ask for again."""
    return note[1].startswith(ANSWER), note[1], repr(note[0])


def _refused(value: Any) -> object:
    """Raise for records of a site: kept data must not hold any."""
    if type(value).__module__ == "reach.site":
        raise NoDigestError(f"{type(value).__name__} belongs to one run")
    return None
