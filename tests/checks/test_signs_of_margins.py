"""Which way each allowance counts: what a turned sign or comparison would change is held here."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from bench import bench, drive, resolved, step, the
from handing import at, crate, hold, of_step
from moves import move, the_move, wall

from reach.checks import check_named, findings_in, ingress, inner, light, share, sight
from reach.finding import Verdict

FLAT = 1.0 - math.cos(math.pi / 6.0)
"""How far a hexagon stays inside its circle, as a share of the radius."""

LYING = [{"axis": [0, 1, 0], "angle": "90 deg"}]


def bar(radius, y, z, kind="sharp edge", **more):
    """A round bar along the rails, of six facets, in front of the wall."""
    shape = {"cylinder": {"radius": radius, "height": 0.4, "sides": 6}, "turn": LYING}
    return {"kind": kind, **shape, "at": [3.5, y, z], **more}


# ---- a round hazard is drawn by facets inside it: the low end counts what is missing -


@pytest.mark.parametrize(
    ("check", "kind", "place", "more"),
    [
        ("edge", "sharp edge", (0.1, 0.5), {}),
        ("sag", "no-touch", (4.0, 0.0), {}),
        ("kick", "no-touch", (1.5, 1.0), {"kick_load": "100 N"}),
    ],
)
def test_facets_of_a_round_hazard_are_less_than_it_is(check, kind, place, more):
    found = the_move(check, wall(hazards={"bar": bar(0.1, *place, kind, **more)}))
    assert found.unit == "m"
    # The bracket holds the truth: at least as wide as the facets are flat, and on their side.
    assert found.high - found.low >= 0.1 * FLAT - 1e-9
    block = {"kind": kind, "box": [0.4, 0.1, 0.1], "at": [3.5, *place], **more}
    exact = the_move(check, wall(hazards={"bar": block}))
    assert exact.high - exact.low < found.high - found.low


@pytest.mark.parametrize(
    ("check", "kind", "more"),
    [("edge", "sharp edge", {}), ("kick", "no-touch", {"kick_load": "100 N"})],
)
def test_of_two_hazards_the_one_that_may_be_nearer_counts(check, kind, more):
    """The facets of a round bar are farther off than a block, it itself is nearer."""

    def low_of(hazards):
        return the_move(check, wall(hazards=hazards)).low

    y, z = 0.1, 0.6
    bars = {"bar": bar(0.2, y, z, kind, **more)}
    alone = low_of(bars)
    gap = the_move(check, wall(hazards=bars)).high
    # A block whose face is between the bar and its facets, seen from the rail.
    face = z - 0.2 * math.cos(math.pi / 6.0) - 0.1 * 0.2 * FLAT
    block = {"kind": kind, "box": [0.4, 0.4, 0.2], "at": [3.5, y, face + 0.1], **more}
    both = low_of({**bars, "block": block})
    assert both == pytest.approx(min(alone, low_of({"block": block})), abs=2e-3)
    assert alone < gap


def test_a_round_pinch_point_keeps_its_stand_off_from_where_it_really_is():
    def low_of(shape):
        knot = {"kind": "pinch", "at": [0.2, 0.2, 1.35], "stand_off": 0.05, **shape}
        data = crate(hazards={"knot": knot})
        take = at("take", "R", hold("G1", "G2"))
        return of_step("hand-hazard", "take", data, take)[0]

    ball = low_of({"cylinder": {"radius": 0.1, "height": 0.2, "sides": 6}})
    # The facets' corners lie on the circle: a twelve-sided one is farther in nowhere.
    finer = low_of({"cylinder": {"radius": 0.1, "height": 0.2, "sides": 240}})
    assert ball.low <= finer.low + 1e-6


# ---- too near the boots --------------------------------------------------------------


def test_too_near_the_boots_is_proved_by_the_limit_on_top_of_the_inner_sphere():
    near = bench(
        fasteners={"low": {"at": [0.05, 0.05, 0.15], "axis": [0, 0, 1], "torque": 5.0}},
        limits={"inner_margin": {"value": 0.07, "source": "these tests"}},
    )
    found = the("inner", near, step("s", "R", drive("low")))
    beyond = found.numbers["wrist from plate"] - found.numbers["inner sphere"]
    slack, limit = found.numbers["wrist slack"], found.limits[0].value
    assert limit == 0.07
    assert found.high == pytest.approx(beyond + slack - limit)
    assert found.low <= beyond - slack - limit + 1e-12
    assert found.verdict is Verdict.FAIL


def test_room_between_hand_and_body_is_never_more_than_the_posture_found_leaves(monkeypatch):
    data, turn = bench(), step("s", "R", drive("easy"))
    monkeypatch.setattr(inner, "_own_room", lambda attempt: 5.0)
    wide = the("inner", data, turn)
    beyond = wide.numbers["wrist from plate"] - wide.numbers["inner sphere"]
    limit = wide.limits[0].value
    assert wide.low == pytest.approx(beyond - wide.numbers["wrist slack"] - limit)
    monkeypatch.setattr(inner, "_own_room", lambda attempt: 0.01)
    tight = the("inner", data, turn)
    assert tight.low == pytest.approx(0.01 - limit)
    assert tight.high == wide.high


# ---- sight ---------------------------------------------------------------------------


def test_the_margin_of_sight_is_the_share_seen_less_the_share_asked():
    found = the("sight", bench(), step("s", "R", drive("easy")))
    limit = found.limits[0].value
    assert 0.0 < limit < 1.0
    assert (found.low, found.high) == pytest.approx((found.numbers["share"] - limit,) * 2)


def test_a_head_proved_hidden_is_seen_by_less_than_the_limit_and_no_less_than_nothing():
    site, (situation,) = resolved(bench(), step("s", "R", drive("easy")))
    proof = SimpleNamespace(proved=True, counts=(0, 0, 1), n_cells=1)
    found = sight._hidden(site, situation, proof)
    limit = found.limits[0].value
    assert found.low == pytest.approx(-limit)
    assert -limit <= found.high < 0.0
    # One point more would be enough.
    assert found.high + 1.0 / sight.N_SPOTS >= -1e-9


# ---- boots that turn out -------------------------------------------------------------


@pytest.mark.parametrize(
    ("refuted", "verdict"),
    [((), Verdict.OPEN), (("left",), Verdict.OPEN), (("left", "right"), Verdict.FAIL)],
)
def test_boots_that_may_come_out_either_way_fail_only_if_both_are_refuted(
    monkeypatch, refuted, verdict
):
    data = bench()
    data["restraints"]["stand"] |= {"twist_to": "either"}
    site, (situation,) = resolved(data, step("s", "R", {"do": "ingress"}))
    real = ingress._swept

    def swept(*asked):
        return replace(real(*asked), low=-0.1, high=0.1)

    sides = {way: side for side, way in ingress.WAYS.items()}
    monkeypatch.setattr(ingress, "_swept", swept)
    monkeypatch.setattr(
        ingress, "_is_refuted", lambda rest, turn: sides[math.copysign(1.0, turn)] in refuted
    )
    found = ingress._boots(site, situation, 0.3)
    assert found.verdict is verdict


# ---- people --------------------------------------------------------------------------


@pytest.mark.parametrize("short", [(0.1, -0.1), (-0.1, 0.1)])
def test_somebody_can_if_one_of_the_hands_allowed_does(monkeypatch, short):
    tried = dict(zip(("left", "right"), short, strict=True))
    monkeypatch.setattr(share, "hands_of", lambda situation: ("left", "right"))
    monkeypatch.setattr(
        share,
        "body_attempt",
        lambda site, situation, body, hand: SimpleNamespace(short=tried[hand], witness=object()),
    )
    assert share._can(None, None, None)
    monkeypatch.setattr(
        share,
        "body_attempt",
        lambda site, situation, body, hand: SimpleNamespace(short=tried[hand], witness=None),
    )
    assert not share._can(None, None, None)


# ---- safety lines --------------------------------------------------------------------


def test_a_line_has_left_what_its_farthest_place_leaves():
    found = the_move("tether", wall(), move())
    longer = wall(tethers={"T1": {"length": 13.0}})
    assert the_move("tether", longer, move()).low == pytest.approx(found.low + 1.0)


def test_findings_of_a_check_keep_their_low_end_below_their_high_end():
    """Nothing is so certain that its bracket turns round."""
    for name in ("reach", "inner", "access", "torque", "load"):
        site, situations = resolved(bench(), step("s", "R", drive("easy")))
        for found in findings_in(check_named(name), site, situations):
            assert np.isnan(found.low) or found.low <= found.high


# ---- what is told as bad --------------------------------------------------------------


@pytest.mark.parametrize("check", ["corridor", "passing", "stand-off", "edge"])
@pytest.mark.parametrize(("z", "is_bad"), [(0.02, True), (1.6, False)])
def test_a_mark_is_bad_and_a_fix_is_told_just_where_the_margin_is_short(check, z, is_bad):
    beam = {"box": [8.0, 0.1, 0.1], "at": [3.5, 0.3, z]}
    kind = "sharp edge" if check == "edge" else "no-touch"
    hot = {**beam, "kind": kind, "stand_off": 0.2}
    data = wall(solids={"beam": beam}) if check in ("corridor", "passing") else wall()
    if check in ("stand-off", "edge"):
        data = wall(hazards={"bar": {**hot, "at": [3.5, 0.1 if check == "edge" else 0.6, z]}})
    route = ["RA", "RB", "RC"]
    found = the_move(check, data, move(route=route))
    assert (found.low < 0.0) is is_bad
    assert [mark.bad for mark in found.marks] == [is_bad]
    assert bool(found.fix) is is_bad
    words = "keeps clear" if check in ("corridor", "passing") and not is_bad else ""
    assert words in found.because


def test_no_eye_comes_nearer_than_a_leg_and_a_trunk_bring_it():
    p = np.zeros(64)
    p[light.ANKLE], p[light.HIP] = 0.1, 1.0
    sizes = np.zeros(8)
    sizes[5], sizes[6] = 0.3, 0.4
    attempt = SimpleNamespace(
        figure=SimpleNamespace(p=p), bulk=SimpleNamespace(sizes=sizes), world_from_boots=np.eye(4)
    )
    # From the ankle at 0.1 m: 0.9 m to the hip, 0.5 m on to the eye.
    assert light.nearest_eye(attempt, np.array([0.0, 0.0, 5.1])) == pytest.approx(5.0 - 1.4)
    assert light.nearest_eye(attempt, np.array([1.0, 0.0, 0.1])) == 0.0


def test_on_the_way_a_line_may_run_half_as_far_as_both_its_ends_and_the_way_together():
    """From x = 0 to x = 7 past an anchor at x = 4: 4 m and 3 m at the ends, 7 m of way."""
    go = move(to="RC@2.0", start="RA@0.0", route=["RA", "RB", "RC"], tether="T2", anchor="A4")
    found = the_move("tether", wall(), go)
    assert found.numbers["routed"] == pytest.approx(4.0, abs=0.1)
    assert found.low == pytest.approx(11.0 - 0.5 * (4.0 + 3.0 + 7.0), abs=0.2)
    assert found.high == pytest.approx(11.0 - 4.0, abs=0.1)
