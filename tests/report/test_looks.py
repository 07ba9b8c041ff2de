"""What is printed can be read, names stand apart, and nothing looks better than it is."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import combinations
from types import SimpleNamespace

import numpy as np
import pytest
from PIL import Image

from reach.dossier.records import Column, Row, Table
from reach.finding import Finding, Verdict
from reach.pictures.plates import SMALL, alike, packed
from reach.pictures.plates import _plate as plate_of
from reach.pictures.sheet import Frame
from reach.reports.order import shared_causes
from reach.reports.page.bar_words import SMALL as LETTER
from reach.reports.page.bar_words import beside, label_of
from reach.reports.page.looks import card_css
from reach.reports.page.paper import _laid_out
from reach.reports.page.report import SIZES, Report, card_pages, report_html, shortened
from reach.reports.page.tabular import tabular

LEAST = 7.5
"""Letters in print are at least so large, pt."""


def finding(
    verdict: Verdict, step: str = "1 bolt", check: str = "held", cause: str = ""
) -> Finding:
    low = {Verdict.PASS: 0.1, Verdict.FAIL: -1.0}[verdict]
    numbers = {"cause": cause} if cause else {}
    return Finding(check, step, ("W1",), "", "It is so.", low, low, "m", numbers=numbers)


def test_every_card_fits_its_page_in_letters_that_can_be_read(dossier):
    share = float(re.search(r"\.card table \{ font-size: (\.\d+)em", card_css()).group(1))
    smallest = float(re.search(r"\.size-5 table \{ font-size: (\.\d+)em", card_css()).group(1))
    assert all(points >= LEAST for points in list(SIZES.values())[:-1])
    assert all(points * share >= LEAST for points in list(SIZES.values())[:-2])
    assert SIZES["size-5"] * smallest >= LEAST
    for page in card_pages(Report(dossier)):
        fits = [len(_laid_out(page.html(size), {}).pages) == 1 for size in page.sizes[:-1]]
        assert any(fits), "only letters too small to be read fit on the page"


def test_nothing_is_said_twice_on_a_card(dossier):
    for card in dossier.cards:
        assert len(set(card.if_stuck)) == len(card.if_stuck)
        fixes = {dossier.outcome.findings[k].fix for k in card.answers} - {""}
        assert not [words for words in card.if_stuck for fix in fixes if fix.rstrip(".") in words]


def test_what_nobody_asked_for_takes_no_chapter_and_is_said(dossier):
    page = report_html(Report(dossier), on_paper=True)
    assert "<h2>What has changed</h2>" not in page
    assert 'id="t-differences"' not in page
    rest = page[page.index('<section id="not-checked"') :]
    assert "no older version was given" in rest
    assert "Other sizes and the other hand were not run" in rest


def test_shared_causes_are_counted_alike_on_the_page_and_in_the_summary(dossier):
    row = next(row for row in dossier.table("summary").rows if "root causes" in str(row.cells[0]))
    assert row.cells[1] == len(shared_causes(dossier.outcome.findings))


def test_a_cause_is_shared_by_findings_that_do_not_pass():
    several = [finding(Verdict.FAIL, cause="A."), finding(Verdict.FAIL, "2 bolt", cause="A.")]
    alone = [finding(Verdict.FAIL, cause="B."), finding(Verdict.PASS, cause="B.")]
    assert list(shared_causes([*alone, *several])) == ["A."]


def test_a_picture_never_looks_better_than_its_steps():
    key = Image.new("RGB", (8, 8))
    frame = Frame(Verdict.PASS, "Step 1 bolt", "W1", "Standing upright at rest.", (), key)
    found = (finding(Verdict.PASS), finding(Verdict.FAIL), finding(Verdict.PASS, "2 bolt"))
    outcome = SimpleNamespace(findings=found, what_if=())
    blank = Image.new("RGB", SMALL)
    bad, _ = plate_of(outcome, "01", "outside", "", ("1 bolt",), frame, blank)
    good, _ = plate_of(outcome, "02", "outside", "", ("2 bolt",), frame, blank)
    assert bad.verdict is Verdict.FAIL
    assert "Of what is drawn: pass. Not drawn, of the same step: fail, held." in bad.alt
    assert good.verdict is Verdict.PASS
    assert "Not drawn" not in good.alt


def test_stands_that_look_the_same_are_drawn_once():
    boots, around = np.eye(4), object()

    def site(number, head=None, pose=boots, grips=()):
        place = SimpleNamespace(world_from_boots=pose)
        action = SimpleNamespace(grips=grips)
        situation = SimpleNamespace(
            place=place, head=head, worker="W1", case="medium", surroundings=around, action=action
        )
        return SimpleNamespace(number=number, situation=situation)

    moved = boots.copy()
    moved[0, 3] = 1.0
    sites = [site(1), site(2, grips=("HB1",)), site(3, pose=moved), site(4, head="CB1"),
             site(5, head="CB1")]  # fmt: skip
    numbers = [[one.number for one in group] for group in alike(sites)]
    assert numbers == [[2, 1], [3], [4], [5]]


@pytest.mark.picture
def test_names_in_the_scene_do_not_lie_over_one_another():
    from reach.pictures.camera import fitted
    from reach.pictures.palette import INK
    from reach.pictures.viewer import seated

    points = np.array(
        [[x, 0.1 * k, 0.0] for k, x in enumerate([0.0, 0.2, 0.3, 0.4, 8.0, 8.1, 20.0])]
    )
    camera = fitted(points, np.array([0.35, -0.82, 0.45]) / 1.0, 1.45)
    names = seated([(f"fail crane-reach {k}", p, INK, 0.28) for k, p in enumerate(points)], camera)
    boxes = [one.placed.box for one in names if one.placed is not None]
    assert len(boxes) == len(points)
    for (a, b, c, d), (left, top, right, bottom) in combinations(boxes, 2):
        assert c <= left or right <= a or d <= top or bottom <= b


def test_pictures_side_by_side_have_letters_that_can_be_read():
    from reach.pictures.overlay import SIZE
    from reach.pictures.plates import LETTERING

    wide = 88.0 / 25.4 * 72.0  # of a picture in print, pt
    assert min(SIZE.values()) * LETTERING / SMALL[0] * wide >= 5.0
    assert len(packed(Image.new("RGB", SMALL), "JPEG")) > 0


def test_a_short_bar_has_its_number_in_it_or_beside_it():
    assert "rotate(-90)" in label_of("14 Wb", "14 Wb", 0.0, 8.2, 0.0, 30.0)
    assert label_of("14 Wb", "14 Wb", 0.0, 3.0, 0.0, 30.0) == ""
    assert ">14<" in beside("14", 100.0, 103.0, (0.0, 103.0 + 2.5 * LETTER), 10.0)
    to_the_left = beside("14", 100.0, 103.0, (0.0, 105.0), 10.0)
    assert 'text-anchor="end"' in to_the_left
    assert beside("14", 100.0, 103.0, (98.0, 105.0), 10.0) == ""


def test_paper_leaves_out_no_row_that_does_not_pass():
    heads = (Column("step"), Column("against the plan"), Column("verdict"))
    rows = (
        Row(("1", "alike", Verdict.PASS)), Row(("2", "alike", Verdict.FAIL)),
        Row(("3", "worse", Verdict.PASS)), Row(("4", "not asked", Verdict.NOT_ASKED)),
        Row(("5", "as planned", Verdict.OPEN)),
    )  # fmt: skip
    table = Table("differences", "Differences", "All.", heads, rows)
    short = shortened(table)
    assert [row.cells[0] for row in short.rows] == ["2", "3", "4", "5"]
    assert "1 rows that pass" in short.says
    other = replace(table, name="bolts")
    assert shortened(other) is other


def test_a_table_with_sentences_takes_the_width_of_the_page():
    many = "On a way of the joints the boot plate keeps its distance from all that is there. " * 2
    heads = (Column("step"), Column("in words"))
    assert tabular(Table("t", "T", "", heads, (Row(("1", many)),)), None, "si").has_words
    assert not tabular(Table("t", "T", "", heads, (Row(("1", "met")),)), None, "si").has_words
