"""Of a leg that leans all of it counts for a kick, with the boot below it."""

from types import SimpleNamespace

import numpy as np
import pytest

from reach.geometry import build
from reach.travel import near


@pytest.mark.parametrize("point", [(0.0, 0.0, 0.3), (0.4, 0.0, 0.9), (0.0, 0.0, 0.1)])
def test_a_leg_that_leans_is_near_at_ankle_hip_and_sole(monkeypatch, point):
    leg = [0.0, 0.0, 0.3, 0.4, 0.0, 0.9, 0.1]
    rest = SimpleNamespace(
        capsules=np.array([leg, np.add(leg, [0, 9, 0, 0, 9, 0, 0])]),
        names=("right leg", "left leg"),
        world_from_boots=np.eye(4),
    )
    monkeypatch.setattr(near, "at_rest", lambda *asked: rest)
    thing = build([[np.add(point, [0.0, 1.0, 0.0])] * 3])
    found = near.resting_near(None, None, thing, True)
    assert found.low == pytest.approx(0.9, abs=1e-12) and found.part == "right leg"
