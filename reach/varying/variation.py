"""What can be otherwise: one record for each kind of variation, and its words.

The first field of each names what is varied; quantities stay as they are typed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Hand = Literal["right", "left"]
Status = Literal["blocked", "gone", "free"]


@dataclass(frozen=True, slots=True)
class Swap:
    """Two workers change places with body, hand and suit; lanes, lines and steps stay."""

    first: str
    second: str


@dataclass(frozen=True, slots=True)
class Sized:
    """A worker has the body of a size class; hand and suit stay theirs."""

    worker: str
    size: str


@dataclass(frozen=True, slots=True)
class Handed:
    """A worker has another better hand; hands that steps name stay."""

    worker: str
    hand: Hand


@dataclass(frozen=True, slots=True)
class Marked:
    """A socket that takes no restraint, a rail or handhold that is not held, or either free.

    A rail that is gone keeps its name, since routes may name it: no way may be along it.
    """

    name: str
    status: Status


@dataclass(frozen=True, slots=True)
class Reeled:
    """A safety line pays out another length, hook to hook."""

    tether: str
    length: str


@dataclass(frozen=True, slots=True)
class Limited:
    """A limit has another value; its source is the variation."""

    limit: str
    value: str


@dataclass(frozen=True, slots=True)
class Shifted:
    """Time windows come later, or earlier: the one called ``window``, or all if it is empty.

    ``by`` has a sign.  Before the procedure begins there is nothing: spans are cut off there.
    """

    window: str
    by: str


Variation = Swap | Sized | Handed | Marked | Reeled | Limited | Shifted


def words_of(variation: Variation) -> str:
    """Return a variation as it is typed and told.

    Examples
    --------
    >>> words_of(Handed("W1", "left")), words_of(Shifted("", "+10 min"))
    ('W1 is left-handed', 'windows +10 min')
    """
    match variation:
        case Swap(first, second):
            return f"swap {first} and {second}"
        case Sized(worker, size):
            return f"{worker} is {size}"
        case Handed(worker, hand):
            return f"{worker} is {hand}-handed"
        case Marked(name, status):
            return f"{name} {status}"
        case Reeled(tether, length):
            return f"{tether} length {length}"
        case Limited(limit, value):
            return f"limit {limit} {value}"
        case Shifted(window, by):
            return " ".join(part for part in ("windows", window, by) if part)
