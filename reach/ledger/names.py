"""What the ledger calls its variables: one for each thing that steps can change."""

from __future__ import annotations

ADRIFT = "adrift"
"""Where a thing is that nothing holds."""


def place(worker: str) -> str:
    """Where a worker is: a place by name, a hatch for the lock's."""
    return f"place of {worker}"


def boots(worker: str) -> str:
    """What a worker's boots are locked in, or nothing."""
    return f"boots of {worker}"


def outside(worker: str) -> str:
    """Whether a worker is outside the lock."""
    return f"{worker} is outside"


def holder(item: str) -> str:
    """What an item is in or on: a worker, a bag, a place, a payload, ADRIFT; None: not along."""
    return f"holder of {item}"


def contents(holder_name: str) -> str:
    """What is directly in or on something: a set of items."""
    return f"what {holder_name} holds"


def ties(item: str) -> str:
    """What an item is tied to: a set."""
    return f"ties of {item}"


def hook(line: str) -> str:
    """Which anchor the hook of a safety line is on; ADRIFT, or None in the lock."""
    return f"hook of {line}"


def reel(line: str) -> str:
    """Which worker wears the reel of a line, or which anchor it is parked at."""
    return f"reel of {line}"


def worn(worker: str) -> str:
    """The safety line that a worker put on last and still wears, or None."""
    return f"line worn by {worker}"


def seen(line: str, end: str) -> str:
    """Whether an end (``hook`` or ``reel``) of a line was checked when it was hooked on."""
    return f"{end} of {line} is checked"


def plugged(socket: str) -> str:
    """Restraints in a socket: a set."""
    return f"restraints in {socket}"


def setting(restraint: str) -> str:
    """How a restraint is set, in words; None where that is not known."""
    return f"setting of {restraint}"


def bit(tool: str) -> str:
    """The bit fitted to a tool, or None."""
    return f"bit on {tool}"


def torque(tool: str) -> str:
    """What a tool is set to, N m, or None."""
    return f"torque set on {tool}"


def state(fastener: str) -> str:
    """How a fastener is: ``tight`` (mated), ``loose`` (turned out, demated)."""
    return f"state of {fastener}"


def turned(fastener: str) -> str:
    """Ways in which a fastener was turned in this outing, ``tight`` and ``loose``: a set."""
    return f"ways {fastener} was turned"


def inhibit(name: str) -> str:
    """Whether an inhibit is confirmed."""
    return f"{name} is confirmed"


def hands(payload: str) -> str:
    """Who holds a payload, by hands or with a crane: a set."""
    return f"hands on {payload}"


def parted(payload: str) -> str:
    """From whom a payload was moved away since they took hold of it, if they did: a set."""
    return f"moved away with {payload}"


def fixed(payload: str) -> str:
    """Which fasteners and guides hold a payload where it is: a set."""
    return f"what fixes {payload}"


def pose(payload: str) -> str:
    """Which of its poses a payload is in."""
    return f"pose of {payload}"


def tip(crane: str) -> str:
    """Where a crane's tip is: a station, or ``<crane> tip`` at the end of a payload's path."""
    return f"tip of {crane}"
