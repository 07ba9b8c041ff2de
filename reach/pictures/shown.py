"""Which posture a picture shows: the one the checks speak of, else the nearest one, else rest."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from reach.checks.reach import lacking
from reach.checks.wording import best_attempt
from reach.geometry import transform_points
from reach.looking import Look, look_of
from reach.model.procedure import Drive, Inspect
from reach.resting import Resting, resting_of
from reach.site import Site, Situation
from reach.units import text_of
from reach.work import Attempt
from reach.worker.chain import N_FREEDOMS, trunk_fk
from reach.worker.figure import ALONG, R_MAX, Figure
from reach.worker.posing import CLEAR, Target, capsules_of, eye_of, find_held
from reach.worker.posture import posture_of
from reach.worker.search import Effort, find_postures
from reach.worker.trunks import trunks_of
from reach.worker.volume import N_IDLE

Array = NDArray[np.float64]
Own = tuple[Array, tuple[str, ...]]
"""Capsules and their names."""

N_CENTRES = 120
"""Places of the tool tip that are tried as a comfortable one."""

N_HALVINGS = 7
_LOOK = Effort(n_trunks=32, n_seeds=1, n_steps=40)
_MIRROR = np.array([1.0, -1.0, 1.0])


@dataclass(frozen=True, eq=False, slots=True)
class Shown:
    """A worker as drawn; points in m, world.

    Attributes
    ----------
    world_from_boots : ndarray, shape (4, 4)
        Mirrored for a left hand, as the checks use it.
    capsules : ndarray, shape (n, 7)
        Two ends and a radius each.
    names : tuple of str
    n_own : int
        How many come before the arm that works.
    torso : ndarray, shape (3, 3)
        Columns: ahead, left (right when mirrored), up.
    eye : ndarray, shape (3,)
    tip : ndarray, shape (3,) or None
    words : str
        What posture this is.
    is_found : bool
        Whether it does everything that is asked.
    looks : bool
        Whether the tool is on the fastener, or the worker is there to look at it.
    attempt : Attempt or None
        None when nothing is turned or looked at.
    spheres : tuple of (centre, radius)
        What each wrist can reach from this trunk posture.
    """

    world_from_boots: Array
    capsules: Array
    names: tuple[str, ...]
    n_own: int
    torso: Array
    eye: Array
    tip: Array | None
    words: str
    is_found: bool
    looks: bool = False
    attempt: Attempt | None = None
    spheres: tuple[tuple[Array, float], ...] = ()


def shown_of(site: Site, situation: Situation) -> Shown:
    """Return the worker of a situation with placed boots, as drawn."""
    if isinstance(situation.action, Drive):
        return _working(best_attempt(site, situation))
    if isinstance(situation.action, Inspect):
        return _looking(look_of(site, situation), site, situation)
    return _resting(site, situation)


def comfortable_tip(figure: Figure, direction: Array) -> Array | None:
    """Return a tool tip (3,), m, boot frame, well inside what is reached; None if none is known.

    Parameters
    ----------
    direction : ndarray, shape (3,), unit vector, boot frame
        Where the tool points.
    """
    trunks = trunks_of(figure, 128)
    rng = np.random.default_rng(7)
    ways = rng.normal(size=(N_CENTRES, 3))
    ways /= np.linalg.norm(ways, axis=1)[:, None]
    far = figure.p[R_MAX] * rng.uniform(0.5, 0.95, N_CENTRES)
    shoulders = trunks.shoulder[rng.integers(0, len(trunks.shoulder), N_CENTRES)]
    tips = shoulders + far[:, None] * ways + figure.p[ALONG] * direction
    good = tips[find_postures(figure, tips, direction, _LOOK).violation <= 0.0]
    if not len(good):
        return None
    return np.asarray(good[np.argmin(np.linalg.norm(good - good.mean(axis=0), axis=1))])


def _working(attempt: Attempt) -> Shown:
    if attempt.short <= 0.0 and attempt.in_envelope:
        if attempt.witness is not None:
            words = "work posture found: reaches, clear, sees"
            return _posed(attempt, attempt.target, attempt.witness.posture, words, True)
        if attempt.clear_only is not None:
            words = "reaches and is clear, but does not see the head"
            return _posed(attempt, attempt.target, attempt.clear_only.posture, words, False)
        miss = attempt.nearest_miss
        words = f"nearest posture found; lacks {lacking(miss)}"
        return _posed(attempt, attempt.target, miss.posture, words, False)
    stretched = _stretched(attempt)
    if stretched is not None:
        return stretched
    if attempt.short <= 0.0:
        beyond, posture = attempt.envelope
        words = f"not reached: nearest posture found, {text_of(beyond, 'rad')} beyond a joint limit"
        return _posed(attempt, attempt.target, posture, words, False)
    trunk = np.zeros(5)
    words = "not reached: no posture found that points the tool that way, drawn at rest"
    capsules = capsules_of(attempt.figure, attempt.bulk, attempt.target, np.zeros(N_FREEDOMS))
    own = _both_arms_idle(attempt.figure, capsules, attempt.bulk.names, trunk)
    return replace(_placed(attempt, own, trunk, words, False), attempt=attempt)


def _stretched(attempt: Attempt) -> Shown | None:
    """Return the posture that brings the tool, pointing as it should, nearest to the fastener."""
    target = attempt.target
    start = comfortable_tip(attempt.figure, target.direction)
    if start is None:
        return None
    good, low, high = None, 0.0, 1.0
    for _ in range(N_HALVINGS):
        middle = 0.5 * (low + high)
        moved = replace(target, tip=start + middle * (target.tip - start))
        found = find_postures(attempt.figure, moved.tip, moved.direction, "quick")
        if found.violation[0] <= 0.0:
            good, low = (moved, found.x[0]), middle
        else:
            high = middle
    if good is None:
        return None
    moved, posture = good
    words = "not reached: nearest posture found, by joint limits alone"
    trunks = trunks_of(attempt.figure, 128)
    for back in (0.01, 0.05, 0.15):
        nearer = replace(target, tip=start + max(0.0, low - back) * (target.tip - start))
        clear = find_held(
            attempt.figure,
            attempt.bulk,
            attempt.tree,
            attempt.world_from_boots,
            nearer,
            trunks,
            CLEAR,
        )
        if clear.fault <= 0.0:
            moved, posture = nearer, clear.posture
            words = "not reached: nearest clear posture found"
            break
    return _posed(attempt, moved, posture, words, False)


def _posed(attempt: Attempt, target: Target, posture: Array, words: str, is_found: bool) -> Shown:
    figure, bulk, pose = attempt.figure, attempt.bulk, attempt.world_from_boots
    marks = posture_of(figure, posture, target.tip, target.direction)
    shoulders = np.stack([marks.shoulder, marks.idle_shoulder])
    capsules = capsules_of(figure, bulk, target, posture)
    words = f"{words} ({attempt.hand} hand)"
    shown = _placed(attempt, (capsules, bulk.names), posture[:5], words, is_found)
    radius = float(figure.p[R_MAX])
    return replace(
        shown,
        attempt=attempt,
        looks=target is attempt.target,
        n_own=bulk.n_body + N_IDLE,
        tip=transform_points(pose, target.tip[None])[0],
        spheres=tuple((centre, radius) for centre in transform_points(pose, shoulders)),
    )


def _looking(look: Look, site: Site, situation: Situation) -> Shown:
    if look.sighting is None:
        shown = _resting(site, situation)
        return replace(
            shown, attempt=look, looks=True, words=f"not seen from any posture tried; {shown.words}"
        )
    trunk = look.sighting.posture[:5]
    capsules = capsules_of(look.figure, look.bulk, look.target, look.sighting.posture)
    own = _both_arms_idle(look.figure, capsules, look.bulk.names, trunk)
    return replace(
        _placed(look, own, trunk, "posture found: clear, sees", True), attempt=look, looks=True
    )


def _resting(site: Site, situation: Situation) -> Shown:
    rest = resting_of(site, situation)
    own = _both_arms_idle(rest.figure, rest.capsules, rest.names, rest.trunk)
    return _placed(rest, own, rest.trunk, rest.words, True)


def _both_arms_idle(figure: Figure, capsules: Array, names: tuple[str, ...], trunk: Array) -> Own:
    """Return body and idle arm with the other arm folded alike, boot frame."""
    n = names.index("idle forearm") + 1
    rotation, shoulder = np.empty((3, 3)), np.empty(3)
    hip = np.array(trunk_fk(figure.p, trunk, rotation, shoulder))
    other = capsules[n - N_IDLE : n].copy()
    for ends in (slice(0, 3), slice(3, 6)):
        other[:, ends] = hip + ((other[:, ends] - hip) @ rotation * _MIRROR) @ rotation.T
    return np.vstack([capsules[:n], other]), (*names[:n], *names[n - N_IDLE : n])


def _placed(of: Attempt | Resting, own: Own, trunk: Array, words: str, is_found: bool) -> Shown:
    capsules, names = own
    pose = of.world_from_boots
    world = capsules.copy()
    for ends in (slice(0, 3), slice(3, 6)):
        world[:, ends] = transform_points(pose, capsules[:, ends])
    rotation, shoulder = np.empty((3, 3)), np.empty(3)
    trunk_fk(of.figure.p, trunk, rotation, shoulder)
    eye = eye_of(of.figure, of.bulk, np.concatenate([trunk, np.zeros(4)]))
    return Shown(
        world_from_boots=pose,
        capsules=world,
        names=names,
        n_own=len(names),
        torso=pose[:3, :3] @ rotation,
        eye=transform_points(pose, eye[None])[0],
        tip=None,
        words=words,
        is_found=is_found,
    )
