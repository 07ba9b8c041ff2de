"""Mutants are what they are said to be, and are met by whoever holds the function."""

from __future__ import annotations

import sys
from types import ModuleType

import pytest

from benchmarks.mutants import grown, mutants_of
from benchmarks.mutants.judging import put_in_place

SOURCE = '''
LIMIT = 1 - 2


def margin(held: int | None, asked, error):
    """Less - than."""
    assert asked < 9
    words = "a" + "b" + f"{asked - 1}"
    if held is None or not held:
        return words[-1]
    return min(held - asked, -error) if asked <= held else max([1] + [2])


class Thing:
    @property
    def good(self):
        return all(x > 0 for x in (1, 2))


def _fix(low):
    return low < 0
'''


def test_each_comparison_sign_and_bound_is_turned_once():
    made = [(one.kind, one.was, one.now) for one in mutants_of("m", SOURCE)]
    assert sorted(made) == sorted(
        [
            ("same", "held is None", "held is not None"),
            ("not", "not held", "held"),
            ("and", "held is None or not held", "held is None and (not held)"),
            ("most", "min(held - asked, -error)", "max(held - asked, -error)"),
            ("most", "max([1] + [2])", "min([1] + [2])"),
            ("sign", "held - asked", "held + asked"),
            ("sign", "-error", "error"),
            ("tie", "asked <= held", "asked < held"),
            ("order", "asked <= held", "asked >= held"),
            ("most", "all((x > 0 for x in (1, 2)))", "any((x > 0 for x in (1, 2)))"),
            ("tie", "x > 0", "x >= 0"),
            ("order", "x > 0", "x < 0"),
            ("tie", "low < 0", "low <= 0"),
            ("order", "low < 0", "low > 0"),
        ]
    )


def test_what_makes_only_words_is_told_apart():
    words = {one.home for one in mutants_of("m", SOURCE) if one.is_words}
    assert words == {"_fix"}


@pytest.fixture
def module(tmp_path, monkeypatch):
    file = tmp_path / "mutable.py"
    file.write_text(SOURCE)
    made = ModuleType("mutable")
    made.__file__ = str(file)
    exec(compile(SOURCE, str(file), "exec"), made.__dict__)
    monkeypatch.setitem(sys.modules, "mutable", made)
    return made


def of(was, now):
    (found,) = [one for one in mutants_of("mutable", SOURCE) if (one.was, one.now) == (was, now)]
    return found


def test_a_mutant_takes_the_place_of_its_function_wherever_it_is_held(module):
    held = module.margin  # as another module holds it that imported the name
    assert held(5, 3, 1) == -1
    put_in_place(of("min(held - asked, -error)", "max(held - asked, -error)"))
    assert held(5, 3, 1) == 2
    assert module.margin is held


def test_a_mutant_inside_a_property_takes_its_place_too(module):
    thing = module.Thing()
    assert thing.good
    put_in_place(of("x > 0", "x < 0"))
    assert not thing.good


def test_nothing_but_the_one_expression_is_changed():
    for one in mutants_of("mutable", SOURCE):
        code = grown(one, SOURCE, "mutable.py")
        assert code.co_qualname == one.home


def test_a_function_that_is_not_there_is_told(module):
    one = of("low < 0", "low > 0")
    del module._fix
    with pytest.raises(LookupError, match="no function _fix"):
        put_in_place(one)
