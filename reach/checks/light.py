"""Question. Where a step turns or inspects something in the dark, does the lamp light it?

Margin. Metres between how far the lamps of the suit light and the distance from the eye to the
fastener: at least that of a posture found that sees it, at most that of the nearest the eye can be
from these boots, by the lengths of leg and trunk.

Limit. ``lamp`` of the suit, and the windows of the procedure that are ``dark``. A step is asked if
any part of it is in one of them.

Blind spots. Glare, for no direction of the sun is known; shadows, and how bright the light is at
its end. The lamp is taken to be at the eye and to light wherever the eye looks.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from reach.checks.ruling import clock_text
from reach.checks.sight import eye_in, sighting_of
from reach.checks.wording import (
    SURE,
    at_least,
    best_attempt,
    blank,
    finding_on,
    not_asked,
    point,
    standing,
    who,
)
from reach.clock import Span
from reach.clock.tasks import SAME
from reach.finding import Finding, Mark
from reach.geometry import transform_points
from reach.ledger import Outing
from reach.model.procedure import Drive, Inspect
from reach.site import Site, Situation
from reach.units import text_of
from reach.work import Attempt
from reach.worker.figure import ANKLE, HIP

NAME = "light"
IDS = ("C2",)
TAKES = "outing"


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return one finding for each thing turned or inspected in the dark, for each body."""
    return [_finding(site, *one) for one in _asked(site, outing)]


def _asked(site: Site, outing: Outing) -> Iterator[tuple[Situation, Span]]:
    """Yield who works in the dark, and the first part of their step that is dark."""
    windows = outing.procedure.windows.values()
    nights = sorted(Span(*span) for one in windows if one.dark for span in one.spans)
    for situation in site.asked:
        if not isinstance(situation.action, Drive | Inspect) or situation.step not in outing.spans:
            continue
        step = outing.spans[situation.step]
        dark = [Span(max(step.begin, n.begin), min(step.end, n.end)) for n in nights]
        dark = [one for one in dark if one.end - one.begin > SAME]
        if dark:
            yield situation, dark[0]


def _finding(site: Site, situation: Situation, dark: Span) -> Finding:
    head, lamp = situation.head, situation.suit.lamp
    assert head is not None
    when = f"{clock_text(dark.begin)} to {clock_text(dark.end)}"
    if lamp is None:
        return not_asked(
            NAME, situation, f"It is dark from {when}, and the suit gives no range of its lamps."
        )
    missing = blank(situation)
    if missing:
        return not_asked(NAME, situation, missing)
    seen = seen_from(site, situation)
    if seen is None:
        return not_asked(
            NAME,
            situation,
            f"No posture that sees {head.name} was found to light it from.",
        )
    eye, nearest = seen
    far = float(np.linalg.norm(eye - head.point))
    low, high = lamp - far - SURE, lamp - nearest + SURE
    because = (
        f"{who(situation)} {standing(situation)} works on {head.name} in the dark from {when}; "
        f"the eye is {text_of(far, 'm')} from it, and the lamps light {text_of(lamp, 'm')}."
    )
    return finding_on(
        NAME, situation, because, low, max(low, high), "m",
        fix=f"Bring a lamp that lights {at_least(-high)} farther." if high < 0.0 else "",
        marks=(Mark("segment", (point(eye), point(head.point)), "light", bad=high < 0.0),),
        numbers={"distance": far, "dark": tuple(dark)},
    )  # fmt: skip


def seen_from(site: Site, situation: Situation) -> tuple[NDArray[np.float64], float] | None:
    """Return the eye (m, world) of a posture that sees the head, and how near any eye can come (m).

    None where no such posture was found.  It is kept from run to run, see `reach.kept.keeping`.
    """
    key = ("lit", situation)
    if key not in site.memo:
        site.memo[key] = _seen_from(site, situation)
    found: tuple[NDArray[np.float64], float] | None = site.memo[key]
    return found


def _seen_from(site: Site, situation: Situation) -> tuple[NDArray[np.float64], float] | None:
    attempt, posed = sighting_of(site, situation) if _reaches(site, situation) else (None, None)
    if attempt is None or posed is None:
        return None
    assert situation.head is not None
    return eye_in(attempt, posed), nearest_eye(attempt, situation.head.point)


def _reaches(site: Site, situation: Situation) -> bool:
    """Return whether it is worth while to look for a posture that sees it."""
    if isinstance(situation.action, Inspect):
        return True
    attempt = best_attempt(site, situation)
    return attempt.short <= 0.0 and attempt.in_envelope


def nearest_eye(attempt: Attempt, target: np.ndarray) -> float:
    """Return the least distance from a point (m, world) that an eye can have, whatever the posture.

    The hip is a leg from the ankle, the eye a trunk from the hip: no posture parts them farther.
    """
    p, sizes = attempt.figure.p, attempt.bulk.sizes
    ankle = transform_points(attempt.world_from_boots, np.array([[0.0, 0.0, p[ANKLE]]]))[0]
    arm = float(p[HIP] - p[ANKLE]) + math.hypot(sizes[5], sizes[6])
    return max(0.0, float(np.linalg.norm(target - ankle)) - arm)
