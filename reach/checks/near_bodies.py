"""Two bodies in one volume: where each is at its task, and how near helmets and shells come."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.checks.partners import held_after
from reach.checks.wording import SURE, best_attempt, blank, point, who
from reach.finding import Limit, Mark
from reach.geometry import segment_pair_distance, transform_points
from reach.grasp import Grasp
from reach.grasping import body_of
from reach.model.procedure import Align, Drive, Hold
from reach.site import Site, Situation
from reach.worker.figure import ANKLE, HIGH, HIP, LOW, SHOULDER, Grip, figure_of
from reach.worker.posing import capsules_of

Array = NDArray[np.float64]

NEAR = 5.0
"""Boots farther from each other (m) are not asked about."""

HELMETS = ("helmet", "head")
"""What a suit's capsule round the head is called."""

_ARMS = (" upper arm", " forearm", " hand", "upper arm", "forearm", "hand", "tool")


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """A body in the world in one posture: capsules (n, 7), names, how it is come by."""

    situation: Situation
    capsules: Array
    names: tuple[str, ...]
    words: str

    @property
    def title(self) -> str:
        """Who it is and what they do, in words."""
        return f"{who(self.situation)} {self.words}"

    def part(self, wanted: tuple[str, ...]) -> Array:
        """Return the capsules with these names."""
        return self.capsules[[name in wanted for name in self.names]]

    def less_arms(self) -> Array:
        """Return the capsules of legs, trunk and helmet."""
        return self.capsules[[not name.endswith(_ARMS) for name in self.names]]


@dataclass(frozen=True, slots=True, eq=False)
class Apart:
    """How far two bodies, or their helmets, are apart.

    Attributes
    ----------
    what : str
        ``"helmets"``, ``"bodies"`` or ``"bodies without arms"``.
    gap : float, m
        In the postures shown; below zero they are in each other.
    low, high : float, m
        The margin: of the postures shown, and what no pair of postures exceeds.
    limits : tuple of Limit
    mark : Mark
    """

    what: str
    gap: float
    low: float
    high: float
    limits: tuple[Limit, ...]
    mark: Mark


def stands(situation: Situation) -> bool:
    """Return whether the worker stands somewhere, boots placed, and is not on the way."""
    return situation.passage is None and blank(situation) is None


def boots_of(situation: Situation) -> Array:
    """Return where the boots of someone who stands are, world_from_boots."""
    assert situation.place is not None
    assert situation.place.world_from_boots is not None
    return situation.place.world_from_boots


def is_far(one: Situation, other: Situation) -> bool:
    """Return whether two who stand are too far from each other to be asked about."""
    gap = boots_of(one)[:3, 3] - boots_of(other)[:3, 3]
    return bool(np.linalg.norm(gap) > NEAR + SURE)


def spot_of(situation: Situation) -> tuple[object, ...]:
    """Return what tells one body in one place from another."""
    return (situation.worker, situation.case, boots_of(situation).round(9).tobytes())


def task_of(situation: Situation, is_over: bool) -> tuple[object, ...]:
    """Return what tells one body at its task, or after it, from another."""
    action = situation.action
    task: object = None
    if isinstance(action, Drive) and not is_over:
        task = (action.fastener, action.tool, action.hand)
    elif isinstance(action, Hold | Align):
        grips = action.grips if isinstance(action, Hold) else ()
        task = (grips, situation.holds.get(situation.worker))
    return (*spot_of(situation), task)


def _grasp(site: Site, situation: Situation) -> Grasp | None:
    """Return what a worker goes on holding after an action, in the action's place."""
    if isinstance(situation.action, Hold):
        return held_after(site, situation, situation.action)
    if isinstance(situation.action, Align):
        return situation.holds.get(situation.worker)
    return None


def at_work(site: Site, situation: Situation, is_over: bool = False) -> Body:
    """Return the body at its task, or after it.

    It is kept from run to run, see `reach.kept.keeping`.
    """
    key = ("at work", situation, is_over)
    if key not in site.memo:
        body = _at_work(site, situation, is_over)
        site.memo[key] = (body.capsules, body.names, body.words)
    return Body(situation, *site.memo[key])


def _at_work(site: Site, situation: Situation, is_over: bool) -> Body:
    grasp = _grasp(site, situation)
    turns = isinstance(situation.action, Drive) and not is_over
    return body_at(site, situation, grasp, turns)


def body_at(site: Site, situation: Situation, grasp: Grasp | None, turns: bool = False) -> Body:
    """Return the body in the posture that its task is shown to take: turning, holding, at rest."""
    if turns and situation.head is not None:
        attempt = best_attempt(site, situation)
        if attempt.witness is not None:
            capsules = capsules_of(
                attempt.figure, attempt.bulk, attempt.target, attempt.witness.posture
            )
            world = _moved(attempt.world_from_boots, capsules)
            return Body(situation, world, attempt.names, f"turning {situation.head.name}")
    capsules, names, held = body_of(site, situation, grasp)
    words = f"holding {' and '.join(grasp.grips)}" if held and grasp else "at rest"
    return Body(situation, _moved(boots_of(situation), capsules), names, words)


def _moved(pose: Array, capsules: Array) -> Array:
    p, q = transform_points(pose, capsules[:, :3]), transform_points(pose, capsules[:, 3:6])
    return np.hstack((p, q, capsules[:, 6:]))


def how_near(site: Site, one: Body, other: Body, together: bool = False) -> Iterator[Apart]:
    """Yield how far the helmets of two are apart, where suits have them, and their bodies.

    Parameters
    ----------
    site : Site
    one, other : Body
    together : bool
        Both hold the same thing: arms are left out.
    """
    heads = one.part(HELMETS), other.part(HELMETS)
    if len(heads[0]) and len(heads[1]):
        limit = site.limit("helmet_distance")
        gap, ends = _gap(*heads)
        most = gap + _play(one.situation) + _play(other.situation)
        low = gap - limit.value
        mark = _mark(ends, "helmet to helmet", low < 0.0)
        yield Apart("helmets", gap, low - SURE, most - limit.value + SURE, (limit,), mark)
    shells = (one.less_arms(), other.less_arms()) if together else (one.capsules, other.capsules)
    gap, ends = _gap(*shells)
    most = _gap(_feet(one), _feet(other))[0]
    what = "bodies without arms" if together else "bodies"
    mark = _mark(ends, "body to body", gap < 0.0)
    yield Apart(what, gap, gap - SURE, max(gap, most) + SURE, (), mark)


def _feet(body: Body) -> Array:
    """Return balls at the lower ends of the legs, which no posture moves."""
    legs = body.part(("left leg", "right leg")).copy()
    legs[:, 3:6] = legs[:, :3]
    return legs


def _gap(one: Array, other: Array) -> tuple[float, tuple[Array, Array]]:
    """Return the least gap of two sets of capsules, m, and the middles of the two nearest."""
    n, m = len(one), len(other)
    a, b = np.repeat(one, m, axis=0), np.tile(other, (n, 1))
    gaps = segment_pair_distance(a[:, :3], a[:, 3:6], b[:, :3], b[:, 3:6]) - a[:, 6] - b[:, 6]
    i = int(np.argmin(gaps))
    return float(gaps[i]), (0.5 * (a[i, :3] + a[i, 3:6]), 0.5 * (b[i, :3] + b[i, 3:6]))


def _mark(ends: tuple[Array, Array], label: str, bad: bool) -> Mark:
    return Mark("segment", (point(ends[0]), point(ends[1])), label, bad=bad)


def _play(situation: Situation) -> float:
    """Return how far no lean of the trunk brings a helmet from where it now is, m.

    Two postures differ by a turn of the legs about the ankles and one of the trunk about the
    hips; no turn is larger than the sum of the ranges of its joints.
    """
    p = figure_of(situation.body, situation.suit, Grip()).p
    shoulders = np.array([0.0, 0.0, float(p[SHOULDER] - p[HIP])])
    above = max(
        float(np.linalg.norm(np.asarray(end, float) + (shell.above == "shoulders") * shoulders))
        for name, shell in situation.suit.torso.items()
        if name in HELMETS
        for end in (shell.start, shell.end)
    )
    ranges = p[HIGH : HIGH + 5] - p[LOW : LOW + 5]
    legs, trunk = min(math.pi, float(ranges[:2].sum())), min(math.pi, float(ranges[2:].sum()))
    leg = float(p[HIP] - p[ANKLE])
    return 2.0 * math.sin(0.5 * legs) * (leg + above) + 2.0 * math.sin(0.5 * trunk) * above
