"""Clearances of what moves: each line tells the thing that decides, and what is asked of that."""

from __future__ import annotations

from dataclasses import replace

import pytest

from reach.dossier.basis import Basis
from reach.dossier.dossier import Dossier
from reach.dossier.hazards import names_hazard, told_of
from reach.dossier.payloads import payload_clearance
from reach.dossier.records import Cell
from reach.files.procedure import load_procedure
from reach.files.scene import load_scene
from reach.finding import Finding, Limit
from reach.model.provenance import Provenance

ASKED = (Limit("payload_clearance", 0.2, "m", Provenance()),)
LINKS = (Limit("link_clearance", 0.1, "m", Provenance()),)

SWEPT = Finding(
    "sweep", "19 carry", ("relay-boom", "Crane"), "", "It comes near.", -0.161, -0.160, "m", ASKED,
    numbers={
        "answer": "payload",
        "gaps": {
            "long-beam": {"gap": [0.52, 0.53], "stand-off": 0.2, "piece": "boom-body"},
            "sun-wing-hinge": {"gap": [0.439, 0.44], "stand-off": 0.6, "piece": "boom-body"},
        },
        "waypoints": {"low-elm": 0.79, "low-gorse": 1.2},
    },
)  # fmt: skip


def links(thing: str, margin: float) -> Finding:
    return Finding(
        "links", "19 carry", ("Crane",), "", "They keep clear.", margin, float("inf"), "m", LINKS,
        numbers={
            "link": "column", "thing": thing, "gap, solid": 0.25, "gap, hazard": 0.679,
            "gap, self": 0.136,
        },
    )  # fmt: skip


def rows(dossier: Dossier, *findings: Finding) -> list[dict[str, Cell]]:
    loaded = load_scene("brackenfall")
    asked = load_procedure(None, loaded)
    outcome = replace(dossier.outcome, findings=findings)
    basis = Basis(loaded, asked, outcome, None, dossier.ledger, None)
    table = payload_clearance(basis)
    titles = [column.title for column in table.columns]
    return [dict(zip(titles, row.cells, strict=True)) for row in table.rows]


def test_a_motion_names_what_is_nearest_to_its_own_stand_off_and_its_gap_on_the_whole_way(mended):
    (told,) = rows(mended, SWEPT)
    # The beam keeps more of what is asked, though it asks for less.
    assert (told["nearest to"], told["asked"]) == ("sun-wing-hinge", 0.6)
    assert (told["gap at least"], told["gap at most"]) == (0.439, 0.44)
    # The waypoints alone keep 0.60 m: that is why it is asked of the whole way.
    assert told["at the waypoints alone"] == 0.79
    assert told["left of what is asked"] == -0.160
    assert told["next nearest"] == "long-beam 0.520 m"


@pytest.mark.parametrize(
    ("thing", "margin", "gap", "asked"),
    [
        ("adapter", 0.136, 0.136, 0.0),
        ("sun-wing-hinge", 0.079, 0.679, 0.6),
        ("long-beam", 0.15, 0.25, 0.1),
        ("long-beam", 0.11, None, None),
    ],
)
def test_links_tell_the_gap_that_decides_or_none(mended, thing, margin, gap, asked):
    (told,) = rows(mended, links(thing, margin))
    assert (told["gap at least"], told["asked"]) == (gap, asked)
    assert told["left of what is asked"] == margin


def test_of_a_hazard_a_motion_tells_the_gap_to_that_hazard():
    passing = replace(SWEPT, low=0.1, high=0.2)
    told = told_of(passing, "sun-wing-hinge")
    assert told is not None
    assert told[1] == pytest.approx(0.439 - 0.6)
    assert "0.439 m from sun-wing-hinge" in told[2]


def test_links_say_nothing_of_a_hazard_that_is_not_their_nearest():
    assert told_of(links("long-beam", 0.15), "sun-wing-hinge") is None
    assert told_of(links("sun-wing-hinge", 0.079), "sun-wing-hinge") is not None


@pytest.mark.parametrize("mark", [".", ",", ";", ":", " at 0.01 m", ")"])
def test_words_name_a_hazard_whatever_mark_follows_it(mark):
    words = f"The line passes cut-bracket{mark} and on it goes."
    told = Finding("edge", "5 go", ("W1", "A", "B"), "", words, 0.0, 0.0, "m")
    assert names_hazard(told, "cut-bracket")
    assert not names_hazard(told, "cut")
    assert not names_hazard(told, "bracket")


def test_the_edge_is_judged_by_the_check_of_edges_too(demo):
    row = next(row for row in demo.table("hazards").rows if row.cells[0].startswith("cut-bracket"))
    assert "edge" in str(row.cells[4]).split(", ")
