"""An attempt is found once, asks the same of both hands, and looks at the head all over."""

import numpy as np
import pytest

from reach.geometry import pose_of, rotation_about
from reach.model.procedure import Drive
from reach.spots import LIFT, N_SPOTS, spots_of
from reach.work import MIRROR, capsule_limits, hands_of
from reach.worker.volume import N_IDLE


class _Named:
    """Stands for records of which only some fields are read."""

    def __init__(self, **fields):
        self.__dict__.update(fields)


def drive(hand):
    return Drive(do="drive", fastener="f", tool="t", hand=hand)


@pytest.mark.parametrize(
    ("own", "asked", "allowed", "expected"),
    [
        ("right", "own", "either", ("right",)),
        ("left", "own", "right", ("left",)),
        ("right", "left", "right", ("left",)),
        ("right", "either", "either", ("right", "left")),
        ("left", "either", "either", ("left", "right")),
        ("left", "either", "right", ("right",)),
        ("right", "both", "either", ("right", "left")),
        ("right", "both", "left", ("left",)),
    ],
)
def test_hands_are_tried_own_first_and_only_where_allowed(own, asked, allowed, expected):
    head = _Named(record=_Named(hand=allowed))
    assert hands_of(_Named(action=drive(asked), own_hand=own, head=head)) == expected


def test_spots_cover_the_face_of_the_head_in_front_of_it():
    direction = np.array([0.6, 0.0, -0.8])
    tip = np.array([0.5, 0.1, 1.2])
    spots = spots_of(_Named(radius=0.02), np.eye(4), tip, direction)
    assert spots.shape == (N_SPOTS, 3)
    assert (spots - tip) @ -direction == pytest.approx(LIFT)
    off = np.linalg.norm(spots - tip + LIFT * direction, axis=1)
    assert off.max() == pytest.approx(0.95 * 0.02)
    assert spots.mean(axis=0) == pytest.approx(tip - LIFT * direction)


def test_spots_turn_with_the_world_and_mirror_with_the_hand():
    direction, tip = np.array([0.48, 0.6, -0.64]), np.array([0.5, 0.1, 1.2])
    head = _Named(radius=0.02)
    here = spots_of(head, np.eye(4), tip, direction)
    pose = pose_of(rotation_about([1, 2, 3], 1.1), [4.0, -5.0, 6.0])
    there = spots_of(head, pose, tip, direction)
    assert there == pytest.approx(here @ pose[:3, :3].T + pose[:3, 3], abs=1e-12)
    flip = np.array([1.0, -1.0, 1.0])
    other = spots_of(head, MIRROR, tip * flip, direction * flip)
    nearest = np.linalg.norm(other[:, None] - here[None], axis=2).min(axis=1)
    assert nearest.max() < 1e-12


def test_limits_of_body_arm_and_hand_go_to_their_capsules():
    values = {"body_clearance": 0.08, "arm_clearance": 0.01, "hand_clearance": 0.02}
    site = _Named(limit=lambda name: _Named(value=values[name]))
    names = ("left leg", "right leg", "chest", "idle upper arm", "idle forearm")
    names += ("upper arm", "forearm", "hand", "tool")
    found = dict(zip(names, capsule_limits(site, _Named(names=names, n_body=3)), strict=True))
    assert N_IDLE == 2
    assert {name for name, value in found.items() if value == 0.08} == set(names[:3])
    assert {name for name, value in found.items() if value == 0.02} == {"hand"}
