"""Work in the dark and what hands touch: lamps, temperatures, hot structure."""

import numpy as np
import pytest
from bench import bench, drive, findings_of, scene_of, step

from reach.checks import check_named, light, sight
from reach.files.people import load_population, load_suits
from reach.finding import Verdict
from reach.lasting import outing_of
from reach.model.procedure import Procedure
from reach.model.scene import Fastener
from reach.situations import resolve
from reach.units import quantity

PASS, FAIL, OPEN, NOT_ASKED = Verdict.PASS, Verdict.FAIL, Verdict.OPEN, Verdict.NOT_ASKED
HALDEN = load_suits()["halden"]
NIGHT = {"night": {"spans": [["00:30", "01:00"]], "dark": True}}


def lit(lamp, start="00:40", fastener="easy", windows=NIGHT, do=None):
    """The findings of the check on light about one step of ten minutes."""
    data = bench(suits={"halden": HALDEN.model_copy(update={"lamp": lamp})})
    act = do or drive(fastener)
    one = {**step("s", "R", act), "start": start, "duration": "10 min"}
    procedure = Procedure(format=1, lanes={"R": "worker"}, steps=[one], windows=windows)
    site, situations = resolve(scene_of(data), {}, procedure, load_population)
    return light.find(site, outing_of(site, situations, procedure)), site, situations


def test_a_lamp_that_lights_far_enough_from_a_posture_that_sees():
    (found,), site, (situation,) = lit(3.0)
    attempt, posed = sight.sighting_of(site, situation)
    eye = sight.eye_in(attempt, posed)
    far = np.linalg.norm(eye - situation.head.point)
    assert found.verdict is PASS
    assert found.low == pytest.approx(3.0 - far, abs=1e-8)
    assert "in the dark from 00:40 to 00:50" in found.because


def test_a_lamp_too_weak_is_a_fail_only_where_no_eye_can_be_nearer():
    near, far = lit(0.2)[0][0], lit(3.0)[0][0]
    # The eye may lean nearer than in the posture found: the lamp of 0.2 m stays open.
    assert near.verdict is OPEN
    assert near.numbers["distance"] == far.numbers["distance"]
    _, site, (situation,) = lit(3.0)
    attempt, posed = sight.sighting_of(site, situation)
    eye = sight.eye_in(attempt, posed)
    for height in (4.0, 6.0):
        over = np.array([0.0, 0.0, height])
        assert 0.0 < light.nearest_eye(attempt, over) <= np.linalg.norm(eye - over)


@pytest.mark.parametrize(
    ("start", "asked"), [("00:20", 0), ("00:25", 1), ("00:55", 1), ("01:00", 0)]
)
def test_any_part_of_a_step_in_the_dark_counts(start, asked):
    assert len(lit(3.0, start=start)[0]) == asked


def test_windows_that_are_not_dark_and_lamps_that_are_not_known():
    contact = {"contact": {"spans": [["00:30", "01:00"]]}}
    assert lit(3.0, windows=contact)[0] == []
    (found,), _, _ = lit(None)
    assert found.verdict is NOT_ASKED
    (look,), _, _ = lit(3.0, do={"do": "inspect", "fastener": "easy"})
    assert look.verdict is PASS


# ---- what is touched ---------------------------------------------------------------------


def touched(temperature, **more):
    data = bench(**more)
    data["fasteners"]["easy"] = {**data["fasteners"]["easy"], "temperature": temperature}
    return findings_of(data, step("s", "R", drive("easy")), only=("touch",))


@pytest.mark.parametrize(
    ("temperature", "margin"),
    [
        (["-45 degF", "145 degF"], 0.0),
        (["-40 degF", "100 degF"], 5 * 5 / 9),
        (["0 degF", "150 degF"], -5 * 5 / 9),
        (["-54 degF", "150 degF"], -9 * 5 / 9),
    ],
)
def test_the_worst_of_a_surface_counts(temperature, margin):
    (found,) = touched(temperature)
    assert found.low == found.high == pytest.approx(margin, abs=1e-9)
    assert found.unit == "K"
    assert found.limits[0].name in ("touch_hot", "touch_cold")


def test_surfaces_of_no_known_temperature_are_not_asked():
    assert findings_of(bench(), step("s", "R", drive("easy")), only=("touch",)) == []


def test_a_range_of_temperatures_runs_upward():
    with pytest.raises(ValueError, match="coldest, hottest"):
        Fastener(at=(0, 0, 0), axis=(1, 0, 0), temperature=("20 degC", "10 degC"))


def test_rails_on_the_way_are_touched():
    from moves import ALONG, move, wall

    data = wall(handrails={"RB": {"temperature": ["0 degC", "90 degC"]}})
    (found,) = findings_of(data, ALONG, only=("touch",))
    assert found.verdict is FAIL
    (planned,) = findings_of(data, move(), only=("touch",))
    assert planned.verdict is Verdict.OPEN
    assert planned.because == f"{found.because} Another way may keep it."
    assert "RB" in found.because and "0.0 degC to 90.0 degC" in found.because
    assert findings_of(data, move(to="RA@1.0"), only=("touch",)) == []


# Warnings printed in procedures of a station outing (EVA 4, cautions and warnings): hot structure
# above 300 degF is kept 1 ft away, and work near it lasts 15 min at most.
@pytest.mark.parametrize(
    ("distance", "celsius", "minutes", "verdict"),
    [
        (0.25, 150.0, 5, FAIL),
        (0.31, 150.0, 15, PASS),
        (0.31, 150.0, 16, FAIL),
        (0.10, 165.0, 5, FAIL),
        (0.60, 165.0, 60, PASS),
    ],
)
def test_hot_structure_is_kept_away_from_and_left_soon(distance, celsius, minutes, verdict):
    hot = quantity(f"{celsius} degC", "temperature")
    side = {"box": [0.2, 0.2, 0.2], "at": [0.7, 0.0, 1.65], "temperature": [273.15, hot]}
    side["at"] = [0.6, -0.2 - distance - 0.1, 1.65]
    data = bench(solids={"side": side})
    one = {**step("s", "R", drive("easy")), "duration": f"{minutes} min"}
    (found,) = findings_of(data, one, only=("touch",))
    assert found.verdict is verdict
    assert found.numbers["distance"] == pytest.approx(distance)


def test_structure_that_is_not_hot_is_not_asked_about():
    warm = {"box": [0.2, 0.2, 0.2], "at": [0.6, -0.4, 1.65], "temperature": [273.15, 420.0]}
    data = bench(solids={"side": warm})
    one = step("s", "R", drive("easy"))
    assert findings_of(data, one, only=("touch",)) == []
    assert check_named("B4").NAME == "touch"
