"""Question. Is a line that somebody wears on a moving crane long enough where the crane takes them?

Asked of lines that are hooked to the structure while the crane moves.

Margin. Metres between what may be used of the line and the straight line from its anchor to the
hips, at the pose that is farthest; of several size classes that are asked, of the one that is
farthest there. Exact.

Limit. Length of the line less ``tether_slack``.

Blind spots. The straight line is the least that is needed: where it is long enough, nothing is
said. The hips are those of somebody upright on the boot plate; leaning moves them. Poses on the
way count, not what lies between them. Who rides is read from the order as written.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reach.checks.ruling import clock_text, finding_in, unasked
from reach.checks.wording import SURE
from reach.finding import Finding, Limit
from reach.geometry import transform_points
from reach.ledger import Deed, Outing, ends_of, names
from reach.ledger.riding import Ride, held_back, ridden, rides_of
from reach.model.provenance import Provenance
from reach.site import Carriage, Site
from reach.units import text_of

NAME = "tether-riding"
IDS = ("G1R",)
TAKES = "outing"


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return one finding for each ride and each line that does not ride along."""
    found = []
    for ride in rides_of(outing) if outing.is_declared else ():
        lines = dict.fromkeys(line for deed in ride.deeds for line in held_back(outing, ride, deed))
        found += [_finding(site, outing, ride, line) for line in lines]
    return found


def _finding(site: Site, outing: Outing, ride: Ride, line: str) -> Finding:
    """Return the finding of the first motion that takes somebody too far, else of the first."""
    slack = site.limit("tether_slack")
    usable = outing.scene.tethers[line].length - slack.value
    told = []
    for deed in ride.deeds:
        if line in held_back(outing, ride, deed):
            farthest = _farthest(site, outing, deed, line, ride.worker)
            told.append((deed, farthest))
            if farthest is not None and farthest[0] > usable + SURE:
                return _short(outing, ride, line, deed, farthest, usable, slack)
    deed, _ = told[0]
    about = (ride.worker, line, ride.crane)
    if any(farthest is None for _, farthest in told):
        because = f"Where {ride.crane} takes {ride.worker} is not known to the line {line}."
    else:
        most = max(farthest[0] for _, farthest in told if farthest is not None)
        because = (
            f"{line} of {ride.worker} on {ride.crane} runs {text_of(most, 'm')} at least, "
            f"straight, and {text_of(usable, 'm')} may be used; where it runs is not known."
        )
    return unasked(NAME, deed.step.name, about, because, "m")


def _short(
    outing: Outing,
    ride: Ride,
    line: str,
    deed: Deed,
    farthest: tuple[float, str],
    usable: float,
    slack: Limit,
) -> Finding:
    values = outing.before(deed)
    anchor = values[names.hook(line)]
    length, where = farthest
    because = (
        f"{line} from {anchor} is too short where {ride.crane} takes {ride.worker} by "
        f"{clock_text(deed.moment)}: to {where} it is {text_of(length, 'm')} in a straight line, "
        f"{text_of(max(0.0, usable), 'm')} may be used."
    )
    limits = (
        Limit(f"length of {line}", outing.scene.tethers[line].length, "m", Provenance()),
        slack,
    )
    return finding_in(
        NAME,
        deed.step.name,
        (ride.worker, line, ride.crane),
        because,
        usable - length,
        "m",
        limits=limits,
        fix=f"Let {ride.worker} ride on a line that is hooked on the tip of {ride.crane}.",
        cause=ridden(ride, line, values),
        straight=length,
        usable=usable,
    )


def _farthest(
    site: Site, outing: Outing, deed: Deed, line: str, worker: str
) -> tuple[float, str] | None:
    """Return how far the hips come from a line's anchor in one motion, m, and at which pose.

    The farthest of all bodies that are asked; None where the hips of one are not known.
    """
    anchor = ends_of(site, str(outing.before(deed)[names.hook(line)]))
    moved = [
        one for one in site.carriages if one.step == deed.step.name and one.action is deed.action
    ]
    if anchor is None or not moved:
        return None
    found = []
    for carriage in moved:
        hips = _hips(site, carriage, worker)
        if hips is None:
            return None
        far = np.linalg.norm(hips - anchor[0], axis=1)
        k = int(far.argmax())
        name = (carriage.names[k] if k < len(carriage.names) else "") or "its farthest"
        name += f" ({carriage.case})" if len(moved) > 1 else ""
        found.append((float(far[k]), name))
    return max(found, key=lambda one: one[0])


def _hips(site: Site, carriage: Carriage, worker: str) -> NDArray[np.float64] | None:
    """Return where a rider's hips are at each pose of a motion, (k, 3), m, world."""
    rider = carriage.rider
    if rider is None or rider.worker != worker:
        # Somebody else on the same tip stands on the same plate, in their own body of that case.
        bodies = [one for one in site.asked if one.worker == worker]
        same = [one for one in bodies if one.case == carriage.case]
        rider = next(iter(same or bodies), None)
    if rider is None or carriage.payload_from_boots is None:
        return None
    up = np.array([[0.0, 0.0, rider.body.links.hip + rider.suit.sole]])
    boots = carriage.poses @ carriage.payload_from_boots
    return np.concatenate([transform_points(pose, up) for pose in boots])
