"""Proofs over cells of trunk postures: never where a posture was planted, never against samples."""

import numpy as np
import pytest
from figures import figure
from planting import body_points, box, eye_point, plate, random_rotation, random_trunk
from twin import torso_of

from reach.geometry import any_hit, build, segment_distance
from reach.model.shapes import Shaped
from reach.solids import convex_parts
from reach.worker.cells import ARM, REASONS, ROOM, SIGHT, refute_cells
from reach.worker.figure import TRUNK, figure_of
from reach.worker.posing import Target
from reach.worker.shadow import shadows_of
from reach.worker.volume import bulk_of, view_excess

NO_TOOL = np.empty((0, 7))
EVERYTHING = ARM | ROOM | SIGHT
FIGURES = [("M", "halden", "drive"), ("S", "unsuited", "angled")]


def rings(tip, axis, radius=0.01):
    """Nineteen points a little in front of a head."""
    u = np.cross(axis, np.eye(3)[np.argmin(np.abs(axis))])
    u /= np.linalg.norm(u)
    v = np.cross(axis, u)
    turn = 2 * np.pi * np.arange(9) / 9
    ring = np.outer(np.cos(turn), u) + np.outer(np.sin(turn), v)
    return tip + 0.005 * axis + np.vstack(([np.zeros(3)], 0.5 * radius * ring, radius * ring))


def planted(f, rng):
    """A trunk, and a tip that some arm of the right length brings the tool to."""
    p, k, grip = f.suit, f.body.links, f.grip
    q = random_trunk(f, rng)
    _, torso, shoulder = torso_of(f, q)
    rise = rng.uniform(0, 1) * k.rise * p.shoulder_rise
    bend = rng.uniform(*p.elbow)
    reach = np.sqrt(k.upper_arm**2 + k.forearm**2 + 2 * k.upper_arm * k.forearm * np.cos(bend))
    way = rng.normal(size=3)
    way[0] = abs(way[0])
    wrist = shoulder + torso @ ([0, 0, rise] + reach * way / np.linalg.norm(way))
    axis = np.asarray(grip.axis, float) / np.linalg.norm(grip.axis)
    for _ in range(12):  # mostly pointing away from the eye
        hand = random_rotation(rng)
        tip = wrist + hand @ (np.array([k.grip, 0, 0]) + grip.tip)
        d = hand @ axis
        if (tip - eye_point(f, q)) @ d > 0.5 * np.linalg.norm(tip - eye_point(f, q)):
            break
    off = np.cross(d, rng.normal(size=3))
    off /= np.linalg.norm(off)
    tilt = np.tan(rng.uniform(0, grip.tolerance))
    d = (d + tilt * off) / np.sqrt(1 + tilt**2)
    return q, tip, d


def cage(f, bulk, rng, q, need, n=40):
    """Boxes that come as near to the body at ``q`` as allowed, within a millimetre."""
    capsules = body_points(f, bulk, q)
    found = []
    while len(found) < n:
        i = rng.integers(len(capsules))
        at = rng.uniform(0, 1)
        way = rng.normal(size=3)
        way /= np.linalg.norm(way)
        axis = capsules[i, :3] + at * (capsules[i, 3:6] - capsules[i, :3])
        size = rng.uniform(0.05, 0.4, 3)
        shape = box(rng, np.zeros(3), size)
        far, near = 2.0, 0.0
        for _ in range(10):  # as near as it may come along this way
            middle = 0.5 * (near + far)
            tree = build(shape + axis + middle * way)
            room = segment_distance(tree, capsules[:, :3], capsules[:, 3:6]).distance
            inside = middle < 0.5 * np.linalg.norm(size)
            if not inside and (room - capsules[:, 6] - need).min() > 0.0005:
                far = middle
            else:
                near = middle
        found.append(shape + axis + far * way)
    return found


@pytest.mark.parametrize("which", FIGURES)
def test_a_planted_posture_is_never_refuted(which):
    f = figure(*which)
    bulk = bulk_of(f, f.suit, NO_TOOL)
    rng = np.random.default_rng(8)
    need = np.full(len(bulk.names), 0.05)
    n_seen = n_hidden = 0
    for _ in range(30):
        q, tip, d = planted(f, rng)
        spots = rings(tip, -d, radius=0.06)
        boxes = cage(f, bulk, rng, q, need[0], n=5)
        for at in (0.5, 0.8):  # near the line of sight, where the body leaves room
            near = eye_point(f, q) + at * (tip - eye_point(f, q)) + 0.04 * rng.normal(size=3)
            shape = box(rng, near, rng.uniform(0.02, 0.2, 3))
            body = body_points(f, bulk, q)
            room = segment_distance(build(shape), body[:, :3], body[:, 3:6]).distance - body[:, 6]
            if room.min() > need[0]:
                boxes.append(shape)
        tree = build(np.concatenate(boxes))
        play = rng.normal(size=3)
        eye = eye_point(f, q) + f.suit.head_play * play / max(1.0, np.linalg.norm(play))
        share = float((~any_hit(tree, np.tile(eye, (19, 1)), spots - eye, 1.0)).mean())
        line = eye - tip
        off = float(np.arccos(-line @ d / np.linalg.norm(line)))
        outside = float(view_excess(torso_of(f, q)[1], eye_point(f, q), tip, bulk.view))
        target = Target(tip, d, spots, need, share, off + 1e-6)  # no spot and no angle to spare
        scene = (f, bulk, tree, np.eye(4), target, need, shadows_of(boxes, spots))
        assert not refute_cells(*scene, ARM | ROOM, 3000).proved
        if share > 0.0 and outside <= 0.0:
            n_seen += 1
            assert not refute_cells(*scene, EVERYTHING, 3000).proved
            n_hidden += share < 1.0
    assert n_seen >= 8
    assert n_hidden >= 3


def stiff():
    """A figure whose trunk hardly moves: a proof over it is sharp to millimetres."""
    f = figure("M", "halden", "drive")
    hardly = dict.fromkeys(TRUNK, (-0.002, 0.002))
    return figure_of(f.body, f.suit.model_copy(update=hardly), f.grip)


def test_a_stiff_body_is_refuted_just_where_its_limit_is():
    f = stiff()
    bulk = bulk_of(f, f.suit, NO_TOOL)
    rng = np.random.default_rng(9)
    need = np.full(len(bulk.names), 0.05)
    d = np.array([1.0, 0.0, 0.0])
    tip = np.array([0.7, -0.2, 1.3])
    target = Target(tip, d, rings(tip, -d), need, 0.5, 1.4)
    for _ in range(25):
        q = random_trunk(f, rng)
        (shape,) = cage(f, bulk, rng, q, need[0], n=1)
        body = body_points(f, bulk, q)
        room = segment_distance(build(shape), body[:, :3], body[:, 3:6]).distance - body[:, 6]
        assert 0.0 <= room.min() - need[0] < 0.004
        for change, expected in ((0.0, False), (0.02, True)):
            asked = need + change
            found = refute_cells(
                f, bulk, build(shape), np.eye(4), target, asked, shadows_of([], tip[None]), ROOM
            )
            assert found.proved is expected


def test_a_stiff_arm_is_refuted_just_where_it_ends():
    f = stiff()
    bulk = bulk_of(f, f.suit, NO_TOOL)
    rng = np.random.default_rng(10)
    need = np.full(len(bulk.names), 0.0)
    nowhere = build(np.full((1, 3, 3), 50.0))
    a, b = f.body.links.upper_arm, f.body.links.forearm
    longest = np.sqrt(a * a + b * b + 2 * a * b * np.cos(f.suit.elbow[0]))
    tool = np.array([f.body.links.grip, 0, 0]) + f.grip.tip
    for _ in range(25):
        _, torso, shoulder = torso_of(f, random_trunk(f, rng))
        way = torso @ rng.normal(size=3)
        wrist = shoulder + longest * way / np.linalg.norm(way)
        hand = random_rotation(rng)
        d = hand[:, 0]
        for beyond, expected in ((0.0, False), (0.25, True)):
            tip = wrist + hand @ tool + beyond * way / np.linalg.norm(way)
            target = Target(tip, d, rings(tip, -d), need, 0.5, 1.4)
            none = shadows_of([], target.spots)
            found = refute_cells(f, bulk, nowhere, np.eye(4), target, need, none, ARM)
            assert found.proved is expected


def random_scene(rng, f):
    """A target within arm's length of some trunk, and a few boxes, some of them in the way."""
    q, tip, d = planted(f, rng)
    boxes = []
    if rng.uniform() < 0.4:  # in front of the head
        boxes.append(plate(tip - d * rng.uniform(0.05, 0.2), d, rng.uniform(0.3, 2.0)))
    for _ in range(rng.integers(1, 3)):
        size = rng.uniform(0.1, 0.9, 3)
        if rng.uniform() < 0.5:  # where the body wants to be
            at = body_points(f, bulk_of(f, f.suit, NO_TOOL), q)[rng.integers(2, 5), :3]
        else:
            at = np.array([0.0, 0.0, 1.0]) + rng.normal(size=3)
        boxes.append(box(rng, at, size))
    return tip, d, boxes


def trunks_sampled(f, n, seed):
    """Trunks with their body capsules, shoulders, eyes and turns, made once."""
    rng = np.random.default_rng(seed)
    bulk = bulk_of(f, f.suit, NO_TOOL)
    qs = [random_trunk(f, rng, over) for over in (1.0, 1.6, 4.0) for _ in range(n // 3)]
    bodies = np.array([body_points(f, bulk, q) for q in qs])
    posed = [torso_of(f, q) for q in qs]
    eyes = np.array([eye_point(f, q) for q in qs])
    return bodies, np.array([s for *_, s in posed]), eyes, np.array([t for _, t, _ in posed])


@pytest.mark.parametrize("which", FIGURES)
def test_what_is_refuted_is_not_among_thousands_of_postures(which):
    f = figure(*which)
    bulk = bulk_of(f, f.suit, NO_TOOL)
    rng = np.random.default_rng(21)
    bodies, shoulders, eyes, turns = trunks_sampled(f, 2100, 22)
    p, k = f.suit, f.body.links
    a, b = k.upper_arm, k.forearm
    shortest, longest = (np.sqrt(a * a + b * b + 2 * a * b * np.cos(e)) for e in p.elbow[::-1])
    rise = k.rise * p.shoulder_rise
    tool = np.array([k.grip, 0, 0]) + f.grip.tip
    axis = np.asarray(f.grip.axis, float) / np.linalg.norm(f.grip.axis)
    hand = np.linalg.norm(tool)
    n_proved = {ARM | ROOM: 0, EVERYTHING: 0}
    n_witness = 0
    for _ in range(40):
        tip, d, boxes = random_scene(rng, f)
        tip = tip + rng.choice([0.0, 0.3]) * rng.normal(size=3)
        tree = build(np.concatenate(boxes))
        need = np.full(len(bulk.names), rng.choice([0.0, 0.05]))
        spots = rings(tip, -d)
        target = Target(tip, d, spots, need, 0.5, np.radians(80.0))
        # Wrists that hold the tool straight on, any way round about it.
        centre = tip - (tool @ axis) * d
        across = np.sqrt(max(0.0, hand**2 - (tool @ axis) ** 2))
        far = np.linalg.norm(shoulders - centre, axis=1)
        arm = (far - across - rise < longest) & (far + across + rise > shortest)
        flat = bodies.reshape(-1, 7)
        room = segment_distance(tree, flat[:, :3], flat[:, 3:6]).distance - flat[:, 6]
        clear = (room.reshape(len(bodies), -1) >= need[0]).all(axis=1)
        to = np.tile(spots, (len(eyes), 1)) - np.repeat(eyes, 19, axis=0)
        free = ~any_hit(tree, np.repeat(eyes, 19, axis=0), to, 1.0)
        line = eyes - tip
        flat_on = -line @ d / np.linalg.norm(line, axis=1)
        lift = np.einsum("ij,ij->i", -line, turns[:, :, 2]) / np.linalg.norm(line, axis=1)
        lift = np.arcsin(np.clip(lift, -1, 1))
        in_view = (lift <= min(bulk.view[2], bulk.view[5])) & (
            -lift <= min(bulk.view[1], bulk.view[4])
        )
        sees = (free.reshape(-1, 19).mean(axis=1) >= 0.5) & (flat_on >= np.cos(target.angle))
        sees &= in_view
        shadows = shadows_of(boxes, spots)
        for wanted, works in (
            (ARM | ROOM, arm & clear),
            (EVERYTHING, arm & clear & sees),
        ):
            proved = refute_cells(
                f, bulk, tree, np.eye(4), target, need, shadows, wanted, 6000
            ).proved
            # With the tool off to one side the true set of wrists is smaller than the shell used.
            if proved and across < 1e-9:
                assert not works.any(), wanted
            elif proved:
                slack = 2 * across + 2 * rise
                sure = (far + slack < longest) & (far - slack > shortest)
                assert not (works & sure).any(), wanted
            n_proved[wanted] += proved
            n_witness += bool(works.any())
    assert min(n_proved.values()) >= 3, n_proved
    assert n_witness > 20


def test_what_is_hidden_by_proof_is_hidden_from_thousands_of_eyes():
    f = figure("M", "halden", "drive")
    bulk = bulk_of(f, f.suit, NO_TOOL)
    need = np.full(len(bulk.names), 0.02)
    rng = np.random.default_rng(31)
    _, _, eyes, _ = trunks_sampled(f, 1500, 32)
    verdicts = []
    for _ in range(40):
        tip = np.array([rng.uniform(1.5, 3.0), rng.uniform(-1, 1), rng.uniform(0.5, 2.0)])
        d = tip - [0.0, 0.0, 1.6] + 0.3 * rng.normal(size=3)
        d /= np.linalg.norm(d)
        shade = plate(tip - d * rng.uniform(0.2, 1.0), d, rng.uniform(0.05, 1.2))
        spots = rings(tip, -d)
        tree = build(shade)
        target = Target(tip, d, spots, need, 0.5, 1.4)
        found = refute_cells(
            f, bulk, tree, np.eye(4), target, need, shadows_of([shade], spots), SIGHT
        )
        to = np.tile(spots, (len(eyes), 1)) - np.repeat(eyes, 19, axis=0)
        free = ~any_hit(tree, np.repeat(eyes, 19, axis=0), to, 1.0)
        sees = (free.reshape(-1, 19).mean(axis=1) >= 0.5).any()
        assert not (found.proved and sees)
        verdicts.append((found.proved, bool(sees)))
    assert verdicts.count((True, False)) >= 10
    assert verdicts.count((False, True)) >= 10
    assert verdicts.count((False, False)) <= 8


def test_a_wall_in_the_body_is_refuted_and_one_that_is_not_is_not():
    f = figure("M", "halden", "drive")
    bulk = bulk_of(f, f.suit, NO_TOOL)
    need = np.full(len(bulk.names), 0.02)
    (wall,) = convex_parts(Shaped(box=[0.4, 2.0, 0.1]))
    tip, d = np.array([0.7, -0.2, 1.3]), np.array([1.0, 0.0, 0.0])
    target = Target(tip, d, rings(tip, -d), need, 0.5, 1.4)

    def refuted(x, wanted=ROOM, by=need):
        tree = build(wall + np.array([x, 0.0, 0.6]))
        return refute_cells(
            f, bulk, tree, np.eye(4), target, by, shadows_of([], target.spots), wanted
        )

    through = refuted(0.0)
    assert through.proved
    assert through.reason == REASONS[ROOM]
    assert through.counts[1] > 0 and through.counts[0] == through.counts[2] == 0
    assert not refuted(0.6).proved
    assert not refuted(0.0, ARM).proved
    assert not refuted(0.0, 0).proved


def test_too_few_cells_prove_nothing():
    f = figure("M", "halden", "drive")
    bulk = bulk_of(f, f.suit, NO_TOOL)
    need = np.full(len(bulk.names), 0.02)
    tree = build(convex_parts(Shaped(box=[0.4, 2.0, 0.1]))[0] + np.array([0.0, 0.0, 0.6]))
    tip, d = np.array([0.7, -0.2, 1.3]), np.array([1.0, 0.0, 0.0])
    target = Target(tip, d, rings(tip, -d), need, 0.5, 1.4)
    none = shadows_of([], target.spots)
    whole = refute_cells(f, bulk, tree, np.eye(4), target, need, none, ROOM)
    assert whole.proved
    cut = refute_cells(f, bulk, tree, np.eye(4), target, need, none, ROOM, whole.n_cells // 2)
    assert not cut.proved
    assert cut.n_cells < whole.n_cells


def test_reach_beyond_the_arm_is_refuted_by_the_arm_alone():
    f = figure("M", "halden", "drive")
    bulk = bulk_of(f, f.suit, NO_TOOL)
    need = np.full(len(bulk.names), 0.02)
    tree = build(np.full((1, 3, 3), 50.0))
    d = np.array([1.0, 0.0, 0.0])
    for x, expected in ((0.7, False), (1.0, False), (2.6, True)):
        tip = np.array([x, -0.2, 1.3])
        target = Target(tip, d, rings(tip, -d), need, 0.5, 1.4)
        none = shadows_of([], target.spots)
        found = refute_cells(f, bulk, tree, np.eye(4), target, need, none, ARM)
        assert found.proved is expected
