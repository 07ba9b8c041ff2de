"""What holds for every table and card: nothing bad is left out, nothing unknown looks good."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from reach.dossier.dossier import Dossier
from reach.dossier.products import PRODUCTS
from reach.dossier.records import Row, Table
from reach.finding import RANK, Verdict

BAD = (Verdict.FAIL, Verdict.OPEN, Verdict.REVIEW)
LISTS = ("summary", "findings", "causes", "to-verify")
"""Tables that list findings as such."""


@pytest.fixture(params=["demo", "mended", "mast"])
def dossier(request: pytest.FixtureRequest) -> Dossier:
    made: Dossier = request.getfixturevalue(request.param)
    return made


def all_tables(dossier: Dossier) -> Iterator[Table]:
    yield from dossier.tables
    for card in dossier.cards:
        yield from (card.bolts, card.tools, card.tether, card.hazards)


def all_rows(dossier: Dossier) -> Iterator[tuple[Table, Row]]:
    for table in all_tables(dossier):
        for row in table.rows:
            yield table, row


def answered(dossier: Dossier, *, lists: bool) -> set[int]:
    tables = [one for one in dossier.tables if lists or one.name not in LISTS]
    found = {k for table in tables for row in table.rows for k in row.answers}
    return found | {k for card in dossier.cards for k in card.answers}


def test_every_fail_and_every_open_finding_stands_in_a_table_of_its_subject(dossier):
    bad = {k for k, one in enumerate(dossier.outcome.findings) if one.verdict in BAD}
    missing = sorted(bad - answered(dossier, lists=False))
    assert not missing, [dossier.outcome.findings[k].because for k in missing]


def test_every_finding_stands_in_the_table_of_all_findings(dossier):
    listed = [row.answers for row in dossier.table("findings").rows]
    assert sorted(listed) == [(k,) for k in range(len(dossier.outcome.findings))]


def test_every_fail_and_open_finding_stands_under_one_root_cause_and_no_other(dossier):
    bad = sorted(k for k, one in enumerate(dossier.outcome.findings) if one.verdict in BAD)
    assert sorted(k for row in dossier.table("causes").rows for k in row.answers) == bad


def test_every_open_finding_is_to_be_verified(dossier):
    open_ones = {k for k, one in enumerate(dossier.outcome.findings) if one.verdict is Verdict.OPEN}
    assert open_ones <= {k for row in dossier.table("to-verify").rows for k in row.answers}


def test_no_cell_passes_where_a_finding_of_its_row_does_not(dossier):
    for table, row in all_rows(dossier):
        worst = min((RANK[dossier.outcome.findings[k].verdict] for k in row.answers), default=4)
        shown = [cell for cell in row.cells if isinstance(cell, Verdict)]
        judged = table.columns[-1].title.startswith("verdict")
        if shown and judged and row.answers:
            assert RANK[shown[-1]] <= worst, (table.name, row)


def test_a_row_without_findings_does_not_pass(dossier):
    for table, row in all_rows(dossier):
        if not row.answers:
            assert Verdict.PASS not in row.cells, (table.name, row)


def test_answers_are_places_of_findings(dossier):
    known = range(len(dossier.outcome.findings))
    assert all(k in known for _, row in all_rows(dossier) for k in row.answers)
    assert all(k in known for card in dossier.cards for k in card.answers)


def test_every_table_says_what_it_tells_and_what_is_said_when_it_is_empty(dossier):
    names = [table.name for table in dossier.tables]
    assert len(set(names)) == len(names)
    for table in all_tables(dossier):
        assert table.title
        assert table.says.endswith(".")
        assert table.nothing.endswith(".")
        assert table.columns
        assert len({column.title for column in table.columns}) == len(table.columns), table.name


def test_numbers_have_a_unit_or_are_counts_and_are_finite(dossier):
    for table, row in all_rows(dossier):
        for cell, column in zip(row.cells, table.columns, strict=True):
            if column.unit:
                assert cell is None or isinstance(cell, int | float), (table.name, column, cell)
            if isinstance(cell, float):
                assert abs(cell) < float("inf"), (table.name, column)


def test_moments_are_told_from_durations(dossier):
    for table in all_tables(dossier):
        for column in table.columns:
            if column.is_moment:
                assert column.unit == "s"


def test_the_seventeen_products_are_covered(dossier):
    assert [one.number for one in PRODUCTS] == list(range(1, 18))
    names = {table.name for table in dossier.tables}
    for product in PRODUCTS:
        assert product.tables, product.title
        assert set(product.tables) <= names, product.title


def test_every_declared_hazard_is_listed_also_where_no_finding_speaks_of_it(dossier):
    told = [str(row.cells[0]).split(" (")[0] for row in dossier.table("hazards").rows]
    declared = list(dossier.outcome.site.scene.hazards)
    assert told[: len(declared)] == declared


def test_every_card_says_what_to_do_if_stuck_in_sentences_with_their_source(dossier):
    for card in dossier.cards:
        assert card.if_stuck, card.title
        assert all(words.endswith(".") for words in card.if_stuck)


def test_cards_are_numbered_in_order_and_have_one_line_each_among_the_worksites(dossier):
    assert [card.number for card in dossier.cards] == list(range(1, len(dossier.cards) + 1))
    lines = [(row.cells[0], row.cells[1], row.cells[2]) for row in dossier.table("worksites").rows]
    assert lines == [(card.number, card.worker, card.place) for card in dossier.cards]
