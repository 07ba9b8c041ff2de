"""The report of a comparison: grouped by cause, and who did it in so many words."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest
from test_flips import FAIL, PASS, answer
from versions import BRACKET, versions

from reach.comparing.blame import Blame, How
from reach.comparing.compare import Comparison
from reach.comparing.edits import Edit
from reach.comparing.flips import Change, Flip, flips
from reach.comparing.threshold import threshold_of
from reach.finding import Finding
from reach.reports.compare import blame_words, render_comparison
from reach.reports.compare_data import comparison_json
from reach.run import Outcome

CAUSE = {"cause": "BG-2 stays on RL30"}
A, B = (
    Edit(part="step", kinds=("edited",), name=name, changes=({"key": key, "old": "x", "new": "y"},))  # type: ignore[arg-type]
    for name, key in (("20 to Hazel", "route"), ("21 SK3", "where"))
)
NEW = Edit(part="step", kinds=("added",), name="9 again")


def outcome(findings: list[Finding], **more: Any) -> Outcome:
    told: dict[str, Any] = {
        "title": "Yard", "procedure": "Two bolts", "findings": tuple(findings), "not_asked": (),
        "inputs": (("yard/scene.toml", "ab" * 32),), "assumptions": (), "warnings": (),
        "seconds": 0.1, "site": None, "situations": (),
    }  # fmt: skip
    return Outcome(**(told | more))


def compared(folder: Path, old: list[Finding], new: list[Finding], **more: Any) -> Comparison:
    first, second = versions(folder, BRACKET, BRACKET)
    least = threshold_of(None)
    return Comparison(
        outcome(old), outcome(new), (first, second), (), flips(old, new, least), least, **more
    )


def test_mended_faults_of_one_root_cause_stand_together_whatever_their_step(tmp_path: Path) -> None:
    old = [answer(*FAIL, step=name, numbers=CAUSE) for name in ("34 BB1", "37 clamps")]
    old.insert(1, answer(*FAIL, step="35 SK4"))
    new = [answer(*PASS, step=name) for name in ("34 BB1", "35 SK4", "37 clamps")]
    text = render_comparison(compared(tmp_path, old, new))
    assert text.count("BG-2 stays on RL30") == 1
    grouped = text[text.index("BG-2 stays on RL30") : text.index("  step 35 SK4\n")]
    assert "step 34 BB1" in grouped
    assert "step 37 clamps" in grouped
    assert "3 better" in text


@pytest.mark.parametrize(
    ("how", "edits", "change", "said"),
    [
        ("alone", (A,), Change.WORSE, "step 20 to Hazel (route); this edit alone breaks it."),
        ("alone", (A,), Change.BETTER, "step 20 to Hazel (route); this edit alone mends it."),
        ("alone", (NEW,), Change.NEW, "step 9 again (added); this edit alone breaks it."),
        ("each alone", (A, B), Change.FELL,
         "step 20 to Hazel (route) and step 21 SK3 (where); each of these edits alone lessens it."),
        ("as one", (A, B), Change.BETTER,
         "step 20 to Hazel (route) and step 21 SK3 (where); these edits fit only together, and "
         "mend it."),
        ("together", (A, B), Change.WORSE,
         "step 20 to Hazel (route) and step 21 SK3 (where); together they break it, none of them "
         "without the others."),
    ],
)  # fmt: skip
def test_who_did_it_is_a_sentence(how: How, edits: Any, change: Change, said: str) -> None:
    assert blame_words(Blame(how, edits), Flip(change, None, answer(*FAIL))) == said


def test_what_is_not_known_says_why(tmp_path: Path) -> None:
    told = compared(
        tmp_path, [answer(*PASS)], [answer(*FAIL)], sought=True,
        blames={0: Blame("not known", why="after 3 runs nothing was found that shows it")},
    )  # fmt: skip
    assert "by: not known: after 3 runs nothing was found" in render_comparison(told)
    assert '"how": "not known"' in comparison_json(told)


def test_ends_that_are_not_known_are_null_in_json(tmp_path: Path) -> None:
    told = compared(tmp_path, [answer(*PASS)], [answer(-math.inf, -0.2)])
    assert '"low": null' in comparison_json(told)


def test_warnings_of_the_new_version_are_told_once(tmp_path: Path) -> None:
    told = compared(tmp_path, [answer(*PASS)], [answer(*PASS)])
    both = Comparison(
        outcome([answer(*PASS)], warnings=("odd mesh",)),
        outcome([answer(*PASS)], warnings=("odd mesh", "new oddity")),
        told.versions, (), told.flips, told.threshold,
    )  # fmt: skip
    text = render_comparison(both)
    assert (text.count("odd mesh"), text.count("new oddity")) == (1, 1)
