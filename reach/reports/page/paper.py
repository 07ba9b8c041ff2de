"""The report and its cards on A4: the same templates, laid out for paper and made a PDF."""

from __future__ import annotations

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
    from weasyprint import HTML

    data: bytes = HTML(string=html, url_fetcher=_nothing_outside).write_pdf()
    return data


def _runs_over(html: str) -> bool:
    """Return whether a page of cards with one card needs more than one sheet."""
    from weasyprint import HTML

    return len(HTML(string=html, url_fetcher=_nothing_outside).render().pages) > 1


def _nothing_outside(url: str, *args: object, **more: object) -> dict[str, object]:
    """Give what an address holds itself; refuse all others."""
    from weasyprint import default_url_fetcher

    if not url.startswith("data:"):
        raise ValueError(f"a report asks for nothing outside itself, yet for {url}")
    found: dict[str, object] = default_url_fetcher(url, *args, **more)
    return found
