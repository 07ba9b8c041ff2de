"""On which side of its rails a body passes, in words, and which side would do."""

from __future__ import annotations

import numpy as np

from reach.site import Site, Situation
from reach.travel.corridor import ROUNDING, Corridor, Stretch, aside_words, room_at
from reach.units import text_of


def sides_words(site: Site, corridor: Corridor, stretch: Stretch) -> str:
    """Return in words on which side the body is held along one piece of the way."""
    one = aside_words(site.scene, corridor.asides[stretch.rail])
    other = aside_words(site.scene, corridor.asides[stretch.to_rail])
    side = one if one == other else f"{one}, then {other}"
    return f"body {side}"


def better_sides(
    site: Site, situation: Situation, corridor: Corridor, best: Corridor | None
) -> str:
    """Return with which sides the way passes, or that none do; empty when nothing is better."""
    if best is None:
        return ""
    room = float(room_at(situation, best.axis, best.radius).min())
    if room < 0.0:
        return (
            "No side within reach of the hands passes: go another way, or carry less "
            f"(short by {text_of(-room, 'm')} at best)."
        )
    changed = {
        rail: aside
        for rail, aside in best.asides.items()
        if float(np.linalg.norm(aside - corridor.asides[rail])) > ROUNDING
    }
    words = [f"{aside_words(site.scene, aside)} at {rail}" for rail, aside in changed.items()]
    if not words:
        return ""
    return f"Hold the body {', '.join(words)}: {text_of(room, 'm')} is left then."
