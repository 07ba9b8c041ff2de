"""The scene made computable: every name looked up, every pose chained, search trees built, once.

`reach.situations.resolve` turns a loaded scene and procedure into a `Site`, its situations and
its carriages; checks see nothing else.  How poses are chained stands in `reach.placing`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from reach.finding import Limit
from reach.geometry import Tree, build
from reach.grasp import Grasp
from reach.kept.noting import Memo, noted
from reach.model.arm import Arm
from reach.model.carrying import Leg
from reach.model.hardware import Restraint, Tool
from reach.model.procedure import Action, Moving
from reach.model.scene import Fastener, Scene
from reach.model.suit import Suit
from reach.passage import Line, Parked, Passage
from reach.worker.body import Body
from reach.worker.crowd import Crowd


@dataclass(frozen=True, eq=False)
class Surroundings:
    """All structure for one placement of the payloads, in the world frame.

    Attributes
    ----------
    triangles : ndarray, shape (n, 3, 3), m
        Of every solid.
    solid_of : ndarray, shape (n,)
        Index into ``names`` for each triangle.
    part_of : ndarray, shape (n,)
        Index into ``parts`` for each triangle, -1 where its solid is not known convex.
    names : tuple of str
    errors : ndarray, shape (len(names),), m
        How far the true round surface may stand outside its facets.
    excess : float, m
        How far facets may stand outside the true surface: those across a round hole do.
    parts : tuple of ndarray, shape (k, 3, 3), m
        Convex pieces, outward-facing triangles.
    shapes : tuple of (name, kind, triangles (k, 3, 3) in m, stand-off in m)
        Of the hazards.  Stand-offs reach from the facets, so the tessellation error is in them.
    world_from : dict of str -> ndarray, shape (4, 4)
        Pose of every frame, solid and payload.
    """

    triangles: NDArray[np.float64]
    solid_of: NDArray[np.int64]
    part_of: NDArray[np.int64]
    names: tuple[str, ...]
    errors: NDArray[np.float64]
    excess: float
    parts: tuple[NDArray[np.float64], ...]
    shapes: tuple[tuple[str, str, NDArray[np.float64], float], ...]
    world_from: dict[str, NDArray[np.float64]]

    @cached_property
    def tree(self) -> Tree:
        """Search tree over the triangles, made on first use: not every run asks for it."""
        return build(self.triangles)

    @cached_property
    def hazards(self) -> tuple[tuple[str, str, Tree, float], ...]:
        """Name, kind, tree and stand-off (m) of each hazard, made on first use."""
        return tuple((name, kind, build(shape), far) for name, kind, shape, far in self.shapes)

    @property
    def error(self) -> float:
        """Largest of the errors, m: distances to facets are good to this."""
        return float(self.errors.max(initial=0.0))


@dataclass(frozen=True, eq=False, slots=True)
class Head:
    """A fastener in the world: head centre, outward axis, radius (m) and its record."""

    name: str
    point: NDArray[np.float64]
    axis: NDArray[np.float64]
    radius: float
    record: Fastener


@dataclass(frozen=True, eq=False, slots=True)
class Held:
    """A tool with its bit and extension, in the hand frame: tip and axis, envelope."""

    name: str
    record: Tool
    tip: NDArray[np.float64]
    axis: NDArray[np.float64]
    shaft_length: float
    shaft_radius: float
    bit_head: str | None
    title: str


@dataclass(frozen=True, eq=False, slots=True)
class Place:
    """Where the worker stands: the boot plate in the world, or blank when it is not set.

    ``world_from_socket`` is there for sockets only, ``setting`` holds joint angles (rad).
    """

    name: str
    restraint_name: str
    restraint: Restraint
    world_from_boots: NDArray[np.float64] | None
    world_from_socket: NDArray[np.float64] | None
    setting: dict[str, float] | None
    shown: str


@noted()
@dataclass(frozen=True, eq=False, slots=True)
class Situation:
    """One action of one step for one worker and body, every name resolved.

    ``sets_restraint`` when the step itself gives the setting of the restraint stood in.
    With a ``crowd`` it is also asked for each of its people, in the same suit and place.
    ``at`` names where the worker is, or comes to by a ``passage``; ``since`` the places they have
    been at since the action before, rides on a crane's tip included, to where the action is done
    or the move begins; ``others`` where all others outside were left, as written; ``line`` is
    the safety line worn, ``more`` those worn beside it by worker, ``trail`` those that the same
    worker took off and left; ``start`` and ``latest`` count in s since the procedure's start, as
    written and if all before lasts as long as it may, ``duration`` is that of the step, ``longest``
    what it may last, s.  ``holds`` says by worker what is held when the action begins; ``inside``
    who is in the lock.
    """

    step: str
    action: Action
    worker: str
    case: str
    body: Body
    suit: Suit
    own_hand: str
    place: Place | None
    head: Head | None
    held: Held | None
    surroundings: Surroundings
    wanted_torque: float | None = None
    sets_restraint: bool = False
    crowd: Crowd | None = None
    passage: Passage | None = None
    at: str = ""
    since: tuple[str, ...] = ()
    others: Mapping[str, str] = field(default_factory=dict)
    lines: Mapping[str, Line] = field(default_factory=dict)
    more: Mapping[str, tuple[Line, ...]] = field(default_factory=dict)
    trail: tuple[Parked, ...] = ()
    start: float | None = None
    latest: float | None = None
    duration: float | None = None
    longest: float | None = None
    holds: Mapping[str, Grasp] = field(default_factory=dict)
    inside: frozenset[str] = frozenset()

    @property
    def line(self) -> Line | None:
        """The safety line worn by the worker, if one is known."""
        return self.lines.get(self.worker)

    @property
    def worn(self) -> tuple[Line, ...]:
        """Every safety line on the worker's suit, the one put on last first."""
        return self.worn_by(self.worker)

    def worn_by(self, worker: str) -> tuple[Line, ...]:
        """Return every safety line on somebody's suit, the one put on last first."""
        line, beside = self.lines.get(worker), self.more.get(worker, ())
        return beside if line is None else (line, *beside)


SOON = 1e-9
"""Share of a motion's time: of who is there from then on the step is likely over by its begin."""


@dataclass(frozen=True, eq=False, slots=True)
class Bystander:
    """Another worker while something is moved: one stay or one move of theirs.

    Attributes
    ----------
    situation : Situation
        Where they stand or how they move; a move that is over leaves them at its end.
    begins, ends : float
        Part of the motion's time that this covers, 0 to 1.
    way : (float, float) or None
        Which part of their own move falls into that time, 0 to 1; None while they stay.
    is_timed : bool
        False where start or duration of a step is not written: they may then be anywhere on
        their way at any moment.
    is_later : bool
        Whether they come there only after the motion, as steps are written; where they are
        meanwhile is not known.
    """

    situation: Situation
    begins: float = 0.0
    ends: float = 1.0
    way: tuple[float, float] | None = None
    is_timed: bool = True
    is_later: bool = False

    @property
    def worker(self) -> str:
        """Name of the worker."""
        return self.situation.worker


@noted()
@dataclass(frozen=True, eq=False, slots=True)
class Carriage:
    """One motion of a payload, of a crane, or of both, every name looked up.

    Attributes
    ----------
    step, lane : str
    action : Move, MoveCrane or Align
    case : str
        The variation, as of situations; empty where nobody is concerned.
    payload, crane : str
        What is moved and by which crane; empty for none.
    path : str
        Name of the path; empty where it was left blank or the crane moves by itself.
    names : tuple of str
        Poses of the payload that the motion goes through, or stations of the crane.
    poses : ndarray, shape (k, 4, 4), world_from_payload
        Of the boot plate (world_from_boots) where no payload is moved.
    legs : tuple of Leg, k - 1 of them
        How each pose is come to; ``about`` is always given.
    is_blank, is_found : bool
        Whether the way between first and last pose is to be found, or was: others may do better.
    speed : float or None, m/s
        What the path allows.
    payload_from_tip : ndarray, shape (4, 4), or None
        Where the crane's tip is in what is moved; None without a crane, or if not known.
    rider : Situation or None
        Who stands on the crane's tip, where the motion begins.
    payload_from_boots : ndarray, shape (4, 4), or None
        Where the rider's boots are in what is moved.
    holds : mapping of worker -> Grasp
        As the motion begins.
    parted : tuple of str
        Who of those is not taken along, now or before: whether they keep hold of it is not said.
    bystanders : tuple of Bystander
        Everyone else, stay by stay.
    surroundings : Surroundings
        As the motion begins, the payload in its first pose included.
    start, latest, duration, shortest, longest : float or None, s
        When it begins, as written and at the latest, and what its step lasts, at least and at most.
    before : frozenset of str
        The steps that are over when it begins.
    strays : str
        Why the clear-caller may be elsewhere, whatever written times say; empty where they are not.
    """

    step: str
    lane: str
    action: Moving
    case: str
    payload: str
    crane: str
    path: str
    names: tuple[str, ...]
    poses: NDArray[np.float64]
    legs: tuple[Leg, ...]
    is_blank: bool
    surroundings: Surroundings
    speed: float | None = None
    payload_from_tip: NDArray[np.float64] | None = None
    rider: Situation | None = None
    payload_from_boots: NDArray[np.float64] | None = None
    holds: Mapping[str, Grasp] = field(default_factory=dict)
    bystanders: tuple[Bystander, ...] = ()
    start: float | None = None
    latest: float | None = None
    duration: float | None = None
    shortest: float | None = None
    longest: float | None = None
    before: frozenset[str] = frozenset()
    is_found: bool = False
    strays: str = ""
    parted: tuple[str, ...] = ()

    @property
    def what(self) -> str:
        """What is moved, by name."""
        return self.payload or self.crane


@noted("asked", "carriages")
@dataclass(frozen=True, eq=False, slots=True)
class Site:
    """A scene with its limits, frames and bodies; ``memo`` keeps what several checks share.

    ``asked`` holds every situation of the procedure: for fixes that mend more than one step.
    ``carriages`` are the motions of payloads and cranes, ``arms`` the cranes' arms by name.
    """

    scene: Scene
    limits: dict[str, Limit]
    world_from: dict[str, NDArray[np.float64]]
    memo: Memo = field(default_factory=Memo)
    asked: tuple[Situation, ...] = ()
    carriages: tuple[Carriage, ...] = ()
    arms: Mapping[str, Arm] = field(default_factory=dict)

    def limit(self, name: str) -> Limit:
        """Return a limit in force."""
        return self.limits[name]
