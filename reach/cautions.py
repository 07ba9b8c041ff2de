"""The ten cautions that stand wherever results are printed; there is no way to leave them out."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence

CAUTIONS = (
    "Planning aid only. Not certified, not a flight or safety product. Do not use as sole basis "
    "for any go/no-go.",
    "Results hold only for the geometry, suit data, tolerances and assumptions printed here "
    "(hash {hash}). Default body/suit/load values are placeholders until replaced by the "
    "responsible authority's data.",
    "Reach, strength, clearance and time must be verified by suited trial (water tank, mock-up, "
    "reduced-gravity or equal) with the assigned workers, and clearances by certified analysis.",
    "Structure may move, deform or differ from model; thermal, plume, charging, debris, "
    "radiation, contamination and suit failure are not checked unless listed as checked.",
    "A PASS means no violation found in the listed checks; items under NOT CHECKED / UNKNOWN "
    "are open.",
    "A certificate of unreachability proves only what the stated bound covers.",
    "Contingency times are estimates; the rescue criterion belongs to the flight rules.",
    "If this differs from the flight procedure, rules or the inside lead, they win.",
    "Never extrapolate to unrated rails, anchors or sockets.",
    "Any edit invalidates earlier results.",
)
"""The wording; ``{hash}`` stands for the digest of the input files, and of what varies them."""


def digest(inputs: Iterable[tuple[str, str]]) -> str:
    """Return twelve hexadecimal digits that change when the bytes of any input file change.

    Parameters
    ----------
    inputs : iterable of (file, sha256)
        The file names do not count, so a copy of the files has the same digest.

    Examples
    --------
    >>> digest([("a.toml", "00ff")]) == digest([("elsewhere/a.toml", "00ff")])
    True
    """
    joined = " ".join(sha256 for _, sha256 in inputs)
    return hashlib.sha256(joined.encode()).hexdigest()[:12]


def as_varied(what_if: Sequence[str]) -> list[str]:
    """Return the warning that results hold for a variation of the files alone, if there is one.

    Examples
    --------
    >>> as_varied(["SK3 blocked"])
    ['What if: SK3 blocked. This holds for that, not for the files as written.']
    """
    if not what_if:
        return []
    return [f"What if: {', '.join(what_if)}. This holds for that, not for the files as written."]


def cautions(inputs: Iterable[tuple[str, str]]) -> tuple[str, ...]:
    """Return the cautions as printed beside results that come from these input files."""
    return tuple(text.replace("{hash}", digest(inputs)) for text in CAUTIONS)
