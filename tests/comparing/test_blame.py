"""Which edit is behind a flip: nothing is blamed unless it was run and showed it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
from test_flips import FAIL, PASS, answer
from versions import BRACKET, changed, step_of, versions

from reach.comparing.blame import Blame, blame
from reach.comparing.edits import Version, edits_between
from reach.comparing.fitting import Fitting
from reach.comparing.flips import flips
from reach.comparing.threshold import threshold_of
from reach.comparing.trials import Trials
from reach.finding import Finding

NAMES = ("3 AB1", "4 AB2", "5 AB3", "6 PB1")
WAYS = [
    (
        f'name = "{name}"\nlane = "R1"\nduration = "5 min"',
        f'name = "{name}"\nlane = "R1"\nduration = "6 min"',
    )
    for name in NAMES
]
Rule = Callable[[set[str]], bool]


def longer(version: Version) -> set[str]:
    """The steps that take 6 minutes in a version."""
    return {step.name for step in version.asked.procedure.steps if step.duration == 360.0}


class Bench:
    """Two versions, four edits between them, and a check whose answer a rule gives."""

    def __init__(self, folder: Path, rule: Rule, most: int = 24, mends: bool = False) -> None:
        self.old, self.new = versions(folder, BRACKET, changed(BRACKET, *WAYS))
        self.rule, self.mends, self.tried = rule, mends, []  # type: ignore[var-annotated]
        edits = edits_between(self.old, self.new)
        assert tuple(edit.name for edit in edits) == NAMES
        after = self.run(self.new, ())
        self.flips = flips(self.run(self.old, ()), after, threshold_of(None))
        self.tried.clear()
        self.trials = Trials(
            self.old, self.new, edits, ("pace",), after, threshold_of(None), most, self.run
        )

    def run(self, version: Version, only: Sequence[str]) -> tuple[Finding, ...]:
        changed_steps = longer(version)
        self.tried.append(changed_steps)
        ends = FAIL if self.rule(changed_steps) is not self.mends else PASS
        return (answer(*ends, check="pace", step="8 AB3 again", about=("R2", "AB3")),)

    def blame(self) -> Blame:
        (found,) = blame(self.flips, self.trials).values()
        return found


def names(found: Blame) -> tuple[str, ...]:
    return tuple(edit.name for edit in found.edits)


@pytest.mark.parametrize("mends", [False, True])
@pytest.mark.parametrize("name", NAMES)
def test_the_one_edit_that_does_it_is_found(tmp_path: Path, name: str, mends: bool) -> None:
    bench = Bench(tmp_path, lambda there: name in there, mends=mends)
    assert (bench.blame().how, names(bench.blame())) == ("alone", (name,))
    assert {name} in bench.tried


def test_two_edits_that_do_it_only_together_are_found_and_no_third(tmp_path: Path) -> None:
    bench = Bench(tmp_path, lambda there: {"4 AB2", "6 PB1"} <= there)
    found = bench.blame()
    assert (found.how, names(found)) == ("together", ("4 AB2", "6 PB1"))
    for alone in ({"4 AB2"}, {"6 PB1"}, {"4 AB2", "6 PB1"}):
        assert alone in bench.tried


def test_all_four_together_are_told_as_all_four(tmp_path: Path) -> None:
    bench = Bench(tmp_path, lambda there: len(there) == 4)
    assert (bench.blame().how, names(bench.blame())) == ("together", NAMES)


def test_an_edit_alone_is_not_blamed_where_another_undoes_it(tmp_path: Path) -> None:
    """Each of two edits does it unless a third is there: what is in NEW shows it with all."""
    bench = Bench(
        tmp_path, lambda there: ("3 AB1" in there) != ("4 AB2" in there) or len(there) == 4
    )
    found = bench.blame()
    assert found.how == "alone"
    assert names(found) in (("3 AB1",), ("4 AB2",))
    assert {names(found)[0]} in bench.tried


def test_without_runs_nobody_is_blamed(tmp_path: Path) -> None:
    bench = Bench(tmp_path, lambda there: "5 AB3" in there, most=0)
    found = bench.blame()
    assert (found.how, found.edits) == ("not known", ())
    assert "0 runs" in found.why
    assert bench.tried == []


@pytest.mark.parametrize("most", range(1, 9))
def test_runs_are_bounded_and_half_a_search_blames_nobody_falsely(
    tmp_path: Path, most: int
) -> None:
    bench = Bench(tmp_path, lambda there: {"4 AB2", "6 PB1"} <= there, most=most)
    found = bench.blame()
    assert len(bench.tried) <= most
    assert found.how in ("not known", "together")
    if found.how == "together":
        assert names(found) == ("4 AB2", "6 PB1")


def test_no_version_is_run_twice_nor_the_new_one_again(tmp_path: Path) -> None:
    bench = Bench(tmp_path, lambda there: {"3 AB1", "6 PB1"} <= there)
    bench.blame()
    assert len(bench.tried) == len({frozenset(one) for one in bench.tried})
    assert set(NAMES) not in bench.tried


def test_a_run_that_breaks_off_blames_nobody_and_is_told(tmp_path: Path) -> None:
    bench = Bench(tmp_path, lambda there: "6 PB1" in there)

    def breaks(version: Version, only: Sequence[str]) -> tuple[Finding, ...]:
        raise ValueError("half of it makes no sense")

    bench.trials.run = breaks
    assert bench.blame().how == "not known"
    assert any("half of it makes no sense" in one for one in bench.trials.broken)


# ---- with the checks themselves --------------------------------------------------------


def asked(folder: Path, text: str, only: Sequence[str], runs: int = 24) -> dict[str, Blame]:
    from reach.comparing.compare import compare

    found = compare(*versions(folder, BRACKET, text), only=only, runs=runs)
    return {found.flips[k].told.step: one for k, one in found.blames.items()}


def test_of_an_edit_with_several_keys_the_one_that_does_it_is_named(tmp_path: Path) -> None:
    text = changed(
        BRACKET,
        ('name = "6 PB1"\nlane = "R1"\nduration = "5 min"\n',
         'name = "6 PB1"\nlane = "R1"\nduration = "7 min"\nwhere = "M8"\nrestraint = "LA-2"\n'),
    )  # fmt: skip
    (found,) = asked(tmp_path, text, ["torque"]).values()
    (edit,) = found.edits
    assert (found.how, edit.name, edit.fields) == ("alone", "6 PB1", ("restraint",))


UP = """
[[steps]]
name = "8 R2 up"
lane = "R2"
where = "M9"
actions = [{ do = "ingress" }]

"""


def test_an_edit_that_fits_only_with_another_goes_with_that_one(tmp_path: Path) -> None:
    """R2's step loses its place and so needs the step before it that brings R2 there."""
    stays = step_of("8 AB3 again")
    text = BRACKET.replace(stays, UP + stays.replace('where = "M8"\n', ""))
    old, new = versions(tmp_path, BRACKET, text)
    edits = {edit.name: edit for edit in edits_between(old, new)}
    fitting = Fitting(old, new, tuple(edits.values()))
    assert fitting.problems([edits["8 AB3 again"]])
    assert {one.name for one in fitting.group(edits["8 AB3 again"])} == {"8 AB3 again", "8 R2 up"}
    assert fitting.group(edits["8 R2 up"]) == (edits["8 R2 up"],)
    found = asked(tmp_path, text, ["reach"])["8 AB3 again"]
    assert (found.how, {one.name for one in found.edits}) == ("as one", {"8 AB3 again", "8 R2 up"})


def test_an_added_step_that_fails_is_blamed_itself(tmp_path: Path) -> None:
    more = step_of("6 PB1").replace("6 PB1", "9 PB1 again").replace("R1", "R2")
    more = more.replace('fastener = "PB1"', 'fastener = "PB1", hand = "left"')
    text = BRACKET + more + 'where = "M8"\n'
    (found,) = asked(tmp_path, text, ["torque"]).values()
    assert (found.how, [(edit.name, edit.kinds) for edit in found.edits]) == (
        "alone", [("9 PB1 again", ("added",))],
    )  # fmt: skip


def test_words_alone_are_never_tried(tmp_path: Path) -> None:
    note = ('note = "both hands on the bar"', 'note = "both hands"')
    old, new = versions(tmp_path, BRACKET, changed(BRACKET, note, WAYS[0]))
    edits = edits_between(old, new)
    assert [(edit.name, edit.is_wording) for edit in edits] == [("3 AB1", False), ("5 AB3", True)]
