"""A body that holds one or two bars, measured anew: bones, joints, where hands are, what is near.

A posture is taken as numbers of the package; that its two arms hang on one trunk, are as long as
they should be, within their joints and hold what they should hold is worked out here.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import coal
import numpy as np

from benchmarks.twins import space
from benchmarks.twins.space import moved, unit
from benchmarks.twins.work_body import Bones, capsules, other_side, trunk
from benchmarks.twins.work_cases import MIRROR
from reach.worker.posture import posture_of

ARM = ("upper arm", "forearm", "hand")


@dataclass(frozen=True)
class Limb:
    """One arm of a posture, as the right arm of a right-handed body: mirrored where it is left."""

    bones: Bones
    q: Any
    hand: str

    def to_boots(self, point: Any) -> Any:
        """Return a point in the true boot frame."""
        return MIRROR @ np.asarray(point, float) if self.hand == "left" else np.asarray(point)


def limb_of(body: Any, suit: Any, figure: Any, x: Any, tip: Any, way: Any, hand: str) -> Limb:
    """Return the arm of a posture vector; tip (m) and way in the frame of the right-handed body."""
    p = posture_of(figure, x, tip, way, "right")
    hip, torso, low = trunk(body, suit, x[:5])
    points = [np.asarray(getattr(p, name)) for name in ("shoulder", "elbow", "wrist")]
    return Limb(Bones(hip, torso, low, *points, np.asarray(p.hand_rotation)), np.array(x[:5]), hand)


def grip_of(body: Any, limb: Limb) -> Any:
    """Return where the middle of the fist is, true boot frame."""
    bones = limb.bones
    return limb.to_boots(bones.wrist + body.links.grip * bones.hand[:, 0])


def one_trunk(limbs: Sequence[Limb]) -> Iterator[str]:
    """Yield what does not fit where two arms should hang on one trunk, a left and a right one."""
    if len(limbs) < 2:
        return
    if {one.hand for one in limbs} != {"left", "right"}:
        yield f"hands {[one.hand for one in limbs]}"
    a, b = limbs[0].q, np.array(other_side(limbs[1].q))
    if np.abs(a - b).max() > 1e-9:
        yield f"two trunks, {np.abs(a - b).max():g} rad apart"


def limbs_of(body: Any, suit: Any, grasped: Any, own: str) -> list[Limb]:
    """Return the arms of a hold that the package found, a bar each."""
    other = "left" if own == "right" else "right"
    found = []
    for bar, share, sign, side, x in zip(
        grasped.bars, grasped.hold.shares, grasped.hold.signs, grasped.hold.sides,
        grasped.hold.postures, strict=True,
    ):  # fmt: skip
        # Bars are in the frame of the own hand, mirrored for a left-handed worker.
        flip = np.eye(3) if side == 0 else MIRROR
        tip = flip @ (bar.start + share * (bar.end - bar.start))
        way = flip @ unit(sign * (bar.end - bar.start))
        found.append(limb_of(body, suit, grasped.figure, x, tip, way, own if side == 0 else other))
    return found


def off_bars(
    body: Any, limbs: Sequence[Limb], bars: Sequence[tuple[Any, Any]], boots: Any, askew: float
) -> Iterator[str]:
    """Yield where a fist is not on its bar (two ends, m, world) or is askew on it."""
    size = max(1.0, float(np.abs(boots[:3, 3]).max()))
    for limb, (a, b) in zip(limbs, bars, strict=True):
        fist = moved(boots, grip_of(body, limb))
        share = float(np.clip((fist - a) @ (b - a) / ((b - a) @ (b - a)), 0, 1))
        miss = float(np.linalg.norm(fist - a - share * (b - a)))
        if miss > 1e-5 + 1e-9 * size:
            yield f"the {limb.hand} fist is {miss:g} m off its bar"
        thumb = boots[:3, :3] @ limb.to_boots(limb.bones.hand[:, 2])
        angle = math.acos(float(np.clip(abs(thumb @ unit(b - a)), -1, 1)))
        if angle > askew + 1e-5:
            yield f"the {limb.hand} hand is {angle:g} rad askew"


def parts_of(body: Any, suit: Any, limbs: Sequence[Limb]) -> list[tuple[str, str, Any, Any, float]]:
    """Return (part, whose or which hand, end, end, radius) of the whole body, true boot frame."""
    found = []
    for i, limb in enumerate(limbs):
        for part, kind, a, b, radius in capsules(body, suit, (), limb.bones):
            is_arm = part in ARM
            if not is_arm and (i or (len(limbs) > 1 and part.startswith("idle"))):
                continue
            name = limb.hand if is_arm else "idle" if part.startswith("idle") else "body"
            del kind
            found.append((part, name, limb.to_boots(a), limb.to_boots(b), radius))
    return found


def near(
    parts: Sequence[Any], boots: Any, held: Mapping[str, Any], rest: Mapping[str, Any]
) -> dict[str, float]:
    """Return the least room of body and of arms, m, from what is held and from all else."""
    room = {"body": math.inf, "arms": math.inf}
    for part, whose, a, b, radius in parts:
        p, q = moved(boots, a), moved(boots, b)
        shapes = list(rest.values())
        if part not in ("forearm", "hand"):
            shapes += held.values()
        kind = "body" if whose == "body" else "arms"
        for shape, at in shapes:
            room[kind] = min(room[kind], space.apart(shape, at, p, q, radius))
    return room


def hands_in_body(parts: Sequence[Any]) -> float:
    """Return the least distance of a glove from trunk, legs and the other glove, m."""
    least = math.inf
    gloves = [one for one in parts if one[0] == "hand"]
    for i, (_, _, a, b, radius) in enumerate(gloves):
        others = [one for one in parts if one[1] == "body"] + gloves[i + 1 :]
        for _, _, p, q, r in others:
            length, at = space.capsule_pose(p, q)
            shape = coal.Capsule(r, length) if length > 0.0 else coal.Sphere(r)
            least = min(least, space.apart(shape, at, a, b, radius))
    return least


def out_of_reach(body: Any, suit: Any, point: Any) -> float:
    """Return how far a point (m, boot frame) is beyond all that a fist can get to, for sure."""
    k = body.links
    trunk_ = math.hypot(suit.shoulder_ahead, k.half, k.shoulder - k.hip) + k.rise * max(
        0.0, suit.shoulder_rise
    )
    most = (k.hip - k.ankle) + trunk_ + k.upper_arm + k.forearm + k.grip
    ankle = np.array([0.0, 0.0, k.ankle + suit.sole])
    return float(np.linalg.norm(np.asarray(point) - ankle)) - most
