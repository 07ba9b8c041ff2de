"""Clear-callers whose steps, or whose motion, say no start: when they are where is not fixed."""

from test_payload_checks import POST, SOCKET
from yard import carry, standing, yard, yard_of

from reach.checks import watch

KINDS = {"R": "worker", "M": "inside lead", "IN": "inside lead"}
MOTION = carry(start="00:53", duration="5 min", clear_caller="R")
LATE = {
    "name": "x", "lane": "IN", "start": "00:10", "duration": "10 min",
    "between": ["2 min", "80 min"], "actions": [{"do": "confirm", "what": "x"}],
}  # fmt: skip
STAND = {"name": "stands", "start": "00:05", "duration": "3 min"}


def way(name, origin, to, **more):
    actions = [{"do": "translate", "from": origin, "to": to}]
    written = {"route": ["RR"], "duration": "10 min", "actions": actions}
    return {"name": name, "lane": "R", **written, **more}


def go(**more):
    return way("go", "S", "RR@5.0", **more)


def said(*steps):
    """The verdict, and why."""
    data = yard(
        solids=POST,
        sockets={"S": {**SOCKET, "at": [6.0, 1.2, -1.5]}},
        handrails={"RR": {"from": [6.5, 1.2, -1.5], "to": [12.0, 1.2, -1.5], "out": [0, 0, 1]}},
    )
    data["solids"]["wall"]["at"] = [0.0, -4.0, 0.0]
    site = yard_of(data, *steps, kinds=KINDS)
    (found,) = watch.find(site, site.carriages)
    return str(found.verdict), found.because


def test_who_goes_as_soon_as_a_step_is_over_may_go_before_the_motion():
    stand = {**standing("R", "S", duration="10 min"), "between": ["2 min", "10 min"]}
    verdict, because = said(stand, go(), MOTION)
    assert verdict == "open"
    assert "when step 'go' begins is not fixed: it may be in the motion" in because
    assert said(stand, go(after=["carry"]), MOTION)[0] == "pass"
    assert said(stand, go(start="01:30"), MOTION)[0] == "pass"
    sure = standing("R", "S", duration="10 min")
    assert said(sure, go(), MOTION)[0] == "pass"


def test_who_stands_once_another_step_is_over_may_stand_too_late():
    come = way("come", "RR@5.0", "S", start="00:10", duration="5 min")
    stand = standing("R", "S", start=None)
    stand = {key: value for key, value in stand.items() if key != "start"}
    assert said(LATE, come, {**stand, "after": ["x"]}, MOTION)[0] == "open"
    short = {**LATE, "between": ["2 min", "10 min"]}
    assert said(short, come, {**stand, "after": ["x"]}, MOTION)[0] == "pass"


def test_a_motion_that_begins_when_another_step_is_over_may_begin_when_nobody_looks():
    waits = {key: value for key, value in MOTION.items() if key != "start"} | {"after": ["x"]}
    stand = {**standing("R", "S"), **STAND}
    assert said(LATE, stand, go(start="00:50"), waits)[0] == "open"
    assert said(LATE, stand, go(start="00:50", after=["carry"]), waits)[0] == "pass"
    assert said(LATE, stand, waits)[0] == "pass"
