"""Paper, cards, workbook and 3D file say the same as the page; nothing is left half-written."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import timedelta

import openpyxl
import pypdf
import pytest
import trimesh
from typer.testing import CliRunner

import reach.cli
from reach import folder as folder_module
from reach.cautions import CAUTIONS
from reach.dossier.records import Card, Column, Row, Table
from reach.finding import Verdict
from reach.folder import CONTENTS, FILES, write_report
from reach.reports.page.cells import columns_of
from reach.reports.page.paper import cards_pdf, report_pdf
from reach.reports.page.report import Report
from reach.reports.page.tabular import ACROSS, tabular
from reach.reports.page.workbook import fields_of, tables_xlsx

A4 = {595, 842}


def words(text: str) -> str:
    return "".join(text.split())


@pytest.fixture(scope="module")
def paper(dossier) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(report_pdf(Report(dossier))))


def test_all_files_are_written_and_small(written, folder):
    assert {path.name for path in written.files} == {*FILES.values(), CONTENTS}
    assert not written.absent
    assert {path.name for path in folder.iterdir()} == {*FILES.values(), CONTENTS}
    assert (folder / "report.html").stat().st_size < 15e6


def test_every_page_is_a4_with_its_number_and_the_caution(paper):
    n = len(paper.pages)
    for k, page in enumerate(paper.pages, 1):
        assert {round(float(side)) for side in page.mediabox[2:]} == A4
        text = page.extract_text()
        assert f"{k} / {n}" in text
        assert words(CAUTIONS[0]) in words(text)


def test_paper_tells_all_that_does_not_pass(dossier, paper):
    text = words(" ".join(page.extract_text() for page in paper.pages))
    # A sentence may be cut by the foot of a page: its beginning and its fix's are looked for.
    for finding in dossier.outcome.findings:
        if finding.verdict in (Verdict.FAIL, Verdict.OPEN, Verdict.REVIEW):
            assert words(finding.because)[:40] in text
            assert words(finding.fix)[:30] in text


def test_there_is_one_card_a_page(dossier):
    assert dossier.cards
    cards = pypdf.PdfReader(io.BytesIO(cards_pdf(Report(dossier))))
    assert len(cards.pages) == len(dossier.cards)
    for card, page in zip(dossier.cards, cards.pages, strict=True):
        assert {round(float(side)) for side in page.mediabox[2:]} == A4
        text = words(page.extract_text())
        assert words(CAUTIONS[0]) in text
        assert words(card.title) in text
        for k in card.answers:
            finding = dossier.outcome.findings[k]
            if finding.verdict in (Verdict.FAIL, Verdict.OPEN, Verdict.REVIEW):
                assert words(finding.because) in text


def test_a_card_with_much_on_it_is_set_smaller_not_cut(dossier):
    first: Card = dossier.cards[0]
    lines = tuple(f"{k}: if this does not go, that is done instead, and so on." for k in range(60))
    full = replace(dossier, cards=(replace(first, if_stuck=lines), first))
    cards = pypdf.PdfReader(io.BytesIO(cards_pdf(Report(full))))
    assert len(cards.pages) == 2
    text = words(cards.pages[0].extract_text())
    assert all(words(line) in text for line in lines)


def test_the_workbook_holds_the_tables(dossier):
    for units in ("si", "both"):
        book = openpyxl.load_workbook(io.BytesIO(tables_xlsx(dossier, units)))
        for table in dossier.tables:
            sheet = book[table.name[:31]]
            fields = fields_of(table.columns, columns_of(table, units))
            rows = list(sheet.iter_rows(min_row=3, values_only=True))
            assert list(rows[0]) == [field.head for _, field in fields]
            assert len(rows) - 1 == len(table.rows)
            assert sheet.freeze_panes == "B4"
            for line, row in zip(rows[1:], table.rows, strict=True):
                for held, (k, field) in zip(line, fields, strict=True):
                    _same(held, row.cells[k], field)


def _same(held, cell, field) -> None:
    if cell is None:
        assert held == "not known"
    elif isinstance(cell, Verdict):
        assert held.endswith(str(cell))
    elif isinstance(cell, str):
        assert (held or "") == cell
    elif cell == cell and abs(cell) != float("inf"):
        if field.printed.is_moment:  # read as a span or a time of day
            at = (
                held
                if isinstance(held, timedelta)
                else timedelta(hours=held.hour, minutes=held.minute)
            )
            assert at.total_seconds() % 86400 == pytest.approx(cell % 86400, abs=60.0)
        else:
            assert held == pytest.approx(field.value(float(cell)), rel=1e-9)


def test_a_cell_that_looks_like_a_formula_is_words(dossier):
    table = Table("odd", "Odd", "", (Column("a"), Column("b", "m")), (Row(("=1+1", 2.0)),))
    book = openpyxl.load_workbook(io.BytesIO(tables_xlsx(replace(dossier, tables=(table,)))))
    cell = book["odd"]["A4"]
    assert (cell.value, cell.data_type) == ("=1+1", "s")
    assert book["odd"]["B4"].number_format == '0.000" m"'


def test_a_table_too_wide_for_paper_is_cut_into_tables_that_fit():
    columns = tuple(Column(f"what is in column {k}") for k in range(20))
    rows = tuple(Row(tuple(f"many words in row {r} and {k}" for k in range(20))) for r in range(4))
    pieces = tabular(Table("wide", "Wide", "says", columns, rows), None, "si").pieces
    assert len(pieces) > 1
    assert all(piece.width <= ACROSS for piece in pieces)
    told = [head for piece in pieces for head, _ in piece.heads[1:]]
    assert told == [column.title for column in columns[1:]]


def test_what_is_the_same_in_every_row_is_told_once():
    rows = tuple(Row((f"r{k}", "steel", k)) for k in range(4))
    columns = (Column("name"), Column("made of"), Column("n"))
    table = tabular(Table("t", "T", "", columns, rows), None, "si")
    assert table.alike == (("made of", "steel"),)
    assert [head for head, _ in table.heads] == ["name", "n"]


def test_the_scene_holds_structure_and_marks(written, folder):
    scene = trimesh.load(folder / "scene.glb")
    names = set(scene.graph.nodes_geometry)
    assert any(name.startswith("FAIL reach, too far") for name in names)
    assert "PB4" in names
    assert any(name.endswith("reach") for name in names)


def test_a_library_that_is_not_there_is_told_and_the_rest_written(dossier, tmp_path, monkeypatch):
    there = folder_module._is_there
    monkeypatch.setattr(
        folder_module, "_is_there", lambda name: name != "weasyprint" and there(name)
    )
    written = write_report(dossier, tmp_path, without=("pictures",))
    assert {path.name for path in written.files} == {
        "report.html",
        "tables.xlsx",
        "scene.glb",
        "contents.sha256",
    }
    assert any("report.pdf needs the library weasyprint" in words for words in written.absent)
    page = (tmp_path / "report.html").read_text(encoding="utf-8")
    assert "report.pdf needs the library weasyprint" in page


def test_without_a_renderer_the_rest_is_written(dossier, tmp_path, monkeypatch):
    from reach.pictures import plates

    def none(*args, **more):
        raise RuntimeError("drawing without a screen needs libEGL")

    monkeypatch.setattr(plates, "plates_of", none)
    written = write_report(dossier, tmp_path, without=("pdf", "cards"))
    assert any("libEGL" in words for words in written.absent)
    assert "libEGL" in (tmp_path / "report.html").read_text(encoding="utf-8")


def test_the_command_exits_like_check_and_names_its_files(yard, tmp_path):
    out = tmp_path / "out"
    arguments = ["report", str(yard), "-o", str(out), "--without", "pdf,cards,pictures,glb",
                 "--no-differences"]  # fmt: skip
    result = CliRunner().invoke(reach.cli.app, arguments)
    assert result.exit_code == 1
    assert sorted(path.name for path in out.iterdir()) == [
        "contents.sha256", "report.html", "tables.xlsx",
    ]  # fmt: skip
    assert f"Wrote {out / 'report.html'}" in result.stderr


def test_what_is_left_out_must_be_known(yard, tmp_path):
    result = CliRunner().invoke(
        reach.cli.app, ["report", str(yard), "-o", str(tmp_path), "--without", "pfd"]
    )
    assert result.exit_code == 2
    assert "pdf" in result.stderr
    assert not list(tmp_path.iterdir())


def test_an_interrupt_leaves_no_half_written_file(dossier, tmp_path, monkeypatch):
    from reach.reports.page import workbook

    def stopped(*args):
        raise KeyboardInterrupt

    monkeypatch.setattr(workbook, "tables_xlsx", stopped)
    with pytest.raises(KeyboardInterrupt):
        write_report(dossier, tmp_path, without=("pictures", "pdf", "cards"))
    assert list(tmp_path.iterdir()) == []
