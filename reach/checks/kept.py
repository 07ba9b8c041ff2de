"""Whether what is moved keeps a distance everywhere: yes, no with a witness, or not decided."""

from __future__ import annotations

import math

from reach.checks.carrying import finding_of_carriage, gap_mark, leg_words, moved_words
from reach.finding import Finding
from reach.geometry.sweeping import TIE
from reach.payload.kept import kept
from reach.site import Carriage, Site


def kept_finding(name: str, site: Site, carriage: Carriage, clearance: float) -> Finding:
    """Return the finding of a distance (m) that is asked everywhere; ``name`` is the check's.

    Its margin is what is left of that distance: how much more there is was not looked for.
    """
    found = kept(site, carriage, clearance)
    what, asked = moved_words(carriage), f"{clearance:.3f} m"
    numbers = {"clearance": clearance, "answer": f"at least {asked}"}
    if found.answer is True:
        because = (
            f"On its whole way {what} and who rides with it keep at least {asked} off everything "
            "that they may not touch."
        )
        return finding_of_carriage(name, carriage, because, 0.0, math.inf, "m", numbers=numbers)
    pair = f"{found.part} to {found.thing}"
    if found.answer is None:
        because = (
            f"Whether {pair} is at least {asked} everywhere is not decided: it comes so near to "
            "that that rounding, or the facets of round parts, hide on which side it is."
        )
        return finding_of_carriage(
            name, carriage, because, min(found.low - clearance, -TIE), found.gap - clearance, "m",
            numbers=numbers, about=(found.thing,),
        )  # fmt: skip
    short = f"less than {asked}" if clearance else "contact"
    because = (
        f"{found.part} comes to {found.gap:.3f} m of {found.thing} {leg_words(carriage, found.at)},"
        f" which is {short}; the search ended there, elsewhere it may come nearer."
    )
    return finding_of_carriage(
        name, carriage, because, -math.inf, min(found.gap - clearance, -TIE), "m",
        marks=gap_mark(found.on_part, found.on_thing, f"{pair}: {found.gap:.3f} m", True),
        numbers=numbers | {"at": found.at, "distance": found.gap}, about=(found.part, found.thing),
    )  # fmt: skip
