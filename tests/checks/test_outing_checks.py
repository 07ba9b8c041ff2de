"""Who comes home, what the line does, what boots and slack may touch: on the wall with rails."""

import math

import numpy as np
import pytest
from bench import resolved
from moves import (
    ALONG,
    findings_of,
    move,
    procedure_of,
    scene_of,
    situation_of,
    the_move,
    wall,
)

from reach.checks import hook
from reach.checks.rescue import minutes
from reach.files.moves import move_problems
from reach.finding import Verdict
from reach.travel.home import rates_of
from reach.travel.near import moving_near, tree_of
from reach.travel.seeing import CORNERS, HOOK, hook_points
from reach.travel.sides import corridor_of

PASS, FAIL, OPEN, NOT_ASKED = Verdict.PASS, Verdict.FAIL, Verdict.OPEN, Verdict.NOT_ASKED
TWO = {
    "workers": {"L": {"size": "small", "hand": "left", "suit": "halden"}},
    "tethers": {"T3": {"length": 12.0, "anchor": "A4", "worker": "L"}},
}


def pair(to="RC@1.0", at="RB@1.0"):
    """L goes to one place first, R then to another."""
    return move(to=at, name="first", lane="L"), move(to=to)


def last(check, data, *steps):
    """The finding about the last step and who takes it."""
    found = findings_of(data, *steps, only=(check,))
    return [one for one in found if one.about[0] == steps[-1]["lane"]][-1]


def limited(name, value, **more):
    return wall(**TWO, limits={name: value}, **more)


# ---- the way home ----------------------------------------------------------------------


def test_a_rescue_takes_what_its_parts_take():
    found = last("rescue", wall(**TWO), *pair())
    site, situation = resolved(wall(**TWO), *pair())[0], resolved(wall(**TWO), *pair())[1][-1]
    rates, n = rates_of(site), found.numbers
    assert situation.others == {"L": "RB@1.0"}
    assert n["partner way"] == pytest.approx(2.5)
    # Along x from 6.0 to where the hatch, 0.4 m before and off the rail, is 1.2 m away.
    assert n["way"] == pytest.approx(6.0 + 0.4 - math.sqrt(1.2**2 - 0.4**2) + 1.2)
    # L's line leads from A4, far from the hatch; that of R, from A0, serves to the end.
    assert n["swaps"] == 1
    by_hand = rates.leave + rates.free + rates.swap + rates.lock
    by_hand += n["partner way"] / rates.partner + n["way"] / rates.casualty
    assert sum(n["parts"].values()) == pytest.approx(by_hand)
    assert found.low == pytest.approx(1800.0 - by_hand, abs=2e-6)
    assert found.verdict is PASS
    assert found.unit == "s"
    assert minutes(by_hand) in found.because


@pytest.mark.parametrize("late", [5.0, 60.0, 200.0])
def test_the_fixes_of_a_late_rescue_mend_it(late):
    took = 1800.0 - last("rescue", wall(**TWO), *pair()).low
    data = limited("return_time", took - late)
    found = last("rescue", data, *pair())
    assert found.verdict is FAIL
    assert found.high == pytest.approx(-late, abs=1e-4)
    words = found.fix
    rates = rates_of(resolved(data, *pair())[0])
    nearer = math.ceil((late + 2e-6) * rates.partner * 100.0) / 100.0
    assert ("Keep L" in words) == (nearer <= 2.5)
    if nearer <= 2.5:
        assert f"{nearer:.3f} m nearer" in words
        assert last("rescue", data, *pair(at=f"RB@{1.0 + nearer}")).verdict is PASS
    assert ("without swaps" in words) == (late <= rates.swap)
    if late <= rates.swap:
        near = limited("return_time", took - late)
        near["tethers"]["T3"]["anchor"] = "A0"
        assert last("rescue", near, *pair()).verdict is PASS
    home = late / (1.0 / rates.casualty - 1.0 / rates.partner)
    home = math.ceil(home * 100.0) / 100.0
    assert (f"{home:.3f} m nearer hatch" in words) == (home < 6.0)
    if home < 1.0:
        assert last("rescue", data, *pair(to=f"RC@{1.0 - home}")).verdict is PASS


def test_swaps_that_are_not_known_leave_an_interval():
    data = wall(**TWO)
    del data["tethers"]["T3"]
    found = last("rescue", data, *pair())
    assert found.high - found.low == pytest.approx(2 * 90.0, abs=1e-5)
    assert "taken for granted" in found.because


@pytest.mark.parametrize(
    ("steps", "words"),
    [
        ((move(),), "No other worker is known to be outside"),
        ((move(to="RB@1.0", name="first", lane="L"), move(to="hatch", start="RB@1.0")), "already"),
        ((move(to="A9", name="first", lane="L"), move()), "No rails lead to RC@1.0"),
    ],
)
def test_a_rescue_that_cannot_be_reckoned_is_not_asked(steps, words):
    data = wall(**TWO, anchors={"A9": {"at": [0.0, 9.0, 9.0]}})
    found = last("rescue", data, *steps)
    assert found.verdict is NOT_ASKED
    assert words in found.because


def test_a_rescue_is_asked_once():
    back = move(to="RA@1.0", start="RC@1.0", name="back")
    again = move(start="RA@1.0", name="again")
    found = findings_of(wall(**TWO), *pair(), back, again, only=("rescue",))
    asked = [(one.step, one.about[0]) for one in found]
    assert asked == [("first", "L"), ("go", "R"), ("go", "L"), ("back", "R"), ("back", "L")]


@pytest.mark.parametrize(("value", "verdict"), [(2.6, PASS), (2.4, FAIL)])
def test_companions_are_near_enough_along_rails(value, verdict):
    found = last("companion", limited("companion_distance", value), *pair())
    assert found.verdict is verdict
    assert found.low == pytest.approx(value - 2.5, abs=1e-8)
    if verdict is FAIL:
        assert "0.110 m nearer" in found.fix
        mended = last("companion", limited("companion_distance", value), *pair(at="RB@1.11"))
        assert mended.verdict is PASS
    alone = the_move("companion", wall())
    assert alone.verdict is NOT_ASKED


# ---- lines and their ends --------------------------------------------------------------


def test_a_line_leads_home_by_itself_or_by_those_left_behind():
    own = the_move("line-home", wall())
    assert own.verdict is PASS
    span = math.dist((0.0, 0.1, 0.1), (-0.4, 0.5, 0.0))
    assert own.low == pytest.approx(1.2 - span, abs=1e-8)
    change = move(start="RB@1.5", tether="T2", name="change")
    found = last("line-home", wall(), move(to="RB@1.5"), change)
    assert found.numbers["lines"] == ["T2", "T1"]
    assert found.verdict is PASS
    # The line was left where the next one was put on: too far from its anchor, none is felt.
    far = move(start="RA@0.5", tether="T2", name="change")
    found = last("line-home", wall(), move(to="RA@0.5"), far)
    assert found.verdict is NOT_ASKED
    assert "not known" in found.because


def test_no_line_of_the_scene_leads_home():
    data = wall(tethers={"T1": {"length": 3.0, "anchor": "A8"}, "T2": {"length": 3.0}})
    data["anchors"]["A8"] = {"at": [30.0, 0.1, 0.0]}
    found = the_move("line-home", data)
    assert found.verdict is FAIL
    # From A4 to A8: 26 m less a break at both ends, and 2 m of line beyond the slack.
    short = math.dist((30.0, 0.1, 0.0), (4.0, 0.1, 0.1)) - 2 * 1.2 - 2.0
    assert found.high == pytest.approx(-short, abs=1e-8)
    assert f"{math.ceil(short * 1000) / 1000:.3f} m longer" in found.fix
    for tether in data["tethers"].values():
        tether["length"] += math.ceil(short * 1000) / 1000
    assert the_move("line-home", data).verdict is NOT_ASKED


@pytest.mark.parametrize(
    ("rating", "verdict"), [("2 kN", PASS), ("75 lbf", PASS), ("300 N", FAIL), (None, NOT_ASKED)]
)
def test_anchors_bear_the_pull(rating, verdict):
    data = wall()
    data["anchors"]["A0"]["rating"] = rating
    found = the_move("anchor", data)
    assert found.verdict is verdict
    assert found.low == found.high or verdict is NOT_ASKED
    if verdict is FAIL:
        assert found.fix.endswith("A4.")


def test_a_hook_in_the_open_is_seen_and_one_in_the_wall_is_not():
    assert the_move("hook", wall()).verdict is PASS
    data = wall(anchors={"A0": {"at": [0.0, -0.2, 0.1]}})
    assert the_move("hook", data).verdict is FAIL
    # Half in the wall: nothing is proved, half the points are hidden at least.
    data = wall(anchors={"A0": {"at": [0.0, -0.019, 0.1]}})
    assert the_move("hook", data).verdict is OPEN
    away = the_move("hook", wall(), move(start="RB@1.0"))
    assert away.verdict is NOT_ASKED
    assert "nobody looks there" in away.because


def test_a_box_round_a_hook_hides_it():
    sides = {
        f"side {k}": {"box": size, "at": at}
        for k, (size, at) in enumerate(
            [
                ([0.02, 0.3, 0.4], [-0.15, 0.15, 0.1]),
                ([0.02, 0.3, 0.4], [0.15, 0.15, 0.1]),
                ([0.4, 0.3, 0.02], [0.0, 0.15, 0.3]),
                ([0.4, 0.02, 0.4], [0.0, 0.32, 0.1]),
            ]
        )
    }
    found = the_move("hook", wall(solids=sides))
    assert found.verdict is OPEN
    assert found.numbers["share"] < 0.5


def test_hook_points_lie_on_their_ball_and_mirror():
    assert np.linalg.norm(CORNERS, axis=1) == pytest.approx(1.0)
    assert len({tuple(np.round(c, 9)) for c in CORNERS}) == 12
    x, eye, out = np.array([1.0, 2, 3]), np.array([1.5, 1.0, 3.3]), np.array([0.0, 1.0, 0.0])
    points = hook_points(x, eye, out)
    assert np.linalg.norm(points - x, axis=1) == pytest.approx(HOOK)
    flip = np.array([1.0, 1.0, -1.0])
    mirrored = hook_points(x * flip, eye * flip, out * flip) * flip
    gap = np.linalg.norm(points[:, None] - mirrored[None], axis=2).min(axis=1)
    assert gap == pytest.approx(0.0, abs=1e-12)


def test_a_hook_is_asked_about_where_a_line_is_taken():
    change = move(start="RB@1.5", tether="T2", name="change")
    later = move(to="RA@1.0", start="RC@1.0", name="later")
    asked = findings_of(wall(), move(to="RB@1.5"), change, later, only=(hook.NAME,))
    assert [one.step for one in asked] == ["go", "change"]


# ---- what boots, gloves, line and slack meet -------------------------------------------

LAMP = {"box": [0.2, 0.2, 0.2], "at": [3.5, 1.0, 1.6]}


def test_boots_keep_off_what_does_not_bear_a_kick():
    assert the_move("kick", wall()).verdict is NOT_ASKED
    weak = wall(solids={"lamp": {**LAMP, "kick_load": "100 N"}})
    assert the_move("kick", weak).verdict is PASS
    low = {**LAMP, "at": [3.5, 0.9, 0.3]}
    found = the_move("kick", wall(solids={"lamp": {**low, "kick_load": "100 N"}}), ALONG)
    assert found.verdict is FAIL
    assert "lamp" in found.because and "guard" in found.fix
    strong = the_move("kick", wall(solids={"lamp": {**low, "kick_load": "600 N"}}), ALONG)
    assert strong.verdict is NOT_ASKED
    hazard = wall(hazards={"lamp": {**low, "kind": "no-touch", "kick_load": "100 N"}})
    assert the_move("kick", hazard, ALONG).low == pytest.approx(found.low, abs=1e-3)


def test_the_swept_gap_is_no_more_than_what_samples_find():
    data = wall(solids={"lamp": {**LAMP, "kick_load": "100 N"}})
    site, situation = situation_of(data)
    corridor = corridor_of(site, situation)
    tree = tree_of(site, situation.surroundings, "lamp")
    near = moving_near(corridor, tree, corridor.mover.n_legs, 9.0)
    # Brute force: along straight pieces the legs keep their turn; sample each densely.
    low, high = np.array(LAMP["at"]) - 0.1, np.array(LAMP["at"]) + 0.1
    best = np.inf
    for start, stop in zip(*corridor.poses, strict=True):
        if not np.allclose(start[:3, :3], stop[:3, :3]):
            continue
        for t in np.linspace(0.0, 1.0, 60):
            pose = start + t * (stop - start)
            for k in range(corridor.mover.n_legs):
                ends = np.array([corridor.mover.p[k], corridor.mover.q[k]])
                p, q = ends @ pose[:3, :3].T + pose[:3, 3]
                x = p + np.linspace(0.0, 1.0, 60)[:, None] * (q - p)
                off = np.linalg.norm(x - np.clip(x, low, high), axis=1).min()
                best = min(best, off - corridor.mover.radius[k])
    assert near.low <= best + 1e-9
    assert near.high >= best - 0.02


CONE = {"kind": "vent", "cone": {"base": 0.05, "top": 0.6, "height": 1.5}}


@pytest.mark.parametrize(
    ("at", "active", "verdict"),
    [
        ([3.5, 0.6, -0.5], [], FAIL),
        ([3.5, 0.6, -0.5], [["0:20", "0:40"]], FAIL),
        ([3.5, 0.6, -0.5], [["2:00", "3:00"]], NOT_ASKED),
        ([3.5, 3.0, -0.5], [], PASS),
    ],
)
def test_bodies_stay_out_of_vents_while_they_blow(at, active, verdict):
    data = wall(hazards={"vent": {**CONE, "at": at, "active": active}})
    step = {**ALONG, "start": "00:15"}
    found = the_move("exposure", data, step)
    assert found.verdict is verdict
    if active and verdict is NOT_ASKED:
        assert the_move("exposure", data, {**step, "duration": "2 h"}).verdict is FAIL
        assert the_move("exposure", data, ALONG).verdict is FAIL  # no times: it always counts


def test_a_body_at_work_is_asked_about_vents_too():
    stand = {"kind": "foot restraint", "chain": []}
    more = {"stations": {"S": {"at": [3, 0, 0], "up": [0, 1, 0], "toes": [0, 0, 1]}}}
    more["stations"]["S"]["restraint"] = "stand"
    data = wall(restraints={"stand": stand}, hazards={"vent": {**CONE, "at": [3, 1, 0]}}, **more)
    step = {"name": "s", "lane": "R", "where": "S", "actions": [{"do": "ingress"}]}
    found = the_move("exposure", data, step)
    assert found.verdict is FAIL
    data["hazards"]["vent"]["at"] = [9.0, 1.0, 0.0]
    assert the_move("exposure", data, step).verdict is PASS
    weak = {"lamp": {"box": [0.1, 0.1, 0.1], "at": [3.0, 0.5, 0.4], "kick_load": 1.0}}
    assert the_move("kick", wall(restraints={"stand": stand}, solids=weak, **more), step).high < 0.0


BURR = {"kind": "sharp edge", "box": [0.2, 0.01, 0.01]}


@pytest.mark.parametrize(
    ("at", "what", "verdict"),
    [
        ([3.5, 0.1, 0.08], "glove", FAIL),
        ([3.5, 0.1, 0.50], "glove", PASS),
        ([3.5, 0.1, 0.117], "glove", PASS),
    ],
)
def test_gloves_keep_off_edges(at, what, verdict):
    data = wall(hazards={"burr": {**BURR, "at": at}})
    found = the_move("edge", data, ALONG)
    assert found.verdict is verdict
    assert found.numbers["what"] == what
    # Of a way that is planned another may keep off, and lead the line elsewhere as well.
    planned = the_move("edge", data)
    assert planned.verdict is (OPEN if verdict is FAIL else verdict)
    assert planned.low == found.low
    # The hand runs along the axis of the rail at (y, z) = (0.1, 0): a closed form.
    assert found.low == pytest.approx(at[2] - 0.005 - 0.06 - 0.05, abs=1e-6)


def test_a_line_keeps_off_edges():
    # R wears T4 from beyond the end of RC: it runs where the hands do not.
    data = wall(anchors={"A7": {"at": [7.8, 0.1, 0.0]}}, hazards={"burr": {**BURR}})
    data["hazards"]["burr"]["at"] = [7.3, 0.1, 0.02]
    data["tethers"]["T1"]["anchor"] = "A7"
    found = the_move("edge", data)
    assert found.numbers["what"] == "line"
    assert found.verdict is FAIL
    assert "Cover burr" in found.fix
    assert the_move("edge", wall()).verdict is NOT_ASKED


def test_slack_reaches_as_far_as_an_ellipse():
    data = wall(hazards={"lamp": {"kind": "no-touch", "box": [0.1, 0.1, 0.1]}})
    data["hazards"]["lamp"]["at"] = [3.5, 4.0, 0.0]
    found = the_move("sag", data)
    assert found.verdict is PASS
    # Every place x of a line held at a and b has |x - a| + |x - b| <= its length: sampled.
    a, b = (np.array(end) for end in found.marks[0].points)
    length = np.linalg.norm(b - a) + 1.0
    rng = np.random.default_rng(3)
    x = 0.5 * (a + b) + rng.uniform(-1.0, 1.0, (200_000, 3)) * 0.5 * length
    x = x[np.linalg.norm(x - a, axis=1) + np.linalg.norm(x - b, axis=1) <= length]
    box = np.array([3.5, 4.0, 0.0])
    gaps = np.linalg.norm(x - np.clip(x, box - 0.05, box + 0.05), axis=1)
    assert found.low <= gaps.min() + 1e-9
    assert found.high == pytest.approx(gaps.min(), abs=0.05)


def test_slack_that_may_touch_is_left_to_a_control():
    lamp = {"kind": "no-touch", "box": [0.1, 0.1, 0.1], "at": [3.5, 1.2, 0.0]}
    found = the_move("sag", wall(hazards={"lamp": lamp}), ALONG)
    assert found.verdict is FAIL
    assert "may touch lamp" in found.because
    assert the_move("sag", wall(hazards={"lamp": {**lamp, "control": "cover on"}})).verdict is (
        NOT_ASKED
    )
    data = wall(hazards={"lamp": lamp})
    data["tethers"]["T1"]["worker"] = "L"
    data["workers"]["L"] = TWO["workers"]["L"]
    assert the_move("sag", data).verdict is NOT_ASKED


def test_whom_a_slack_line_lets_drift_into_what():
    near = {"kind": "no-touch", "box": [0.1, 0.1, 0.1], "at": [3.5, 1.5, 0.0]}
    far = {**near, "at": [3.5, 8.0, 0.0]}
    beyond = {**near, "at": [3.5, 40.0, 0.0]}
    found = the_move("swing", wall(hazards={"near": near, "far": far, "beyond": beyond}), ALONG)
    assert (found.low, found.high) == (-1.0, -1.0)
    assert found.numbers["near"] == ["near"]
    assert found.numbers["in the whole swing"] == ["near", "far"]
    told = the_move("swing", wall(hazards={"near": {**near, "control": "cover on"}}))
    assert told.verdict is PASS
    assert "cover on" in told.because
    # The ball reaches as far as slack and body together: just inside and just outside.
    on_rail = move("RB@1.5", start="RB@0.5", route=["RB"])
    alone = the_move("swing", wall(hazards={"near": near}), on_rail)
    body = alone.numbers["body"] + alone.numbers["off"][1]
    assert alone.numbers["off"] == pytest.approx([body - alone.numbers["body"]] * 2)
    for gap, count in ((-0.001, -1.0), (0.001, 0.0)):
        at = [3.5, 0.1 + 1.0 + body + 0.05 + gap, 0.0]
        found = the_move("swing", wall(hazards={"near": {**near, "at": at}}), on_rail)
        assert found.low == found.high == count
    assert the_move("swing", wall()).verdict is NOT_ASKED


@pytest.mark.parametrize(
    ("check", "hazard"),
    [
        ("sag", {"kind": "no-touch", "box": [0.1, 0.1, 0.1], "at": [3.5, 1.2, 0.0]}),
        ("swing", {"kind": "no-touch", "box": [0.1, 0.1, 0.1], "at": [3.5, 1.5, 0.0]}),
        ("exposure", {**CONE, "at": [3.5, 0.6, -0.5]}),
        ("kick", {**LAMP, "at": [3.5, 0.9, 0.3], "kind": "no-touch", "kick_load": "100 N"}),
        ("edge", {"box": [0.1, 0.1, 0.1], "at": [6.0, 0.2, 0.0], "kind": "sharp edge"}),
    ],
)
def test_what_is_so_on_a_way_that_was_planned_is_no_proof_against_another(check, hazard):
    data = wall(hazards={"thing": hazard})
    assert the_move(check, data, ALONG).verdict is FAIL
    planned = the_move(check, data)
    assert planned.verdict is OPEN
    assert planned.because.endswith(" Another way may keep it.")


# ---- lines that cross ------------------------------------------------------------------


def crossed(at, **more):
    """L is left with a line from above the rails to a place; R then passes along the rails."""
    data = wall(**TWO, handrails={"RX": {"from": [3.5, 0.1, 0.3], "to": [3.5, 0.1, 1.5]}})
    data["handrails"]["RX"]["out"] = [0, 1, 0]
    data["handrails"]["RY"] = {**data["handrails"]["RX"], "from": [3.5, 0.1, -0.3]}
    data["handrails"]["RY"]["to"] = [3.5, 0.1, -1.5]
    data["anchors"]["A4"] = {"at": [3.5, 0.1, 1.5], "rating": "2 kN"}
    first = move(to=at, start="RX@1.0", name="first", lane="L")
    return last("crossing", data, first, move(**more))


def test_a_line_over_the_way_is_crossed_and_one_beside_it_is_not():
    over = crossed("RY@1.0", route=["RA", "RB", "RC"])
    assert (over.low, over.high) == (-1.0, -1.0)
    planned = crossed("RY@1.0")
    assert planned.verdict is OPEN
    assert planned.because == f"{over.because} Another way may keep it."
    assert 'crosses = ["T3"]' in over.fix
    assert crossed("RY@1.0", crosses=["T3"]).verdict is PASS
    assert crossed("RX@0.5").verdict is PASS
    assert crossed("RY@1.0", to="RA@1.5").verdict is PASS
    alone = the_move("crossing", wall())
    assert alone.verdict is NOT_ASKED


def test_lines_on_one_rail_lie_beside_each_other():
    assert last("crossing", wall(**TWO), *pair()).verdict is PASS
    assert last("crossing", wall(**TWO), *pair(at="RA@0.5")).verdict is PASS


# ---- what the checks are told ----------------------------------------------------------


def test_lines_left_behind_are_remembered_until_they_are_worn_again():
    there = move(to="RB@1.5")
    change = move(to="RC@1.0", start="RB@1.5", tether="T2", name="change")
    back = move(to="RB@1.5", start="RC@1.0", name="back")
    again = move(to="RA@1.0", start="RB@1.5", tether="T1", anchor="A0", name="again")
    _, situations = resolved(wall(), there, change, back, again)
    left = [[(one.line.tether, one.at) for one in s.trail] for s in situations]
    assert left == [[], [("T1", "RB@1.5")], [("T1", "RB@1.5")], [("T2", "RB@1.5")]]


def test_a_line_to_cross_that_is_not_there_is_a_problem():
    scene = scene_of(wall())
    action = procedure_of(move(crosses=["T1", "T9"])).steps[0].actions[0]
    told = move_problems(scene, action, 0, None, lambda place, message: (place, message))
    ((place, message),) = told
    assert place == ("actions", 0, "crosses", 1)
    assert message == "unknown tether 'T9'; did you mean 'T2'?"
