"""A proof that no setting serves is never contradicted; what is only not found stays open."""

from dataclasses import replace

import numpy as np
import pytest
from exhaustive import asked, every_setting, no_table, searched, worst_margins, yard

from reach.finding import Verdict
from reach.placing import boots_from_setting, socket_pose
from reach.plan.grid import figure_of_ask, grid_of, in_boots, shortage_of
from reach.plan.ranking import rank
from reach.settings.wording import none_found
from reach.work import hands_of
from reach.worker.search import find_postures

N_TRIES, N_SITES = 20_000, 2
"""Tries in all, shared out among sites with detents and sites without."""


def stepless():
    """The bench's restraint without detents."""
    from bench import STAND

    chain = [{k: v for k, v in link.items() if k not in ("step", "tolerance")}
             for link in STAND["chain"]]  # fmt: skip
    return {"stand": {**STAND, "chain": chain}}


def a_random_site(rng, far):
    """Two sockets and a target some way off, tilted any way, for a random worker."""
    sockets = {}
    for i in range(2):
        axis = rng.normal([0, 0, 2], 0.5)
        zero = np.cross(axis, rng.normal(size=3))
        sockets[f"S{i}"] = {
            "at": rng.uniform(-0.4, 0.4, 3).tolist(),
            "axis": (axis / np.linalg.norm(axis)).tolist(),
            "zero": (zero / np.linalg.norm(zero)).tolist(),
        }
    way = rng.normal(size=3)
    axis = rng.normal(size=3)
    target = {
        "at": (np.array([0, 0, 1.2]) + far * way / np.linalg.norm(way)).tolist(),
        "axis": (axis / np.linalg.norm(axis)).tolist(),
    }
    return yard(sockets=sockets, fasteners={"x": target})


def finding_of(asks, grid, ranking):
    return none_found(asks, grid, ranking, (), (), "stand", True, "0.1 m of clearance")


def tried(site, asks, grid, settings, per_setting=1):
    """Whether each question is reached at (socket, setting) pairs by a quick search, no bound."""
    ok = np.ones(len(settings), bool)
    for ask in asks:
        there = ask.surroundings.world_from
        frames = {name: socket_pose(site.scene.sockets[name], there) for name in grid.sockets}
        boots = np.array(
            [frames[name] @ boots_from_setting(grid.restraint, at) for name, at in settings]
        )
        reached = np.zeros(len(settings), bool)
        for hand in hands_of(ask):
            tips, ways = in_boots(boots, ask, hand)
            found = find_postures(figure_of_ask(site, ask), tips, ways, "quick")
            reached |= found.violation <= 0.0
        ok &= reached
    return ok


def random_settings(rng, site, restraint, n, names=("S0", "S1")):
    """Settings at detents, or anywhere where there are none."""
    out = []
    for _ in range(n):
        angles = {
            joint.name: float(rng.choice(joint.stops) if joint.stops
                              else rng.uniform(joint.low, joint.high))
            for joint in restraint.joints
        }  # fmt: skip
        out.append((str(rng.choice(names)), angles))
    return out


def proved(seed, restraint=None, targets=("x",), hand="either"):
    """The first random site, from near to far, with a certificate that is not far off."""
    rng = np.random.default_rng(seed)
    for far in np.arange(1.3, 4.0, 0.1):
        data = a_random_site(np.random.default_rng(seed), far)
        data["restraints"].update(restraint or {})
        site, asks = asked(data, targets, rng.choice(["R", "L"]), hand=hand)
        kept = asks[0].place.restraint
        grid = grid_of(site, asks, kept, no_table, ("S0", "S1"))
        whole = all(short.whole for short in grid.short.values())
        if grid.is_excluded and whole == bool(restraint):
            return rng, site, asks, grid, rank(site, grid, asks, 1)
    raise AssertionError("no certificate at all")


@pytest.mark.parametrize("seed", range(N_SITES))
def test_no_posture_in_random_tries_contradicts_a_certificate(seed):
    rng, site, asks, grid, ranking = proved(seed)
    finding = finding_of(asks, grid, ranking)
    assert finding.verdict is Verdict.FAIL
    settings = random_settings(rng, site, grid.restraint, N_TRIES // (2 * N_SITES))
    assert not tried(site, asks, grid, settings).any()


@pytest.mark.parametrize("seed", range(N_SITES))
def test_a_target_that_comes_nearer_by_less_than_the_shortage_stays_out_of_reach(seed):
    rng, site, asks, grid, _ = proved(seed)
    metres = min(short.metres for short in grid.short.values())
    assert metres > 0.0
    there = site.scene.fasteners["x"].at
    for _ in range(6):
        way = rng.normal(size=3)
        at = np.asarray(there) + 0.99 * metres * way / np.linalg.norm(way)
        head = replace(asks[0].head, point=asks[0].head.point + at - np.asarray(there))
        nearer = [replace(ask, head=head) for ask in asks]
        moved = replace(site, memo={})
        again = grid_of(moved, nearer, grid.restraint, no_table, grid.sockets)
        reached = (again.likely.min(axis=1) >= 0.0).any() if len(again.rows) else False
        assert not reached, (way, metres)


def test_random_tries_find_what_is_there():
    """The same tries do find postures where there are some: they could have contradicted."""
    rng = np.random.default_rng(1)
    site, asks = asked(a_random_site(rng, 0.6), ("easy",), hand="either")
    grid, _ = searched(site, asks, sockets=("S0", "S1"))
    settings = random_settings(rng, site, grid.restraint, 200)
    assert tried(site, asks, grid, settings).mean() > 0.1


@pytest.mark.parametrize("seed", range(N_SITES))
def test_settings_between_detents_do_not_contradict_a_bound_over_a_socket(seed):
    rng, site, asks, grid, ranking = proved(10 + seed, stepless())
    assert all(short.whole for short in grid.short.values())
    assert finding_of(asks, grid, ranking).verdict is Verdict.FAIL
    settings = random_settings(rng, site, grid.restraint, N_TRIES // (2 * N_SITES))
    assert not tried(site, asks, grid, settings).any()


def apart(d):
    """Targets fore and aft of the boots, so far apart that no one setting serves both."""
    bolts = {
        "aft": {"at": [-d, 0.2, 1.5], "axis": [1, 0, 0]},
        "fore": {"at": [d, 0.2, 1.5], "axis": [-1, 0, 0]},
    }
    data = yard(fasteners=bolts)
    data["solids"] = {}
    data["restraints"]["stand"]["chain"][0] |= {"from": "-180 deg", "to": "180 deg"}
    return data


@pytest.mark.parametrize(("d", "sizes"), [(1.6, None), (1.65, ["small", "large"]), (1.9, None)])
def test_targets_that_exclude_each_other_are_proved_setting_by_setting(d, sizes):
    """No bound over the socket excludes either; for every single setting some bound does."""
    site, asks = asked(apart(d), ("fore", "aft"), "R", sizes=sizes, hand="either")
    grid, ranking = searched(site, asks, sockets=("SK1",))
    assert (grid.alone["SK1"] <= 0.0).all()
    assert grid.is_excluded
    short = grid.short["SK1"]
    assert not short.whole
    finding = finding_of(asks, grid, ranking)
    assert finding.verdict is Verdict.FAIL
    assert finding.high == -short.metres
    assert "serves fore, aft" in finding.because
    # The slow twin, which knows of no bound, finds no setting either.
    assert worst_margins(site, asks, ("SK1",)) == {}
    settings = [("SK1", angles) for angles in every_setting(grid.restraint)]
    assert not tried(site, asks, grid, settings).any()


def test_each_of_two_targets_that_exclude_each_other_is_reached_by_itself():
    """So the tries of the test above could have contradicted the proof."""
    site, asks = asked(apart(1.6), ("fore", "aft"), "R", hand="either")
    grid, _ = searched(site, asks, sockets=("SK1",))
    settings = [("SK1", angles) for angles in every_setting(grid.restraint)]
    reached = [tried(site, [ask], grid, settings) for ask in asks]
    assert all(some.any() for some in reached)
    assert not np.logical_and(*reached).any()


def test_the_shortage_of_several_targets_together_is_never_overstated():
    """It may understate: a setting that one target excludes is not asked about the others."""
    site, asks = asked(apart(1.6), ("fore", "aft"), "R", hand="either")
    grid, _ = searched(site, asks, sockets=("SK1",))
    every = replace(grid, rows=np.stack([np.zeros(len(grid.angles), int),
                                         np.arange(len(grid.angles))], axis=1))  # fmt: skip
    rows = np.arange(len(grid.angles))
    each = [shortage_of(site, every, ask, rows, sharp=True) for ask in asks]
    worst = np.max(each, axis=0)
    assert (worst > 0.0).all()
    assert 0.0 < grid.short["SK1"].metres <= worst.min() + 1e-9


def test_joints_without_detents_give_no_certificate_from_samples():
    """Were every sampled setting proved out of reach one by one, what lies between is not."""
    _, _, asks, grid, ranking = proved(10, stepless())
    one_by_one = {name: replace(short, whole=False) for name, short in grid.short.items()}
    finding = finding_of(asks, replace(grid, short=one_by_one), ranking)
    assert finding.verdict is Verdict.OPEN
    assert "between the steps" in finding.because


def test_not_found_is_open_and_says_what_does_not_reach():
    site, asks = asked(yard(), ("low", "easy"), "R")
    grid, ranking = searched(site, asks, sockets=("SK2",))
    assert not ranking.served
    assert not grid.is_excluded
    finding = finding_of(asks, grid, ranking)
    assert finding.verdict is Verdict.OPEN
    assert "cannot be excluded" in finding.because
    assert "joint limits" in finding.because


def test_not_found_for_want_of_a_clear_posture_names_the_target():
    """A wall right behind the boots: joint limits allow it, clearance does not."""
    cage = {"cage": {"box": [0.1, 1.4, 1.6], "at": [0.25, 0.0, 1.3]}}
    site, asks = asked(yard(solids=cage), ("easy",), "R")
    grid, ranking = searched(site, asks, sockets=("SK1",))
    assert not ranking.served
    assert ranking.misses
    finding = finding_of(asks, grid, ranking)
    assert finding.verdict is Verdict.OPEN
    assert "no posture was found that is also clear and sees easy" in finding.because
