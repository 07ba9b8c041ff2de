import math

import pytest
from pydantic import ValidationError

from reach.model.hardware import Joint, Restraint

DEG = math.pi / 180.0


def joint(**keys) -> Joint:
    return Joint.model_validate({"name": "j", "turn": "y", **keys})


PITCH = joint(**{"from": "-90 deg", "to": "90 deg", "step": "15 deg"})
CLOCKING = joint(**{"from": 0, "to": "330 deg", "step": "30 deg", "numbered": True})
FREE = joint(**{"from": "-30 deg", "to": "20 deg"})


def test_detents_run_from_end_to_end():
    assert len(PITCH.stops) == 13
    assert PITCH.stops[0] == pytest.approx(-90 * DEG)
    assert PITCH.stops[-1] == pytest.approx(90 * DEG)
    assert len(CLOCKING.stops) == 12
    assert FREE.stops == ()


def test_a_setting_stands_for_an_angle():
    assert PITCH.angle_of(30 * DEG) == pytest.approx(30 * DEG)
    assert CLOCKING.angle_of(4) == pytest.approx(120 * DEG)
    assert FREE.angle_of(0.1) == 0.1


@pytest.mark.parametrize(
    ("which", "value", "message"),
    [
        (PITCH, 40 * DEG, "40.0 deg is no detent; the nearest is 45.0 deg"),
        (PITCH, 200 * DEG, "200.0 deg is no detent; the nearest is 90.0 deg"),
        (CLOCKING, 12, "takes a whole detent number from 0 to 11, found 12; the nearest is 11"),
        (CLOCKING, -1, "found -1; the nearest is 0"),
        (CLOCKING, 31 * DEG, "found 31.0 deg; the nearest is 1"),
        (FREE, 30 * DEG, "30.0 deg is outside -30.0 deg to 20.0 deg"),
    ],
)
def test_a_setting_that_the_joint_does_not_take_names_the_nearest(which, value, message):
    with pytest.raises(ValueError) as caught:
        which.angle_of(value)
    assert message in str(caught.value)


@pytest.mark.parametrize(
    "keys",
    [
        {},
        {"shift": [0, 0, 1], "turn": "x", "name": "a"},
        {"turn": "x"},
        {"turn": "x", "name": "a", "from": 1, "to": 0},
        {"turn": "x", "name": "a", "numbered": True},
    ],
)
def test_a_link_is_one_thing_and_complete(keys):
    with pytest.raises(ValidationError):
        Joint.model_validate(keys)


def test_only_joints_can_be_set():
    chain = [{"shift": [0, 0, 1]}, {"name": "a", "turn": "x", "to": 1}]
    restraint = Restraint.model_validate({"kind": "foot restraint", "chain": chain})
    assert [link.name for link in restraint.joints] == ["a"]
