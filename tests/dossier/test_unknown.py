"""What a scene or a procedure does not say is not known: it is never told as no."""

from __future__ import annotations

from reach.dossier.dossier import Dossier
from reach.finding import Verdict


def cells(dossier: Dossier, table: str, title: str) -> list[object]:
    at = [column.title for column in dossier.table(table).columns].index(title)
    return [row.cells[at] for row in dossier.table(table).rows]


def test_items_of_an_undeclared_begin_are_nowhere_known(mast):
    assert set(cells(mast, "tools-and-hardware", "at the begin")) == {"not known"}
    assert set(cells(mast, "stowage", "where it is")) == {"not known"}


def test_whether_a_fastener_stays_with_its_part_is_not_known(mast):
    assert set(cells(mast, "bolts", "captive")) == {"not known"}
    assert set(cells(mast, "bolts", "turns at least")) == {None}
    assert set(cells(mast, "bolts", "if it does not go as written")) == {"not declared"}


def test_light_is_not_declared_without_windows(mast):
    assert set(cells(mast, "timeline", "light")) == {"not declared"}


def test_nothing_is_expected_in_the_end_where_nothing_is_declared(mast):
    assert set(cells(mast, "end-state", "as expected")) == {"nothing is declared"}


def test_what_no_finding_speaks_of_is_unknown_not_good(mast):
    told = dict(
        zip(
            cells(mast, "hazards", "hazard"),
            cells(mast, "hazards", "verdict of what was asked"),
            strict=True,
        )
    )
    assert told["hot or cold surface"] is Verdict.NOT_ASKED
    said = cells(mast, "hazards", "open or unknown")
    assert "All of it is unknown: nothing was judged." in said


def test_without_a_hatch_no_way_home_is_told(mast):
    assert mast.returns is None
    assert "no way home is known" in mast.table("contingency-steps").nothing
    assert all(
        any("No way home along rails is known" in words for words in card.if_stuck)
        for card in mast.cards
    )


def test_a_table_that_is_not_there_is_told_with_those_that_are(mast):
    try:
        mast.table("bolt")
    except ValueError as error:
        assert "bolts" in str(error)
    else:
        raise AssertionError("a table that is not there was found")
