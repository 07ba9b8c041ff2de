"""What slow twins of lines, rides and lookouts caught: each test is named after what broke."""

import chores
import cranes
import numpy as np
import pytest
from bench import resolved, scene_of
from chores import about, job
from errands import step
from errands import yard as row_of_rails
from moves import move, wall
from test_outing_checks import TWO, last
from test_payload_checks import POST, SOCKET
from yard import carry, standing
from yard import findings as payload_findings
from yard import yard as payload_yard

from reach.checks import anchored, boarding, line_home, tether_riding, watch
from reach.files.people import load_population
from reach.finding import Verdict
from reach.model.procedure import Procedure
from reach.situations import resolve

PASS, FAIL, OPEN, NOT_ASKED = Verdict.PASS, Verdict.FAIL, Verdict.OPEN, Verdict.NOT_ASKED

# ---- who rides --------------------------------------------------------------------------

OFF = job("off", "W1", {"do": "ingress"}, where="S2", restraint="FR", setting=chores.SET)
AWAY = job("away", "CO", "move crane to out", start="01:00")
ON_THE_TIP = chores.begun(workers={"W1": "up"}, items={"FR": "S2"})


def test_who_may_still_be_on_the_tip_when_it_moves_needs_a_line_there():
    """As written they have left; nothing makes the crane wait."""
    found = chores.findings(anchored, OFF, AWAY, begin=ON_THE_TIP)
    mine = about(found, "W1", "Arm")
    assert (mine.verdict, mine.numbers["orders"]) == (FAIL, "another order")
    found = chores.findings(anchored, OFF, {**AWAY, "after": ["off"]}, begin=ON_THE_TIP)
    assert [one for one in found if "W1" in one.about] == []


def test_hips_are_over_the_soles():
    ride = (job("up", "W1", {"do": "ingress"}, where="up"), AWAY)
    (found,) = chores.findings(tether_riding, *ride, begin=ON_THE_TIP)
    site, _ = chores.resolved(*ride, begin=ON_THE_TIP)
    body, suit = site.asked[0].body, site.asked[0].suit
    assert suit.sole > 0.0
    hips = np.array([13.0, 1.0, body.links.hip + suit.sole])
    assert found.numbers["straight"] == pytest.approx(np.linalg.norm(hips - [0.5, 0.0, 0.0]))


def test_the_second_on_a_tip_has_hips_of_their_own():
    steps = [job(f"{w} up", w, {"do": "ingress"}, where="up") for w in ("W1", "W2")]
    begin = chores.begun(workers={"W1": "up", "W2": "up"})
    tall = chores.yard(workers={"W2": {"size": "large"}})
    found = chores.findings(tether_riding, *steps, AWAY, begin=begin, scene=tall)
    assert [(one.about[0], one.verdict) for one in found] == [("W1", FAIL), ("W2", FAIL)]
    site, _ = chores.resolved(*steps, AWAY, begin=begin, scene=tall)
    for one, situation, anchor in zip(found, site.asked, ([0.5, 0, 0], [0.5, 0.5, 0]), strict=True):
        hips = [13.0, 1.0, situation.body.links.hip + situation.suit.sole]
        straight = np.linalg.norm(np.subtract(hips, anchor))
        assert one.numbers["straight"] == pytest.approx(straight)


@pytest.mark.parametrize("sizes", [["small", "large"], ["large", "small"]])
@pytest.mark.parametrize("low", [-3.0, 3.0])
def test_of_several_sizes_each_rider_is_asked_in_the_one_that_comes_farthest(sizes, low):
    """An anchor below the plate is farther from tall hips, one above from short ones."""
    steps = [job(f"{w} up", w, {"do": "ingress"}, where="up") for w in ("W1", "W2")]
    scene = chores.yard(anchors={"A1": {"at": [0.5, 0.0, low]}, "A2": {"at": [0.5, 0.5, low]}})
    asked = {"begin": chores.begun(workers={"W1": "up", "W2": "up"}), "scene": scene}
    found = chores.findings(tether_riding, *steps, AWAY, sizes=sizes, **asked)
    site, _ = chores.resolved(*steps, AWAY, sizes=sizes, **asked)
    for one, y in zip(found, (0.0, 0.5), strict=True):
        (worker, *_) = one.about
        far = {
            situation.case: np.linalg.norm(
                [12.5, 1.0 - y, situation.body.links.hip + situation.suit.sole - low]
            )
            for situation in site.asked
            if situation.worker == worker
        }
        assert set(far) == set(sizes)
        assert one.numbers["straight"] == pytest.approx(max(far.values()))
        assert f"out ({max(far, key=far.get)})" in one.because


# ---- where a ride ends ------------------------------------------------------------------


def boarded(data, *steps):
    site, situations = cranes.resolved(data, *steps)
    return [
        (one.step, one.numbers["place"], "gets on" in one.because, one.verdict)
        for one in boarding.find(site, situations)
    ]


def test_who_has_ridden_gets_off_where_the_ride_ended():
    """They were asked where they had got on, beside the rail."""
    ride = cranes.crane_step("near", start="by the mast")
    found = boarded(cranes.yard(), cranes.stand("by the mast"), ride,
                    cranes.stand("ground", "then"))  # fmt: skip
    assert found == [("stand", "by the mast", True, PASS), ("then", "near", False, FAIL)]


def test_a_tip_where_nothing_is_asked_of_a_body_has_been_boarded_all_the_same():
    tidy = {"name": "tidy", "lane": "R", "where": "near", "actions": [{"do": "wait"}]}
    steps = (cranes.stand("ground"), tidy, cranes.stand("ground", "then"))
    assert boarded(cranes.yard(), *steps) == [
        ("then", "near", True, FAIL), ("then", "near", False, FAIL),
    ]  # fmt: skip


def test_who_came_to_the_tip_along_rails_rides_on_it():
    """Who was asked nothing on the tip was left behind, and later moves began there."""
    data = cranes.yard()
    steps = (
        cranes.walk("by the mast", "R1@0.5"), cranes.crane_step("near"),
        cranes.walk("hatch", name="home"),
    )  # fmt: skip
    _, situations = cranes.resolved(data, *steps)
    assert situations[-1].passage.start == "near"
    assert situations[-1].since == ("by the mast", "near")


def test_steps_told_lane_by_lane_are_taken_in_order_of_time():
    """Places were taken in the order of the file, though starts say otherwise."""
    data = payload_yard(solids=POST, sockets={"S": SOCKET})
    later = standing("R", "S", start="02:00")
    verdicts = set()
    for steps in ([carry(), later], [later, carry()]):
        kinds = {"M": "inside lead", "R": "worker"}
        procedure = Procedure(format=1, lanes=kinds, steps=steps)
        _, (situation,) = resolve(scene_of(data), {}, procedure, load_population)
        crate = situation.surroundings.world_from["crate"][:3, 3]
        verdicts.add(tuple(crate.round(6)))
    assert verdicts == {(3.0, 0.0, 0.0)}


# ---- lines ------------------------------------------------------------------------------

CHANGE = step(
    "change",
    {"do": "attach", "what": "T2", "to": "W"},
    {"do": "release", "what": "T1", "from": "W", "to": "A1"},
    start="00:20",
)


def led_home(*between):
    data = row_of_rails()
    go, on = (
        step(name, {"do": "translate", "to": to}, start=start)
        for name, to, start in (("go", "RB@1.9", 0.0), ("on", "RC@1.0", "01:00"))
    )
    begin = {
        "workers": {"W": "RA@0.1", "V": "RC@0.2"},
        "lines": {"T1": {"hook": "A0", "reel": "W"}, "T2": {"hook": "A1", "reel": "A1"}},
    }
    procedure = Procedure(
        format=1,
        lanes={"W": "worker", "V": "worker"},
        begin=begin,
        steps=[go, CHANGE, *between, on],
    )
    site, situations = resolve(scene_of(data), {}, procedure, load_population)
    return line_home.find(site, situations)[-1].verdict


@pytest.mark.parametrize(
    "taken",
    [
        {"do": "attach", "what": "T1", "to": "V"},
        {"do": "attach", "what": "T1", "to": "A1"},
        {"do": "release", "what": "T1", "from": "A0", "to": "A1"},
    ],
)
def test_a_line_that_somebody_has_taken_up_leads_nobody_home(taken):
    assert led_home() is PASS
    assert led_home(step("tidy", taken, lane="V", start="00:40")) is NOT_ASKED


def test_a_line_taken_on_a_move_leads_nobody_else_home():
    data = wall(**TWO)
    change = move(start="RB@1.5", tether="T2", name="change")
    theft = move(start="RA@1.0", to="RA@1.5", tether="T1", name="theft", lane="L")
    on = move(start="RC@1.0", to="RC@1.5", name="on")
    assert last("line-home", data, move(to="RB@1.5"), change, on).verdict is PASS
    _, situations = resolved(data, move(to="RB@1.5"), change, theft, on)
    assert situations[-1].trail == ()


def test_of_two_lines_on_the_suit_one_that_leads_home_is_enough():
    data = row_of_rails(tethers={"T2": {"length": 1.5}}, anchors={"A1": {"at": [30.0, 0.0, 0.0]}})
    both = step("both", {"do": "attach", "what": "T2", "to": "W"}, start="00:20")
    on = step("on", {"do": "translate", "to": "RC@1.0"}, start="01:00")
    begin = {
        "workers": {"W": "RB@1.9"},
        "lines": {"T1": {"hook": "A0", "reel": "W"}, "T2": {"hook": "A1", "reel": "A1"}},
    }
    verdicts = []
    for extra in ({"do": "wait"}, {"do": "attach", "what": "T1", "to": "A1"}):
        middle = step("then", extra, start="00:40")
        procedure = Procedure(
            format=1, lanes={"W": "worker"}, begin=begin, steps=[both, middle, on]
        )
        site, situations = resolve(scene_of(data), {}, procedure, load_population)
        verdicts.append(line_home.find(site, situations)[-1].verdict)
    assert verdicts == [PASS, FAIL]


def test_a_line_that_runs_nobody_knows_where_is_not_passed_as_uncrossed():
    data = wall(**TWO)
    data["workers"]["M"] = {"size": "small", "hand": "left", "suit": "halden"}
    data["anchors"]["A9"] = {"at": [60.0, 0.1, 0.0], "rating": "2 kN"}
    data["tethers"]["T9"] = {"length": 90.0, "anchor": "A9", "worker": "M"}
    known = [move(to="RB@1.0", name="first", lane="L"), move()]
    assert last("crossing", data, *known).verdict is PASS
    third = move(to="RA@1.5", start="RA@1.0", name="third", lane="M")
    found = last("crossing", data, third, *known)
    assert (found.verdict, found.low, found.high) == (OPEN, -1.0, 0.0)
    assert found.because.endswith("Where T9 of M runs is not known.")
    declared = [known[0], move(crosses=["T9"])]
    assert last("crossing", data, third, *declared).verdict is PASS


def junction(first, second):
    """Four rails round a hub; R's line leads from one anchor and L's from another, up one rail."""
    arms = {"RE": (0.2, 0, 2.8, 0), "RN": (0, 0.2, 0, 2.8), "RW": (-0.2, 0, -2.8, 0),
            "RS": (0, -0.2, 0, -2.8)}  # fmt: skip
    data = wall(**TWO)
    data["handrails"] = {
        name: {"from": [4 + a, 0.1, b], "to": [4 + c, 0.1, d], "out": [0, 1, 0]}
        for name, (a, b, c, d) in arms.items()
    }
    data["anchors"] = {
        "A0": {"at": first, "rating": "2 kN"},
        "A4": {"at": second, "rating": "2 kN"},
    }
    steps = [move(to="RS@1.5", start="RS@1.0", name="first", lane="L"),
             move(to="RE@1.5", start="RW@1.5", route=["RW", "RE"])]  # fmt: skip
    return last("crossing", data, *steps)


def test_a_line_that_goes_out_over_another_and_back_does_not_have_to_cross_it():
    """Beside each other up the same rail, one led round the hub's far end: a fail was told."""
    assert junction([3.95, 0.3, 1.15], [3.96, 0.27, 1.27]).verdict is PASS
    assert junction([3.0, 0.2, 0.05], [4.0, 0.2, 1.15]).verdict is FAIL


# ---- lookouts ---------------------------------------------------------------------------


def seen(*steps, **between):
    sockets = {
        "S": {**SOCKET, "at": [6.0, 1.2, -1.5]}, "T": {**SOCKET, "at": [6.0, -20.0, -1.5]},
        "U": {**SOCKET, "at": [6.0, 1.6, -1.5]},
    }  # fmt: skip
    rails = {"RA": {"from": [0, -20, 0], "to": [8, -20, 0], "out": [0, 1, 0]}}
    data = payload_yard(solids=POST, sockets=sockets, handrails=rails)
    data["solids"]["wall"]["at"] = [0.0, -4.0, 0.0]
    move = {**carry(clear_caller="R"), **between}
    (found,) = payload_findings(watch, data, *steps, move)
    return found.verdict


def test_a_clear_caller_who_may_have_gone_on_is_not_there():
    """What their step may last at most was taken for how long they stay."""
    first = {**standing("R", "S", duration="11 min"), "between": ["1 min", "16 min"]}
    assert seen(first) is PASS
    assert seen(first, standing("R", "T", "away", start="01:01")) is FAIL


def test_a_clear_caller_whose_step_is_likely_over_stays_until_the_next_one():
    over = {**standing("R", "S", duration="5 min"), "between": ["1 min", "16 min"]}
    assert seen(over, standing("R", "T", "away", start="01:06")) is PASS
    assert seen(over, standing("R", "T", "away", start="01:01")) is FAIL


@pytest.mark.parametrize(("then", "verdict"), [("T", FAIL), ("U", OPEN)])
def test_what_a_clear_caller_sees_from_where_they_were_or_are_is_not_proved_unseen(then, verdict):
    """S and U see all, T nothing: when they go from one to the other was taken for a blind time."""
    first = standing("R", "S", duration="11 min")
    away = standing("R", then, "away", start="01:01")
    assert seen({**first, "between": ["1 min", "16 min"]}, away) is verdict
    assert seen(first, away, between=["1 min", "9 min"]) is verdict
    both = {**first, "between": ["1 min", "16 min"]}
    assert seen(both, away, between=["1 min", "9 min"]) is verdict


def test_what_a_short_motion_alone_would_leave_seen_is_unseen_in_a_long_one():
    """In one minute they see all of it from S, in nine they are gone to T soon."""
    first, away = standing("R", "S", duration="11 min"), standing("R", "T", "away", start="01:01")
    assert seen(first, away, duration="50 s") is PASS
    assert seen(first, away, duration="50 s", between=["50 s", "9 min"]) is FAIL


def test_a_clear_caller_whom_an_earlier_step_makes_late_twice_is_not_there_yet():
    """In T until 01:01:10 at most, then 40 s more there, then in S: nothing is near before."""
    first = standing("R", "T", duration="9 min")
    more = standing("R", "T", "more", start="01:00:30", duration="40 s")
    away = standing("R", "S", "away", start="01:01:10")
    assert seen(first, more, away) is PASS
    assert seen({**first, "between": ["1 min", "670 s"]}, more, away) is FAIL


LONG = {"duration": "30 min", "between": ["10 min", "60 min"]}
"""As written over at 01:00, when the motion begins; half an hour later at most."""


def waiting(lane, **more):
    return {"name": f"{lane} waits", "lane": lane, "start": "00:30", "actions": [], **LONG, **more}


def test_a_clear_caller_does_not_wait_for_a_motion_that_begins_late():
    """What comes before the motion in its lane may take till 01:30; R goes on at 01:15."""
    stands = standing("R", "S", duration="25 min")
    away = standing("R", "T", "away", start="01:15")
    assert seen(waiting("M", between=None), stands, away) is PASS
    assert seen(waiting("M"), stands) is PASS
    assert seen(waiting("M"), stands, away) is OPEN
    assert seen(waiting("M"), stands, {**away, "after": ["carry"]}) is PASS


def test_a_clear_caller_whom_another_lane_makes_late_is_not_there_for_sure():
    stands = {**standing("R", "S"), "after": ["L waits"]}
    assert seen(waiting("L", start="00:20"), stands) is OPEN
    assert seen(waiting("L", start="00:20"), stands, after=["R stands"]) is PASS
    assert seen(waiting("L", start="00:20", between=None), stands) is PASS


def test_a_clear_caller_on_the_way_in_the_same_step_does_not_look_from_where_they_will_stand():
    walk = standing("R", "S", start="00:59")
    assert seen(walk) is PASS
    way = {"do": "translate", "from": "RA@1.0", "to": "RA@7.0"}
    assert seen({**walk, "route": ["RA"], "actions": [way, *walk["actions"]]}) is FAIL
