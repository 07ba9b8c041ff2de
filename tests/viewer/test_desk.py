"""What the page shows, without a page: a changed trial is answered as `reach ask` answers it."""

from dataclasses import replace

import pytest
from typer.testing import CliRunner

from reach.cli import app
from reach.files.problem import InputError
from reach.files.question import question
from reach.finding import Verdict
from reach.run import check
from reach.viewer import rows
from reach.viewer.answers import Inputs, Target, answer_of, best, targets, whole
from reach.viewer.desk import Desk
from reach.viewer.exporting import steps_at, write_findings, write_setting
from reach.viewer.guard import refusal
from reach.viewer.steps import action_words


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
    steps = steps_at(desk.situations, inputs.asked.procedure, desk.trial)
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
