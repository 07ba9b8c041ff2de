"""Checks on what is moved: sweep, bystander, approach, watch, on a crate in a yard."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
from moves import WALL
from yard import carry, findings, moved, standing, with_path, yard, yard_of

from reach.checks import approach, bystander, sweep, watch
from reach.checks.kept import kept_finding
from reach.checks.no_way import no_way_finding
from reach.finding import Verdict
from reach.payload.kept import kept
from reach.payload.planned import settled

POST = {"post": {"box": [0.2, 0.2, 2.0], "at": [0.0, 0.8, 0.0]}}
"""0.2 m from the side of the crate where it comes by in the middle of its way."""

NEAR = {"post": {"box": [0.2, 0.2, 2.0], "at": [0.0, 0.7, 0.0]}}


def one(check, data, *steps):
    (found,) = findings(check, data, *steps)
    return found


def test_a_way_that_keeps_its_stand_off_passes():
    found = one(sweep, yard())
    assert found.verdict is Verdict.PASS
    assert found.low <= 0.3 <= found.high
    assert found.answer == "payload"
    assert found.about == ("crate", "along", "wall")


def test_a_way_that_is_too_near_between_poses_fails_though_every_pose_passes():
    found = one(sweep, yard(solids=NEAR))
    assert found.verdict is Verdict.FAIL
    assert found.high == pytest.approx(0.1 - 0.2, abs=2e-3)
    assert min(found.numbers["waypoints"].values()) > 0.2
    assert "between left and right" in found.because
    assert found.numbers["gaps"]["post"]["leg"] == "between left and right"
    assert [mark.kind for mark in found.marks] == ["segment"]


def test_the_shift_that_is_named_mends_the_way():
    data = with_path(yard(solids=NEAR), through=["left", "middle", "right"])
    found = one(sweep, data, carry("way"))
    assert found.verdict is Verdict.FAIL
    words = re.match(r"Move (\w+) by ([\d.]+) m along ([+-])([xyz])", found.fix)
    name, by, sign, axis = words.groups()
    assert name == "middle"
    # At 0.1 m from the post one step of 0.1 m aside leaves no more than is asked: to the digit.
    assert (by, sign, axis) == ("0.2", "-", "y")
    data["payloads"]["crate"]["poses"][name]["at"]["xyz".index(axis)] += float(sign + by)
    assert one(sweep, data, carry("way")).verdict is Verdict.PASS


def test_no_smaller_shift_along_an_axis_would_do():
    data = with_path(yard(solids=NEAR), through=["left", "middle", "right"])
    for axis in range(3):
        for by in (-0.1, 0.1):
            moved_a_little = with_path(yard(solids=NEAR), through=["left", "middle", "right"])
            moved_a_little["payloads"]["crate"]["poses"]["middle"] = {
                "at": [by if k == axis else 0.0 for k in range(3)]
            }
            assert one(sweep, moved_a_little, carry("way")).verdict is not Verdict.PASS
    assert one(sweep, data, carry("way")).verdict is Verdict.FAIL


def test_a_start_in_contact_says_so():
    found = one(sweep, yard(), carry("off"))
    assert found.verdict is Verdict.FAIL
    assert "is in contact with wall at touching" in found.because
    assert "contact is meant" in found.fix


def test_contact_that_is_meant_is_not_judged():
    data = with_path(
        yard(), through=["touching", "left"], legs={"left": {"stand_off": {"wall": 0}}}
    )
    found = one(sweep, data, carry("way"))
    assert found.verdict is Verdict.NOT_ASKED
    data["solids"] |= POST
    found = one(sweep, data, carry("way"))
    assert found.verdict is Verdict.PASS
    assert found.numbers["contact meant"] == ["wall"]


def test_a_hazard_without_stand_off_must_not_be_touched():
    vent = {"vent": {"kind": "vent", "box": [0.4, 0.4, 0.4], "at": [0.0, 0.5, 0.0]}}
    found = one(sweep, yard(hazards=vent))
    assert found.verdict is Verdict.FAIL
    vent["vent"]["at"] = [0.0, 1.0, 0.0]
    assert one(sweep, yard(hazards=vent)).verdict is Verdict.PASS


@pytest.mark.parametrize(
    ("active", "verdict"),
    [
        ([], Verdict.FAIL),
        ([["00:30", "02:00"]], Verdict.FAIL),
        ([["00:30", "01:01"]], Verdict.OPEN),
        ([["02:00", "03:00"]], Verdict.PASS),
    ],
)
def test_what_comes_near_a_hazard_that_may_be_off_then_proves_nothing(active, verdict):
    vent = {"kind": "vent", "box": [0.4] * 3, "at": [0.0, 0.8, 0.0], "stand_off": 0.3}
    data = yard(hazards={"vent": vent | {"active": active}})
    found = one(sweep, data)
    assert found.verdict is verdict
    if verdict is Verdict.OPEN:
        assert "vent" in found.because
        assert "active" in found.because
        site, carriage = moved(data)
        assert kept(site, carriage, 0.15).answer is None
    if active:
        timeless = one(sweep, data, carry(start=None, duration=None))
        assert timeless.verdict is Verdict.OPEN


def test_a_blank_way_passes_by_the_straight_one_and_fails_by_its_ends_alone():
    straight = carry(None, to="right")
    assert one(sweep, yard(), straight).verdict is Verdict.PASS
    assert one(sweep, yard(solids=NEAR), straight).verdict is Verdict.OPEN
    near_goal = {"post": {**NEAR["post"], "at": [3.0, 0.7, 0.0]}}
    found = one(sweep, yard(solids=near_goal), straight)
    assert found.verdict is Verdict.FAIL
    assert "No way can be clear: at right" in found.because


def test_that_a_goal_is_too_near_is_proved_by_true_surfaces_alone():
    def reason(gap):
        data = yard(solids={"pipe": {"cylinder": {"radius": 0.5, "height": 2.0}}})
        # Facets of a pipe stand inside it: the gap to them is a little more.
        data["solids"]["pipe"]["at"] = [3.0, 1.0 + gap, 0.0]
        site, carriage = moved(data, carry(None, to="right"))
        found = settled(site, carriage)[1]
        return no_way_finding("sweep", carriage, found).verdict

    assert reason(0.199) is Verdict.FAIL
    assert reason(0.2001) is Verdict.OPEN


def test_that_a_way_which_was_found_is_too_near_others_is_no_proof():
    data = yard(solids=NEAR, sockets={"S": {**SOCKET, "at": [0.0, 1.8, -1.5]}})
    site, carriage = moved(data, standing("R", "S"), carry(None, to="right"))
    made, found = settled(site, carriage)
    assert found.reason == "found"
    (by,) = bystander.find(site, (made,))
    (seen,) = watch.find(site, (made,))
    assert by.verdict is seen.verdict is Verdict.OPEN
    assert "Another way" in by.because
    assert sweep.find(site, (made,))[0].verdict is Verdict.PASS


def test_a_goal_that_touches_its_seat_is_no_proof():
    data = yard(guides=GUIDE)
    data["payloads"]["crate"]["poses"]["seated"] = {"at": [-3.0, -0.5, 0.0]}
    site, carriage = moved(data, carry(None, to="seated"))
    assert settled(site, carriage)[1].reason == "not found within the budget"
    site, carriage = moved(data | {"guides": {}}, carry(None, to="seated"))
    assert settled(site, carriage)[1].reason == "goal in contact"


@pytest.mark.parametrize(
    ("path", "verdict"),
    [("along", Verdict.PASS), ("off", Verdict.REVIEW), ("in", Verdict.FAIL)],
)
def test_to_keep_no_distance_is_to_touch_nothing(path, verdict):
    data = with_path(yard(), "in", through=["left", "deep"])
    data["payloads"]["crate"]["poses"]["deep"] = {"at": [-3.0, -0.51, 0.0]}
    site, carriage = moved(data, carry(path))
    assert kept_finding("sweep", site, carriage, 0.0).verdict is verdict


def test_a_payload_without_solids_is_not_asked():
    data = yard(payloads={"ghost": {"poses": {"a": {"at": [0, 5, 0]}, "b": {"at": [1, 5, 0]}}}})
    action = {"do": "move", "payload": "ghost", "to": "b"}
    step = {"name": "go", "lane": "M", "actions": [action], "duration": "1 min"}
    assert one(sweep, data, step).verdict is Verdict.NOT_ASKED
    site, carriage = moved(data, step)
    assert settled(site, carriage) == (carriage, None)


def test_a_solid_more_never_raises_the_margin():
    before = one(sweep, yard(), carry("turning"))
    for at in ([0.0, 2.0, 0.0], [2.0, 1.1, 0.3], [9.0, 9.0, 9.0]):
        after = one(sweep, yard(solids={"more": {"box": [0.3] * 3, "at": at}}), carry("turning"))
        assert after.low <= before.low + 1e-9
        assert after.high <= before.high + 1e-9


SOCKET = {"at": [0.0, 3.0, -1.5], "axis": [0, 0, 1], "zero": [0, -1, 0]}


@pytest.mark.parametrize(("y", "verdict"), [(3.6, Verdict.PASS), (1.8, Verdict.FAIL)])
def test_others_keep_their_distance(y, verdict):
    data = yard(sockets={"S": {**SOCKET, "at": [0.0, y, -1.5]}})
    found = one(bystander, data, standing("R", "S"), carry())
    assert found.verdict is verdict
    assert found.about == ("crate", "along", "R")
    assert found.answer == "standing"
    if verdict is Verdict.FAIL:
        assert "Name R as clear_caller" in found.fix


def test_a_clear_caller_may_be_near_but_not_touched():
    near = yard(sockets={"S": {**SOCKET, "at": [0.0, 1.8, -1.5]}})
    found = one(bystander, near, standing("R", "S"), carry(clear_caller="R"))
    assert found.verdict is Verdict.PASS
    assert "clear-caller" in found.because
    hit = yard(sockets={"S": {**SOCKET, "at": [0.0, 0.3, -1.5]}})
    found = one(bystander, hit, standing("R", "S"), carry(clear_caller="R"))
    assert found.verdict is not Verdict.PASS
    assert found.low < 0.0


def test_a_worker_who_was_gone_before_is_far():
    data = yard(sockets={"S": {**SOCKET, "at": [0.0, 1.8, -1.5]}, "T": {**SOCKET, "at": [0, 9, 0]}})
    steps = (
        standing("R", "S", "near", start="00:40", duration="15 min"),
        standing("R", "T", "away", start="00:55", duration="30 min"),
    )
    assert one(bystander, data, *steps, carry()).verdict is Verdict.PASS


@pytest.mark.parametrize("times", [{}, {"start": "00:55"}])
def test_who_came_near_in_a_step_without_all_times_is_near(times):
    data = yard(sockets={"S": {**SOCKET, "at": [0.0, 1.8, -1.5]}, "T": {**SOCKET, "at": [0, 9, 0]}})
    away = standing("R", "T", "away", start="00:10", duration="10 min")
    came = standing("R", "S", "near")
    came = {key: value for key, value in came.items() if key not in ("start", "duration")} | times
    found = one(bystander, data, away, came, carry())
    assert found.verdict is Verdict.FAIL
    assert "at rest at S" in found.because


def walking(*actions, **more):
    """The wall of the moves behind the crate's way, and one step of a worker along it."""
    data = yard(solids={"wall": {"box": [12.0, 1.0, 6.0], "at": [4.0, -0.5, 0.0]}})
    data["handrails"], data["hatches"] = WALL["handrails"], WALL["hatches"]
    data["solids"]["crate-box"]["box"] = [0.6, 0.6, 0.6]
    data["payloads"]["crate"]["poses"] |= {"left": {"at": [6.5, 2.2, 0.0]},
                                           "right": {"at": [6.6, 2.2, 0.0]}}  # fmt: skip
    data["restraints"]["plate"] = {"kind": "foot restraint", "holds_torque": 100.0}
    place = {"at": [6.5, 3.2, -1.5], "up": [0, 0, 1], "toes": [0, -1, 0], "restraint": "plate"}
    data["stations"] = {"P": place}
    step = {"name": "walk", "lane": "R", "start": "01:00", "duration": "5 min", **more}
    return data, step | {"actions": actions}


def test_every_move_of_a_step_counts_and_when_each_is_made_is_not_known():
    first = {"do": "translate", "from": "hatch", "to": "RA@1.0"}
    second = {"do": "translate", "from": "RA@1.0", "to": "RC@1.5"}
    found = one(bystander, *walking(first), carry())
    assert found.verdict is Verdict.PASS
    found = one(bystander, *walking(first, second), carry())
    assert found.verdict is Verdict.OPEN
    assert "on the way to RC@1.5" in found.because


def test_who_walks_and_then_stands_in_one_step_is_left_standing():
    walk = {"do": "translate", "from": "RA@1.0", "to": "P"}
    data, step = walking(walk, {"do": "ingress"}, where="P", start="00:30")
    found = one(bystander, data, step, carry())
    assert found.verdict is Verdict.FAIL
    assert "at rest at P" in found.because


def test_who_moves_it_without_holding_it_may_be_near_but_not_touched():
    own = {**carry(), "lane": "R"}
    near = yard(sockets={"S": {**SOCKET, "at": [0.0, 1.8, -1.5]}})
    found = one(bystander, near, standing("R", "S"), own)
    assert found.verdict is Verdict.PASS
    assert "R moves it" in found.because
    hit = yard(sockets={"S": {**SOCKET, "at": [0.0, 0.3, -1.5]}})
    found = one(bystander, hit, standing("R", "S"), own)
    assert found.verdict is not Verdict.PASS
    assert found.low < 0.0


def test_who_has_gone_along_rails_holds_nothing_any_more():
    bar = {"bar": {"in": "crate", "from": [-0.2, 0.6, 0.0], "to": [0.2, 0.6, 0.0]}}
    data, walk = walking({"do": "translate", "from": "RA@1.0", "to": "RC@1.5"})
    data["handrails"] = data["handrails"] | bar
    grip = {"name": "hold", "lane": "R", "actions": [{"do": "hold", "grips": ["bar"]}]}
    found = one(bystander, data, grip, walk, carry())
    assert found.verdict is Verdict.FAIL
    assert found.about[-1] == "R"


def test_a_clear_caller_who_comes_later_sees_nothing():
    data = yard(solids=POST, sockets={"S": {**SOCKET, "at": [6.0, 1.2, -1.5]}})
    data["solids"]["wall"]["at"] = [0.0, -4.0, 0.0]
    later = standing("R", "S", start="09:00", duration="5 min")
    found = one(watch, data, carry(clear_caller="R"), later)
    assert found.verdict is Verdict.FAIL
    assert "R is not known to stand outside then" in found.because


def test_alone_nobody_is_asked():
    assert one(bystander, yard()).verdict is Verdict.NOT_ASKED


GUIDE = {
    "G": {"payload": "crate", "pose": "seated", "at": [0.0, -0.5, 0.0], "offset": 0.02,
          "angle": "2 deg"}
}  # fmt: skip
BAR = {"bar": {"in": "crate", "from": [-0.2, 0.6, 0.0], "to": [0.2, 0.6, 0.0]}}


def seat(y=-0.5, holds=True, offset=0.02, duration="1 min"):
    """The crate is brought from 0.5 m off against the wall; seated it stands at y."""
    data = yard(
        guides={"G": {**GUIDE["G"], "offset": offset}},
        handrails=BAR,
        sockets={"S": {**SOCKET, "at": [-3.0, 1.2, -1.2]}},
    )
    poses = data["payloads"]["crate"]["poses"]
    poses["seated"] = {"at": [-3.0, y, 0.0]}
    grip = {"name": "hold", "lane": "R", "actions": [{"do": "hold", "grips": ["bar"]}]}
    align = {
        "name": "align", "lane": "R", "duration": duration, "start": "01:00",
        "actions": [{"do": "align", "guide": "G"}],
    }  # fmt: skip
    steps = [standing("R", "S"), *([grip] if holds else []), align]
    return {found.answer: found for found in findings(approach, data, *steps)}


def test_speed_is_the_way_over_the_time():
    slow, quick = seat()["speed"], seat(duration="5 s")["speed"]
    limit = slow.limits[0].value
    assert slow.high == pytest.approx(limit - 0.5 / 60.0)
    assert quick.verdict is Verdict.FAIL
    assert quick.fix.startswith("Take 10 s")


def test_the_seat_may_be_touched_where_the_guide_takes_in_and_not_before():
    assert seat()["room"].verdict is Verdict.NOT_ASKED  # the wall alone is there, and the seat
    early = seat(y=-0.55)["room"]
    assert early.verdict is Verdict.FAIL
    assert early.numbers["seat"] == ["wall"]
    assert early.numbers["before the seat"] == pytest.approx(0.05, abs=1e-3)
    assert early.high == pytest.approx(-0.03, abs=1e-3)


def test_of_a_way_that_is_not_written_early_contact_with_the_seat_is_no_fail():
    """It failed: another way may come to the seat otherwise."""
    data = yard(guides=GUIDE)
    first = next(iter(data["payloads"]["crate"]["poses"]))
    data["payloads"]["crate"]["poses"]["seated"] = {"at": [-3.0, -0.55, 0.0]}
    found = {one.answer: one for one in findings(approach, data, carry(None, to="seated"))}["room"]
    assert (found.verdict, "before the seat" in found.numbers) == (Verdict.OPEN, True)
    assert found.because.endswith("Another way may keep it.")
    with_path(data, through=[first, "seated"])
    found = {one.answer: one for one in findings(approach, data, carry("way"))}["room"]
    assert found.verdict is Verdict.FAIL


def test_a_last_leg_that_begins_in_the_seat_says_nothing_of_how_deep_it_is():
    data = yard(guides=GUIDE)
    poses = data["payloads"]["crate"]["poses"]
    poses["deep"], poses["seated"] = {"at": [-3.0, -0.79, 0.0]}, {"at": [-3.0, -0.8, 0.0]}
    with_path(data, through=["deep", "seated"])
    found = {one.answer: one for one in findings(approach, data, carry("way"))}["room"]
    assert found.verdict is Verdict.OPEN
    assert "wall" in found.about


def test_what_is_beside_the_seat_keeps_its_stand_off():
    data = yard(guides=GUIDE, solids={"jamb": {"box": [0.2, 0.4, 1.0], "at": [-2.3, -0.6, 0.0]}})
    data["payloads"]["crate"]["poses"]["seated"] = {"at": [-3.0, -0.5, 0.0]}
    first = next(iter(data["payloads"]["crate"]["poses"]))
    data["payloads"]["crate"]["paths"] = {"straight": {"through": [first, "seated"]}}
    action = {"do": "move", "payload": "crate"}
    step = {"name": "go", "lane": "M", "actions": [action], "duration": "1 min"}
    found = {one.answer: one for one in findings(approach, data, {**step, "path": "straight"})}[
        "room"
    ]
    assert found.verdict is Verdict.FAIL
    assert found.high == pytest.approx(0.1 - 0.2, abs=2e-3)
    assert "jamb" in found.about
    # A way that is found for it is one of many.
    blank = {**step, "actions": [{**action, "to": "seated"}]}
    found = {one.answer: one for one in findings(approach, data, blank)}["room"]
    assert found.verdict is Verdict.OPEN
    assert found.because.endswith("Another way may keep it.")


def test_capture_takes_the_lever_from_the_grips():
    found = seat(offset=0.05)["capture"]
    lever = math.hypot(0.0, 1.1)
    # hand_offset and hand_angle as they are shipped: 5 mm and 1 deg.
    worst = 0.005 + 2.0 * math.sin(math.radians(0.5)) * lever
    assert found.numbers["lever"] == pytest.approx(lever)
    assert found.low == pytest.approx(0.05 - worst)
    assert found.verdict is Verdict.PASS
    assert seat(offset=0.02)["capture"].verdict is Verdict.FAIL


def test_capture_by_nobody_is_open():
    assert seat(holds=False)["capture"].verdict is Verdict.OPEN


def test_a_way_that_ends_elsewhere_is_not_asked():
    assert one(approach, yard()).verdict is Verdict.NOT_ASKED


EYE = {"E": {"at": [0.0, 0.6, 6.0], "look": [0.0, 0.0, -1.0], "field": "60 deg"}}
"""Looks down on the gap between post and crate."""


def test_a_wall_between_hides_it():
    screen = {"screen": {"box": [20.0, 20.0, 0.1], "at": [0.0, 0.0, 4.0]}}
    found = one(watch, yard(cameras=EYE, solids={**POST, **screen}), carry(cameras=["E"]))
    assert found.verdict is Verdict.FAIL
    assert found.numbers["seen by"]["E"] == 0.0


def test_a_gap_to_a_post_is_seen_from_above():
    data = yard(cameras=EYE, solids=POST)
    data["solids"]["wall"]["at"] = [0.0, -4.0, 0.0]
    found = one(watch, data, carry(cameras=["E"]))
    assert found.verdict is Verdict.PASS
    assert found.numbers["seen by"]["E"] == 1.0
    blind = one(watch, data, carry())
    assert blind.verdict is Verdict.FAIL
    assert "seen by nobody" in blind.because
    # Nearer than 1 m to the post: its middle is within 0.98 m of it along x, on either side.
    reach = 2.0 * (0.6 + math.sqrt(1.0 - 0.2**2))
    assert blind.numbers["unseen"][0] <= reach <= blind.numbers["unseen"][1] + 1e-9
    assert blind.high - blind.low <= 0.11


def test_a_field_that_looks_away_sees_nothing():
    away = {"E": {**EYE["E"], "look": [0.0, 0.0, 1.0]}}
    data = yard(cameras=away, solids=POST)
    data["solids"]["wall"]["at"] = [0.0, -4.0, 0.0]
    assert one(watch, data, carry(cameras=["E"])).numbers["seen by"]["E"] == 0.0


def test_a_clear_caller_who_stands_sees_with_their_eyes():
    data = yard(solids=POST, sockets={"S": {**SOCKET, "at": [6.0, 1.2, -1.5]}})
    data["solids"]["wall"]["at"] = [0.0, -4.0, 0.0]
    found = one(watch, data, standing("R", "S"), carry(clear_caller="R"))
    assert found.numbers["seen by"]["R"] == 1.0
    assert found.verdict is Verdict.PASS


def test_where_nothing_is_near_nobody_need_watch():
    data = yard()
    data["solids"]["wall"]["at"] = [0.0, -4.0, 0.0]
    assert one(watch, data, carry()).verdict is Verdict.NOT_ASKED


def test_turning_the_world_changes_no_margin():
    frame = {"at": [7, -3, 2], "turn": [{"axis": [1, 2, 3], "angle": 0.9}]}
    turned = yard(solids=NEAR, frames={"else": frame})
    for table in (turned["solids"], turned["payloads"]["crate"]["poses"]):
        for entry in table.values():
            entry.setdefault("in", "else")
    before, after = one(sweep, yard(solids=NEAR)), one(sweep, turned)
    assert [after.low, after.high] == pytest.approx([before.low, before.high], abs=2e-3)


def test_two_runs_are_equal():
    data = yard(solids=NEAR, sockets={"S": {**SOCKET, "at": [0.0, 1.8, -1.5]}})
    for check in (sweep, bystander, watch):
        first, second = (findings(check, data, standing("R", "S"), carry()) for _ in range(2))
        assert repr(first) == repr(second)


def test_the_mark_lies_where_the_gap_is():
    found = one(sweep, yard(solids=NEAR))
    (mark,) = found.marks
    a, b = np.array(mark.points)
    assert np.linalg.norm(a - b) == pytest.approx(0.1, abs=2e-3)
    site, carriage = moved(yard(solids=NEAR))
    assert carriage.what == "crate"
    assert site.carriages == (carriage,)


# ---- what is not looked at -------------------------------------------------------------


def another(**more):
    """The yard with a second, smaller crate that comes across the way of the first."""
    data = yard(solids={"box 2": {"in": "second", "box": [0.4, 0.4, 0.4]}})
    data["payloads"]["second"] = {
        "poses": {"aft": {"at": [0.0, 4.0, 2.0]}, "fore": {"at": [1.0, 4.0, 2.0]}}
    }
    action = {"do": "move", "payload": "second", "to": "fore"}
    step = {"name": "other", "lane": "N", "actions": [action], "duration": "5 min", **more}
    return data, step


def answers(data, *steps):
    kinds = {one["lane"]: "worker" if one["lane"] in "RL" else "inside lead" for one in steps}
    site = yard_of(data, *steps, kinds=kinds)
    mine = tuple(one for one in site.carriages if one.step == "carry")
    return {found.answer: found for found in sweep.find(site, mine)}


def test_two_things_that_move_at_once_are_open():
    data, other = another(start="01:03")
    found = answers(data, carry(), other)
    assert found["payload"].verdict is Verdict.PASS
    assert found["beside other"].verdict is Verdict.OPEN
    assert "second may move meanwhile" in found["beside other"].because
    data, other = another(start="01:05")
    assert set(answers(data, carry(), other)) == {"payload"}
    data, other = another()  # at no known time
    assert "beside other" in answers(data, carry(), other)


def test_hands_that_hold_what_is_moved_are_open():
    bar = {"bar": {"in": "crate", "from": [-0.2, 0.6, 0.0], "to": [0.2, 0.6, 0.0]}}
    data = yard(handrails=bar, sockets={"S": {**SOCKET, "at": [-3.0, 1.8, -1.5]}})
    grip = {"name": "hold", "lane": "R", "actions": [{"do": "hold", "grips": ["bar"]}]}
    found = answers(data, standing("R", "S"), grip, carry())
    assert found["hands"].verdict is Verdict.OPEN
    assert "R hold crate while it is moved" in found["hands"].because
