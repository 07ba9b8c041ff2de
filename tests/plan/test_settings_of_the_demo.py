"""The demo's faults come out with their proof and their smallest fix."""

import pytest

from reach.files.procedure import load_procedure
from reach.files.scene import load_scene
from reach.finding import Verdict
from reach.run import check
from reach.settings.choose import choose, own_procedure


def test_a_connector_that_no_body_reaches_has_its_certificate():
    scene = load_scene("brackenfall")
    asked = own_procedure(scene)
    choice = choose(
        scene, ["CN2"], worker="W2", sizes=["small", "medium", "large"], procedure=asked
    )
    finding = choice.outcome.findings[0]
    assert finding.verdict is Verdict.FAIL
    assert "No setting of FR-1 in any free socket serves CN2" in finding.because
    assert "from SK6, even for the large body" in finding.because
    (large,) = [k for k, ask in enumerate(choice.asks) if ask.case == "large"]
    least = min(float(short[large]) for short in choice.grid.alone.values())
    assert least == pytest.approx(0.6, abs=0.05)
    assert finding.high <= -least
    assert all(short.whole for short in choice.grid.short.values())


def test_a_bolt_out_of_reach_is_done_from_the_other_socket_from_the_start():
    outcome = check("brackenfall", only=["reach"])
    (fix,) = [f.fix for f in outcome.findings if f.step.startswith("28")]
    assert "Put FR-1 in SK4" in fix
    assert "from the start" in fix
    served = fix.split("it serves ")[1].split(" too")[0].split(", ")
    scene = load_scene("brackenfall")
    steps = load_procedure(None, scene).procedure.steps
    where, from_sk3 = "", set()
    for step in steps:
        if step.lane != "W1":
            continue
        where = step.where or where
        if where == "SK3" and step.name != "28 IB2":
            from_sk3 |= {one.fastener for one in step.actions if one.do == "drive"}
    assert from_sk3
    assert from_sk3 <= set(served)
    assert "SK3 is not needed" in fix


def test_a_bolt_too_strong_for_a_tether_names_a_socket_instead():
    outcome = check("brackenfall", only=["torque"])
    (finding,) = [f for f in outcome.findings if f.verdict is Verdict.FAIL]
    assert finding.step.startswith("34")
    assert "Hold W2 by FR-" in finding.fix
    assert " in SK" in finding.fix
