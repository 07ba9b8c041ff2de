"""Published rules run through units and records; tolerances come from the printed digits.

Each case names where the printed value is from; the conversions count as one check.
"""

import math
import tomllib

import pytest

from reach.files.gaps import load_gaps
from reach.files.people import load_suits
from reach.files.shipped import shipped_path
from reach.finding import Finding, Limit, Verdict
from reach.model.hardware import Joint
from reach.model.limits import WrittenLimit, limit_of
from reach.model.provenance import Provenance, SourceMark
from reach.units import in_unit, quantity

DEG = math.pi / 180.0
EVA_4 = "NASA EVA 4 procedures MSG 102 (14-0622), cautions and warnings pages 1-2"
EVA_23 = "NASA US EVA 23 procedures, 12 Jul 2013, warnings pages"
JETS = "NASA STS-120 EVA inhibit pad, page 1"
HANDRAIL = "OSHA 29 CFR 1910.29 and 1926.502, handrail finger clearance and guardrail band"
LADDER = "OSHA ladder rules: 1926 subpart X, 1910.23(d)(2), letter 1991-12-02-2"


@pytest.mark.parametrize(
    ("source", "text", "degrees_celsius"),
    [
        (EVA_4, "-120 degF", -84.4),
        (EVA_4, "200 degF", 93.3),
        (EVA_4, "300 degF", 148.9),
        (EVA_4, "320 degF", 160.0),
        (EVA_4, "325 degF", 162.8),
        (EVA_23, "350 degF", 176.7),
    ],
)
def test_temperatures_of_touch_and_approach_rules(source, text, degrees_celsius):
    assert in_unit(quantity(text, "temperature"), "degC") == pytest.approx(
        degrees_celsius, abs=0.05
    ), source


@pytest.mark.parametrize(
    ("source", "text", "metres", "within"),
    [
        (EVA_23, "1.3 ft", 0.3962, 1e-4),
        (EVA_23, "2 ft", 0.6096, 1e-4),
        (JETS, "27 ft", 8.2296, 1e-4),
        (EVA_4, "3 ft", 0.9144, 1e-4),
        (HANDRAIL, "2.25 in", 0.05715, 5e-5),
        (HANDRAIL, "39 in", 0.9906, 5e-5),
        (HANDRAIL, "45 in", 1.1430, 5e-5),
        (LADDER, "7 in", 0.1778, 5e-5),
        (LADDER, "4.5 in", 0.1143, 5e-5),
        (LADDER, "4 in", 0.1016, 5e-5),
    ],
)
def test_lengths_of_keep_out_and_clearance_rules(source, text, metres, within):
    assert quantity(text, "length") == pytest.approx(metres, abs=within), source


LOADS = "interface standard for spacewalk hardware (1997), induced loads of a suited worker"
RESTRAINT = "NASA-STD-3000, 14.4: restraint loads, from memory"


@pytest.mark.parametrize(
    ("source", "text", "kind", "value", "within"),
    [
        (LOADS, "274 lbf", "force", 1219.0, 0.5),
        (LOADS, "4200 in lbf", "torque", 475.0, 0.5),
        (LOADS, "45 lbf", "force", 200.0, 0.5),
        (LOADS, "35 in lbf", "torque", 3.95, 0.01),
        (LOADS, "125 lbf", "force", 556.0, 0.5),
        (RESTRAINT, "140 lbf", "force", 623.0, 0.5),
        (RESTRAINT, "1800 in lbf", "torque", 203.0, 0.5),
    ],
)
def test_loads_that_a_suited_worker_puts_on_things(source, text, kind, value, within):
    assert quantity(text, kind) == pytest.approx(value, abs=within), source


@pytest.mark.parametrize(
    ("name", "value", "within"),
    [
        ("socket_force", 1219.0, 0.5),
        ("socket_moment", 475.0, 0.5),
        ("handling_force", 200.0, 0.5),
        ("connector_torque", 3.95, 0.01),
        ("effort_sustained", 0.15, 1e-12),
    ],
)
def test_shipped_limits_are_the_published_ones(name, value, within):
    written = tomllib.loads(shipped_path("limits.toml").read_text())["limits"][name]
    limit = limit_of(name, WrittenLimit(**written))
    assert limit.value == pytest.approx(value, abs=within)
    assert limit.source.mark is SourceMark.PUBLISHED


def test_a_pressurised_glove_leaves_58_percent_of_the_grip():
    # Source: studies of grip strength in a pressurised glove: 42 % less than the bare hand.
    assert load_suits()["halden"].grip_share == pytest.approx(1.0 - 0.42)
    assert load_suits()["unsuited"].grip_share == 1.0


def test_a_gap_of_90_mm_hurts_all_but_fingers_and_toes():
    # Source: EN 349 / ISO 13854, least gaps as listed by AUVA (lexicon, safety distances):
    # finger 25, toes 50, hand 100, arm 120, foot 120, leg 180, head 300, body 500 mm.
    table = load_gaps()
    hurt = table.hurt_by(quantity("90 mm", "length"))
    assert set(hurt) == {"hand", "arm", "foot", "leg", "head", "body"}
    assert set(table.gaps) - set(hurt) == {"finger", "toes"}
    assert [round(gap * 1000) for gap in sorted(set(table.gaps.values()))] == [
        *(25, 50, 100, 120, 180, 300, 500)
    ]
    assert table.source.mark is SourceMark.PUBLISHED


def test_a_tilt_of_20_deg_goes_to_the_detent_of_18():
    # Source: page on the arm-mounted foot restraint, de.zxc.wiki: yaw +/-180 deg, tilt
    # detents 0, 9, 18 and 27 deg.
    tilt = Joint(name="tilt", turn="y", detents=("0 deg", "9 deg", "18 deg", "27 deg"))
    yaw = Joint.model_validate({"name": "yaw", "turn": "z", "from": "-180 deg", "to": "180 deg"})
    assert tilt.nearest_stop(20 * DEG) == 18 * DEG
    assert yaw.angle_of(-180 * DEG) == -180 * DEG
    with pytest.raises(ValueError, match=r"20\.0 deg is no detent; the nearest is 18\.0 deg"):
        tilt.angle_of(20 * DEG)


def test_an_arm_joint_refuses_a_command_of_300_deg():
    # Source: NASA, The International Space Station: Operating an Outpost (2017), page 286:
    # the joints of the station arm turn +/-270 deg.
    limits = {"from": "-270 deg", "to": "270 deg"}
    joint = Joint.model_validate({"name": "shoulder", "turn": "z", **limits})
    assert joint.angle_of(270 * DEG) == 270 * DEG
    with pytest.raises(ValueError, match=r"300\.0 deg is outside -270\.0 deg to 270\.0 deg"):
        joint.angle_of(300 * DEG)


@pytest.mark.parametrize(("aisle", "verdict"), [("900 mm", Verdict.FAIL), ("914 mm", Verdict.PASS)])
def test_a_pipe_of_610_mm_needs_914_mm_round_it(aisle, verdict):
    # Source: DOE-HDBK-1140-2001, 3.1.1.1: components and piping of 610 mm (24 in) diameter
    # or more need 914 mm (36 in) of maintenance clearance.
    source = Provenance(source="DOE-HDBK-1140-2001", place="3.1.1.1", mark=SourceMark.PUBLISHED)
    needed = Limit("maintenance clearance", quantity("914 mm", "length"), "m", source)
    assert quantity("36 in", "length") == pytest.approx(needed.value, abs=5e-4)
    assert quantity("24 in", "length") == pytest.approx(0.610, abs=5e-4)
    margin = quantity(aisle, "length") - needed.value
    found = Finding(
        check="clearance",
        step="",
        about=("aisle",),
        case="",
        because=f"The aisle is {aisle} wide, 914 mm are needed.",
        low=margin,
        high=margin,
        unit="m",
        limits=(needed,),
    )
    assert found.verdict is verdict
