"""What the page shows, without a page: a changed trial is answered as `reach ask` answers it."""

import importlib.util
import json
import logging
import math
import os
import shutil
import socket
from dataclasses import replace
from types import SimpleNamespace

import aiohttp
import pytest
from typer.testing import CliRunner

import reach
from reach.cli import app
from reach.files.filling import filled_in_place
from reach.files.moves_question import move_question
from reach.files.problem import InputError
from reach.files.procedure import load_procedure, procedure_file
from reach.files.question import question
from reach.finding import Finding, Verdict
from reach.routes import routes_between
from reach.run import check
from reach.viewer import rows
from reach.viewer.answers import (
    Answer,
    Inputs,
    Target,
    answer_of,
    best,
    ledger,
    targets,
    texts,
    whole,
)  # fmt: skip
from reach.viewer.desk import Desk
from reach.viewer.exporting import write_findings, write_setting, write_setting_into
from reach.viewer.guard import refusal
from reach.viewer.serve import ClosedWindows
from reach.viewer.stands import stands_turning
from reach.viewer.steps import action_words
from reach.viewer.watching import Watched
from reach.viewer.wayfinding import Wayfinding


def quiet(*_):
    """Nobody listens."""


@pytest.fixture(scope="module")
def inputs(osier):
    return Inputs(str(osier), None, "other.toml")


@pytest.fixture
def desk(inputs):
    return Desk(inputs)


def test_it_begins_with_what_the_procedure_turns_first(desk):
    assert (desk.trial.worker, desk.trial.where, desk.trial.fastener) == ("W1", "SA", "PB1")
    assert desk.trial.tool == "PD-A"
    assert desk.quick.verdict is Verdict.PASS


def test_a_changed_setting_is_answered_exactly_as_it_is_asked_elsewhere(desk, inputs):
    desk.turn_joint("clocking", "2")
    answer = whole(inputs, quiet, quiet, desk.trial)
    asked = question(
        inputs.loaded, where="SA", worker="W1", restraint="FR-A", setting={"clocking": 2},
        fastener="PB1", tool="PD-A", bit="B16-A",
    )  # fmt: skip
    assert answer.findings == check(inputs.loaded, asked).findings
    assert answer.findings != whole(inputs, quiet, quiet, Desk(inputs).trial).findings


def test_the_command_says_the_same(desk, inputs, osier, tmp_path):
    file = tmp_path / "found.json"
    desk.turn_joint("clocking", "1")
    CliRunner().invoke(app, [
        "ask", str(osier), "--at", "SA", "--worker", "W1", "--restraint", "FR-A", "--setting",
        "clocking=1", "--fastener", "PB1", "--tool", "PD-A", "--bit", "B16-A", "--json", str(file),
    ])  # fmt: skip
    answer = whole(inputs, quiet, quiet, desk.trial)
    said = file.read_text()
    assert all(f'"{one.because}"' in said for one in answer.findings if '"' not in one.because)


@pytest.mark.parametrize("clocking", ["0", "1", "3"])
def test_the_first_answer_is_that_of_the_check_on_reach(desk, inputs, clocking):
    desk.turn_joint("clocking", clocking)
    answer = whole(inputs, quiet, quiet, desk.trial)
    reach = next(one for one in answer.findings if one.check == "reach")
    assert desk.quick.verdict is reach.verdict
    row = next(one for one in rows.finding_rows(answer.findings) if one["check"] == "reach")
    assert desk.quick.margin == row["margin"]


def test_every_target_is_asked_from_the_trials_place(desk, inputs):
    found = {}
    names = [name for name, _ in desk.near_targets()]
    targets(inputs, quiet, lambda one: found.update({one.name: one}), desk.trial, names)
    assert set(found) == {"PB1", "PB2"}
    other = replace(desk.trial, fastener="PB2")
    assert found["PB2"].answer.findings == answer_of(inputs.checked(other)).findings


def test_what_no_check_has_answered_is_never_shown_as_passed(desk):
    row = rows.target_row("PB2", None, 1.0)
    assert row["look"] == "wait"
    assert "PASS" not in row["word"]
    misfit = Target("PB2", desk.trial, None, "takes another tool")
    assert rows.target_row("PB2", misfit, 1.0)["look"] == "none"


def test_counts_say_what_is_open_even_where_nothing_is(desk, inputs):
    words = rows.count_words(whole(inputs, quiet, quiet, desk.trial).findings)
    assert "0 fail" in words
    assert "0 open" in words


def test_what_does_not_fit_leaves_the_trial_as_it_was(desk):
    before = desk.trial
    for part, value in (("tool", "BG-A"), ("where", "nowhere"), ("nothing", "x")):
        with pytest.raises(InputError):
            desk.change(part, value)
    with pytest.raises(InputError):
        desk.turn_joint("clocking", "99")
    with pytest.raises(InputError):
        desk.turn_joint("elbow", "1")
    assert desk.trial == before


def test_a_moved_trial_forgets_what_was_known_of_other_targets(desk, inputs):
    desk.take(whole(inputs, quiet, quiet, desk.trial))
    assert set(desk.targets) == {"PB1"}
    desk.turn_joint("clocking", "1")
    assert desk.targets == {}
    assert desk.answer is None


def test_another_body_is_another_answer(desk):
    before = desk.quick.margin
    desk.change("size", "large")
    assert desk.quick.margin != before
    assert desk.trial.sizes == ["large"]


def test_the_best_setting_can_be_taken_over_and_passes(desk, inputs):
    desk.change("restraint", "plain")
    desk.turn_joint("clocking", "6")
    assert desk.quick.verdict is not Verdict.PASS
    words, found = best(inputs, quiet, quiet, desk.trial, True)
    assert "PB1" in words
    desk.take_setting(found[0])
    assert desk.quick.verdict is Verdict.PASS


def test_a_stopped_search_ends_at_its_next_word(desk, inputs):
    class StopError(Exception):
        pass

    def say(*_):
        raise StopError

    with pytest.raises(StopError):
        best(inputs, say, quiet, desk.trial, True)


def test_steps_say_who_is_where(desk):
    steps = desk.steps()
    moment = steps.at(steps.number("left bolt"))
    assert moment.people["W1"].place.name == "SA"
    assert moment.busy == ("W1",)
    assert "drive PB1 with PD-A" in action_words(moment.step)[0]
    assert desk.steps(is_other=True).worksite("left bolt").action.fastener == "PB2"


def test_a_setting_goes_into_a_copy_and_nowhere_else(desk, inputs, tmp_path, osier):
    before = (osier / "procedure.toml").read_bytes()
    desk.turn_joint("clocking", "1")
    steps = [name for one in stands(desk) for name in one.written]
    (copy,) = write_setting(tmp_path / "out", inputs, desk.trial, steps)
    assert "setting = { clocking = 1, " in copy.read_text()
    assert copy.read_text().count("\n") == before.decode().count("\n")
    assert (osier / "procedure.toml").read_bytes() == before


def test_two_exports_in_one_second_do_not_meet(tmp_path):
    first, second = (write_findings(tmp_path / "new", "{}", "a") for _ in range(2))
    assert not set(first) & set(second)
    assert all(path.exists() for path in (*first, *second))


@pytest.mark.parametrize(
    ("host", "origin", "given", "is_socket", "why"),
    [
        ("127.0.0.1:8000", None, "t", False, ""),
        ("localhost:8000", "http://localhost:8000", "t", True, ""),
        ("127.0.0.1:8000", None, "t", True, "origin"),
        ("127.0.0.1:8000", "null", "t", True, "origin"),
        ("127.0.0.1:8000", "http://127.0.0.1:8000.evil.example", "t", True, "origin"),
        ("127.0.0.1:9000", None, "t", False, "host"),
        ("127.0.0.1.evil.example:8000", None, "t", False, "host"),
        ("", None, "t", False, "host"),
        ("127.0.0.1:8000", None, None, False, "token"),
        ("127.0.0.1:8000", None, "", False, "token"),
        ("127.0.0.1:8000", None, "T", False, "token"),
    ],
)
def test_who_is_let_in(host, origin, given, is_socket, why):
    assert refusal("t", 8000, host, origin, given, is_socket) == why


# ---- a setting into the procedure ---------------------------------------------------------------

THREE_STANDS = """
[[steps]]
name = "left bolt again"
lane = "W1"
after = ["right bolt"]
duration = "4 min"
setting = { clocking = 3, pitch = "0 deg", roll = "0 deg", yaw = 0 }
actions = [{ do = "drive", fastener = "PB1", tool = "PD-A", bit = "B16-A" }]

[[steps]]
name = "right bolt again"
lane = "W1"
after = ["left bolt again"]
duration = "4 min"
setting = { clocking = 2, pitch = "0 deg", roll = "0 deg", yaw = 0 }
actions = [{ do = "drive", fastener = "PB2", tool = "PD-A", bit = "B16-A" }]
"""


@pytest.fixture
def long_desk(osier):
    """The desk of a procedure in which the worker turns bolts from three stands in one socket."""
    file = osier / "long.toml"
    file.write_text((osier / "procedure.toml").read_text() + THREE_STANDS)
    yield Desk(Inputs(str(osier), "long.toml"))
    file.unlink()


def stands(desk, trial=None):
    return stands_turning(desk.situations, desk.inputs.asked.procedure, trial or desk.trial)


def settings_of(desk, file):
    """Step -> clocking as it stands in a procedure."""
    plan = load_procedure(file, desk.inputs.loaded).procedure
    return {one.name: one.setting["clocking"] for one in plan.steps if one.setting}


def test_a_setting_goes_to_the_stands_that_turn_the_target_and_to_no_other(long_desk, tmp_path):
    long_desk.turn_joint("clocking", "1")
    first, second = stands(long_desk)
    assert (first.steps, first.written) == (("stand", "left bolt", "right bolt"), ("stand",))
    assert first.turned == ("PB1", "PB2")
    assert second.written == ("left bolt again",)
    steps = [*first.written, *second.written]
    (copy,) = write_setting(tmp_path, long_desk.inputs, long_desk.trial, steps)
    assert settings_of(long_desk, copy) == {
        "stand": 1, "left bolt again": 1, "right bolt again": 2,
    }  # fmt: skip


def test_a_repeated_setting_is_one_stand_and_is_written_wherever_it_stands(osier):
    file = osier / "repeated.toml"
    text = (osier / "procedure.toml").read_text()
    setting = next(line for line in text.splitlines() if line.startswith("setting ="))
    file.write_text(text.replace('after = ["left bolt"]', f'after = ["left bolt"]\n{setting}'))
    (stand,) = stands(Desk(Inputs(str(osier), "repeated.toml")))
    file.unlink()
    assert stand.written == ("stand", "right bolt")
    words = rows.stand_words([stand])
    assert "steps 'stand', 'right bolt'" in words
    assert "step 'left bolt' then stands by it too" in words
    assert "PB1, PB2 are turned" in words


def test_a_target_that_is_turned_from_elsewhere_takes_no_setting(desk):
    with pytest.raises(InputError, match="take a target"):
        stands(desk, replace(desk.trial, fastener=""))
    with pytest.raises(InputError, match="turned in FR-A at SA"):
        stands(desk, replace(desk.trial, where="elsewhere"))


def test_the_procedure_itself_is_written_when_told_so_and_kept_as_it_was(long_desk, tmp_path):
    desk, (source, _) = long_desk, procedure_file("long.toml", long_desk.inputs.loaded)
    before = source.read_text()
    desk.turn_joint("clocking", "1")
    steps = [name for one in stands(desk) for name in one.written]
    files, kept = write_setting_into(tmp_path, desk.inputs, desk.trial, steps)
    assert (files, kept[0].read_text()) == ([source], before)
    assert settings_of(desk, source)["left bolt again"] == 1
    changed = [
        a for a, b in zip(before.split("\n"), source.read_text().split("\n"), strict=True) if a != b
    ]
    assert len(changed) == 2
    assert all(line.startswith("setting") for line in changed)
    with pytest.raises(InputError, match="has changed since"):
        write_setting_into(tmp_path, desk.inputs, desk.trial, steps)


def test_a_procedure_that_comes_with_reach_is_not_written_into(tmp_path):
    inputs = Inputs("tallowmere")
    source, _ = procedure_file(None, inputs.loaded)
    before, trial = source.read_bytes(), Desk(inputs).trial
    with pytest.raises(InputError, match="comes with reach"):
        write_setting_into(tmp_path, inputs, trial, ["any"])
    assert source.read_bytes() == before
    assert not list(tmp_path.iterdir())


def test_a_step_in_a_table_is_filled_in_its_table(tmp_path):
    plan = tmp_path / "plan.toml"
    plan.write_text('format = 1\n[tables]\nsteps = "steps.csv"\n')
    (tmp_path / "steps.csv").write_text("# who\nname,lane,where\na,W1,SA\nb,W1,SA\n")
    new = filled_in_place(plan, "plan.toml", {"b": {"clocking": 4}})
    assert new == {
        tmp_path / "steps.csv": "# who\nname,lane,where,setting.clocking\na,W1,SA,\nb,W1,SA,4\n"
    }


# ---- the findings of all of it ------------------------------------------------------------------


def test_the_findings_of_the_whole_procedure_are_those_of_a_check(inputs):
    as_json, as_csv = texts(inputs, quiet, quiet, None)
    outcome = check(inputs.loaded, inputs.asked)
    found = json.loads(as_json)["findings"]
    assert len(found) == len(outcome.findings)
    assert {one["step"] for one in found} >= {"stand", "left bolt", "right bolt"}
    assert "right bolt" in as_csv


# ---- new files ----------------------------------------------------------------------------------


@pytest.fixture
def own(osier, tmp_path):
    """A scene of its own that may be written into; its steps are in a table."""
    folder = tmp_path / "osier"
    shutil.copytree(osier, folder)
    return folder


def test_a_file_that_changed_is_told_and_one_that_was_only_touched_is_not(own):
    (own / "extra.toml").write_bytes((own / "other.toml").read_bytes())
    watched = Watched(Inputs(str(own), None, "other.toml"))
    assert watched.changed() == []
    os.utime(own / "procedure.toml")
    (own / "extra.toml").write_text("not read")
    assert watched.changed() == []
    (own / "procedure.toml").write_text((own / "procedure.toml").read_text() + "# mine\n")
    (own / "other.toml").unlink()
    assert [path.name for path in watched.changed()] == ["procedure.toml", "other.toml"]


def test_a_table_of_steps_is_watched_and_never_written_over_once_changed(own, tmp_path):
    plan = tmp_path / "elsewhere"
    plan.mkdir()
    text = (own / "procedure.toml").read_text()
    head = text[: text.index("[[steps]]")]
    (plan / "plan.toml").write_text(head + '\n[tables]\nsteps = "steps.csv"\n')
    rows_of = "name,lane,where,restraint,setting.clocking,setting.pitch,setting.roll,setting.yaw,do"
    (plan / "steps.csv").write_text(
        f"{rows_of},fastener,tool,bit\nleft,W1,SA,FR-A,0,0 deg,0 deg,0,drive,PB1,PD-A,B16-A\n"
    )
    desk = Desk(Inputs(str(own), str(plan / "plan.toml")))
    steps = [name for one in stands(desk) for name in one.written]
    (plan / "steps.csv").write_text((plan / "steps.csv").read_text().replace("left", "mine"))
    assert [path.name for path in Watched(desk.inputs).changed()] == ["steps.csv"]
    with pytest.raises(InputError, match="has changed since"):
        write_setting_into(tmp_path / "out", desk.inputs, desk.trial, steps)
    assert "mine" in (plan / "steps.csv").read_text()


def test_new_files_are_taken_and_the_trial_stays_where_it_fits(own):
    desk = Desk(Inputs(str(own)))
    desk.turn_joint("clocking", "2")
    answer = whole(desk.inputs, quiet, quiet, desk.trial)
    plan = own / "procedure.toml"
    plan.write_text(plan.read_text().replace('"left bolt"', '"port bolt"'))
    before = desk.trial
    desk.reread()
    assert "port bolt" in {one.step for one in desk.situations}
    assert desk.trial == before
    assert desk.trial is not before  # what is still under way is about the old one
    assert desk.answer is None
    assert desk.is_of_these_files(answer)  # the scene is as it was
    (own / "scene.toml").write_text((own / "scene.toml").read_text() + "# mine\n")
    desk.reread()
    assert not desk.is_of_these_files(answer)


def test_broken_files_are_not_taken(own):
    desk = Desk(Inputs(str(own)))
    trial, situations = desk.trial, desk.situations
    plan = own / "procedure.toml"
    plan.write_text(plan.read_text().replace('fastener = "PB1"', 'fastener = "nowhere"'))
    with pytest.raises(InputError, match="nowhere"):
        desk.reread()
    assert (desk.trial, desk.situations) == (trial, situations)


# ---- the verdict above all of them --------------------------------------------------------------


def test_the_verdict_above_is_that_of_all_checks_not_of_reach_alone():
    def found(check, low, high):
        return Finding(check, "s", ("W1",), "", ".", low, high, "m")

    reach, torque = found("reach", 0.1, 0.2), found("torque", -0.2, -0.1)
    assert rows.overall_row(None)["look"] == "wait"
    assert rows.overall_row(Answer((reach, torque)))["look"] == "fail"
    assert rows.overall_row(Answer((reach, torque)))["words"] == "fails: torque"
    wide = rows.overall_row(Answer((reach, found("sight", -1.0, 1.0))))
    assert (wide["look"], wide["words"]) == ("open", "open: sight")
    assert rows.overall_row(Answer((reach,)))["look"] == "pass"
    assert rows.overall_row(Answer(()))["look"] == "none"


# ---- ways ---------------------------------------------------------------------------------------


class State(SimpleNamespace):
    """The state of a page, without a page."""

    def __enter__(self):
        return self

    def __exit__(self, *_):
        pass


@pytest.fixture
def ways(desk):
    state = State(mode="trial")
    return Wayfinding(state, desk, None)


def test_a_way_is_asked_as_the_command_asks_it(ways, inputs):
    for part, value in (("start", "SA"), ("stop", "AN-A"), ("tether", "LN-B"), ("anchor", "AN-A")):
        ways.set(part, value)
    ways.set("nothing", "x")
    item = next(iter(inputs.loaded.scene.items))
    ways.hold(item, "in_hand")
    ways.hold("nowhere", "carrying")
    ways.set("size", "large")
    asked, sizes, others = ways.asked()
    assert (asked.in_hand, asked.carrying, sizes, others) == ((item,), (), ["large"], 0)
    theirs = routes_between(
        inputs.loaded, move_question(inputs.loaded, asked), asked, sizes=sizes, others=others
    )
    ours = reach.ways(
        inputs.loaded, "SA", "AN-A", worker="W1", in_hand=[item], tether="LN-B", anchor="AN-A",
        sizes=["large"], placed=asked.placed,
    )  # fmt: skip
    assert theirs.outcome.findings == ours.outcome.findings
    assert [c.route.rails for c in theirs.choices] == [c.route.rails for c in ours.choices]
    assert theirs.situation.line.tether == "LN-B"


def test_a_way_that_answers_another_question_is_out_of_date(ways, inputs):
    ways.set("start", "SA")
    ways.set("stop", "AN-A")
    asked, sizes, others = ways._of = ways.asked()
    question = move_question(inputs.loaded, asked)
    ways.found = routes_between(inputs.loaded, question, asked, sizes=sizes, others=others)
    ways._tell(ways.found)
    assert ways.state.way["word"] == "PASS"
    assert not ways.state.way_is_old
    rail = next(iter(inputs.loaded.scene.handrails))
    ways.avoid(rail)
    assert ways.state.way_is_old
    ways.avoid(rail)
    assert not ways.state.way_is_old


# ---- what is missing ----------------------------------------------------------------------------


def test_missing_libraries_are_named_with_how_to_install_them(monkeypatch, osier):
    found = importlib.util.find_spec
    lacking = {"trame", "aiohttp"}
    monkeypatch.setattr(
        importlib.util, "find_spec", lambda name, *a: None if name in lacking else found(name, *a)
    )
    result = CliRunner().invoke(app, ["view", str(osier), "--no-open"])
    assert result.exit_code == 2
    assert "(trame, aiohttp)" in result.stderr
    assert "worksite-reach[web]" in result.stderr


def test_a_missing_renderer_is_told_in_words(monkeypatch, osier):
    monkeypatch.setattr("reach.pictures.renderer.has_library", lambda _names: False)
    result = CliRunner().invoke(app, ["view", str(osier), "--no-open"])
    assert result.exit_code == 2
    assert "No page: drawing without a screen needs libEGL or OSMesa" in result.stderr
    assert "libegl1" in result.stderr
    assert "Everything else" not in result.stderr
    assert "http" not in result.stderr


def test_a_port_that_is_taken_is_named_with_what_to_do(osier):
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        one.listen()
        port = one.getsockname()[1]
        result = CliRunner().invoke(app, ["view", str(osier), "--no-open", "--port", str(port)])
    assert result.exit_code == 2
    assert f"port {port} is not to be had" in result.stderr
    assert "--port 0" in result.stderr


def test_a_window_closed_in_mid_answer_is_no_error_but_others_are():
    def record(error):
        return logging.LogRecord(
            "asyncio", logging.ERROR, "", 0, "Task exception", (), (type(error), error, None)
        )

    keep = ClosedWindows().filter
    assert not keep(record(aiohttp.ClientConnectionResetError("closing")))
    assert keep(record(KeyError("ours")))
    said = logging.LogRecord("wslink.protocol", logging.ERROR, "", 0, "KeyError('ours')", (), None)
    assert keep(said)


# ---- who is drawn where -------------------------------------------------------------------------


@pytest.fixture(scope="module")
def outing():
    return Desk(Inputs("brackenfall"))


def drawn_in(desk, step):
    steps = desk.steps()
    return {name: one.place.name for name, one in steps.at(steps.number(step)).people.items()}


def test_who_got_out_of_a_restraint_is_drawn_in_it_no_more(outing):
    assert drawn_in(outing, "16 hold")["W1"] == "SK1"
    assert drawn_in(outing, "17 let go")["W1"] == "SK1"  # until the step is done
    assert "W1" not in drawn_in(outing, "18 FR-1 out")
    assert "W1" not in drawn_in(outing, "19 carry")
    assert drawn_in(outing, "21 SK3")["W1"] == "SK3"


def test_who_was_carried_off_is_drawn_at_the_old_place_no_more(outing):
    assert drawn_in(outing, "18 FR-1 out")["W2"] == "Wc"
    assert "W2" not in drawn_in(outing, "20 to Hazel")
    assert "W2" not in drawn_in(outing, "26 IB1")


def test_the_ledger_says_where_everyone_is(outing):
    entry = ledger(outing.inputs, quiet, quiet)["26 IB1"]
    words = rows.where_words(entry, ["W1", "W2"])
    assert words == "When it ends: W1 at SK3, boots in FR-1; W2 at Wd, boots in FR-3."


def test_what_was_not_asked_is_counted_and_told_with_its_reason():
    silent = Finding("error", "s", ("W1",), "", "Nothing is known.", math.nan, math.nan, "m")
    assert "1 not asked" in rows.count_words([silent])
    assert rows.not_asked_words(Answer((silent,))) == "error (Nothing is known)"
