"""The crane support request: what the crane is asked to do, at which poses, who watches."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from reach.dossier.basis import Basis
from reach.dossier.records import Row, Table
from reach.dossier.wording import columns, known, least, listed, table
from reach.finding import Finding
from reach.payload.clock import lengths_of
from reach.site import Carriage

CHECKS = (
    "sweep", "bystander", "links", "watch", "approach", "stop", "momentum", "pinch", "crane-reach",
    "joints", "device", "boarding", "anchored", "tether-riding",
)  # fmt: skip


def crane_support(basis: Basis) -> Table:
    """Return each motion of a crane with times, rates, clearances, cameras and clear calls."""
    heads = columns(
        "step", "lane", ("begins", "at"), ("planned", "s"), ("needed at the joints' rates", "s"),
        "crane", "carries", ("mass carried", "kg"), "rides", "through", ("length of the way", "m"),
        ("mean speed", "m/s"), ("most speed allowed", "m/s"), ("least left of the gaps asked", "m"),
        ("least left to other workers", "m"), ("left of its reach", "m"),
        ("least angle left at a joint", "rad"), "cameras", "clear calls by",
        "to be filled in or confirmed", "unseen", "note", "verdict",
    )  # fmt: skip
    says = (
        "What is asked of the crane and its operator, motion by motion, with the poses it goes "
        "through. The mean speed is the length of the way of the middle of what is moved over the "
        "time planned. What is left is beyond what is asked; below zero that much is missing. What "
        "neither scene nor procedure says stands under what is to be filled in or confirmed."
    )
    rows = (_row(basis, one) for one in motions_of(basis) if one.crane)
    return table(
        "crane-support", "Crane support request", says, heads, rows, "No crane is asked to move."
    )


def motions_of(basis: Basis) -> tuple[Carriage, ...]:
    """Return each motion once, for the first case that it is asked for."""
    found: dict[tuple[str, int], Carriage] = {}
    for one in basis.site.carriages:
        found.setdefault((one.step, id(one.action)), one)
    return tuple(found.values())


def answers_on(basis: Basis, motion: Carriage) -> tuple[int, ...]:
    """Return the places of the findings about one motion."""
    about = {motion.crane, motion.payload} - {""}
    return basis.answers(motion.step, CHECKS, about)


def _row(basis: Basis, motion: Carriage) -> Row:
    answers = answers_on(basis, motion)
    found = [basis.findings[k] for k in answers]
    length = _length(motion)
    action = motion.action
    speed = length / motion.duration if motion.duration else None
    return Row(
        (
            motion.step,
            motion.lane,
            motion.start,
            motion.duration,
            _number(found, "stop", "needed"),
            motion.crane,
            motion.payload or "nothing",
            _mass(basis, motion),
            motion.rider.worker if motion.rider else "nobody",
            listed(motion.names, "not known") + (" (found)" if motion.is_found else ""),
            length,
            speed,
            motion.speed,
            least((one for one in found if one.check in ("sweep", "links")), "m"),
            least((one for one in found if one.check == "bystander"), "m"),
            least((one for one in found if one.check == "crane-reach"), "m"),
            least((one for one in found if one.check == "joints"), "rad"),
            listed(getattr(action, "cameras", ()), "none is named"),
            action.clear_caller or "nobody is named",
            listed(_to_fill(motion), "nothing"),
            _unseen(found),
            basis.outing.step(motion.step).note or "no note" if basis.outing else "no note",
            basis.verdict(answers),
        ),
        answers,
    )


def _mass(basis: Basis, motion: Carriage) -> float | None:
    """Return the mass of what is carried, kg; 0 without a payload, None where it is not known."""
    if not motion.payload:
        return 0.0
    return basis.scene.payloads[motion.payload].mass


def _to_fill(motion: Carriage) -> Iterator[str]:
    """Yield what the operator needs and nobody has said."""
    if motion.speed is None:
        yield "most speed allowed"
    if not motion.action.clear_caller:
        yield "who gives the clear calls"
    if not getattr(motion.action, "cameras", ()):
        yield "cameras"
    if motion.duration is None:
        yield "time planned"


def _length(motion: Carriage) -> float:
    """Return how far the middle of what is moved goes, m."""
    points = np.array([leg.about for leg in motion.legs], float).reshape(-1, 3)
    return float(np.sum(lengths_of(motion.poses, points)))


def _number(found: Sequence[Finding], check: str, name: str) -> float | None:
    for one in found:
        if one.check == check and name in one.numbers:
            return known(float(one.numbers[name]))
    return None


def _unseen(found: Sequence[Finding]) -> str:
    told = [one.because for one in found if one.check == "watch"]
    return " ".join(told) or "not asked"


def crane_poses(basis: Basis) -> Table:
    """Return the poses that cranes go through, in the world, pose by pose."""
    heads = columns(
        "step", "number", "pose", "of what", ("x", "m"), ("y", "m"), ("z", "m"),
        "x axis points to", "z axis points to",
    )  # fmt: skip
    says = (
        "Poses that the crane is asked for, in the frame of the world: of the boot plate (z the "
        "sole normal, x the toes), or of the payload in its own frame. Between them it goes as the "
        "motion says."
    )
    rows = (row for one in motions_of(basis) if one.crane for row in _poses(basis, one))
    return table(
        "crane-poses", "Poses of the crane", says, heads, rows, "No crane is asked to move."
    )


def _poses(basis: Basis, motion: Carriage) -> Iterator[Row]:
    answers = answers_on(basis, motion)
    what = f"payload {motion.payload}" if motion.payload else "boot plate"
    labels = motion.names if len(motion.names) == len(motion.poses) else ()
    for k, pose in enumerate(motion.poses):
        label = labels[k] if labels else f"pose {k + 1}"
        x, y, z = (float(v) for v in pose[:3, 3])
        yield Row(
            (motion.step, k + 1, label, what, x, y, z, _vector(pose[:3, 0]), _vector(pose[:3, 2])),
            answers,
        )


def _vector(v: NDArray[np.float64]) -> str:
    return ", ".join(f"{round(float(one), 3) + 0.0:g}" for one in v)
