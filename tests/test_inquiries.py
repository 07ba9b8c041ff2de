"""What is asked from Python is what the commands ask."""

from __future__ import annotations

import pytest

import reach
from reach.cautions import cautions
from reach.files.problem import InputError
from reach.files.starter import write_starter


@pytest.fixture(scope="module")
def mast():
    return reach.load_scene("tallowmere")


def test_every_public_name_is_there_and_says_what_it_does():
    for name in reach.__all__:
        assert getattr(reach, name).__doc__, name


def test_a_way_is_asked_for_by_the_names_of_the_scene(mast):
    routes = reach.ways(mast, "RUNG-8", "RUNG-9", worker="R2")
    (choice,) = routes.choices
    assert choice.route.length == pytest.approx(0.9)
    assert routes.none is None
    assert {finding.check for finding in routes.outcome.findings} >= {"route", "gap", "corridor"}


def test_a_way_round_what_is_avoided_may_be_proved_not_to_be():
    lost = reach.ways("brackenfall", "SK2", "SK3", worker="W1", avoid=["RL23"])
    assert lost.choices == ()
    assert lost.none.freed == ("RL23",)
    assert lost.exit_code == 1


def test_what_does_not_fit_the_scene_is_told_at_once(mast):
    with pytest.raises(InputError) as told:
        reach.ways(mast, "RUNG-7", "RUNG-9", worker="R9", carrying=["no-bag"])
    assert len(told.value.problems) == 3
    assert "did you mean 'RUNG-9'" in str(told.value)


def test_minutes_home_need_a_hatch(mast):
    with pytest.raises(InputError, match="hatch"):
        reach.minutes_home(mast)


def test_minutes_home_of_a_scene_leave_steps_out():
    returns = reach.minutes_home("brackenfall", swaps=0)
    assert returns.steps == ()
    near = next(place for place in returns.places if place.place == "AN-01")
    assert near.brought < returns.limit.value


def test_a_clearance_may_have_a_unit():
    by_text, by_number = (
        reach.sweep("brackenfall", "relay-boom", path="high-way", clearance=asked)
        for asked in ("60 cm", 0.6)
    )
    (one,), (other,) = by_text.outcome.findings, by_number.outcome.findings
    assert one.verdict is reach.Verdict.FAIL
    assert (one.low, one.high, one.because) == (other.low, other.high, other.because)


def test_a_clearance_that_is_no_length_is_refused():
    with pytest.raises(ValueError, match="a length is needed"):
        reach.sweep("brackenfall", "relay-boom", path="high-way", clearance="3 deg")


def test_a_check_of_a_batch_that_is_none_is_refused(tmp_path):
    with pytest.raises(ValueError, match="torque"):
        reach.check_many("tallowmere", tmp_path / "out", only=["torqe"])
    assert not (tmp_path / "out").exists()


def test_a_pattern_that_matches_nothing_is_refused(tmp_path):
    with pytest.raises(InputError):
        reach.check_many(str(tmp_path / "none-*"), tmp_path / "out")


def test_results_carry_the_cautions_with_the_hash_of_their_inputs(tmp_path):
    write_starter(tmp_path / "site")
    outcome = reach.check(tmp_path / "site", only=["torque"])
    assert outcome.cautions == cautions(outcome.inputs)
    assert len(outcome.cautions) == 10


@pytest.mark.picture
def test_pictures_are_those_that_the_commands_draw(tmp_path):
    from reach.pictures import draw, draw_returns

    returns = reach.minutes_home("brackenfall")
    (drawn,) = draw_returns(returns, tmp_path)
    assert reach.pictures_of(returns) == {"minutes-home": drawn.read_bytes()}

    write_starter(tmp_path / "site")
    scene = reach.load_scene(tmp_path / "site")
    setting = {"clocking": 0, "pitch": 0, "roll": 0, "yaw": 0}
    asked = reach.question(
        scene, where="SA", restraint="FR-A", setting=setting, fastener="PB1", tool="PD-A"
    )
    outcome = reach.check(scene, asked, only=["reach"])
    files = draw(outcome, tmp_path / "drawn")
    assert reach.pictures_of(outcome) == {file.stem: file.read_bytes() for file in files}
