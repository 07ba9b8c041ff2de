"""A figure packs body, suit and grip for the kernels, and refuses what cannot be asked."""

import numpy as np
import pytest
from figures import DRIVE, figure

from reach.files.people import load_suits
from reach.worker.figure import (
    ACROSS,
    ALONG,
    N_PARAMETERS,
    R_MAX,
    R_MIN,
    Grip,
    figure_of,
    mirrored,
)


def test_vector_is_frozen_and_complete():
    p = figure().p
    assert p.shape == (N_PARAMETERS,) and np.isfinite(p).all()
    with pytest.raises(ValueError, match="read-only"):
        p[0] = 1.0


def test_equal_figures_have_equal_keys():
    again = figure_of(figure().body, figure().suit, DRIVE)
    assert again.key == figure().key != figure("S").key


def test_arm_extension_at_the_elbow_limits():
    p, links = figure("M", "unsuited").p, figure("M", "unsuited").body.links
    assert p[R_MAX] == pytest.approx(links.upper_arm + links.forearm, abs=1e-12)
    assert abs(links.upper_arm - links.forearm) < p[R_MIN] < 0.25


def test_grip_is_split_along_and_across_the_tool_axis():
    p, links = figure().p, figure().body.links
    assert p[ALONG] == pytest.approx(0.25 + links.grip, abs=1e-12)
    assert p[ACROSS] == pytest.approx(0.05, abs=1e-12)


@pytest.mark.parametrize(
    ("grip", "message"),
    [
        (Grip(tip=(0.0, 0.0, float("nan"))), "finite tip"),
        (Grip(axis=(0.0, 0.0, 0.0)), "axis with length"),
        (Grip(tip=(0.0, 0.0)), r"shape \(3,\)"),
        (Grip(tolerance=-0.1), "within 0 to 1 rad, found -0.1"),
        (Grip(tolerance=float("nan")), "within 0 to 1 rad, found nan"),
    ],
)
def test_impossible_grip_is_refused(grip, message):
    with pytest.raises(ValueError, match=message):
        figure_of(figure().body, figure().suit, grip)


def test_uneven_suit_is_refused_because_left_is_mirrored_right():
    uneven = load_suits()["halden"].model_copy(update={"waist_twist": (-0.5, 0.4)})
    with pytest.raises(ValueError, match=r"mirror images, found waist_twist \[-0.5, 0.4\]"):
        figure_of(figure().body, uneven, DRIVE)


def test_mirrored_twice_is_the_same():
    points = np.arange(12.0).reshape(4, 3)
    assert (mirrored(mirrored(points)) == points).all()
    assert (mirrored(points)[:, 1] == -points[:, 1]).all()


@pytest.mark.parametrize("name", ["halden", "unsuited"])
def test_shipped_suits_say_where_every_value_comes_from(name):
    suit = load_suits()[name]
    assert "*" in suit.sources
    assert set(suit.sources) - {"*"} <= set(type(suit).model_fields)
    assert all(source.source.strip() for source in suit.sources.values())


def test_shipped_joint_centres_say_where_they_come_from():
    centres = figure().body.centres
    assert {"*", "hip_height", "idle_arm"} <= set(centres.sources)
