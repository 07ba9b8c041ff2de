"""The arms that the tests share, with the same file as a model of pinocchio."""

from functools import cache
from pathlib import Path

import numpy as np
import pinocchio as pin

from reach.arm import chain_of
from reach.files.shipped import shipped_path
from reach.files.urdf import load_arm

HERE = Path(__file__).parent
FILES = {
    "brackenfall": shipped_path("cranes", "brackenfall.urdf"),
    "mixed": HERE / "mixed.urdf",
    "elbow": HERE / "elbow.urdf",
}
TIPS = {"brackenfall": "boot_plate", "mixed": "tool", "elbow": "tool"}


@cache
def chain(name):
    return chain_of(load_arm(FILES[name], TIPS[name]))


class Oracle:
    """Forward kinematics of the same file by pinocchio."""

    def __init__(self, name):
        self.model = pin.buildModelFromUrdf(str(FILES[name]))
        self.data = self.model.createData()
        self.frame = self.model.getFrameId(TIPS[name])

    def setting(self, q):
        """A joint that turns without end has two numbers in pinocchio: cosine and sine."""
        full = []
        for joint, value in zip(self.model.joints[1:], q, strict=True):
            full += [value] if joint.nq == 1 else [np.cos(value), np.sin(value)]
        return np.array(full)

    def place(self, q):
        pin.framesForwardKinematics(self.model, self.data, self.setting(q))
        return self.data.oMf[self.frame].copy()

    def error(self, q, pose):
        """Length of the twist from the tip to the pose, m and rad together."""
        return np.linalg.norm(pin.log6(self.place(q).actInv(pin.SE3(pose))).vector)

    def jacobian(self, q):
        return pin.computeFrameJacobian(
            self.model, self.data, self.setting(q), self.frame, pin.LOCAL_WORLD_ALIGNED
        )


def random_postures(name, n, seed):
    low, high = chain(name).search_range()
    return np.random.default_rng(seed).uniform(low, high, (n, chain(name).n))
