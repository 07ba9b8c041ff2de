"""How near what is moved comes to everything: brackets, what is asked, curves, clocks."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.spatial.transform import Rotation
from yard import carry, moved, with_path, yard

from benchmarks.trusses import vertices_and_faces
from reach.geometry import rotation_z
from reach.payload.clock import leg_lengths, moments, place_at, time_at
from reach.payload.curve import curve_of
from reach.payload.facets import box_facets, capsule_facets, placed
from reach.payload.gaps import FAR, gaps_of
from reach.payload.kept import kept
from reach.payload.parts import parts_of
from reach.payload.things import things_of
from reach.payload.track import track_of

SWUNG = 1.0 - math.sqrt(0.5)
"""What a corner of the crate leaves of the metre to the wall when it stands on edge."""


def only(gaps, thing="wall"):
    (found,) = [gap for gap in gaps if gap.thing == thing]
    return found


def test_a_box_that_runs_along_a_wall_keeps_its_distance():
    gap = only(gaps_of(*moved(yard())))
    assert gap.low <= 0.5 <= gap.high + 1e-9
    assert gap.high - gap.low <= 1e-3
    assert gap.margin == (gap.low - 0.2, gap.high - 0.2)
    assert gap.piece_of_part == "crate-box"


def test_a_box_that_turns_swings_a_corner_that_no_pose_shows():
    site, carriage = moved(yard(), carry("turning"))
    gap = only(gaps_of(site, carriage))
    assert gap.low <= SWUNG <= gap.high + 1e-9
    assert gap.high == pytest.approx(SWUNG, abs=1e-3)
    assert 1.0 < gap.at < 2.0
    ends = [only(gaps_of(*moved(yard(), carry(None, to=to)))) for to in ("middle", "right")]
    assert all(one.high == pytest.approx(0.5, abs=1e-6) for one in ends)


def test_the_witness_is_where_the_gap_is():
    gap = only(gaps_of(*moved(yard(), carry("turning"))))
    assert np.linalg.norm(gap.on_part - gap.on_thing) == pytest.approx(gap.high, abs=1e-6)
    assert gap.on_thing[1] == pytest.approx(-1.0)
    inside = np.linalg.inv(gap.pose) @ [*gap.on_part, 1.0]
    assert np.abs(inside[:3]).max() == pytest.approx(0.5, abs=1e-6)


def test_brackets_agree_with_poses_sampled_by_a_library():
    coal = pytest.importorskip("coal")
    more = {"post": {"cylinder": {"radius": 0.2, "height": 3.0}, "at": [1.6, 1.1, 0.2]}}
    site, carriage = moved(yard(solids=more), carry("turning"))
    track = track_of(site, carriage)
    (part,), asked = parts_of(site, carriage), coal.DistanceRequest()
    for thing in things_of(site, carriage):
        seen = math.inf
        models = []
        for tree in (thing.tree, part.tree):
            vertices, faces = vertices_and_faces(tree.tri.reshape(-1, 3, 3))
            model = coal.BVHModelOBBRSS()
            model.beginModel(len(faces), len(vertices))
            model.addVertices(vertices)
            model.addTriangles(faces.astype(np.int32))
            model.endModel()
            models.append(model)
        for place in np.linspace(0.0, 2.0, 801):
            pose = track.pose_at(float(place))
            at = coal.Transform3s(pose[:3, :3], pose[:3, 3])
            answer = coal.DistanceResult()
            coal.distance(models[0], coal.Transform3s(), models[1], at, asked, answer)
            seen = min(seen, max(answer.min_distance, 0.0))
        gap = only(gaps_of(site, carriage), thing.name)
        assert gap.low <= seen + 1e-9
        assert gap.high <= seen + thing.excess + 2e-3


def test_what_a_leg_asks_overrides_and_zero_means_contact_of_the_payload():
    legs = {"right": {"stand_off": {"wall": 0.4}}, "left": {"stand_off": {"wall": 0}}}
    data = with_path(yard(), through=["touching", "left", "right"], legs=legs)
    gaps = [gap for gap in gaps_of(*moved(data, carry("way"))) if gap.thing == "wall"]
    by = {gap.legs: gap for gap in gaps}
    assert by[(0,)].is_contact_meant
    assert by[(0,)].high == 0.0
    assert not by[(1,)].is_contact_meant
    assert by[(1,)].stand_off == 0.4


def test_a_start_in_contact_is_a_contact():
    gap = only(gaps_of(*moved(yard(), carry("off"))))
    assert (gap.low, gap.high, gap.at) == (0.0, 0.0, 0.0)


def test_a_box_inside_another_is_a_contact():
    shell = {"shell": {"box": [3.0, 1.9, 3.0], "at": [-3.0, 0.0, 0.0]}}
    poses = {"left": {"at": [-3.0, 0, 0]}, "up": {"at": [-3.0, 0.0, 0.2]}}
    data = yard(solids=shell, payloads={"crate": {"poses": poses, "paths": {}}})
    gap = only(gaps_of(*moved(data, carry(None, to="up"))), "shell")
    assert (gap.low, gap.high) == (0.0, 0.0)


def test_what_is_far_is_told_as_at_least():
    far = {"tower": {"box": [1.0, 1.0, 1.0], "at": [0.0, 20.0, 0.0]}}
    gap = only(gaps_of(*moved(yard(solids=far))), "tower")
    assert gap.low == pytest.approx(0.2 + FAR, abs=1e-6)
    assert math.isinf(gap.high)
    assert math.isnan(gap.at)


def test_round_solids_may_stand_outside_their_facets():
    post = {"post": {"cylinder": {"radius": 0.3, "height": 2.0, "sides": 6}, "at": [0, 2.0, 0]}}
    gap = only(gaps_of(*moved(yard(solids=post))), "post")
    assert gap.low <= 1.2 <= gap.high + 1e-9
    assert gap.high - gap.low >= 0.3 * (1.0 - math.cos(math.pi / 6))


def test_what_rides_is_no_obstacle_and_what_says_a_stand_off_has_it():
    lid = {"lid": {"in": "crate", "box": [1.0, 1.0, 0.1], "at": [0, 0, 0.6]}}
    site, carriage = moved(yard(solids={**lid, "wall": {"stand_off": 0.35}}))
    assert [thing.name for thing in things_of(site, carriage)] == ["wall"]
    assert only(gaps_of(site, carriage)).stand_off == 0.35
    (part,) = parts_of(site, carriage)
    assert set(part.names) == {"crate-box", "lid"}


@pytest.mark.parametrize(
    ("active", "start", "counts"),
    [
        ([["00:00", "00:50"]], "01:00", False),
        ([["00:00", "01:02"]], "01:00", True),
        ([["00:00", "00:50"]], None, True),
        ([], "01:00", True),
    ],
)
def test_hazards_count_while_they_are_active_or_may_be(active, start, counts):
    lamp = {"kind": "hot", "box": [0.2, 0.2, 0.2], "at": [0, 1.5, 0], "stand_off": 0.1}
    data = yard(hazards={"lamp": {**lamp, "active": active}})
    site, carriage = moved(data, carry(start=start))
    assert ("lamp" in {thing.name for thing in things_of(site, carriage)}) == counts


@pytest.mark.parametrize(("clearance", "answer"), [(0.25, True), (0.4, False)])
def test_a_threshold_is_decided_by_bound_or_witness(clearance, answer):
    site, carriage = moved(yard(), carry("turning"))
    assert kept(site, carriage, clearance).answer is answer


def test_no_gap_lies_below_the_curve():
    site, carriage = moved(yard(), carry("turning"))
    (curve,), gap = curve_of(site, carriage, spans=12), only(gaps_of(site, carriage))
    assert len(curve.low) == 24
    assert curve.low.min() <= gap.high
    assert curve.high.min() == pytest.approx(gap.high, abs=6e-3)
    track = track_of(site, carriage)
    corners = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)]) * 0.5
    for place in np.linspace(0.0, 2.0, 301):
        pose = track.pose_at(float(place))
        there = 1.0 + float((corners @ pose[:3, :3].T + pose[:3, 3])[:, 1].min())
        span = np.flatnonzero((curve.start <= place) & (place <= curve.stop))
        assert (curve.low[span] <= there + 1e-9).all()
    assert (curve.margin_low == curve.low - 0.2).all()
    assert set(curve.thing) == {"wall"}


@pytest.mark.parametrize("length", [0.0, 0.7])
def test_facets_hold_their_capsule_by_no_more_than_is_said(length):
    rng = np.random.default_rng(3)
    p = rng.uniform(-1.0, 1.0, 3)
    q = p + length * Rotation.random(random_state=rng).apply([0.0, 0.0, 1.0])
    triangles, excess = capsule_facets(np.array([*p, *q, 0.25]))
    weights = rng.dirichlet(np.ones(3), len(triangles))
    points = np.concatenate([np.einsum("nk,nkc->nc", weights, triangles), triangles.mean(axis=1),
                             *triangles.transpose(1, 0, 2)])  # fmt: skip
    along = np.clip((points - p) @ (q - p) / max(length**2, 1e-12), 0.0, 1.0)
    distance = np.linalg.norm(points - p - along[:, None] * (q - p), axis=1)
    assert distance.min() >= 0.25 - 1e-9
    assert distance.max() <= 0.25 + excess + 1e-9
    a, b, c = triangles.transpose(1, 0, 2)
    volume = float(np.einsum("nc,nc->n", a - p, np.cross(b - p, c - p)).sum()) / 6.0
    assert volume > math.pi * 0.25**2 * (length + 4.0 / 3.0 * 0.25)


def test_a_mirrored_pose_keeps_facets_outside_out():
    mirror = np.diag([1.0, -1.0, 1.0, 1.0])
    a, b, c = placed(mirror, box_facets(np.zeros(3), np.ones(3))).transpose(1, 0, 2)
    middle = np.array([0.5, -0.5, 0.5])
    volume = np.einsum("nc,nc->n", a - middle, np.cross(b - middle, c - middle)).sum() / 6.0
    assert volume == pytest.approx(1.0)


def test_legs_share_the_time_by_their_length():
    _, carriage = moved(yard(), carry("turning"))
    lengths = leg_lengths(carriage, farthest=4.0)
    assert lengths == pytest.approx([3.0, 2.0 * math.pi])
    ends = moments(carriage, farthest=4.0)
    assert ends == pytest.approx([3.0 / lengths.sum(), 1.0])
    for time in (0.0, 0.1, 0.5, 0.99, 1.0):
        assert time_at(ends, place_at(ends, time)) == pytest.approx(time)
    assert place_at(ends, 1.0) == 2.0


def test_poses_on_the_way_are_those_of_the_motion():
    site, carriage = moved(yard(), carry("turning"))
    pose = track_of(site, carriage).pose_at(1.5)
    assert pose[:3, 3] == pytest.approx([1.5, 0.0, 0.0])
    assert pose[:3, :3] == pytest.approx(rotation_z(math.radians(45.0)), abs=1e-9)


def test_a_hazard_that_nothing_is_asked_of_is_short_where_it_is_touched():
    lamp = {"lamp": {"kind": "hot", "box": [0.2] * 3, "stand_off": 0.0}}
    away = {"lamp": {**lamp["lamp"], "at": [0.0, 30.0, 0.0]}}
    inside = moved(yard())[1].poses[0][:3, 3].tolist()
    site, carriage = moved(yard(hazards={"lamp": {**lamp["lamp"], "at": inside}}))
    touched = only(gaps_of(site, carriage), "lamp")
    assert touched.stand_off == 0.0
    assert touched.high <= 0.0
    assert touched.margin[1] < 0.0  # the table and the pictures show it as short
    curve = curve_of(site, carriage, 8)[0]
    assert float(curve.margin_high.min()) < 0.0
    free = only(gaps_of(*moved(yard(hazards=away))), "lamp")
    assert min(free.margin) >= 0.0
