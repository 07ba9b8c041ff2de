"""A limit that a measured length, angle or time exactly meets is review, wherever the scene lies.

Each scene is run once to see what is left of a limit; the limit is moved by just that, so that
nothing is left.  By rounding alone one frame would then pass and another fail: none may.
"""

from __future__ import annotations

import copy
import math
from typing import Any

import cranes
import errands
import moves
import numpy as np
import pytest
import yard
from bench import resolved
from elsewhere import FRAMES, HERE, by_the_door, put
from ties import AT_THE_CRANE, FULL, IN_THE_YARD, SEAT, SEATING, TIES, WAY, beside, crane

from reach.finding import Verdict
from reach.geometry import transform_points
from reach.payload.bodies import body_of
from reach.travel import beside as beside_lines

ELSEWHERE = ("turned", "10 km off", "10 km off and turned", "10 km off and turned a third way")

OPEN = ("tether: as", "access", "inner", "bystander", "grips", "helmets")
"""What is not known to better than a wide bracket: met at its low end it does not pass."""


@pytest.mark.parametrize("name", TIES)
def test_a_limit_that_is_exactly_met_is_too_close_to_call_wherever_the_scene_lies(name, tmp_path):
    tie = TIES[name]
    value = tie.met(tmp_path)
    wanted = Verdict.REVIEW
    if name.startswith(OPEN):
        wanted = Verdict.OPEN
    if tie.check == "tether-riding":  # a straight line that is long enough proves nothing
        wanted = Verdict.NOT_ASKED
    told = {frame: tie.find(tmp_path, value, frame) for frame in (HERE, *ELSEWHERE)}
    assert {frame: one.verdict for frame, one in told.items()} == dict.fromkeys(told, wanted)


# ---- ties that no limit moves ----------------------------------------------------------------


def room_at_the_seat(depth: float) -> dict[str, Any]:
    """The crate meets the wall ``depth`` before it is seated; its guide takes in 20 mm."""
    data = copy.deepcopy(SEAT)
    del data["solids"]["jamb"]
    data["guides"]["G"]["offset"] = 0.02
    data["payloads"]["crate"]["poses"]["seated"]["at"] = [-3.0, -0.5 - depth, 0.0]
    return data


@pytest.mark.parametrize("frame", FRAMES)
@pytest.mark.parametrize(
    ("depth", "verdict"),
    [(0.0199, Verdict.NOT_ASKED), (0.02, Verdict.REVIEW), (0.0202, Verdict.FAIL)],
)
def test_contact_just_where_a_guide_begins_to_take_in_is_review(depth, verdict, frame, tmp_path):
    """It was a fail or nothing at all, as rounding had it."""
    data = put(room_at_the_seat(depth), frame)
    found = by_the_door(tmp_path, data, SEATING, ("approach",), IN_THE_YARD)
    assert [one.verdict for one in found if one.answer == "room"] == [verdict]


def sliding(path: str) -> tuple[dict[str, Any], dict[str, Any]]:
    """Nothing is asked but not to touch: a crate that comes to a wall, slides on it or goes in."""
    poses = {
        "there": {"at": [3.0, -0.5, 0.0]}, "deep": {"at": [-3.0, -0.6, 0.0]},
        "past": {"at": [3.0, 0.0, 0.0]},
    }  # fmt: skip
    paths = {
        "up to it": {"through": ["left", "touching"]},
        "along it": {"through": ["touching", "there"]},
        "into it from afar": {"through": ["left", "deep"]},
        "into it": {"through": ["touching", "deep"]},
        "edge past edge": {"through": ["left", "past"]},
    }
    data = yard.yard(limits={"payload_clearance": 0.0})
    data["payloads"]["crate"]["poses"] |= poses
    data["payloads"]["crate"]["paths"] |= paths
    if path == "edge past edge":
        data["solids"]["wall"] = {"box": [0.2, 0.2, 0.2], "at": [0.0, 0.6, 0.6]}
    return data, {**yard.carry(path), "placed": {"crate": paths[path]["through"][0]}}


@pytest.mark.parametrize("frame", FRAMES)
@pytest.mark.parametrize(
    ("path", "verdict"),
    [
        ("up to it", Verdict.REVIEW),
        ("along it", Verdict.REVIEW),
        ("edge past edge", Verdict.REVIEW),
        ("into it from afar", Verdict.FAIL),
        ("into it", Verdict.FAIL),
    ],
)
def test_a_payload_that_just_touches_where_no_distance_is_asked_is_review(
    path, verdict, frame, tmp_path
):
    """It failed or not, as rounding had it; what goes in deeper later on still fails."""
    data, step = sliding(path)
    (found,) = by_the_door(tmp_path, put(data, frame), (step,), ("sweep",), IN_THE_YARD)
    assert found.verdict is verdict


@pytest.mark.parametrize("frame", FRAMES)
@pytest.mark.parametrize(
    ("farther", "verdict"),
    [(-1e-6, Verdict.FAIL), (0.0, Verdict.OPEN), (1e-6, Verdict.PASS)],
)
def test_whether_a_hazard_just_as_far_as_one_drifts_counts_is_not_known(
    farther, verdict, frame, tmp_path
):
    """A number of hazards has nothing between one and none: open, never one of them by rounding."""
    thing = {"kind": "keep-out", "box": [0.4, 0.4, 0.4], "at": [3.5, 0.1, 3.0], "stand_off": 0.0}
    along = (moves.move(to="RB@1.8", start="RB@0.2", route=["RB"]),)
    data = moves.wall(hazards={"thing": thing}, limits={"tether_slack": 0.5})
    (found,) = by_the_door(tmp_path, put(data, HERE), along, ("swing",))
    # Its under side is 2.8 m over the rail.
    off = found.numbers["body"] + found.numbers["off"][0]
    data["hazards"]["thing"]["stand_off"] = 2.8 - 0.5 - off - farther
    (found,) = by_the_door(tmp_path, put(data, frame), along, ("swing",))
    assert found.verdict is verdict


@pytest.mark.parametrize("frame", FRAMES)
def test_what_lies_just_as_far_off_as_is_at_hand_is_at_hand(frame, tmp_path):
    """3 m along x, 4 m along y: 5 m, however that is turned."""
    data = errands.yard(limits={"at_hand": 5.0}, anchors={"shelf": {"at": [6.0, 4.0, 0.0]}})
    begin = {"items": {**errands.PACKED, "lamp": "shelf"}, "workers": {"W": "SK1"}}
    steps = (errands.step("take it", errands.take("lamp"), where="SK1", restraint="FR"),)
    found = by_the_door(tmp_path, put(data, frame), steps, ("present",), errands.LANES, begin=begin)
    assert [one.verdict for one in found if "lamp" in one.about] == [Verdict.PASS]


@pytest.mark.parametrize("frame", FRAMES)
def test_a_crane_just_at_its_reserve_without_a_posture_is_open(frame, tmp_path):
    """It was review where rounding put it outside, though no posture was found."""
    reserve = 1.0 - math.dist((14.4, 0.0, 1.0), (0.0, 0.0, 0.0)) / FULL
    data = crane(limits={"crane_reserve": reserve})
    steps = (cranes.crane_step("too far"),)
    found = by_the_door(tmp_path, put(data, frame), steps, ("crane-reach",), AT_THE_CRANE)
    assert {one.verdict for one in found} == {Verdict.OPEN}


def in_unit(data: Any, unit: str, metres: float) -> Any:
    """Return a scene with every place and size in another unit, as a program converts them."""
    if not isinstance(data, dict):
        return data
    lengths = {"at", "from", "to", "box"}
    return {
        key: [f"{one / metres!r} {unit}" for one in value]
        if key in lengths and isinstance(value, list)
        else value
        if key == "headings"  # directions
        else in_unit(value, unit, metres)
        for key, value in data.items()
    }


UNITS = {"m": 1.0, "ft": 0.3048, "in": 0.0254, "mm": 0.001}
EVERYWHERE = [(frame, "m") for frame in (HERE, *ELSEWHERE)] + [
    ("10 km off and turned", unit) for unit in ("ft", "in", "mm")
]


def hung_over(deeper: float) -> tuple[dict[str, Any], tuple[dict[str, Any], ...]]:
    """A line hangs over the way of another by just as much as it may be led aside, or deeper."""
    data = moves.wall(
        workers={"L": {"size": "small", "hand": "left", "suit": "halden"}},
        tethers={"T3": {"length": 12.0, "anchor": "A4", "worker": "L"}},
        anchors={"A4": {"at": [3.5, 0.1, 1.5], "rating": "2 kN"}},
        handrails={"RX": {"from": [3.5, 0.1, 1.5], "to": [3.5, 0.1, -1.0], "out": [0, 1, 0]}},
    )
    # Sides are looked at every 45 deg from half of that off the line, which goes 6 m on, 0.1 down.
    aside = 0.10 * math.sin(math.radians(67.5) + math.atan(0.1 / 6.0))
    first = moves.move(f"RX@{1.5 + aside + deeper!r}", "RX@0.5", name="first", lane="L")
    return data, (first, *WAY)


@pytest.mark.parametrize(("frame", "unit"), EVERYWHERE)
@pytest.mark.parametrize(
    ("deeper", "verdict"),
    [(-1e-4, Verdict.PASS), (0.0, Verdict.OPEN), (1e-4, Verdict.FAIL)],
)
def test_whether_a_line_just_a_decimetre_beside_another_crosses_it_is_not_known(
    deeper, verdict, frame, unit, tmp_path
):
    data, steps = hung_over(deeper)
    moved = put(in_unit(data, unit, UNITS[unit]), frame)
    found = by_the_door(tmp_path, moved, steps, ("crossing",))
    assert found[-1].verdict is verdict


@pytest.mark.parametrize("frame", FRAMES)
def test_lines_that_lie_on_rails_just_as_near_are_seen_from_between_them(frame, tmp_path):
    """Two rails side by side, held from square sides: which is nearer was rounding.

    Seen from the one side the lines cross, from the other they lie behind each other.
    """
    data = moves.wall(
        handrails={
            "RB": {"from": [2.5, 0.1, 0.1], "to": [4.5, 0.1, 0.1], "out": [0, 1, 0]},
            "RD": {"from": [2.5, 0.1, -0.1], "to": [4.5, 0.1, -0.1], "out": [0, 0, 1]},
        }
    )
    site, (situation,) = resolved(put(data, frame), moves.move("RA@1.0"))
    world = site.world_from["elsewhere"]
    line = transform_points(world, np.array([[3.0, 0.1, 0.0], [3.5, 0.1, 0.0], [4.0, 0.1, 0.0]]))
    out = beside_lines.outward(site, situation, line)
    # Both count alike, at each of the three points.
    wanted = world[:3, :3] @ [0.0, 1.0, 1.0] / math.sqrt(2.0)
    assert out == pytest.approx(wanted, abs=1e-9)


def called_by(y: float) -> tuple[dict[str, Any], tuple[dict[str, Any], ...]]:
    """A crate passes its clear-caller, who stands ``y`` beside the middle of its way."""
    return beside(y)[0], (yard.standing("R", "S"), yard.carry(clear_caller="R"))


def touched_at() -> float:
    """Where the clear-caller stands if the side of the crate, 0.5 m off its way, touches them."""
    site, carriage = yard.moved(*called_by(3.0)[:1], *called_by(3.0)[1])
    (stay,) = carriage.bystanders
    rows = body_of(site, stay.situation)[0]
    assert stay.situation.place is not None
    ends = transform_points(stay.situation.place.world_from_boots, rows[:, :6].reshape(-1, 3))
    ends = ends.reshape(-1, 2, 3)
    # Only who is as high as the crate; all of it passes them.
    level = np.abs(ends[:, :, 2]).min(axis=1) < 0.5
    return float(3.0 + 0.5 - (ends[:, :, 1].min(axis=1) - rows[:, 6])[level].min())


@pytest.mark.parametrize(("frame", "unit"), EVERYWHERE)
@pytest.mark.parametrize(
    ("deeper", "verdict"),
    [(-1e-4, Verdict.REVIEW), (0.0, Verdict.REVIEW), (1e-4, Verdict.FAIL), (0.7, Verdict.FAIL)],
)
def test_a_clear_caller_whom_a_payload_just_touches_is_review(
    deeper, verdict, frame, unit, tmp_path
):
    """Whom it goes into for certain fails; that was review as well, however deep it went."""
    data, steps = called_by(touched_at() - deeper)
    moved = put(in_unit(data, unit, UNITS[unit]), frame)
    (found,) = by_the_door(tmp_path, moved, steps, ("bystander",), IN_THE_YARD)
    assert found.verdict is verdict
