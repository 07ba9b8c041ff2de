"""The whole pipe on a small folder: what is found, what was not asked, what it rests on."""

import pytest

from reach.checks import CHECKS, of_outing
from reach.files.problem import InputError
from reach.finding import Verdict
from reach.run import check

SCENE = """
format = 1
title = "A bolt"
procedure = "turn.toml"
use = ["shipped:suits", "shipped:tools", "shipped:sizes"]

[workers.W1]
size = "medium"
suit = "unsuited"

[solids.wall]
box = [0.05, 0.6, 0.6]
at = [0.68, 0.0, 1.2]

[stations.floor]
at = [0, 0, 0]
up = [0, 0, 1]
toes = [1, 0, 0]
restraint = "none"

[restraints.none]
kind = "none"

[fasteners.bolt]
at = [0.65, -0.1, 1.2]
axis = [-1, 0, 0]
torque = "10 N m"
"""
TURN = """
format = 1
title = "Turn it"
lanes = { W1 = "worker" }

[[steps]]
name = "turn"
lane = "W1"
where = "floor"
actions = [{ do = "drive", fastener = "bolt", tool = "power-drive", bit = "S-16" }]
"""


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "scene.toml").write_text(SCENE, encoding="utf-8")
    (tmp_path / "turn.toml").write_text(TURN, encoding="utf-8")
    return tmp_path


def test_a_run_finds_in_the_order_of_checks_and_says_what_it_rests_on(folder):
    told = []
    out = check(folder, say=lambda *words: told.append(words))
    asked = [one.check for one in out.findings]
    order = [one.NAME for one in CHECKS]
    assert asked == sorted(asked, key=order.index)
    (reach,) = (one for one in out.findings if one.check == "reach")
    assert reach.verdict is Verdict.PASS
    assert dict(out.not_asked).keys() == {
        "socket", "two-handed", "error", "ingress", "torque", "load", "push", "sizes", "share",
        "route", "gap", "rails", "hands", "pace", "corridor", "stand-off", "passing", "tether",
        "rescue", "companion", "line-home", "anchor", "hook", "kick", "exposure", "edge",
        "crossing", "sag", "swing", "crane-reach", "joints", "links", "boarding", "stop", "grips",
        "hand-hazard", "helmets", "momentum", "pinch", "sweep", "bystander", "approach", "watch",
        "touch", "tool-class", *(one.NAME for one in CHECKS if of_outing(one)),
    }  # fmt: skip
    assert dict(out.not_asked)["torque"] == "No step gives it anything to judge."
    assert dict(out.not_asked)["sizes"] == "No step asks for it."
    assert [name.rpartition("/")[2] for name, _ in out.inputs if "models" not in name] == [
        "scene.toml",
        "turn.toml",
    ]
    assert all(len(sha256) == 64 for _, sha256 in out.inputs)
    assert {path.split(".")[0] for path, _, _ in out.assumptions} >= {"limits", "suits"}
    assert told[0] == (0, 1, "turn") and told[-1] == (1, 1, "done")
    assert (out.title, out.procedure) == ("A bolt", "Turn it")
    assert len(out.situations) == 1


def test_a_population_is_asked_on_top_and_says_that_it_is_drawn(folder):
    out = check(folder, only=["reach", "share"], population="n=6, sex=female, seed=2")
    assert [(one.check, one.case) for one in out.findings] == [
        ("reach", "medium"),
        ("share", "6 female people seed 2"),
    ]
    values = {path: (value, source) for path, value, source in out.assumptions}
    assert values["people.drawn"][0] == "6 female people, seed 2"
    assert "invented people" in values["people.drawn"][1].source
    assert {"people.female", "people.male"} <= values.keys()
    with pytest.raises(InputError, match="must be at least 1, found 0"):
        check(folder, population=0)


def test_only_the_checks_and_sizes_asked_for_are_run(folder):
    out = check(folder, only=["A1", "sizes"], sizes=["small", "large"])
    assert [(one.check, one.case) for one in out.findings] == [
        ("reach", "small"),
        ("reach", "large"),
        ("sizes", "small, large"),
    ]
    assert out.not_asked == ()
    with pytest.raises(ValueError, match="did you mean 'reach'"):
        check(folder, only=["reech"])
    with pytest.raises(ValueError, match="no size 'tall'"):
        check(folder, sizes=["tall"])
    with pytest.raises(InputError):
        check(folder / "nowhere")


def test_two_runs_find_the_same(folder):
    assert repr(check(folder).findings) == repr(check(folder).findings)
