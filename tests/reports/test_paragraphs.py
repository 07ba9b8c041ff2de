"""A paragraph is what a grid of rich gives, without trailing blanks."""

import pytest

from reach.reports.paragraphs import Paragraph, as_grid
from reach.reports.table import printed

TEXTS = [
    "",
    "short",
    "W1 in SK4 reaches FB3 by 0.031 m at least; the wrist is held straight and the trunk leans. "
    * 3,
    "a" * 250,
    "two lines\nand a  blank in between",
    "wide 日本語 letters · and a dot",
]


@pytest.mark.parametrize("width", [40, 57, 100])
@pytest.mark.parametrize("label", ["", "! ", "Cause of 12 answers: ", " 1. "])
@pytest.mark.parametrize("indent", [0, 2, 6])
def test_a_paragraph_is_wrapped_as_in_a_grid(width, label, indent):
    made = [Paragraph(text, indent, label, "bold") for text in TEXTS]
    grids = [as_grid(text, indent, label, "bold") for text in TEXTS]
    assert printed(made, width, False) == printed(grids, width, False)


def test_a_paragraph_too_narrow_for_its_label_is_left_to_the_grid():
    made, grid = (
        Paragraph("some words", 2, "a long label: "),
        as_grid("some words", 2, "a long label: ", ""),
    )
    assert printed([made], 24, False) == printed([grid], 24, False)
