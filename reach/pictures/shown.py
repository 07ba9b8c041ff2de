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
from reach.pictures.envelope import Envelope, known_envelope
from reach.resting import Resting, resting_of
from reach.site import Site, Situation
from reach.units import text_of
from reach.work import Attempt
from reach.worker.chain import N_FREEDOMS, trunk_fk
from reach.worker.figure import R_MAX, Figure
from reach.worker.posing import CLEAR, Target, capsules_of, eye_of, find_held
from reach.worker.posture import posture_of
from reach.worker.search import find_postures
from reach.worker.trunks import trunks_of
from reach.worker.volume import N_IDLE

Array = NDArray[np.float64]
Own = tuple[Array, tuple[str, ...]]
"""Capsules and their names."""

N_STARTS, N_HALVINGS = 3, 7
"""Reached tips from which the way to the fastener is followed, and halvings on it."""

BACK = (0.01, 0.06, 0.2)
"""Shares of the way back to a comfortable tip at which a clear posture is looked for."""

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
        attempt = best_attempt(site, situation)
        return _working(attempt, known_envelope(site, attempt.figure, attempt.target.direction))
    if isinstance(situation.action, Inspect):
        return _looking(look_of(site, situation), site, situation)
    return _resting(site, situation)


def _working(attempt: Attempt, envelope: Envelope | None) -> Shown:
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
    stretched = _stretched(attempt, envelope)
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


def _stretched(attempt: Attempt, envelope: Envelope | None) -> Shown | None:
    """Return the posture that brings the tool, pointing as it should, nearest to the fastener."""
    if envelope is None:
        return None
    target = attempt.target
    gaps = np.linalg.norm(envelope.reached - target.tip, axis=1)
    starts = envelope.reached[np.argsort(gaps, kind="stable")[:N_STARTS]]
    tried = [_toward(attempt, start) for start in starts]
    good = [found for found in tried if found is not None]
    if not good:
        return None
    moved, posture = min(good, key=lambda found: float(np.linalg.norm(found[0].tip - target.tip)))
    words = "not reached: nearest posture found, by joint limits alone"
    trunks = trunks_of(attempt.figure, 128)
    for share in BACK:
        nearer = replace(target, tip=moved.tip + share * (envelope.start - moved.tip))
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
            words = "not reached: nearest posture found that is clear of structure"
            break
    return _posed(attempt, moved, posture, words, False)


def _toward(attempt: Attempt, start: Array) -> tuple[Target, Array] | None:
    """Return the farthest target found on the way from a reached tip to the fastener."""
    target = attempt.target
    good, low, high = None, 0.0, 1.0
    for k in range(N_HALVINGS):
        share = low if k == 0 else 0.5 * (low + high)
        moved = replace(target, tip=start + share * (target.tip - start))
        found = find_postures(attempt.figure, moved.tip, moved.direction, "quick")
        if found.violation[0] <= 0.0:
            good, low = (moved, found.x[0]), share
        elif k == 0:
            return None
        else:
            high = share
    return good


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
