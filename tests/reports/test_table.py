"""The table: what cannot be done comes first, nothing is hidden, nothing is cut off."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import pytest

from reach.cautions import CAUTIONS, cautions
from reach.finding import Finding, Verdict
from reach.reports.order import blocks, grouped, sections
from reach.reports.table import render_table, render_values
from reach.reports.verdicts import MEANING, SHAPE, STYLE, badge
from reports.outcomes import BOLT, FAILS, MIXED, OPENS, PASSES, SILENT, finding, outcome

HEADINGS = [
    "UNREACHABLE",
    "CLEARANCE VIOLATIONS",
    "OTHER FAILS",
    "UNKNOWN: OPEN OR UNDER REVIEW",
    "PASSES",
    "NOT CHECKED",
    "WHAT IT RESTS ON",
    "COUNTS",
    "CAUTIONS",
]


def words(text: str) -> str:
    return " ".join(text.split())


def part(text: str, heading: str) -> str:
    blocks = text.split("\n\n")
    return next(block for block in blocks if block.startswith(heading))


def test_the_lists_come_in_the_order_in_which_a_planner_needs_them() -> None:
    text = render_table(outcome())
    places = [text.index(f"\n\n{heading}") for heading in HEADINGS]
    assert places == sorted(places)


def test_the_order_of_lists_does_not_hang_on_the_order_of_findings() -> None:
    for findings in itertools.permutations(PASSES[:1] + FAILS[:3] + OPENS[:1]):
        checks = [[f.check for f in section.findings] for section in sections(findings)]
        assert checks == [["reach"], ["clearance"], ["sight"], ["access"]]


def test_open_comes_before_review() -> None:
    unknown = sections(tuple(reversed(MIXED)))[-1]
    assert [f.verdict for f in unknown.findings] == [Verdict.OPEN, Verdict.OPEN, Verdict.REVIEW]


def test_fails_of_reach_are_in_the_first_list_and_fails_of_clearance_in_the_second() -> None:
    text = render_table(outcome())
    assert "IB7" in part(text, "UNREACHABLE")
    assert "The backpack meets bay 4." in part(text, "CLEARANCE VIOLATIONS")
    assert "A diagonal hides the head." in part(text, "OTHER FAILS")


def test_a_fail_says_how_much_is_missing_why_and_what_would_mend_it() -> None:
    told = part(render_table(outcome()), "UNREACHABLE")
    assert "■ FAIL  reach, step turn-IB7: W1 · IB7 · PT-1 · SK3" in told
    assert "small: short by 0.250 m at least" in told
    assert "The head lies outside the outer bound of the small body." in told
    assert "Fix: An extension of 0.26 m would do." in told


def test_sizes_that_say_the_same_share_a_line() -> None:
    told = part(render_table(outcome()), "UNREACHABLE")
    assert "medium, large: short by 0.180 m at least" in told
    assert told.count("outer bound of both shoulders") == 1


def test_sizes_that_differ_in_the_margin_alone_keep_their_margins() -> None:
    (group,) = grouped([finding("reach", -1, -0.2, case="a"), finding("reach", -1, -0.3, case="b")])
    assert [entry.said for entry in group.entries] == [
        "a: short by 0.200 .. 1.000 m; b: short by 0.300 .. 1.000 m"
    ]


def test_checks_that_say_the_same_are_one_paragraph() -> None:
    blank = "The setting is blank, so nothing is placed."
    names = ("reach", "inner", "clearance", "sight", "error")
    opens = [
        finding(name, -math.inf, math.inf, case=case, because=blank)
        for name in names
        for case in ("small", "large")
    ]
    share = finding("share", -0.9, 0.1, unit="", because=blank)
    text = render_table(outcome((*opens, share)))
    told = part(text, "UNKNOWN")
    assert "UNKNOWN: OPEN OR UNDER REVIEW  11 answers" in told
    assert "OPEN  reach, inner, clearance, sight, error, step turn-IB2" in told
    assert "small, large: margin unknown" in told
    assert told.count(blank) == 2  # once for all of them, once where the margin is another
    other = finding("glove", -math.inf, math.inf, case="small", because=blank)
    assert len(grouped((*opens, share, other))) == 3


def test_no_line_says_pass_for_what_is_open_or_failed() -> None:
    text = render_table(outcome(OPENS + FAILS))
    body = text[text.index("\n\nUNREACHABLE") : text.index("\n\nCOUNTS")]
    assert "○" not in body
    assert part(text, "PASSES") == "PASSES  none"


def test_an_unknown_is_as_visible_as_a_fail() -> None:
    told = part(render_table(outcome()), "UNKNOWN")
    assert "◇ OPEN  access, step turn-IB2" in told
    assert "≈ REVIEW  glove, step turn-IB2" in told
    assert "The search ended after 4,000 cells." in told


LEFT = "BG-2 is at RL30@2.5 since step '6 to the carrier'."


def missing(step: str, item: str, cause: str = LEFT) -> Finding:
    return finding(
        "present",
        -1.0,
        -1.0,
        unit="",
        case="",
        step=step,
        about=("W1", item),
        because=f"{item} is not with W1 at SK3.",
        fix=f"Bring BG-2 along before step '{step}'.",
        numbers={"cause": cause},
    )


def test_what_comes_from_one_cause_is_listed_under_it() -> None:
    many = (
        missing("26 IB1", "PT-1"),
        *FAILS[1:2],
        missing("27 IB4", "PT-1"),
        missing("34 BB1", "S-11"),
        missing("37 lay", "XL-1", "XL-1 is not taken along."),
    )
    told = part(render_table(outcome(many)), "OTHER FAILS")
    assert f"OTHER FAILS  {len(many)} answers" in told
    assert f"  Cause of 3 answers: {LEFT}" in told
    assert "present, steps 26 IB1, 27 IB4: W1 · PT-1" in told
    assert "present, step 34 BB1: W1 · S-11" in told
    assert told.count("PT-1 is not with W1") == 1
    assert "Bring BG-2 along before step '26 IB1'." in told
    # One answer alone needs no heading, and nothing is left out.
    assert "XL-1 is not taken along" not in told
    for step in ("26 IB1", "27 IB4", "34 BB1", "37 lay", "turn-IB2"):
        assert step in told


def test_every_finding_is_in_one_block_whatever_its_cause() -> None:
    some = (missing("a", "x"), missing("b", "x"), missing("c", "y"), *FAILS)
    assert sum(block.n for block in blocks(some)) == len(some)
    assert [block.cause for block in blocks(some)] == [LEFT, ""]
    assert blocks(FAILS)[0].groups == grouped(FAILS)
    assert blocks(()) == ()


def test_the_same_cause_of_another_answer_keeps_its_words() -> None:
    other = missing("27 IB4", "PT-1")
    other = replace(other, because="PT-1 is not with W1 at SK4.")
    (block,) = blocks((missing("26 IB1", "PT-1"), other))
    assert [group.step for group in block.groups] == ["26 IB1", "27 IB4"]


def test_an_empty_list_of_unreachables_does_not_hide_what_is_open() -> None:
    text = render_table(outcome(OPENS))
    assert "UNREACHABLE  none proved, 1 still unknown (below)" in text
    assert "UNREACHABLE  none\n" in render_table(outcome(PASSES))
    assert "CLEARANCE VIOLATIONS  not checked" in render_table(outcome(PASSES))


def test_each_pass_stands_with_its_margin_for_each_size() -> None:
    told = words(part(render_table(outcome()), "PASSES"))
    assert "step turn-IB2: W1 · IB2 · PT-1 · SK3" in told
    assert "reach small: 0.110 .. 0.160 m medium: 0.120 m at least" in told
    assert "torque small, medium: 12.0 N m" in told


def test_two_answers_of_one_check_say_which_is_which() -> None:
    likely = "probability 99.6 % at least"
    mixed = (
        finding("error", 0.012, 0.02, numbers={"answer": "worst case"}),
        finding("error", 0.006, 0.01, unit="", numbers={"answer": likely}),
        finding("reach", 0.1, 0.2),
    )
    told = words(part(render_table(outcome(mixed)), "PASSES"))
    assert "error medium: worst case, 0.012 .. 0.020 m" in told
    assert f"medium: {likely}, 0.006 .. 0.010" in told
    assert "reach medium: 0.100 .. 0.200 m" in told


def test_rules_that_are_met_are_told_by_check_not_one_by_one() -> None:
    met = [
        replace(finding(check, 0.0, 0.0, unit=""), about=about, case="")
        for check, about in (("custody", ("PT-1",)), ("hooked", ("W1",)), ("custody", ("BG-1",)))
    ]
    told = part(render_table(outcome((*met, *PASSES))), "PASSES")
    (custody,) = (line.split() for line in told.splitlines() if "custody" in line)
    assert custody == ["custody", "PT-1;", "BG-1"]
    (hooked,) = (line.split() for line in told.splitlines() if "hooked" in line)
    assert hooked == ["hooked", "W1"]
    assert f"{3 + len(PASSES)} answers" in told


def test_a_long_answer_does_not_push_the_others_apart() -> None:
    sizes = tuple(finding("reach", 0.1, 0.1 + k, case=case) for k, case in enumerate("abc"))
    long = finding("share", 0.1, 0.2, unit="", numbers={"answer": "876 of 1000 can " * 4})
    rows = part(render_table(outcome((*sizes, long))), "PASSES").splitlines()
    (row,) = (row for row in rows if "reach" in row)
    assert all(f"{case}:" in row for case in "abc")


def test_what_was_not_asked_is_said_and_is_not_a_pass() -> None:
    told = part(render_table(outcome()), "NOT CHECKED")
    assert "two-handed: No step asks for both hands." in told
    assert "The bolt may be turned by either hand." in told
    assert "hand" not in part(render_table(outcome()), "PASSES")


def test_checks_that_were_not_asked_for_one_reason_are_named_together() -> None:
    silent = (
        ("gap", "No step asks for it."),
        ("dial", "Nothing is set."),
        ("sag", "No step asks for it."),
    )
    told = part(render_table(outcome(not_asked=silent)), "NOT CHECKED")
    assert "– gap, sag: No step asks for it." in told
    assert "– dial: Nothing is set." in told


def test_a_reason_that_holds_in_several_steps_is_told_once() -> None:
    silent = [
        replace(
            finding("load", math.nan, math.nan, unit=""), step=step, because="It has no rating."
        )
        for step in ("first", "second")
    ]
    told = words(part(render_table(outcome(tuple(silent))), "NOT CHECKED"))
    assert told.count("It has no rating.") == 1
    assert told.index("load: It has no") < told.index("step first") < told.index("step second")


def test_an_empty_run_is_not_a_pass() -> None:
    text = render_table(outcome((), not_asked=()))
    assert "Result: nothing fails, but not everything is known." in text
    assert "0 answers about 0 steps" in text


def test_values_that_are_not_published_are_counted_and_can_be_listed() -> None:
    told = words(part(render_table(outcome()), "WHAT IT RESTS ON"))
    assert "2 of 3 values used do not come from a published source" in told
    assert "1 common practice, 1 invented for the demo" in told
    listed = render_values(outcome())
    assert "! limits.body_clearance = 0.100 m: invented for the demo; Hollin yard" in listed
    assert "  people.male = ANSUR II: published" in listed


def test_the_files_read_are_named_without_folders_of_this_computer() -> None:
    told = words(part(render_table(outcome()), "WHAT IT RESTS ON"))
    assert "Read: hollin/scene.toml, two-bolts.toml (hash " in told
    assert "/home" not in told


def test_counts_and_result_stand_near_the_end() -> None:
    told = words(part(render_table(outcome()), "COUNTS"))
    assert told == (
        "COUNTS ■ FAIL 5 ◇ OPEN 2 ≈ REVIEW 1 ○ PASS 5 – NOT ASKED 1 Result: something fails."
    )


def test_all_ten_cautions_end_the_table_with_the_hash_of_the_inputs() -> None:
    told = outcome()
    text = words(render_table(told))
    assert len(CAUTIONS) == 10
    for caution in cautions(told.inputs):
        assert caution in text
    assert text.endswith("Any edit invalidates earlier results.")


def test_the_hash_follows_the_content_of_the_inputs_and_not_their_names() -> None:
    here, there, other = ("a/s.toml", "00"), ("b/s.toml", "00"), ("a/s.toml", "01")
    assert cautions([here]) == cautions([there]) != cautions([other])


def test_the_head_says_how_much_was_asked_and_for_which_bodies() -> None:
    assert "14 answers about 2 steps for small, medium, large, found" in words(
        render_table(outcome())
    )


def test_warnings_stand_above_everything_that_they_put_in_doubt() -> None:
    text = render_table(outcome())
    assert text.index("4200 m long") < text.index("UNREACHABLE")


def test_a_pipe_gets_no_escape_codes_and_no_trailing_spaces() -> None:
    text = render_table(outcome())
    assert "\x1b" not in text
    assert all(line == line.rstrip() for line in text.splitlines())


def test_a_terminal_gets_colour_beside_shape_and_word(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    text = render_table(outcome(), colour=True)
    assert "\x1b[" in text
    assert "■ FAIL" in text


def test_verdicts_differ_in_shape_word_and_style() -> None:
    assert len({SHAPE[v] for v in Verdict}) == len({STYLE[v] for v in Verdict}) == len(Verdict)
    assert [badge(v).split(maxsplit=1)[1] for v in Verdict] == [v.upper() for v in Verdict]


def test_every_mark_is_explained() -> None:
    head = render_table(outcome()).split("\n\n")[0]
    for verdict in set(Verdict) - {Verdict.NOT_ASKED}:
        assert f"{badge(verdict):<9} {MEANING[verdict]}" in head


@pytest.mark.parametrize("width", [40, 72, 100, 200])
def test_lines_wrap_and_nothing_is_lost(width: int) -> None:
    long_name = "bolt-" + "x" * 90
    because = "The gap at the " + "very " * 40 + "end is known."
    narrow = finding("reach", -1.0, -0.5, about=("W1", long_name), because=because)
    text = render_table(outcome((narrow,)), width=width)
    assert max(len(line) for line in text.splitlines()) <= width
    assert "".join(long_name.split()) in "".join(text.split())
    assert because in words(text)


def test_square_brackets_in_names_are_not_read_as_markup() -> None:
    odd = finding("reach", math.nan, math.nan, about=("[red]W1[/red]",))
    assert "[red]W1[/red]" in render_table(outcome((odd,)))


def test_both_systems_of_units_on_request() -> None:
    assert "short by 0.180 m (7.0 in) at least" in render_table(outcome(), units="both")


def test_steps_keep_their_order_and_names_stand_once_over_their_passes() -> None:
    mixed = (
        finding("reach", 1, 1),
        finding("sight", 1, 1, step="later"),
        finding("torque", 1, 1),
    )
    told = part(render_table(outcome(mixed)), "PASSES")
    assert told.count("step turn-IB2:") == 1
    assert told.index("turn-IB2") < told.index("later")


def test_the_hand_made_run_has_every_verdict() -> None:
    assert {f.verdict for f in MIXED} == set(Verdict)
    assert SILENT[0].about == BOLT
