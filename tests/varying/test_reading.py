"""The words of variations: what is read, and what is said about what is not."""

from __future__ import annotations

import pytest

from reach.varying import (
    FORMS,
    Handed,
    Limited,
    Marked,
    Reeled,
    Shifted,
    Sized,
    Swap,
    UnfitError,
    variations_of,
    words_of,
)


@pytest.mark.parametrize(
    ("text", "means"),
    [
        ("swap W1 W2", Swap("W1", "W2")),
        ("swap W1 and W2", Swap("W1", "W2")),
        ("swap the tall one and the small one", Swap("the tall one", "the small one")),
        ("W1 is large", Sized("W1", "large")),
        ("W1 is left-handed", Handed("W1", "left")),
        ("SK3 blocked", Marked("SK3", "blocked")),
        ("SK3 is blocked", Marked("SK3", "blocked")),
        ("RL08 gone", Marked("RL08", "gone")),
        ("RL08 is free", Marked("RL08", "free")),
        ("ST-1 length 20 m", Reeled("ST-1", "20 m")),
        ("ST-1 length = 20 m", Reeled("ST-1", "20 m")),
        ("windows +10 min", Shifted("", "+10 min")),
        ("windows - 10 min", Shifted("", "-10 min")),
        ("windows first light +10 min", Shifted("first light", "+10 min")),
        ("limit rail_gap 0.8 m", Limited("rail_gap", "0.8 m")),
        ("limit rail_gap = 0.8", Limited("rail_gap", "0.8")),
    ],
)
def test_each_form_is_read(text: str, means: object) -> None:
    assert variations_of(text) == (means,)
    assert variations_of(f"  {text.replace(' ', '   ')} ") == (means,)


@pytest.mark.parametrize("text", FORMS)
def test_every_form_shown_is_one_and_is_told_as_it_is_typed(text: str) -> None:
    (found,) = variations_of(text)
    assert words_of(found) == text


def test_commas_and_texts_keep_the_order_in_which_they_are_written() -> None:
    found = variations_of("W1 is large, swap W1 W2", "SK3 blocked,")
    assert found == (Sized("W1", "large"), Swap("W1", "W2"), Marked("SK3", "blocked"))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("SK3 blokced", "did you mean 'SK3 blocked'"),
        ("swop W1 W2", "did you mean 'swap W1 W2'"),
        ("swap W1", "such are swap W1 and W2;"),
        ("windows 10 min", "such are"),
        ("", "names no variation"),
        (" , ", "names no variation"),
    ],
)
def test_what_is_no_variation_is_told_with_what_is_meant(text: str, says: str) -> None:
    with pytest.raises(UnfitError, match=says):
        variations_of(text)


def test_every_part_that_is_none_is_told() -> None:
    with pytest.raises(UnfitError) as told:
        variations_of("SK3 blokced, swap W1 W2, RL08 goen")
    assert len(told.value.messages) == 2
