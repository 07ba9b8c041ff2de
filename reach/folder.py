"""A whole report written into a folder: page, paper, cards, workbook and 3D file.

What cannot be made here, for want of a library or of a renderer, is said in the page and to
whoever asked; the rest is written.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from reach.dossier.dossier import Dossier
from reach.files.results import Together, check_folder, is_whole, make_folder
from reach.kept.copied import in_copy

if TYPE_CHECKING:
    from reach.cranes import CraneAnswer
    from reach.reports.page.report import Report
    from reach.run import Say

FILES = {
    "html": "report.html",
    "pdf": "report.pdf",
    "cards": "cards.pdf",
    "xlsx": "tables.xlsx",
    "glb": "scene.glb",
}
"""What a report consists of: word for it, name of its file."""

CONTENTS = "contents.sha256"
"""Lists the files of a report with their hashes; there only when all of them belong together."""

NEEDS = {"html": "jinja2", "pdf": "weasyprint", "cards": "weasyprint", "xlsx": "xlsxwriter"}
"""Library of the extra `report` without which a file cannot be made."""

PICTURES = "pictures"
"""May be left out like a file; the rest says so."""

_INSTALL = "pip install 'worksite-reach[report]'"


@dataclass
class Written:
    """What came of it.

    Attributes
    ----------
    files : list of Path
        In the order in which they were written.
    absent : list of str
        What is missing and why, one sentence each.
    """

    files: list[Path] = field(default_factory=list)
    absent: list[str] = field(default_factory=list)


def write_report(
    dossier: Dossier,
    folder: str | Path,
    *,
    units: str = "si",
    without: Collection[str] = (),
    cranes: tuple[CraneAnswer, ...] = (),
    say: Say | None = None,
) -> Written:
    """Write a report into a folder, which is made where there is none: all of it or nothing.

    The files take their places together when the last of them is made; `CONTENTS` comes last.

    Parameters
    ----------
    dossier : Dossier
    folder : str or Path
    units : str
        ``"si"`` or ``"both"``.
    without : collection of str
        Keys of `FILES`, or ``"pictures"``, that are left out.
    cranes : tuple of CraneAnswer
        Poses of cranes to be drawn.
    say : callable, optional
        Told (done, total, words) as the work goes on.

    Raises
    ------
    InputError
        If a file cannot be written.
    """
    target = Path(folder)
    check_folder(target)
    written = Written()
    report = _drawn(dossier, units, without, cranes, written, say)
    todo = [kind for kind in FILES if kind not in without]
    for kind in without:
        words = "the pictures were" if kind == PICTURES else f"{FILES[kind]} was"
        written.absent.append(f"{words} left out as asked.")
    for kind in [one for one in todo if NEEDS.get(one) and not _is_there(NEEDS[one])]:
        todo.remove(kind)
        written.absent.append(
            f"{FILES[kind]} needs the library {NEEDS[kind]}; install it: {_INSTALL}."
        )
    if "glb" in todo and not dossier.outcome.situations and not dossier.outcome.site.carriages:
        todo.remove("glb")
        written.absent.append(f"{FILES['glb']}: no step asks anything that could be drawn.")
    report = replace(report, absent=tuple(written.absent))
    makers = _makers(report)
    make_folder(target)
    with (
        Together(target / CONTENTS) as files,
        in_copy(makers["pdf"] if "pdf" in todo else None) as paper,
    ):
        for done, kind in enumerate(sorted(todo, key=lambda one: one == "pdf")):
            if say:
                say(done, len(todo), f"writing {FILES[kind]}")
            path = target / FILES[kind]
            files.add(path, paper() if kind == "pdf" else makers[kind]())
            written.files.append(path)
    written.files.append(target / CONTENTS)
    return written


def is_half_written(folder: str | Path) -> bool:
    """Return whether a folder holds files of a report that were not all written by one run.

    A report that was killed in the moment in which its files took their places leaves this; so
    does whoever changes one of them.
    """
    target = Path(folder)
    there = any(path.exists() for path in targets_in(target))
    return there and not is_whole(target / CONTENTS)


def _makers(report: Report) -> dict[str, Callable[[], str | bytes]]:
    from reach.reports.page.paper import cards_pdf, report_pdf
    from reach.reports.page.report import report_html
    from reach.reports.page.workbook import tables_xlsx

    def glb() -> bytes:
        from reach.pictures.whole import glb_of_outcome

        return glb_of_outcome(report.dossier.outcome)

    return {
        "html": lambda: report_html(report),
        "pdf": lambda: report_pdf(report),
        "cards": lambda: cards_pdf(report),
        "xlsx": lambda: tables_xlsx(report.dossier, report.units),
        "glb": glb,
    }


def _drawn(
    dossier: Dossier,
    units: str,
    without: Collection[str],
    cranes: tuple[CraneAnswer, ...],
    written: Written,
    say: Say | None,
) -> Report:
    """Return what the page is made from: pictures and the view to turn, where they can be."""
    from reach.reports.page.report import Report

    report = Report(dossier, units=units)
    if PICTURES in without or not {"html", "pdf", "cards"} - set(without):
        return report
    from reach.pictures.plates import plates_of

    seen = [report]

    def look() -> None:
        try:
            seen.append(_with_view(report, written, say))
        except RuntimeError as error:
            written.absent.append(f"the view to turn: {error}")

    try:
        found = plates_of(dossier.outcome, dossier.returns, cranes, say, look)
        report = replace(seen[-1], plates=found.plates, keys=found.keys)
    except RuntimeError as error:
        written.absent.append(f"pictures: {error}")
    return report


def _with_view(report: Report, written: Written, say: Say | None) -> Report:
    from reach.pictures.viewer import MISSING, has_exporter, overview_of, view_of

    if say:
        say(0, 1, "drawing the whole scene")
    if not has_exporter():
        written.absent.append(f"the view to turn: {MISSING}")
        overview = overview_of(report.dossier.outcome)
        return replace(report, overview=overview)
    seen = view_of(report.dossier.outcome)
    return report if seen is None else replace(report, view=seen[0], overview=seen[1])


def _is_there(library: str) -> bool:
    """Return whether a library can be used; one without its system libraries cannot."""
    from importlib import import_module

    try:
        import_module(library)
    except (ImportError, OSError):
        return False
    return True


def targets_in(folder: str | Path) -> Iterator[Path]:
    """Yield every file that a report may write into a folder."""
    yield from (Path(folder) / name for name in (*FILES.values(), CONTENTS))
