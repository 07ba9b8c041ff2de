"""What an answer has seen: fields that are read are noted, and so is what a memo hands on.

While a `Reads` is in force (`Reads.noting`), reading a field of a record that has a name in it
notes name and field.  An answer that is computed again from the same values of just these fields
comes out the same: that is when it may be kept.  Without one, records behave as if this module
did not exist.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field, fields, replace
from functools import wraps
from typing import Any, TypeVar, cast

Name = tuple[Any, ...]
"""What a record is called from run to run, such as ``("situation", "step 3", 0)``."""

Note = tuple[Name, str]
"""A record and the field of it that was read."""

_T = TypeVar("_T")
_F = TypeVar("_F", bound=Callable[..., Any])

ANSWER = "answer of "
"""Begins the field of a note that is the answer of a question, not a field of a record."""

UNKNOWN: Note = (("unknown",), "")
"""Noted where it cannot be said what was seen: such an answer is not kept."""

_reads: ContextVar[Reads | None] = ContextVar("_reads", default=None)


class _Noted:
    """A field that tells when it is read."""

    def __init__(self, name: str, slot: Any) -> None:
        self.name, self.slot = name, slot

    def __get__(self, one: Any, owner: type | None = None) -> Any:
        if one is None:
            return self
        reads = _reads.get()
        if reads is not None:
            reads.note_field(one, self.name)
        return self.slot.__get__(one, owner)

    def __set__(self, one: Any, value: Any) -> None:
        self.slot.__set__(one, value)


def noted(*names: str) -> Callable[[type[_T]], type[_T]]:
    """Return a decorator of dataclasses with slots that notes reads of these fields, or of all."""

    def change(cls: type[_T]) -> type[_T]:
        for name in names or tuple(one.name for one in fields(cls)):  # type: ignore[arg-type]
            setattr(cls, name, _Noted(name, cls.__dict__[name]))
        return cls

    return change


def asked_whole(question: _F) -> _F:
    """Decorate a question about the whole procedure of which only the answer counts.

    What it reads on the way is not noted for whoever asks: the answer is, and is asked for again
    when what was kept is looked at.  Arguments besides the site have to be named records or plain.
    """

    @wraps(question)
    def ask(site: Any, *args: Any) -> Any:
        reads = _reads.get()
        names = None if reads is None or site is not reads.site else reads.names_of(args)
        if reads is None or names is None:
            return question(site, *args)
        return reads.answer(ask, args, names)

    return cast(_F, ask)


def altered(one: _T, **changes: Any) -> _T:
    """Return a record with some fields changed, as `dataclasses.replace` does.

    Fields that are not changed count as seen only when they are read.
    """
    reads = _reads.get()
    if reads is None:
        return replace(one, **changes)  # type: ignore[type-var]
    with reads.unnoted():
        made = replace(one, **changes)  # type: ignore[type-var]
    reads.call_as(made, one, frozenset(changes))
    return made


def step_of(one: Any) -> str:
    """Return the name of a record's step, to be the step of a finding and nothing else.

    It does not count as seen in that step: the same may then be found in another one.
    """
    reads = _reads.get()
    if reads is None or not reads.is_own(one):
        return str(one.step)
    with reads.unnoted():
        return str(one.step)


class Memo(dict[Any, Any]):
    """What several checks share, each entry with what was seen in making it.

    To be used as ``if key not in memo: memo[key] = ...`` and then ``memo[key]``: from the one to
    the other what is read is noted for the entry, and for whoever asks for it.
    """

    def __init__(self) -> None:
        super().__init__()
        self.notes: dict[Any, frozenset[Note]] = {}
        self.recall: Callable[[Memo, Any, str], bool] | None = None

    def __contains__(self, key: object) -> bool:
        if super().__contains__(key):
            return True
        reads = _reads.get()
        if reads is not None:
            return reads.begin(self, key)
        return self.recall is not None and self.recall(self, key, _kind(key))

    def __setitem__(self, key: Any, value: Any) -> None:
        super().__setitem__(key, value)
        reads = _reads.get()
        if reads is not None:
            self.notes[key] = reads.end(self, key, value)

    def __getitem__(self, key: Any) -> Any:
        reads = _reads.get()
        if reads is not None:
            reads.note(self.notes.get(key, (UNKNOWN,)))
        return super().__getitem__(key)

    def get(self, key: Any, default: Any = None) -> Any:
        """Return an entry or the default."""
        return self[key] if super().__contains__(key) else default

    def put(self, key: Any, value: Any, notes: frozenset[Note]) -> None:
        """Take over an entry that was kept, with what was seen in making it."""
        super().__setitem__(key, value)
        self.notes[key] = notes

    def setdefault(self, key: Any, default: Any = None) -> Any:
        """Raise: who comes first must not decide."""
        raise TypeError("a memo keeps what depends on its key alone, not on who comes first")


@dataclass(frozen=True, slots=True)
class _Called:
    """A record with its name; fields in ``own`` are not those of the record of that name.

    ``noted``: for each field where it was noted last, in the notes of an entry or an answer.
    """

    one: Any
    name: Name
    prefix: str = ""
    own: frozenset[str] = frozenset()
    noted: dict[str, set[Note]] = field(default_factory=dict)


class Reads:
    """What is read of the records of one site, by their names.

    Parameters
    ----------
    site : object
        Whose records these are; notes of its own fields are under ``("site",)``.
    records : mapping of name -> record
    inner : mapping of (name, field) -> record
        Records that are part of another one: their fields are noted as fields of that.
    """

    def __init__(
        self, site: Any, records: Mapping[Name, Any], inner: Mapping[tuple[Name, str], Any]
    ) -> None:
        self.site = site
        self.step = ""
        self.records = {("site",): site, **records}
        self.recall: Callable[[Memo, Any, str], bool] | None = None
        self.learn: Callable[[Any, Any, frozenset[Note]], None] | None = None
        self._called = {id(one): _Called(one, name) for name, one in records.items()}
        self._called[id(site)] = _Called(site, ("site",))
        for (name, part), one in inner.items():
            self._called[id(one)] = _Called(one, name, f"{part}.")
        self._frames: list[tuple[Any, Any, set[Note]]] = [(None, None, set())]
        self._answers: dict[Note, Any] = {}

    @contextmanager
    def noting(self) -> Iterator[None]:
        """Note what is read until the end of the block."""
        token = _reads.set(self)
        try:
            yield
        finally:
            _reads.reset(token)

    @contextmanager
    def unnoted(self) -> Iterator[None]:
        """Read without notes until the end of the block; memo entries must not be made in it."""
        token = _reads.set(None)
        try:
            yield
        finally:
            _reads.reset(token)

    @contextmanager
    def apart(self) -> Iterator[set[Note]]:
        """Note what is read in a block in a set of its own, given to nobody else."""
        outer, mine = self._frames, set[Note]()
        self._frames = [(None, None, mine)]
        try:
            yield mine
        finally:
            while len(self._frames) > 1:
                self._pop()
            self._frames = outer

    # ---- what is read ------------------------------------------------------------------

    def note_field(self, one: Any, field: str) -> None:
        """Note that a field of a record was read, if the record has a name."""
        called = self._called.get(id(one))
        if called is None:
            return
        # Records are read over and over while one entry is made: it is noted once for it.
        notes = self._frames[-1][2]
        if called.noted.get(field) is not notes and field not in called.own:
            notes.add((called.name, called.prefix + field))
            called.noted[field] = notes

    def note(self, notes: Any) -> None:
        """Note all that somebody else has seen."""
        self._frames[-1][2].update(notes)

    def begin(self, memo: Memo, key: Any) -> bool:
        """Begin to note what an entry of a memo is made from; True where it was kept."""
        if self.recall is not None and self.recall(memo, key, _kind(key)):
            return True
        self._frames.append((memo, key, set()))
        return False

    def end(self, memo: Memo, key: Any, value: Any) -> frozenset[Note]:
        """Return what an entry of a memo was made from."""
        if not any(one is memo and of == key for one, of, _ in self._frames[1:]):
            # Nobody asked whether it was there: all that is being worked on may be in it.
            return frozenset().union(*(notes for _, _, notes in self._frames))
        while not (self._frames[-1][0] is memo and self._frames[-1][1] == key):
            self._pop()
        notes = frozenset(self._frames[-1][2])
        self._pop()
        if self.learn is not None:
            self.learn(key, value, notes)
        return notes

    def _pop(self) -> None:
        _, _, notes = self._frames.pop()
        self._frames[-1][2].update(notes)

    def is_own(self, one: Any) -> bool:
        """Return whether a record is of the step that is asked about."""
        called = self._called.get(id(one))
        return called is not None and len(called.name) > 1 and called.name[1] == self.step

    # ---- names -------------------------------------------------------------------------

    def called(self, one: Any) -> tuple[Name, str, frozenset[str]] | None:
        """Return name, prefix and own fields of a record; None without a name."""
        called = self._called.get(id(one))
        return None if called is None else (called.name, called.prefix, called.own)

    def call_as(self, made: Any, one: Any, changed: frozenset[str]) -> None:
        """Let a record that was made from another go by its name, but for what was changed."""
        called = self._called.get(id(one))
        if called is not None:
            own = called.own | changed
            self._called[id(made)] = _Called(made, called.name, called.prefix, own)

    def names_of(self, args: tuple[Any, ...]) -> tuple[Any, ...] | None:
        """Return the names of arguments, plain ones as they are; None where one has none."""
        names: list[Any] = []
        for one in args:
            called = self._called.get(id(one))
            if called is not None and not called.prefix and not called.own:
                names.append(called.name)
            elif one is None or isinstance(one, str | bytes | bool | int | float):
                names.append(one)
            else:
                return None
        return tuple(names)

    # ---- questions ---------------------------------------------------------------------

    def answer(self, ask: Any, args: tuple[Any, ...], names: tuple[Any, ...]) -> Any:
        """Return the answer of a question about the whole, and note it."""
        note = (names, f"{ANSWER}{ask.__module__}:{ask.__qualname__}")
        self._frames[-1][2].add(note)
        if note not in self._answers:
            with self.apart():
                self._answers[note] = ask.__wrapped__(self.site, *args)
        return self._answers[note]


def _kind(key: Any) -> str:
    return key[0] if isinstance(key, tuple) and key and isinstance(key[0], str) else ""
