"""Compile everything ahead of the first real question, or tell that it still has to be done."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reach.arm import asked, forward, solving, starts, walking
from reach.geometry import build, warmup
from reach.geometry.compiled import is_cached
from reach.lines import slack_gap, taut
from reach.lines.pulling.tightening import tighten
from reach.lines.slack import _bracket
from reach.paths import Cargo, Obstacle, find_path, growing, keeping, pushing
from reach.table import flood, scores
from reach.worker import (
    bars,
    bound,
    cells,
    cover,
    many,
    margin,
    posing,
    search,
    two_hands,
    volume,
    ways,
)

_ENTRIES = (
    bound._shortages,
    search._solve_many,
    margin._shells,
    ways._walk,
    cover._grow,
    cover._settle,
    two_hands._solve_pairs,
    bars.bar_target,
    bars.excess_of,
    bars.nudge_hold,
    bars.pull_back,
    posing.pose_search,
    posing.fault_of,
    cells.refute,
    volume.body_capsules,
    flood.flood,
    scores._look_up,
    many._shortage_rows,
    many._follow_rows,
    many._search_rows,
    many._refute_rows,
    many._capsule_rows,
    tighten,
    _bracket,
    forward._rows,
    forward._jacobian,
    solving._first,
    solving._all,
    starts.rank,
    asked._rows,
    walking.walks,
    walking.between,
    growing.grow,
    growing.settle,
    keeping.leg_kept,
    keeping.state_kept,
    pushing.pushed,
)
"""Routines that Python calls; whatever they call is compiled with them."""


def is_compiled() -> bool:
    """Return whether a run can start without compiling first; some milliseconds."""
    return warmup.is_compiled() and all(is_cached(entry) for entry in _ENTRIES)


def warm_up() -> None:
    """Compile and keep every routine, by asking each one small question."""
    from reach.files.people import load_population, load_suits
    from reach.table.table import build_table
    from reach.worker.body import percentile_body
    from reach.worker.figure import Grip, figure_of
    from reach.worker.shadow import shadows_of
    from reach.worker.trunks import trunks_of

    warmup.warm_up()
    suit = load_suits()["halden"]
    figure = figure_of(percentile_body(load_population("male"), 50), suit, Grip((0.2, 0.0, 0.05)))
    bulk = volume.bulk_of(figure, suit, np.array([[0.0, 0.0, 0.0, 0.1, 0.0, 0.0, 0.03]]))
    tip, ahead = np.array([0.7, -0.2, 1.3]), np.array([1.0, 0.0, 0.0])
    found = search.find_postures(figure, tip, ahead)
    margin.reach_margin(figure, tip, ahead, found.x[0])
    ways.walk_ways(figure, tip[None, None], ahead[None, None], np.ones(1, np.int64), found.x[0])
    cover.prove_ball(figure, tip, ahead, found.x[0], cover.MOST)
    bound.shortage(figure, tip, ahead)
    two_hands.find_two_handed(figure, Grip(), tip, ahead, tip + 0.1 * ahead[[1, 0, 2]])
    wall = build(np.array([[[5.0, -9.0, -9.0], [5.0, 9.0, -9.0], [5.0, 0.0, 9.0]]]))
    need = np.full(len(bulk.names), 0.01)
    target = posing.Target(tip, ahead, tip[None] - 0.01 * ahead, need, 0.5, 1.5)
    held = posing.find_held(figure, bulk, wall, np.eye(4), target, trunks_of(figure, 128))
    posing.capsules_of(figure, bulk, target, held.posture)
    no_shadows = shadows_of([], target.spots)
    cells.refute_cells(figure, bulk, wall, np.eye(4), target, need, no_shadows, cells.ARM, 10)
    crowd, scope, who = (
        many.stack([figure], [bulk]),
        many.Scope(target, wall, np.eye(4)),
        np.zeros(1, np.int64),
    )
    table = build_table(figure, step=0.5, n_directions=12)
    scores.scores([table], np.eye(4)[None], tip, ahead)
    many.shortages(crowd, target, who)
    many.searched(crowd, scope, who, trunks_of(figure, 128), "quick")
    _, x = many.followed(crowd, scope, who, held.posture[None, None], 10)
    many.refuted(crowd, scope, who, need, no_shadows, cells.ARM, 10)
    many.capsules(crowd, target, who, x)
    cargo, far = Cargo((wall,), (0.0,), np.zeros(3)), np.eye(4)
    far[0, 3] = -9.0
    find_path([Obstacle("wall", wall, 0.1)], cargo, far, far)
    slack_gap(wall, [4.0, 0.0, 0.0], [4.0, 1.0, 0.0], 1.5)
    _warm_bars(figure.p, tip)
    taut(wall, [[4.0, 0.0, 0.0], [4.0, 1.0, 0.0], [4.0, 2.0, 0.5]])
    _warm_arms()


def _warm_bars(p: NDArray[np.float64], tip: NDArray[np.float64]) -> None:
    ends, posture = np.array([[tip, tip + np.array([0.0, 0.1, 0.0])]]), np.zeros((1, 9))
    share, one, state = np.array([0.5]), np.ones(1), np.array([search.SEED], np.uint64)
    bars.bar_target(ends[0], 0.5, 1.0, 1.0, np.empty(3), np.empty(3))
    bars.excess_of(p, ends, share, one, one, posture)
    bars.nudge_hold(p, share, posture, 0.1, state, share.copy(), posture.copy())
    bars.pull_back(p, ends, share, one, one, posture, 1, state)


def _warm_arms() -> None:
    from reach.arm import chain_of, follow, posture_for, tip_poses
    from reach.files.urdf import shipped_arm

    chain = chain_of(shipped_arm("brackenfall"))
    ends = tip_poses(chain, [[0.0, -1.0, 0.0, -1.4, 0.0, 0.3, 0.0]]).repeat(2, axis=0)
    ends[1, 2, 3] += 0.2
    posture_for(chain, ends)
    # So little may be strayed that postures are put between.
    follow(chain, ends, tries=8, off=1e-5)
