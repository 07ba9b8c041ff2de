import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.units import SI, UNITS, in_unit, quantity, text_of


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("24 in", "length", 0.6096),
        (" 24in ", "length", 0.6096),
        ("1.5e-3 m", "length", 0.0015),
        (".5 m", "length", 0.5),
        ("-15 deg", "angle", -math.pi / 12),
        ("15°", "angle", math.pi / 12),
        ("25 ft lbf", "torque", 33.8954487),
        ("25 ft  lbf", "torque", 33.8954487),
        ("125 lbf", "force", 556.0277),
        ("462 lb", "mass", 209.5597),
        ("6 min", "time", 360.0),
        ("50 %", "ratio", 0.5),
        ("0.5", "ratio", 0.5),
        (2, "length", 2.0),
    ],
)
def test_a_quantity_is_read_as_si(text, kind, value):
    assert quantity(text, kind) == pytest.approx(value, rel=1e-6)


@pytest.mark.parametrize(
    ("value", "kind", "message"),
    [
        ("3 kg", "length", "'3 kg' is a mass, a length is needed (m, mm, cm, km, in, ft)"),
        ("3", "length", "'3' has no unit; write a plain SI number or one of"),
        ("3 inch", "length", "unknown unit 'inch' in '3 inch'"),
        ("three m", "length", "needs a length such as '1.5 m', found 'three m'"),
        (True, "length", "needs a length, found True"),
        ([1], "angle", "needs an angle, found [1]"),
        (math.nan, "length", "needs a finite length"),
        ("1e999 m", "length", "needs a finite length"),
        ("1 m", "angle", "'1 m' is a length, an angle is needed (rad, deg, °)"),
    ],
)
def test_what_is_no_quantity_says_why(value, kind, message):
    with pytest.raises(ValueError) as caught:
        quantity(value, kind)
    assert message in str(caught.value)


@given(st.floats(-1e6, 1e6), st.sampled_from([(k, u) for k in UNITS for u in UNITS[k] if u]))
def test_a_value_comes_back_from_its_unit(value, kind_and_unit):
    kind, unit = kind_and_unit
    there = in_unit(value, unit)
    assert quantity(f"{there!r} {unit}", kind) == pytest.approx(value, rel=1e-9, abs=1e-6)


def test_every_kind_has_an_si_unit_of_factor_one():
    assert set(SI) == set(UNITS)
    assert all(UNITS[kind][unit] == 1.0 for kind, unit in SI.items())


def test_an_unknown_unit_cannot_be_written():
    with pytest.raises(ValueError, match="unknown unit 'cubit'"):
        in_unit(1.0, "cubit")


@pytest.mark.parametrize(
    ("value", "unit", "system", "text"),
    [
        (0.6096, "m", "si", "0.610 m"),
        (33.8954487, "N m", "both", "33.9 N m (25.0 ft lbf)"),
        (math.pi, "rad", "both", "180.0 deg"),
        (0.5, "", "si", "0.50"),
        (0.05, "m/s", "si", "0.05 m/s"),
        (0.004, "m/s", "si", "0.004 m/s"),
        (0.4, "m/s", "si", "0.4 m/s"),
        (0.0, "N", "si", "0.0 N"),
        (12.34, "N", "si", "12.3 N"),
    ],
)
def test_a_value_is_written_in_one_or_both_systems(value, unit, system, text):
    assert text_of(value, unit, system) == text


@pytest.mark.parametrize(
    ("kind", "unit", "other", "times"),
    [
        ("length", "ft", "in", 12),
        ("length", "m", "mm", 1000),
        ("length", "in", "mm", 25.4),
        ("torque", "ft lbf", "in lbf", 12),
        ("time", "h", "min", 60),
        ("mass", "kg", "g", 1000),
        ("force", "kN", "N", 1000),
        ("ratio", "", "%", 100),
        ("speed", "m/s", "cm/s", 100),
    ],
)
def test_what_is_the_same_in_two_units_is_the_same_number(kind, unit, other, times):
    """A limit of "350 ft lbf" is exactly met by "4200 in lbf": equal must not be luck."""
    for tenths in range(1, 3000):
        one = f"{tenths / 10} {unit}"
        more = f"{Decimal(tenths) / 10 * Decimal(str(times))} {other}"
        assert quantity(one, kind) == quantity(more, kind), (one, more)


def test_a_number_with_a_unit_is_the_plain_number_that_files_may_give_instead():
    assert quantity("24 in", "length") == 0.6096
    assert quantity("80 mm", "length") == quantity(0.08, "length")
    assert quantity("145 degF", "temperature") == (145 + 459.67) * 5 / 9
    assert quantity("30 deg", "angle") == 0.52359877559829887307710723054658  # pi / 6


@pytest.mark.parametrize("text", ["0e999999999999 m", "1e-99999 m", "0.000e5 in", "-0 m"])
def test_nothing_is_nothing_however_it_is_written(text):
    assert quantity(text, "length") == 0.0


@pytest.mark.parametrize("value", [0.1, 0.35, 10.0, 20.0, 34.0, 556.0, 6.02])
@pytest.mark.parametrize("kind", [kind for kind in UNITS if kind not in ("temperature", "ratio")])
def test_what_a_program_has_converted_is_the_number_that_it_converted(kind, value):
    for unit, factor in UNITS[kind].items():
        assert quantity(f"{value / factor!r} {unit}", kind) == value


def test_a_number_that_is_no_plain_one_stays_as_near_as_a_float_can_be():
    assert quantity("90 deg", "angle") == math.pi / 2
    assert quantity("25.0771 ft lbf", "torque") != 34.0
