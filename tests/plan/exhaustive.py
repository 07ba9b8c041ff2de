"""The slow twin of the settings search: every setting of every socket, one posture after another.

Nothing of `reach.plan` is used: no distinct poses, no bound over a socket, no scores, no order.
"""

import itertools
import math
from functools import cache

from bench import bench, drive, resolved, step

from reach.placing import boots_from_setting, socket_pose
from reach.plan.grid import grid_of
from reach.plan.ranking import rank
from reach.table.table import build_table
from reach.work import attempt_of, hands_of

SOCKETS = {
    "SK2": {"at": [0.1, -0.6, 0.2], "axis": [0, 0, 1], "zero": [1, 0, 0]},
    "SK3": {"at": [0.15, 0.45, -0.2], "axis": [0, 0, 1], "zero": [1, 0, 0]},
}
BOLTS = {
    "left": {"at": [0.7, 0.25, 1.45], "axis": [-1, 0, 0]},
    "down": {"at": [0.6, -0.3, 1.2], "axis": [-0.7071, 0, 0.7071]},
    "aside": {"at": [0.2, -0.75, 1.5], "axis": [0, 1, 0]},
}


def yard(**changes):
    """The bench with three sockets and three bolts more."""
    data = bench(sockets=SOCKETS, fasteners=BOLTS)
    for table, entries in changes.items():
        data.setdefault(table, {}).update(entries)
    return data


def asked(data, targets, worker="R", sizes=None, **drives):
    """Return site and situations: each target from a socket whose setting is blank."""
    steps = [step(name, worker, drive(name, **drives), setting=None) for name in targets]
    return resolved(data, *steps, sizes=sizes)


def no_table(figure, n):
    """Every setting is searched."""
    return


@cache
def _coarse(figure):
    return build_table(figure, step=0.25, n_directions=48)


def coarse_table(figure, n):
    """A table that is small enough to be made in a test."""
    return _coarse(figure)


def searched(site, asks, tables=no_table, sockets=None, top=1, **how):
    """Return (grid, ranking) of the search under test; ``how`` goes to `grid_of`."""
    names = tuple(site.scene.sockets) if sockets is None else sockets
    assert asks[0].place is not None
    grid = grid_of(site, asks, asks[0].place.restraint, tables, names, **how)
    return grid, rank(site, grid, asks, top)


def margin_at(site, ask, socket, angles):
    """Margin of reach of one question at one setting, the better hand; -inf without a witness."""
    world_from_socket = socket_pose(site.scene.sockets[socket], ask.surroundings.world_from)
    boots = world_from_socket @ boots_from_setting(ask.place.restraint, angles)
    best = -math.inf
    for hand in hands_of(ask):
        attempt = attempt_of(site, ask, hand, world_from_boots=boots)
        if attempt.short <= 0.0 and attempt.witness is not None:
            best = max(best, attempt.margin.radius)
    return best


def every_setting(restraint):
    """All combinations of detents, those that come to the same pose too."""
    names = [joint.name for joint in restraint.joints]
    for stops in itertools.product(*(joint.stops for joint in restraint.joints)):
        yield dict(zip(names, stops, strict=True))


def worst_margins(site, asks, sockets=None):
    """Worst margin over all questions, (socket, setting) -> m, where each has a witness."""
    found = {}
    for socket in site.scene.sockets if sockets is None else sockets:
        for angles in every_setting(asks[0].place.restraint):
            worst = math.inf
            for ask in asks:
                worst = min(worst, margin_at(site, ask, socket, angles))
                if worst == -math.inf:
                    break
            else:
                found[socket, tuple(angles.values())] = worst
    return found


def best_of(found):
    """The best worst margin, -inf when nothing serves."""
    return max(found.values(), default=-math.inf)
