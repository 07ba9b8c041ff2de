"""Records that are varied: what changes, what stays, and what cannot be had."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from lookout import loaded_of, lookout

from reach.model.procedure import Procedure
from reach.model.record import Record
from reach.model.scene import Scene
from reach.varying import UnfitError, told_as, variations_of, varied, varied_copies

Pair = tuple[Scene, Procedure]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return lookout(tmp_path_factory.mktemp("varying") / "lookout")


@pytest.fixture
def pair(folder: Path) -> Iterator[Pair]:
    """Scene and procedure; whatever a test does, they are at its end as they were."""
    loaded, asked = loaded_of(folder)
    before = loaded.scene.model_dump(), asked.procedure.model_dump()
    yield loaded.scene, asked.procedure
    assert (loaded.scene.model_dump(), asked.procedure.model_dump()) == before


def made(pair: Pair, text: str) -> Pair:
    return varied(*pair, variations_of(text))


def changed(pair: Pair, text: str) -> set[str]:
    """Tables of the scene that a variation changes; the procedure stays."""
    scene, procedure = made(pair, text)
    assert procedure == pair[1]
    tables = {
        table for table in Scene.model_fields if getattr(scene, table) != getattr(pair[0], table)
    }
    for table in tables:
        assert list(getattr(scene, table)) == list(getattr(pair[0], table))
    return tables


def test_a_swap_takes_body_hand_and_suit_along_and_nothing_else(pair: Pair) -> None:
    workers = pair[0].workers
    scene, _ = made(pair, "swap W1 W2")
    assert scene.workers == {"W1": workers["W2"], "W2": workers["W1"]}
    assert changed(pair, "swap W1 W2") == {"workers"}


def test_a_swap_is_its_own_inverse(pair: Pair) -> None:
    assert made(made(pair, "swap W1 W2"), "swap W2 W1") == pair


def test_variations_are_taken_in_the_order_in_which_they_are_written(pair: Pair) -> None:
    first, _ = made(pair, "swap W1 W2, W1 is large")
    other, _ = made(pair, "W1 is large, swap W1 W2")
    assert [one.size for one in first.workers.values()] == ["large", "medium"]
    assert [one.size for one in other.workers.values()] == ["small", "large"]


def test_a_size_takes_the_place_of_any_other_body(pair: Pair) -> None:
    person = {"sex": "female", "measurements": {"stature": 1.6}, "hand": "left", "suit": "halden"}
    workers = {"W1": person | {"title": "Ada"}, "W2": pair[0].workers["W2"]}
    scene = Scene.model_validate({**dict(pair[0]), "workers": workers})
    large = made((scene, pair[1]), "W1 is large")[0].workers["W1"]
    assert (large.size, large.sex, large.measurements) == ("large", None, {})
    assert (large.hand, large.suit, large.title) == ("left", "halden", "Ada")


@pytest.mark.parametrize(
    ("text", "table", "name", "key", "value"),
    [
        ("W1 is left-handed", "workers", "W1", "hand", "left"),
        ("SA blocked", "sockets", "SA", "status", "blocked"),
        ("RB blocked", "handrails", "RB", "condition", "blocked"),
        ("RB gone", "handrails", "RB", "condition", "gone"),
        ("T1 length 50 ft", "tethers", "T1", "length", 15.24),
        ("T1 length 8", "tethers", "T1", "length", 8.0),
        ("limit rail_gap 80 cm", "limits", "rail_gap", "value", 0.8),
        ("limit visible_share 40 %", "limits", "visible_share", "value", 0.4),
    ],
)
def test_one_value_of_one_entry_changes(
    pair: Pair, text: str, table: str, name: str, key: str, value: object
) -> None:
    entry = getattr(made(pair, text)[0], table)[name]
    assert getattr(entry, key) == pytest.approx(value)
    assert changed(pair, text) == {table}
    before = getattr(pair[0], table)
    assert {n for n in before if getattr(made(pair, text)[0], table)[n] != before[n]} == {name}


def test_what_was_blocked_can_be_free(pair: Pair) -> None:
    blocked = made(pair, "SA blocked, RB gone")
    assert made(blocked, "SA free, RB free") == pair


def test_a_limit_says_that_it_was_varied(pair: Pair) -> None:
    assert made(pair, "limit rail_gap 0.8 m")[0].limits["rail_gap"].source.source == "what if"


class Window(Record):
    """Stands in for a time window: what a shift knows of one."""

    spans: tuple[tuple[float, float], ...]
    margin: float = 0.0


def timed(procedure: Procedure, **spans: Any) -> Any:
    """A procedure as far as a shift looks at it, with windows."""

    def copy(update: dict[str, Any]) -> Any:
        return SimpleNamespace(steps=procedure.steps, **update)

    windows = {name: Window(spans=each, margin=60.0) for name, each in spans.items()}
    return SimpleNamespace(windows=windows, model_copy=copy)


def test_windows_come_later_or_earlier_and_are_cut_off_at_the_start(pair: Pair) -> None:
    procedure = timed(pair[1], light=((0.0, 300.0), (1200.0, 1800.0)), link=((600.0, 900.0),))
    later = made((pair[0], procedure), "windows +10 min")[1].windows
    assert later["light"].spans == ((600.0, 900.0), (1800.0, 2400.0))
    assert (later["link"].spans, later["link"].margin) == (((1200.0, 1500.0),), 60.0)
    earlier = made((pair[0], procedure), "windows light -10 min")[1].windows
    assert earlier["light"].spans == ((600.0, 1200.0),)
    assert earlier["link"] == procedure.windows["link"]
    cut = made((pair[0], procedure), "windows -12 min")[1].windows
    assert cut["link"].spans == ((0.0, 180.0),)
    with pytest.raises(UnfitError, match="'link' would be over before the procedure begins"):
        made((pair[0], procedure), "windows -20 min")
    with pytest.raises(UnfitError, match="did you mean 'link'"):
        made((pair[0], procedure), "windows lnik +1 min")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("swap W1 W3", "unknown worker 'W3'; did you mean 'W2'"),
        ("swap W1 W1", "a swap takes two workers"),
        ("W3 is large", "unknown worker 'W3'"),
        ("W1 is larg", "unknown size class or hand 'larg'; did you mean 'large'"),
        ("W3 is left-handed", "unknown worker 'W3'"),
        ("SB blocked", "unknown socket, handrail or handhold 'SB'; did you mean 'SA'"),
        ("PB1 gone", "unknown socket, handrail or handhold 'PB1'"),
        ("SA gone", "write 'SA blocked'"),
        ("T2 length 3 m", "unknown tether 'T2'; did you mean 'T1'"),
        ("T1 length 3 kg", "'3 kg' is a mass, a length is needed"),
        ("T1 length -3 m", "greater than 0"),
        ("T1 length nan", "finite"),
        ("limit rail_gpa 3 m", "did you mean 'rail_gap'"),
        ("limit rail_gap 0 m", "greater than zero"),
        ("limit rail_gap 3 s", "is a time, a length is needed"),
        ("windows +10 min", "the procedure has no windows"),
        ("SA blocked, SA free", "'SA free': the same is varied twice"),
        ("swap W1 W2, swap W2 W1", "the same is varied twice"),
    ],
)
def test_what_cannot_be_had_says_why(pair: Pair, text: str, says: str) -> None:
    with pytest.raises(UnfitError, match=says):
        made(pair, text)


def test_all_reasons_are_told_at_once(pair: Pair) -> None:
    with pytest.raises(UnfitError) as told:
        made(pair, "swap W8 W9, SB blocked, T1 length 12 m, limit rail_gpa 3")
    assert len(told.value.messages) == 4


@pytest.mark.parametrize("status", ["gone", "blocked"])
def test_a_rail_that_hands_hold_cannot_be_taken_away(pair: Pair, status: str) -> None:
    """No check of a hold asks whether its grip may be held: it would pass.  Ways are checked."""
    hold = {"do": "hold", "grips": ["RA"]}
    step = pair[1].steps[0]
    held = type(step).model_validate(
        {**step.model_dump(by_alias=True, exclude_unset=True), "actions": [hold]}
    )
    procedure = pair[1].model_copy(update={"steps": (held, *pair[1].steps[1:])})
    with pytest.raises(UnfitError, match="it is named by step 'stand' to hold, where no check"):
        made((pair[0], procedure), f"RA {status}")
    assert made((pair[0], procedure), "RA free") == (pair[0], procedure)
    assert made((pair[0], procedure), f"RB {status}")[1] == procedure
    assert made((pair[0], procedure), f"RC {status}")[1] == procedure


def test_copies_say_that_they_are_not_the_files(folder: Path) -> None:
    loaded, asked = loaded_of(folder)
    copy, question = varied_copies(loaded, asked, variations_of("SA blocked, W1 is large"))
    assert copy.what_if == question.what_if == ("SA blocked", "W1 is large")
    name = "what if (SA blocked, W1 is large)"
    assert set(copy.files) - set(loaded.files) == {name}
    assert set(question.files) - set(asked.files) == {name}
    again, _ = told_as(copy, question, ["hands swapped"])
    assert set(again.files) - set(loaded.files) == {name.replace("e)", "e, hands swapped)")}
    assert (loaded.what_if, asked.what_if) == ((), ())
    same = varied_copies(loaded, asked, ())
    assert same[0] is loaded
    assert same[1] is asked


def test_the_order_of_variations_changes_the_hash(folder: Path) -> None:
    """The order changes the result: two orders must not share a hash."""
    pair = loaded_of(folder)
    texts = ("swap W1 W2, W1 is large", "W1 is large, swap W1 W2")
    files = [set(varied_copies(*pair, variations_of(text))[0].files.values()) for text in texts]
    assert files[0] != files[1]


def test_what_is_so_already_is_told(folder: Path) -> None:
    copy, _ = varied_copies(*loaded_of(folder), variations_of("W1 is medium, SA blocked"))
    assert copy.warnings[0] == "What if W1 is medium: that changes nothing, it is so already."
    assert not any("SA" in warning for warning in copy.warnings)
