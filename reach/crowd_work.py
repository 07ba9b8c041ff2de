"""What a whole crowd can do in one situation: who can, who cannot, of whom it is not known.

Person by person the same three tiers as an `Attempt`, cheapest first: the outer bound; postures
of percentile bodies and then of similar people carried over; the quick search; cells refuted;
the full search.  Can: a posture that reaches, is clear and sees.  Cannot: proved, by the bound
or by cells.  Whoever is left after the stated effort is not known.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from reach.geometry import capsule_clearance, inside, transform_points
from reach.site import Held, Site, Situation
from reach.work import ARM, N_TRUNKS, ROOM, SIGHT, Attempt, attempt_of, hands_of, tool_capsules
from reach.worker.body import Body
from reach.worker.crowd import Crowd
from reach.worker.figure import Figure, Grip, figure_of
from reach.worker.many import (
    Many,
    Scope,
    capsules,
    followed,
    refuted,
    searched,
    shortages,
    stack,
)
from reach.worker.margin import Margin, reach_margin
from reach.worker.trunks import trunks_of
from reach.worker.volume import bulk_of

Array = NDArray[np.float64]
Rows = NDArray[np.int64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Effort:
    """How hard a crowd is looked at in one situation, one hand.

    Attributes
    ----------
    n_steps, n_last_steps : int
        Steps downhill from each posture that is carried over, and in the last round.
    n_rounds, n_similar : int
        Rounds in which the postures of this many similar people are tried.
    n_cells : int
        Cells looked at before a refutation is given up.
    n_first : int
        The quick search and the refutation are tried on so many people, and on the others
        only when that settled somebody: who is left is mostly left for the same reason.
    n_hard : int
        At most so many people get the full search.
    """

    n_steps: int = 60
    n_last_steps: int = 300
    n_rounds: int = 2
    n_similar: int = 2
    n_cells: int = 5_000
    n_first: int = 40
    n_hard: int = 20


EFFORT = Effort()
"""What a run spends on each target."""

BY_DIMENSIONS = ("stature", "acromialheight", "acromionradialelength", "radialestylionlength")
"""What makes people similar: the dimensions that place the shoulder and make the arm."""


@dataclass(frozen=True, eq=False)
class Turnout:
    """One hand of every person of a crowd at one target.

    Attributes
    ----------
    hand : str
    can, cannot : ndarray of bool, shape (n,)
    short : ndarray, shape (n,), m
        Proved shortage of reach where above 0; else it says nothing.
    fault : ndarray, shape (n,), rad
        What the nearest posture that does not hold lacks, see `reach.worker.posing`; inf when
        none was tried.
    x : ndarray, shape (n, 9)
        A witness posture where ``can``.
    seconds : dict of str to float
        Wall time by what was done.
    """

    hand: str
    can: Flags
    cannot: Flags
    short: Array
    fault: Array
    x: Array
    figures: tuple[Figure, ...]
    attempt: Attempt
    seconds: dict[str, float] = field(default_factory=dict)

    def margin(self, person: int) -> Margin:
        """Return the margin of a person who can, by joint limits."""
        target = self.attempt.target
        return reach_margin(self.figures[person], target.tip, target.direction, self.x[person])


def turnouts_of(site: Site, situation: Situation, effort: Effort = EFFORT) -> tuple[Turnout, ...]:
    """Return the turnout of each hand that may do it, the worker's own hand first."""
    return tuple(_turnout(site, situation, hand, effort) for hand in hands_of(situation))


def body_attempt(site: Site, situation: Situation, body: Body, hand: str) -> Attempt:
    """Return the attempt of one body in the worker's suit and place."""
    return attempt_of(site, replace(situation, body=body, case=body.label), hand)


def _turnout(site: Site, situation: Situation, hand: str, effort: Effort) -> Turnout:
    assert situation.place is not None
    assert situation.place.world_from_boots is not None
    assert situation.held is not None
    assert situation.head is not None
    assert situation.crowd is not None
    key = (
        "turnout",
        hand,
        situation.place.world_from_boots.tobytes(),
        situation.held.title,
        situation.head.name,
        situation.worker,
        id(situation.crowd),
        id(situation.surroundings),
        effort,
    )
    if key not in site.memo:
        site.memo[key] = _Looking(site, situation, situation.crowd, hand, effort).turnout()
    found: Turnout = site.memo[key]
    return found


class _Looking:
    """The work of finding a turnout."""

    def __init__(
        self, site: Site, situation: Situation, crowd: Crowd, hand: str, effort: Effort
    ) -> None:
        assert situation.held is not None
        self.anchors = [body_attempt(site, situation, body, hand) for body in crowd.anchors]
        self.effort = effort
        self.hand = hand
        self.attempt = self.anchors[len(self.anchors) // 2]
        self.scope = Scope(self.attempt.target, self.attempt.tree, self.attempt.world_from_boots)
        self.figures, self.many = _stacked(site, situation, crowd, situation.held)
        self.places = _places(crowd.bodies)
        n = len(crowd.bodies)
        self.can, self.cannot = np.zeros(n, np.bool_), np.zeros(n, np.bool_)
        self.x = np.zeros((n, 9))
        self.fault = np.full(n, np.inf)
        self.seconds: dict[str, float] = {}

    @property
    def left(self) -> Rows:
        return np.flatnonzero(~self.can & ~self.cannot)

    def turnout(self) -> Turnout:
        for name, step in (
            ("bound", self._bound),
            ("percentile bodies", self._follow_anchors),
            ("similar people", self._follow_similar),
            ("quick search", self._search_quickly),
            ("similar people", self._follow_similar),
            ("cells", self._refute),
            ("full search", self._search_hard),
            ("last look", self._look_again),
        ):
            start = time.perf_counter()
            if len(self.left):
                step()
            self.seconds[name] = self.seconds.get(name, 0.0) + time.perf_counter() - start
        return Turnout(
            self.hand, self.can, self.cannot, self.short, self.fault, self.x, self.figures,
            self.attempt, self.seconds,
        )  # fmt: skip

    def _bound(self) -> None:
        everyone = np.arange(len(self.can))
        self.short = shortages(self.many, self.attempt.target, everyone, sharp=True)
        self.cannot |= self.short > 0.0

    def _follow_anchors(self) -> None:
        starts = [
            (attempt.witness or attempt.nearest_miss).posture
            for attempt in self.anchors
            if attempt.in_envelope
        ]
        if starts:
            who = self.left
            each = np.repeat(np.array(starts)[None], len(who), axis=0)
            self._follow(who, each, self.effort.n_steps)

    def _follow_similar(self) -> None:
        for _ in range(self.effort.n_rounds):
            n_left = len(self.left)
            self._from_similar(self.effort.n_steps)
            if len(self.left) in (0, n_left):
                return

    def _look_again(self) -> None:
        self._from_similar(self.effort.n_last_steps)

    def _from_similar(self, n_steps: int) -> None:
        """Carry over the postures of the people most alike, among those who can."""
        from scipy.spatial import KDTree

        who, known = self.left, np.flatnonzero(self.can)
        tree = KDTree(self.places[known]) if len(known) else None
        if tree is not None:
            k = min(self.effort.n_similar, len(known))
            nearest = tree.query(self.places[who], k=[*range(1, k + 1)])[1]
            self._follow(who, self.x[known[nearest]], n_steps)

    def _follow(self, who: Rows, starts: Array, n_steps: int) -> None:
        self._take(who, *followed(self.many, self.scope, who, starts, n_steps))

    def _search_quickly(self) -> None:
        self._by_trial(lambda who: self._search(who, "quick"))

    def _by_trial(self, step: Callable[[Rows], None]) -> None:
        """Take a step for the first of those left, and for the others if that settled any."""
        who, n = self.left, self.effort.n_first
        step(who[:n])
        if len(self.left) < len(who) and len(who) > n:
            step(who[n:])

    def _search_hard(self) -> None:
        self._search(self.left[: self.effort.n_hard], "full")

    def _search(self, who: Rows, effort: str) -> None:
        trunks = trunks_of(self.attempt.figure, N_TRUNKS[effort])
        self._take(who, *searched(self.many, self.scope, who, trunks, effort))

    def _refute(self) -> None:
        self._by_trial(self._refute_cells)

    def _refute_cells(self, who: Rows) -> None:
        attempt = self.attempt
        need = attempt.floor - attempt.surroundings.excess
        proof = refuted(
            self.many, self.scope, who, need, attempt.shadows, ARM | ROOM | SIGHT,
            self.effort.n_cells,
        )  # fmt: skip
        self.cannot[who[proof]] = True

    def _take(self, who: Rows, fault: Array, x: Array) -> None:
        """Keep the postures that hold and are neither inside a solid nor near a hazard."""
        self.fault[who] = np.minimum(self.fault[who], np.where(fault > 0.0, fault, np.inf))
        held = np.flatnonzero(fault <= 0.0)
        if len(held):
            held = held[~self._barred(who[held], x[held])]
            self.can[who[held]] = True
            self.x[who[held]] = x[held]

    def _barred(self, who: Rows, x: Array) -> Flags:
        """Return who is partly inside a solid or closer to a hazard than its stand-off."""
        each = capsules(self.many, self.attempt.target, who, x)
        pose, rows = self.scope.world_from_boots, each.reshape(-1, 7)
        p, q = transform_points(pose, rows[:, :3]), transform_points(pose, rows[:, 3:6])
        barred = inside(self.scope.tree, 0.5 * (p + q))
        for _, kind, tree, stand_off in self.attempt.surroundings.hazards:
            if kind != "vent":
                barred |= capsule_clearance(tree, p, q, rows[:, 6]) < stand_off
        return np.asarray(barred.reshape(len(who), -1).any(axis=1), np.bool_)


def _stacked(
    site: Site, situation: Situation, crowd: Crowd, held: Held
) -> tuple[tuple[Figure, ...], Many]:
    key = ("stacked", id(crowd), situation.worker, held.title)
    if key not in site.memo:
        grip = Grip(held.tip, held.axis, site.limit("axis_tolerance").value)
        figures = tuple(figure_of(body, situation.suit, grip) for body in crowd.bodies)
        tool = tool_capsules(held)
        bulks = [bulk_of(figure, situation.suit, tool) for figure in figures]
        site.memo[key] = figures, stack(figures, bulks)
    found: tuple[tuple[Figure, ...], Many] = site.memo[key]
    return found


def _places(bodies: tuple[Body, ...]) -> Array:
    """Return where each person lies among the others, shape (n, k): plain dimensions, m."""
    return np.array([[body.dims[name] for name in BY_DIMENSIONS] for body in bodies])
