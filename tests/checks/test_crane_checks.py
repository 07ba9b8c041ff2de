"""What the checks on cranes promise: reach, joints, links, getting on and off, stopping."""

import math
from itertools import pairwise

import numpy as np
import pytest
from cranes import arm, crane_step, findings, resolved, stand, walk, yard

from reach.arm import chain_of, full_reach, tip_poses
from reach.crane import crane_at
from reach.finding import Verdict
from reach.payload.crane_way import crane_way_of

TO_NEAR = crane_step("near")
REACH = full_reach(chain_of(arm()))


def the(check, data, *steps, **more):
    (found,) = findings(check, data, *steps, **more)
    return found


# ---- crane-reach -----------------------------------------------------------------------


def test_the_margin_of_reach_is_what_the_reserve_leaves_of_the_full_reach():
    found = the("crane-reach", yard(), TO_NEAR)
    far = math.dist((6.0, 3.0, 1.0), (0.0, 0.0, 0.0))  # the boots stand where the tip is
    assert found.low == pytest.approx(0.9 * REACH - far, abs=1e-8)
    assert found.verdict is Verdict.PASS
    assert found.numbers["base to tip"] == pytest.approx(far)


def test_distance_alone_proves_that_a_crane_does_not_reach():
    found = the("crane-reach", yard(), crane_step("out of reach"))
    assert found.verdict is Verdict.FAIL
    assert found.high == pytest.approx(0.9 * REACH - math.hypot(18.0, 1.0), abs=1e-8)
    assert found.marks[0].bad
    assert f"{math.hypot(18.0, 1.0):.3f} m" in found.because


def test_a_reserve_is_kept_though_a_posture_exists():
    data = yard()
    assert the("crane-reach", data, crane_step("too far")).verdict is Verdict.FAIL
    bare = yard(limits={"crane_reserve": {"value": 0.0, "source": "these tests"}})
    assert the("crane-reach", bare, crane_step("too far")).high > 0.0


def test_bringing_the_place_nearer_as_the_fix_says_mends_it():
    found = the("crane-reach", yard(), crane_step("out of reach"))
    missing = float(found.fix.split("least ")[1].split(" m")[0])
    far = math.hypot(18.0, 1.0)
    share = (far - missing) / far
    data = yard(stations={"out of reach": {"at": [18.0 * share, 0.0, share]}})
    assert the("crane-reach", data, crane_step("out of reach")).high >= 0.0


def test_a_posture_that_is_not_found_is_open_and_never_passes():
    # The wrist cannot turn the plate over so close before the column.
    data = yard(stations={"near": {"at": [0.25, 0.0, 0.6], "up": [0, 0, -1]}})
    found = the("crane-reach", data, TO_NEAR)
    site, _ = resolved(data, TO_NEAR)
    (carriage,) = site.carriages
    there = crane_at(site, "Arm", carriage.poses[0], carriage.surroundings)
    assert not there.branches
    assert found.verdict in (Verdict.OPEN, Verdict.FAIL)
    assert (found.verdict is Verdict.FAIL) == (there.shortage > 0.0)


def test_a_place_is_asked_once_however_often_it_is_stood_at():
    steps = (TO_NEAR, stand("near", "one"), stand("near", "two"), crane_step("by the mast", "on"))
    found = findings("crane-reach", yard(), *steps)
    asked = [(one.step, one.answer) for one in found]
    assert asked == [("one", ""), ("on", ""), ("on", "way")]


def test_the_way_is_asked_at_its_farthest_moment():
    steps = (stand("near"), crane_step("by the mast"))
    way = next(f for f in findings("crane-reach", yard(), *steps) if f.answer == "way")
    site, _ = resolved(yard(), *steps)
    (carriage,) = site.carriages
    q = crane_way_of(site, carriage).q
    share = np.linspace(0.0, 1.0, 5001)[:, None]
    rows = (1.0 - share) * q[0] + share * q[-1]
    far = np.linalg.norm(tip_poses(chain_of(arm()), rows)[:, :3, 3], axis=1).max()
    assert way.low - 1e-9 <= 0.9 * REACH - far <= way.high + 1e-9
    assert way.high - way.low < 0.05


def test_a_crane_whose_arm_is_not_known_is_not_asked():
    for check in ("crane-reach", "joints", "links"):
        found = the(check, yard(), TO_NEAR, arms=False)
        assert found.verdict is Verdict.NOT_ASKED
        assert "the Arm is made is not known" in found.because


# ---- joints ----------------------------------------------------------------------------


def test_joints_answer_for_limits_and_for_singular_poses():
    limits, singular = findings("joints", yard(), TO_NEAR)
    assert (limits.unit, singular.unit) == ("rad", "")
    assert singular.answer == "singular"
    site, _ = resolved(yard(), TO_NEAR)
    (carriage,) = site.carriages
    best = crane_at(site, "Arm", carriage.poses[0], carriage.surroundings).best
    q, chain = best.posture.q, chain_of(arm())
    kept = np.minimum(q - chain.lower, chain.upper - q).min()
    assert limits.low == pytest.approx(kept - math.radians(3.0), abs=1e-8)
    assert singular.low == pytest.approx(best.posture.singular - 0.02, abs=1e-8)


@pytest.mark.parametrize(
    ("check", "limit", "value"),
    [
        ("joints", "joint_reserve", "3 rad"),
        ("joints", "singular_reserve", 0.9),
        ("links", "link_clearance", "9 m"),
    ],
)
def test_a_shortfall_of_the_best_branch_found_is_open_never_a_fail(check, limit, value):
    data = yard(limits={limit: {"value": value, "source": "these tests"}})
    steps = (TO_NEAR, stand("near"), crane_step("by the mast", "on"))
    found = findings(check, data, *steps)
    assert any(one.verdict is Verdict.OPEN for one in found)
    assert all(one.verdict is not Verdict.FAIL for one in found)


def test_the_least_along_a_way_is_no_more_than_at_any_sample():
    steps = (stand("near"), crane_step("by the mast"))
    answers = {f.answer: f for f in findings("joints", yard(), *steps)}
    site, _ = resolved(yard(), *steps)
    (carriage,) = site.carriages
    way = crane_way_of(site, carriage)
    chain, share = way.chain, np.linspace(0.0, 1.0, 501)[:, None]
    rows = np.concatenate([(1.0 - share) * a + share * b for a, b in pairwise(way.q)])
    kept = np.minimum(rows - chain.lower, chain.upper - rows).min() - math.radians(3.0)
    assert answers["way"].low <= kept + 1e-9
    assert answers["way"].low == pytest.approx(kept, abs=1e-6)


# ---- links -----------------------------------------------------------------------------


def test_a_solid_by_the_arm_lowers_what_is_left_and_is_named():
    free = the("links", yard(), TO_NEAR)
    site, _ = resolved(yard(), TO_NEAR)
    (carriage,) = site.carriages
    # All round the tip: every posture has a link by it.
    pose = carriage.poses[0]
    data = yard(
        solids={
            "collar": {"box": [0.02, 3.0, 3.0], "at": (pose[:3, 3] + [0.5, 0, -0.5]).tolist()},
            "other": {"box": [0.02, 3.0, 3.0], "at": (pose[:3, 3] - [0.5, 0, 0.5]).tolist()},
        }
    )
    tight = the("links", data, TO_NEAR)
    assert tight.low < free.low
    assert tight.numbers["gap, structure"] < free.numbers["gap, structure"]


def test_a_body_on_the_plate_is_in_the_links_and_larger_bodies_do_not_help():
    found = findings("links", yard(), stand("near"), sizes=("small", "large"))
    assert [one.case for one in found] == ["small", "large"]
    assert all("gap, rider" in one.numbers for one in found)


def test_a_hazard_asks_for_its_own_stand_off():
    hot = {"kind": "hot", "box": [0.3, 0.3, 0.3], "at": [3.0, 1.5, 9.0], "stand_off": 50.0}
    found = the("links", yard(hazards={"lamp": hot}), TO_NEAR)
    assert found.numbers["thing"] == "lamp"
    assert found.low == pytest.approx(found.numbers["gap, hazard"] - 50.0, abs=1e-8)


# ---- boarding --------------------------------------------------------------------------


def trunk(data):
    """The middle of the trunk of who stands by the mast, m, world."""
    _, (situation,) = resolved(data, stand("by the mast"))
    links = situation.body.links
    height = 0.5 * (links.hip + links.shoulder) + situation.suit.sole
    return np.array([8.6, 1.5, 1.2 + height])


def test_boarding_is_measured_from_the_nearest_rail_to_the_middle_of_the_trunk():
    found = the("boarding", yard(), stand("by the mast"))
    middle = trunk(yard())
    away = math.hypot(0.7, max(0.0, 1.8 - middle[2], middle[2] - 3.0))
    assert found.low == pytest.approx(1.2 - away, abs=1e-8)
    assert found.verdict is Verdict.PASS


def test_a_rail_that_may_not_be_held_is_no_rail():
    data = yard(handrails={"R1": {"condition": "blocked"}})
    assert the("boarding", data, stand("by the mast")).verdict is Verdict.NOT_ASKED
    data["handrails"]["R2"] = {"from": [0, 0, 3], "to": [0, 1, 3], "out": [0, 0, 1]}
    found = the("boarding", data, stand("by the mast"))
    assert found.verdict is Verdict.FAIL
    assert "R2" in found.because


def test_riding_from_station_to_station_is_no_boarding():
    steps = (stand("near"), crane_step("by the mast"), stand("by the mast", "then"))
    found = findings("boarding", yard(), *steps)
    assert [one.step for one in found] == ["stand"]


def test_getting_off_is_asked_where_a_move_begins_and_where_a_step_finds_one_elsewhere():
    off = walk("hatch", "by the mast")
    assert the("boarding", yard(), off).numbers["place"] == "by the mast"
    steps = (stand("by the mast"), stand("ground", "later"))
    found = findings("boarding", yard(), *steps)
    assert [(one.step, "gets off" in one.because) for one in found] == [
        ("stand", False), ("later", True),
    ]  # fmt: skip


# ---- stop ------------------------------------------------------------------------------


def stopped(data, duration="4 min", start="near"):
    steps = (stand(start), crane_step("by the mast", duration=duration))
    return {one.answer: one for one in findings("stop", data, *steps)}


def test_twice_as_fast_is_stopped_by_twice_the_force():
    slow, quick = (stopped(yard(), text)["boots"] for text in ("4 min", "2 min"))
    for name in ("speed", "force", "moment", "braking way"):
        assert quick.numbers[name] == pytest.approx(2.0 * slow.numbers[name], rel=1e-9)
    # Where the rider's mass is, not the tip, is slowed down.
    speed = slow.numbers["speeds"]["R"]
    assert slow.numbers["force"] == pytest.approx(240.0 * speed / 2.0)
    assert speed == pytest.approx(slow.numbers["speed"], rel=0.05)


def test_the_boots_bear_what_the_station_is_rated_for():
    weak = {"near": {"rating": {"force": 0.5, "moment": 0.5}}}
    found = stopped(yard(stations=weak))["boots"]
    assert found.verdict is Verdict.FAIL
    assert found.limits[0].name.startswith("rating")
    assert stopped(yard())["boots"].verdict is Verdict.PASS


BOX = {
    "solids": {"crate-box": {"in": "crate", "box": [0.4, 0.4, 0.4]}},
    "handrails": {"H": {"in": "crate", "from": [-0.2, 0.25, 0.0], "to": [0.2, 0.25, 0.0]}},
    "payloads": {
        "crate": {
            "mass": 100.0,
            "poses": {"a": {"at": [7, 3, 2]}, "b": {"at": [7, -3, 2]}, "c": {"at": [7, 0, 2]}},
            "paths": {"out": {"through": ["a", "b"]}, "back": {"through": ["b", "c"]}},
        }
    },
}


def carry(path, **more):
    action = {"do": "move crane", "payload": "crate"}
    return {"name": path, "lane": "CO", "path": path, "duration": 60.0, "actions": [action], **more}


def test_the_boots_bear_no_more_once_a_path_has_taken_them_along():
    data = yard(**BOX, stations={"near": {"rating": {"force": 1.0, "moment": 1.0}}})
    hold = {"name": "hold", "lane": "R", "actions": [{"do": "hold", "grips": ["H"]}]}
    steps = stand("near"), hold, carry("out"), carry("back")
    found = [one for one in findings("stop", data, *steps) if one.answer == "boots"]
    assert [one.verdict for one in found] == [Verdict.FAIL, Verdict.FAIL]
    assert [one.limits[0].value for one in found] == [1.0, 1.0]


@pytest.mark.parametrize("check", ["crane-reach", "joints", "links", "stop"])
def test_what_a_crane_holds_nobody_knows_where_is_open(check):
    found = findings(check, yard(**BOX), carry("out"))
    verdicts = [one.verdict for one in found if one.answer != "boots"]
    assert verdicts == [Verdict.OPEN]


def test_nobody_on_the_plate_is_not_asked():
    found = findings("stop", yard(), crane_step("by the mast", start="near", duration="4 min"))
    assert {one.answer: one.verdict for one in found} == {
        "boots": Verdict.NOT_ASKED, "rates": Verdict.PASS,
    }  # fmt: skip


def test_a_time_no_posture_can_keep_is_proved_and_one_that_others_might_is_open():
    passes = stopped(yard())["rates"]
    least, needed = passes.numbers["least time"], passes.numbers["needed"]
    assert 0.0 < least < needed
    assert passes.low == pytest.approx(240.0 - needed, abs=1e-5)
    assert stopped(yard(), 0.5 * least)["rates"].verdict is Verdict.FAIL
    assert stopped(yard(), 0.5 * (least + needed))["rates"].verdict is Verdict.OPEN
