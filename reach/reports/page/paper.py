"""The report and its cards on A4: the same templates, laid out for paper and made a PDF."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from reach.reports.page.report import CardPage, Report, card_pages, report_html


def report_pdf(report: Report) -> bytes:
    """Return the report as the bytes of a PDF file, A4.

    Raises
    ------
    ImportError
        If the library that lays out paper is not there.
    """
    with _uncollected():
        return _pdf(report_html(report, on_paper=True), {})


def cards_pdf(report: Report) -> bytes:
    """Return the worksite cards as the bytes of a PDF file, one card a page, A4.

    A card that runs over its page is set smaller until it does not.  Each is laid out alone.

    Raises
    ------
    ImportError
        If the library that lays out paper is not there.
    """
    with _uncollected():
        sheets = [_fitted(page) for page in card_pages(report)]
        pages = [page for sheet in sheets for page in sheet.pages]
        data: bytes = sheets[0].copy(pages).write_pdf()
        return data


def _fitted(page: CardPage) -> Any:
    """Return a card laid out in the largest of its sizes that fits one sheet, else the smallest."""
    pictures: dict[str, Any] = {}  # decoded once for all tries
    for size in page.sizes:
        sheet = _laid_out(page.html(size), pictures)
        if len(sheet.pages) == 1:
            break
    return sheet


def _pdf(html: str, pictures: dict[str, Any]) -> bytes:
    data: bytes = _laid_out(html, pictures).write_pdf()
    return data


@contextmanager
def _uncollected() -> Iterator[None]:
    """Look for no cycles of garbage meanwhile: all that is laid out is in use until the end."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _laid_out(html: str, pictures: dict[str, Any]) -> Any:
    """Return the pages; whatever is not in the text itself is not fetched."""
    from weasyprint import HTML
    from weasyprint.urls import URLFetcher

    return HTML(string=html, url_fetcher=URLFetcher(allowed_protocols=("data",))).render(
        cache=pictures
    )
