import math

import pytest
from pydantic import ValidationError

from reach.model.gaps import CrushingGaps
from reach.model.limits import LIMITS, WrittenLimit, limit_of
from reach.model.procedure import Procedure, Step
from reach.model.provenance import Provenance
from reach.model.scene import Handrail, Socket, Worker
from reach.model.shapes import Shaped
from reach.units import SI, UNITS


def test_records_are_frozen_and_take_no_unknown_keys():
    rail = Handrail.model_validate({"from": [0, 0, 0], "to": [1, 0, 0]})
    with pytest.raises(ValidationError):
        rail.radius = 1.0
    with pytest.raises(ValidationError):
        Handrail.model_validate({"from": [0, 0, 0], "to": [1, 0, 0], "colour": "red"})


@pytest.mark.parametrize("value", [[0, 0, 0], [math.nan, 0, 1], [math.inf, 0, 0], ["1 m", 0, 0], 3])
def test_a_direction_is_three_plain_numbers_with_a_length(value):
    with pytest.raises(ValidationError):
        Socket.model_validate({"at": [0, 0, 0], "axis": value, "zero": [1, 0, 0]})


def test_a_direction_is_made_a_unit():
    socket = Socket(at=(0, 0, 0), axis=(0, 3, 4), zero=(1, 0, 0))
    assert socket.axis == pytest.approx((0, 0.6, 0.8))


@pytest.mark.parametrize(
    ("start", "seconds"),
    [("01:14", 4440.0), ("00:00:30", 30.0), ("100:00", 360000.0), ("6 min", 360.0), (12, 12.0)],
)
def test_a_start_is_a_clock_or_a_duration(start, seconds):
    assert Step(name="x", lane="W1", start=start).start == seconds


@pytest.mark.parametrize("start", ["1:60", "01:14:60", "-01:00", "ab:cd", "-5 s"])
def test_a_start_that_is_no_time_is_refused(start):
    with pytest.raises(ValidationError):
        Step(name="x", lane="W1", start=start)


def test_settings_keep_detent_numbers_whole_and_angles_in_rad():
    step = Step(name="x", lane="W1", setting={"a": 4, "b": "30 deg", "c": 0.5})
    assert step.setting == {"a": 4, "b": pytest.approx(math.pi / 6), "c": 0.5}
    assert isinstance(step.setting["a"], int)


def test_two_steps_of_one_name_are_refused():
    step = {"name": "x", "lane": "W1"}
    with pytest.raises(ValidationError, match="two steps are named 'x'"):
        Procedure.model_validate({"format": 1, "lanes": {"W1": "worker"}, "steps": [step, step]})


def test_a_worker_has_one_body():
    assert Worker(size="small", suit="s").hand == "right"
    assert Worker(percentile=30, sex="female", suit="s").percentile == 30
    for keys in ({}, {"size": "s", "percentile": 3}, {"measurements": {"stature": 1.8}}):
        with pytest.raises(ValidationError):
            Worker(suit="s", **keys)


@pytest.mark.parametrize(
    "holes",
    [[(0, 0, 0)], [(0.45, 0, 0.1)], [(0, 0, 0.1), (0.15, 0, 0.1)], [(0, 0, 0.5)]],
)
def test_holes_stay_inside_the_plate_and_apart(holes):
    with pytest.raises(ValidationError):
        Shaped(plate={"size": (1, 1), "thickness": 0.1, "holes": holes})


def test_limits_are_read_by_their_kind():
    assert all(kind in UNITS for kind, _ in LIMITS.values())
    limit = limit_of("sight_angle", WrittenLimit(value="80 deg", source="a rule"))
    assert (limit.value, limit.unit) == (pytest.approx(math.radians(80)), SI["angle"])
    assert limit.source == Provenance(source="a rule")


def test_a_gap_as_wide_as_the_least_one_hurts_nothing():
    table = CrushingGaps(source=Provenance(), gaps={"hand": "100 mm"})
    assert table.hurt_by(0.1) == []
    assert table.hurt_by(0.0999) == ["hand"]
