"""A check explains itself with the text that stands in its own module."""

from __future__ import annotations

from types import ModuleType

import pytest

from reach.reports.explain import explain, explain_all

TEXT = """Whether the lamp is in reach.

Question.  Can the hand
come to the lamp?

Margin.  Metres left.
More of the same.
Limit.  The yard's own.
Blind spots.  Wind.
"""


def lamp(text: str = TEXT) -> ModuleType:
    module = ModuleType("lamp", text)
    module.NAME, module.IDS = "lamp", ("Z1", "Z2")  # type: ignore[attr-defined]
    return module


def test_the_four_paragraphs_follow_name_and_ids() -> None:
    assert explain(lamp()).split("\n\n") == [
        "lamp (Z1, Z2)",
        "Question. Can the hand come to the lamp?",
        "Margin. Metres left. More of the same.",
        "Limit. The yard's own.",
        "Blind spots. Wind.\n",
    ]


def test_paragraphs_are_filled_to_the_width() -> None:
    assert max(len(line) for line in explain(lamp(), width=30).splitlines()) <= 30


def test_a_missing_paragraph_is_a_fault_of_the_check() -> None:
    with pytest.raises(ValueError, match=r"lamp: no paragraph begins with Blind spots\."):
        explain(lamp(TEXT.replace("Blind spots.", "Also:")))


def test_all_checks_fit_on_a_line_each() -> None:
    assert explain_all([lamp(), lamp()]) == "lamp  Z1, Z2  Whether the lamp is in reach.\n" * 2
