"""What is said where a blank way of a payload has no answer: a proof, or that none was found."""

from __future__ import annotations

import math

from reach.checks.carrying import finding_of_carriage, moved_words
from reach.finding import Finding
from reach.paths import Found
from reach.site import Carriage

_BELOW = 1e-9
"""A proof that has no size says that it fails, not by how much."""


def no_way_finding(name: str, carriage: Carriage, found: Found) -> Finding:
    """Return the finding of a check whose carriage is blank and has no way.

    That start or goal is too near is a proof: it fails by at least what is missing there.  That
    no way was found proves nothing, and stays open.

    Parameters
    ----------
    name : str
        Of the check.
    carriage : Carriage
        As `reach.payload.planned.settled` gives it back.
    found : Found
        Without poses.
    """
    ends = f"from {carriage.names[0]} to {carriage.names[-1]}"
    numbers = {"motions": found.motions, "reason": found.reason}
    if is_proof(found):
        which = found.reason.split()[0]
        pose = carriage.names[0] if which == "start" else carriage.names[-1]
        touching = found.reason.endswith("in contact")
        how = "is in contact with" if touching else f"comes to {found.gap:.3f} m of"
        because = (
            f"There is no way of {moved_words(carriage)} {ends} that keeps off everything: at "
            f"{pose} it {how} {found.obstacle}."
        )
        fix = f"Give {pose} another place, or write a path whose leg there allows the contact."
        return finding_of_carriage(
            name, carriage, because, -math.inf, -_BELOW, "m", fix=fix, numbers=numbers,
            about=(found.obstacle,),
        )  # fmt: skip
    because = (
        f"No way of {moved_words(carriage)} {ends} was found in {found.motions} motions tried; "
        "that proves nothing."
    )
    return finding_of_carriage(name, carriage, because, -math.inf, math.inf, "m", numbers=numbers)


def is_proof(found: Found) -> bool:
    """Return whether a search that found no way proved that there is none."""
    return found.poses is None and found.reason.split()[0] in ("start", "goal")
