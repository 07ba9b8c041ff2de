"""Commands killed at random moments: a handful here, hundreds in `make soak`."""

import random
import sys

import pytest

from benchmarks.crashes import Case, Page

if sys.platform != "linux":
    pytest.skip("looks at /proc", allow_module_level=True)


@pytest.mark.parametrize(("command", "n"), [("check", 3), ("batch", 2), ("report", 1)])
def test_a_killed_command_spoils_nothing_and_can_be_run_again(command, n, tmp_path):
    case = Case(command, tmp_path / command)
    case.prepare()
    assert set(case.new) >= {"check": {"all.json"}, "batch": {"batch/plan.jsonl"},
                             "report": {"report/contents.sha256"}}[command]  # fmt: skip
    assert case.old != case.new  # else an older result could not be told from a new one
    for k in range(n):
        rng = random.Random(f"{command} {k}")
        moment = case.took * (0.4 + 0.6 * rng.random())
        assert case.kill(moment, rng) == []


@pytest.mark.picture
def test_a_killed_page_spoils_nothing_and_starts_again(tmp_path):
    pytest.importorskip("trame")
    page = Page(tmp_path / "view", None)
    page.prepare()
    assert page.kill(page.took + 1.0, random.Random("view")) == []


def test_a_campaign_sees_a_file_that_is_cut_short(tmp_path):
    """The campaign is no good if it cannot fail."""
    case = Case("check", tmp_path, old={"a": "1"}, new={"a": "2", "b": "3"})
    assert case.after({"a": "1"}, {"a": "2"}) == []
    assert case.after({"a": "1"}, {"a": "4"}) == ["a is neither old nor new"]
    assert case.after({"a": "1"}, {"b": "3"}) == ["a is gone"]
