"""What a body spans from hand to hand: an interval with a posture inside the limits."""

import math

import numpy as np
import pytest

from reach.files.people import load_population, load_suits
from reach.rails.span import span_of
from reach.worker.body import percentile_body
from reach.worker.figure import Grip, figure_of
from reach.worker.two_hands import find_two_handed

SUITS = load_suits()
BODIES = {
    name: percentile_body(load_population(sex), percentile)
    for name, (sex, percentile) in {
        "small": ("female", 5), "medium": ("male", 50), "large": ("male", 95)
    }.items()
}  # fmt: skip


@pytest.mark.parametrize("suit", ["halden", "unsuited"])
@pytest.mark.parametrize("body", BODIES)
def test_the_interval_holds_a_posture_inside_the_limits(body, suit):
    span = span_of(BODIES[body], SUITS[suit])
    assert span.low <= span.high + 1e-12
    assert span.excess <= 0.0
    assert np.linalg.norm(span.right - span.left) == pytest.approx(span.low)
    assert span.high - span.low < 0.03


@pytest.mark.parametrize("body", BODIES)
def test_bare_arms_straight_out_are_the_closed_form(body):
    """Without suit and with straight elbows: shoulder to shoulder and twice arm and grip."""
    links = BODIES[body].links
    wanted = 2.0 * (links.half + links.upper_arm + links.forearm + links.grip)
    assert span_of(BODIES[body], SUITS["unsuited"]).low == pytest.approx(wanted, abs=1e-3)
    assert wanted < BODIES[body].dims["span"]  # which is from fingertip to fingertip


def test_larger_bodies_span_more_and_narrow_cones_less():
    spans = [span_of(body, SUITS["halden"]).low for body in BODIES.values()]
    assert spans == sorted(spans)
    narrow = SUITS["halden"].model_copy(update={"arm_cone": math.radians(30.0)})
    less = span_of(BODIES["medium"], narrow)
    assert less.low < spans[1] - 0.1
    assert less.excess <= 0.0


def test_both_hands_hold_what_is_just_inside_and_not_what_is_beyond():
    """The search for both hands at once, which knows nothing of this bound, agrees."""
    body, suit = BODIES["medium"], SUITS["halden"]
    figure, span = figure_of(body, suit, Grip()), span_of(body, suit)
    height = body.links.shoulder + suit.sole
    apart = np.array([0.9, 0.97]) * span.low
    ahead = np.array([[0.2, 0.0, height]])
    right = ahead - np.array([0.0, 0.5, 0.0]) * apart[:, None]
    left = ahead + np.array([0.0, 0.5, 0.0]) * apart[:, None]
    sideways = np.tile([0.3, -1.0, 0.0], (2, 1))
    found = find_two_handed(figure, Grip(), right, sideways, left)
    assert found.violation[0] <= 0.0
    beyond = 0.5 * (span.high + 0.02)
    none = find_two_handed(
        figure, Grip(), [[0.2, -beyond, height]], [[0.3, -1, 0]], [[0.2, beyond, height]]
    )
    assert none.violation[0] > 0.0
