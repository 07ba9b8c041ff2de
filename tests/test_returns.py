"""`reach returns`: minutes back to the lock from grips, places and steps."""

from __future__ import annotations

import csv
import io
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from test_routes import SCENE, call

from reach.files.procedure import load_procedure
from reach.files.scene import load_scene
from reach.reports.returns import returns_csv
from reach.returns import Returns, returns_of

MORE = """
[workers.W2]
size = "small"
hand = "right"
suit = "halden"

[sockets.S1]
at = [4.0, -0.3, 0.0]
axis = [0, 1, 0]
zero = [1, 0, 0]

[sockets.S2]
at = [9.0, -0.3, 0.0]
axis = [0, 1, 0]
zero = [1, 0, 0]
"""

STEPS = """
format = 1
title = "There and not back"

[lanes]
W1 = "worker"
W2 = "worker"

[[steps]]
name = "out"
lane = "W2"
actions = [{ do = "translate", from = "door", to = "A@1.0" }]

[[steps]]
name = "far"
lane = "W1"
actions = [{ do = "translate", from = "door", to = "C@1.9" }]
"""

LIMIT = """
[limits.return_time]
value = "18.9 min"
source = "test"
mark = "invented for the demo"
"""


@pytest.fixture(scope="module")
def yard(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("returns") / "yard"
    folder.mkdir()
    (folder / "scene.toml").write_text(SCENE + MORE)
    (folder / "steps.toml").write_text(STEPS)
    return folder


@pytest.fixture(scope="module")
def home(yard: Path) -> Returns:
    loaded = load_scene(yard)
    return returns_of(loaded, load_procedure("steps.toml", loaded))


def by_hand(way: float, apart: float, swaps: int) -> float:
    """Minutes by the shipped rates: leaving, going there, freeing, swaps, bringing, lock."""
    return 2.0 + apart / 0.15 / 60.0 + 2.0 + 1.5 * swaps + way / 0.04 / 60.0 + 10.5


HOLD = math.sqrt(1.2**2 - 0.5**2)
"""How far along A (from x = 0) the door reaches: 1.2 m to a rail 0.5 m aside."""


def test_grips_are_reckoned_as_by_hand(home: Returns) -> None:
    graph, found = home.map.graph, home.map
    for node in range(graph.n_grips):
        x, _, z = graph.points[node]
        name = graph.rails[graph.rail[node]].name
        if name == "A" and x >= HOLD:
            way = 1.2 + x - HOLD
        elif name == "C":
            way = 1.2 + 2.0 - HOLD + 0.5 + 1.1 + 0.5 + x - 3.1
        else:
            continue
        assert found.length[node] == pytest.approx(way), (name, x, z)
        assert found.brought[node] / 60.0 == pytest.approx(by_hand(way, 0.0, 2))
        assert found.alone[node] / 60.0 == pytest.approx(way / 0.15 / 60.0 + 10.5)


def test_a_place_from_which_no_rails_lead_says_so(home: Returns, yard: Path) -> None:
    places = {place.place: place for place in home.places}
    assert math.isinf(places["S2"].length)
    assert np.isfinite(places["S1"].length)
    lines = call("returns", str(yard)).stdout.splitlines()
    assert any(line.split()[:4] == ["S2", "–", "no", "rails"] for line in lines)


def test_steps_have_the_partner_where_the_procedure_left_them(home: Returns) -> None:
    first, last = home.steps
    assert (first.step, first.home and first.home.partner) == ("out", "")
    assert first.margin is None
    assert last.home is not None
    assert (last.home.partner, last.home.partner_place) == ("W2", "A@1.0")
    way = 1.2 + 2.0 - HOLD + 0.5 + 1.1 + 0.5 + 1.9
    apart = 0.8 + 0.5 + 1.1 + 0.5 + 1.9
    minutes = by_hand(way, apart, last.home.swaps)
    assert last.home.brought / 60.0 == pytest.approx(minutes)
    assert last.margin == pytest.approx(1800.0 - 60.0 * minutes)


def test_a_step_that_is_not_known_is_counted_and_no_success(home: Returns, yard: Path) -> None:
    assert home.unknown == ("out",)
    assert home.exit_code == 3
    assert replace(home, steps=home.steps[1:]).exit_code == 0
    result = call("returns", str(yard), "steps.toml")
    assert result.exit_code == 3
    assert "1 step has no known way of bringing its worker in." in result.stdout
    assert "– not known  out: W2" in result.stdout


def test_what_alone_holds_and_which_swaps_are_taken_is_said(yard: Path) -> None:
    out = " ".join(call("returns", str(yard), "--swaps", "1").stdout.split())
    assert "leaving a restraint and swaps of safety lines are not in it" in out
    assert "Places and rails are reckoned with 1 swap of safety lines." in out


def test_beyond_the_rule_is_marked_and_exits_1(yard: Path, tmp_path: Path) -> None:
    folder = tmp_path / "yard"
    folder.mkdir()
    (folder / "scene.toml").write_text(SCENE + MORE + LIMIT)
    (folder / "steps.toml").write_text(STEPS)
    result = call("returns", str(folder), "steps.toml")
    assert result.exit_code == 1
    assert "■ BEYOND     far: W1 (medium) at C@1.9" in result.stdout
    assert call("returns", str(folder)).exit_code == 0


def test_more_swaps_and_a_partner_elsewhere_take_longer(yard: Path) -> None:
    loaded = load_scene(yard)
    base = returns_of(loaded, swaps=0).map
    swapped = returns_of(loaded, swaps=2).map
    away = returns_of(loaded, swaps=0, partner="A@1.0").map
    known = np.isfinite(base.brought)
    assert swapped.brought[known] - base.brought[known] == pytest.approx(180.0)
    assert (away.brought[: away.graph.n_grips].min() >= base.brought.min()) is np.True_
    ends = [by_hand(1.2 + 2.0 - HOLD, 0.8, 0)]
    node = int(
        np.argmin(np.linalg.norm(away.graph.points[: away.graph.n_grips] - [2.0, 0, 0], axis=1))
    )
    assert away.brought[node] / 60.0 == pytest.approx(ends[0])


def test_csv_has_every_grip_place_and_step(home: Returns) -> None:
    rows = list(csv.DictReader(io.StringIO(returns_csv(home))))
    kinds = [row["kind"] for row in rows]
    assert kinds.count("grip") == home.map.graph.n_grips
    assert kinds.count("place") == len(home.places)
    assert kinds.count("step") == len(home.steps)
    grips = [row for row in rows if row["kind"] == "grip"]
    assert [float(row["brought"]) for row in grips] == pytest.approx(
        (home.map.brought / 60.0).tolist(), abs=1e-3
    )
    assert {row["answer"] for row in rows} == {
        "within", "no rails lead home", "no partner who can come",
    }  # fmt: skip


def test_rates_are_printed_with_their_sources(yard: Path) -> None:
    out = " ".join(call("returns", str(yard)).stdout.split())
    for words in ("0.04 m/s (casualty_pace:", "10.5 min (lock_time:", "30.0 min (return_time:"):
        assert words in out


def test_all_problems_are_told_at_once(yard: Path) -> None:
    result = call(
        "returns", str(yard), "steps.tml", "--worker", "W3", "--partner", "dor", "--size", "smal",
        "--csv", "no/a.csv",
    )  # fmt: skip
    assert result.exit_code == 2
    for message in ("steps.tml", "W3", "did you mean 'door'?", "'small'?", "no folder"):
        assert message in result.stderr, message


def test_a_scene_without_a_hatch_is_refused(tmp_path: Path) -> None:
    folder = tmp_path / "yard"
    folder.mkdir()
    text = SCENE.replace("[hatches.door]\nat = [0.0, 0.5, 0.0]\n", "")
    (folder / "scene.toml").write_text(text)
    result = call("returns", str(folder))
    assert result.exit_code == 2
    assert "there is no way home" in result.stderr
