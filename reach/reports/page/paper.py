"""The report and its cards on A4: the same templates, laid out for paper and made a PDF."""

from __future__ import annotations

from typing import Any

from reach.reports.page.report import Report, cards_html, report_html


def report_pdf(report: Report) -> bytes:
    """Return the report as the bytes of a PDF file, A4.

    Raises
    ------
    ImportError
        If the library that lays out paper is not there.
    """
    return _pdf(report_html(report, on_paper=True))


def cards_pdf(report: Report) -> bytes:
    """Return the worksite cards as the bytes of a PDF file, one card a page, A4.

    A card that runs over its page is set smaller until it does not.

    Raises
    ------
    ImportError
        If the library that lays out paper is not there.
    """
    return _pdf(cards_html(report, _runs_over))


def _pdf(html: str) -> bytes:
    data: bytes = _laid_out(html).write_pdf()
    return data


def _runs_over(html: str) -> bool:
    """Return whether a page of cards with one card needs more than one sheet."""
    return len(_laid_out(html).pages) > 1


def _laid_out(html: str) -> Any:
    """Return the pages; whatever is not in the text itself is not fetched."""
    from weasyprint import HTML
    from weasyprint.urls import URLFetcher

    return HTML(string=html, url_fetcher=URLFetcher(allowed_protocols=("data",))).render()
