"""Inverse kinematics of the shipped crane against pinocchio driven from Python.

Pinocchio has no solver of its own: the loop is the one its documentation shows (damped
least squares on the logarithm of the tip's error), with steps cut, drawn restarts and joints
clipped to their limits so that it solves the same question; then without limits, which is easier.
``--long`` solves 20,000 poses.
"""

from __future__ import annotations

import sys
import time
from typing import Any

import numba
import numpy as np

from benchmarks.trusses import truss_triangles
from reach.arm import (
    chain_gap,
    chain_of,
    duration,
    follow,
    posture_for,
    self_chain_gap,
    self_clearance,
    self_gap,
    solutions,
    starts_of,
    tip_poses,
)
from reach.files.shipped import shipped_path
from reach.files.urdf import shipped_arm
from reach.geometry import build, pose_of, rotation_z

CLOSE = 1e-6
"""A posture is right when the logarithm of the tip's error, by pinocchio, is shorter."""
THEIR_STEPS = 200
THEIR_TRIES = 30
THEIR_DAMPING = 1e-6
THEIR_LARGEST_STEP = 0.5


class Theirs:
    """Pinocchio's model of the same file and the loop that its documentation shows."""

    def __init__(self, limits: bool = True) -> None:
        import pinocchio

        self.pin: Any = pinocchio
        self.model = pinocchio.buildModelFromUrdf(str(shipped_path("cranes", "brackenfall.urdf")))
        self.data = self.model.createData()
        self.frame = self.model.getFrameId("boot_plate")
        self.low, self.high = self.model.lowerPositionLimit, self.model.upperPositionLimit
        self.clip = (self.low, self.high) if limits else (-np.inf, np.inf)

    def error(self, q: Any, target: Any) -> Any:
        """Return the twist from the tip to the target, tip frame."""
        self.pin.framesForwardKinematics(self.model, self.data, q)
        return self.pin.log6(self.data.oMf[self.frame].actInv(target)).vector

    def descend(self, target: Any, q: Any) -> Any:
        """Return a posture at the target, or None."""
        for _ in range(THEIR_STEPS):
            self.pin.computeJointJacobians(self.model, self.data, q)
            self.pin.updateFramePlacement(self.model, self.data, self.frame)
            off = self.pin.log6(self.data.oMf[self.frame].actInv(target)).vector
            if np.linalg.norm(off) < CLOSE:
                return q
            j = self.pin.getFrameJacobian(self.model, self.data, self.frame, self.pin.LOCAL)
            step = j.T @ np.linalg.solve(j @ j.T + THEIR_DAMPING * np.eye(6), off)
            most = np.abs(step).max()
            q = np.clip(q + step * min(1.0, THEIR_LARGEST_STEP / most), *self.clip)
        return None

    def solve(self, target: Any, rng: Any) -> Any:
        """Return a posture at the target from drawn starts, or None."""
        for _ in range(THEIR_TRIES):
            q = self.descend(target, rng.uniform(self.low, self.high))
            if q is not None:
                return q
        return None


def main(long: bool = False) -> None:
    """Print how many poses are solved, how fast, and what the rest takes."""
    chain = chain_of(shipped_arm("brackenfall"))
    n, n_theirs = (20_000, 300) if long else (2_000, 100)
    rng = np.random.default_rng(41)
    poses = tip_poses(chain, rng.uniform(chain.lower, chain.upper, (n, chain.n)))
    starts, theirs = starts_of(chain), Theirs()
    targets = [theirs.pin.SE3(pose) for pose in poses]
    posture_for(chain, poses[:2], starts)  # compile
    threads = numba.get_num_threads()
    numba.set_num_threads(1)
    solved, ours_s = _timed(lambda: posture_for(chain, poses, starts))
    numba.set_num_threads(threads)
    inside = ((solved.q >= chain.lower) & (solved.q <= chain.upper)).all(axis=1)
    right = [
        bool(ok) and np.linalg.norm(theirs.error(q, target)) < CLOSE
        for ok, q, target in zip(inside, solved.q, targets, strict=True)
    ]
    a = ours_s / n
    print("\nInverse kinematics of the crane, one thread against one thread")
    _row(f"{n} reachable poses, solved and right to 1e-6", f"{np.mean(right):.2%}", "99.5 %")
    _row("tries a pose", f"{solved.tries.mean():.2f}", "")
    _row("ours a pose", f"{1e6 * a:.1f} us", "")
    for each, what in ((theirs, "with the limits"), (Theirs(limits=False), "any number of turns")):
        found, seconds = _timed(lambda each=each: [each.solve(t, rng) for t in targets[:n_theirs]])
        b, n_found = seconds / n_theirs, sum(q is not None for q in found)
        _row(f"pinocchio, {what} ({n_found} of {n_theirs})", f"{1e6 * b:.0f} us", "")
        _row("times faster", f"{b / a:.0f}", "5")
    _more(chain, poses, solved.q, starts)


def _more(chain: Any, poses: Any, q: Any, starts: Any) -> None:
    """Print what branches, links and motions take."""
    solutions(chain, poses[0], starts), self_clearance(chain, q[:2])  # compile
    ways, seconds = _timed(lambda: [solutions(chain, pose, starts) for pose in poses[:100]])
    n_ways = np.mean([len(each.postures) for each in ways])
    _row(f"all branches of a pose ({n_ways:.1f} on average)", f"{1e3 * seconds / 100:.1f} ms", "")
    kept = q[np.isfinite(q).all(axis=1)][:1000]
    _, seconds = _timed(lambda: self_clearance(chain, kept))
    _row("self clearance a posture", f"{1e6 * seconds / len(kept):.1f} us", "")
    pairs = list(zip(kept[:50], kept[50:100], strict=True))
    found, seconds = _timed(lambda: [self_gap(chain, a, b) for a, b in pairs])
    widest = max(each.high - each.low for each in found)
    _row(
        f"self gap of a motion, bracket at most {1e3 * widest:.1f} mm",
        f"{1e3 * seconds / 50:.1f} ms", "",
    )  # fmt: skip
    minutes = np.median([duration(chain, pair)[0] for pair in pairs]) / 60.0
    _row("median time between drawn postures", f"{minutes:.1f} min", "")
    _along(chain, starts)


def _along(chain: Any, starts: Any) -> None:
    """Print what it takes to follow a way of three legs, 20 m, and to prove gaps along it."""
    corners = ((-5.1, 5.5, 2.5, 0), (0.1, 3.8, 2.0, 0), (9.5, 4.4, 1.0, 0), (11.6, 4.2, -1.5, -90))
    way = np.array([pose_of(rotation_z(np.radians(yaw)), at) for *at, yaw in corners])
    follow(chain, way, starts=starts)  # compile
    found, seconds = _timed(lambda: follow(chain, way, starts=starts))
    _row(
        f"a way followed, {len(found.q)} postures, off {1e3 * found.off:.1f} mm at most",
        f"{1e3 * seconds:.0f} ms", "",
    )  # fmt: skip
    truss = build(truss_triangles("52k") + np.array([-12.0, -6.0, -3.0]))
    gap, seconds = _timed(lambda: chain_gap(chain, found.q, truss))
    _row(f"its gap to 52k, {gap.postures} postures", f"{1e3 * seconds:.0f} ms", "2000 ms")
    gap, seconds = _timed(lambda: self_chain_gap(chain, found.q))
    _row(f"its gap between links, {gap.postures} postures", f"{1e3 * seconds:.0f} ms", "")


def _timed(work: Any) -> tuple[Any, float]:
    start = time.perf_counter()
    found = work()
    return found, time.perf_counter() - start


def _row(what: str, value: str, goal: str) -> None:
    print(f"  {what:56s} {value:>10s}  {goal}")


if __name__ == "__main__":
    main(long="--long" in sys.argv[1:])
