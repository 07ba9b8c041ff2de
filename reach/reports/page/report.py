"""The report as HTML: one page for the screen, the same for paper, and the worksite cards."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from reach.cautions import CAUTIONS, cautions, digest
from reach.dossier.records import Card, Table
from reach.finding import RANK, Finding, Verdict, count_of, exit_code, worst_of
from reach.reports.order import UNSETTLED, blocks
from reach.reports.page import chapters, found, looks
from reach.reports.page.anchors import Anchors
from reach.reports.page.plates import KeyPlate, Plate
from reach.reports.page.tabular import Tabular, tabular
from reach.reports.page.timeline import timeline_sheets, timeline_svg
from reach.reports.record import as_given
from reach.reports.verdicts import MEANING, SHAPE

if TYPE_CHECKING:
    from reach.dossier.dossier import Dossier

RESULT = {
    0: "Everything that was asked passes.",
    1: "Something fails.",
    3: "Nothing fails, but not everything is known.",
}


@dataclass(frozen=True, eq=False, slots=True)
class Report:
    """What a report is made from.

    Attributes
    ----------
    dossier : Dossier
    plates, keys : tuple of Plate, of KeyPlate
    view : str
        A page of its own with the scene to turn; empty where there is none.
    overview : Plate or None
        The same view as a picture.
    units : str
        ``"si"`` or ``"both"``.
    absent : tuple of str
        What is missing from the report and why, one sentence each.
    """

    dossier: Dossier
    plates: tuple[Plate, ...] = ()
    keys: tuple[KeyPlate, ...] = ()
    view: str = ""
    overview: Plate | None = None
    units: str = "si"
    absent: tuple[str, ...] = field(default=())


def report_html(report: Report, on_paper: bool = False) -> str:
    """Return the report as one HTML page that asks for nothing outside itself.

    Parameters
    ----------
    report : Report
    on_paper : bool
        Laid out for A4, without the view to turn.
    """
    return _rendered("report.html", _words(report, on_paper))


SIZES = tuple(f"size-{k}" for k in range(6))
"""Sizes of a card's letters, the largest first."""


def cards_html(report: Report, runs_over: Callable[[str], bool] | None = None) -> str:
    """Return the worksite cards as an HTML page for A4, one card a page.

    Parameters
    ----------
    report : Report
    runs_over : callable, optional
        Says of the page of one card whether it needs more than one sheet: it is then set smaller.
    """
    from markupsafe import Markup

    words = _words(report, on_paper=True) | {"card_css": Markup(looks.card_css())}
    cards = []
    for card in report.dossier.cards:
        shown = card_of(report, card, words["anchors"])
        first = SIZES.index(shown.size)
        for size in SIZES[first:] if runs_over else ():
            shown = replace(shown, size=size)
            if not runs_over or not runs_over(_rendered("cards.html", words | {"cards": [shown]})):
                break
        cards.append(shown)
    return _rendered("cards.html", words | {"cards": cards})


def _rendered(template: str, words: dict[str, Any]) -> str:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("reach.reports.page", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template(template).render(words)


def _words(report: Report, on_paper: bool) -> dict[str, Any]:
    from markupsafe import Markup

    dossier = report.dossier
    outcome = dossier.outcome
    anchors = Anchors(outcome, report.plates)
    some = found.listed(outcome, anchors, report.units)
    svgs = _timelines(dossier, on_paper)
    code = exit_code(outcome.findings)
    return {
        "report": report,
        "outcome": outcome,
        "anchors": anchors,
        "on_paper": on_paper,
        "css": Markup(looks.css(on_paper)),
        "hash": digest(outcome.inputs),
        "inputs": [(as_given(file), sha256) for file, sha256 in outcome.inputs],
        "caution": CAUTIONS[0],
        "cautions": cautions(outcome.inputs),
        "code": code,
        "result": RESULT[code],
        "verdicts": _verdicts(report, some[-1].link if some else "findings"),
        "sections": some,
        "causes": found.causes_of(some),
        "unsettled": found.unsettled_of(some),
        "passes": {} if on_paper else found.passes(outcome, anchors, report.units),
        "passes_briefly": found.passes_briefly(outcome, report.units) if on_paper else {},
        "blind_spots": _blind_spots(report),
        "not_asked": found.not_asked(outcome, anchors),
        "limits": found.limits_of(outcome, anchors, report.units),
        "assumptions": found.assumptions_of(outcome),
        "chapters": _chapters(report, anchors),
        "timelines": [Markup(svg) for svg in svgs],
        "time": chapters.TIME,
        "sites": chapters.SITES,
        "shape": SHAPE,
        "Verdict": Verdict,
    }


def _timelines(dossier: Dossier, on_paper: bool) -> tuple[str, ...]:
    if dossier.timed is None:
        return ()
    findings = dossier.outcome.findings
    if on_paper:
        return timeline_sheets(dossier.timed, findings)
    return (timeline_svg(dossier.timed, findings),)


def _blind_spots(report: Report) -> Tabular | None:
    tables = [table for table in report.dossier.tables if table.name == chapters.BLIND_SPOTS]
    return tabular(tables[0], None, report.units) if tables else None


def _verdicts(report: Report, unsettled: str) -> list[tuple[Verdict, int, str, str]]:
    """Return (verdict, how many, meaning, link), worst first."""
    counts = count_of(report.dossier.outcome.findings)
    link = {Verdict.PASS: "passes", Verdict.NOT_ASKED: "not-checked"}
    link |= dict.fromkeys(UNSETTLED, unsettled)
    return [(one, counts[one], MEANING[one], link.get(one, "findings")) for one in RANK]


@dataclass(frozen=True, slots=True)
class Part:
    """A chapter ready to print."""

    title: str
    link: str
    says: str
    tables: tuple[Tabular, ...]
    plates: tuple[Plate, ...]
    keys: tuple[KeyPlate, ...]

    @property
    def is_wide(self) -> bool:
        """Whether its tables need paper across."""
        return any(one.is_wide for one in self.tables)


def _chapters(report: Report, anchors: Anchors) -> list[Part]:
    outcome = report.dossier.outcome
    ids = [anchors.finding(one) for one in outcome.findings]
    tables = {table.name: table for table in report.dossier.tables}
    named = {name for chapter in chapters.CHAPTERS for name in chapter.tables}
    rest = tuple(name for name in tables if name not in named | set(chapters.OWN))
    every = (*chapters.CHAPTERS, chapters.Chapter(chapters.MORE, "", rest))
    parts = []
    for chapter in every:
        mine = tuple(
            tabular(_worst_first(tables[name], outcome.findings), ids.__getitem__, report.units)
            for name in chapter.tables
            if name in tables
        )
        plates = tuple(plate for plate in report.plates if plate.kind in chapter.pictures)
        keys = tuple(key for key in report.keys if key.kind in chapter.pictures)
        has_time = chapter.title == chapters.TIME and report.dossier.timed is not None
        if mine or plates or has_time:
            link = anchors.heading(chapter.title)
            parts.append(Part(chapter.title, link, chapter.says, mine, plates, keys))
    return parts


def _worst_first(table: Table, findings: Sequence[Finding]) -> Table:
    """Return a table whose rows name the worst of their findings first: links are cut short."""
    rows = (
        replace(row, answers=tuple(sorted(row.answers, key=lambda k: RANK[findings[k].verdict])))
        for row in table.rows
    )
    return replace(table, rows=tuple(rows))


@dataclass(frozen=True, slots=True)
class CardShown:
    """A worksite card ready to print."""

    card: Card
    verdict: Verdict
    told: tuple[found.Question, ...]
    counts: str
    plates: tuple[Plate, ...]
    bolts: Tabular
    tools: Tabular
    tether: Tabular
    hazards: Tabular
    size: str


_ROOM = (30, 46, 66)
"""So many lines of a card are set in the common size, the smaller, the smallest but one."""


def card_of(report: Report, card: Card, anchors: Anchors) -> CardShown:
    """Return a card ready to print, set as small as its lines need."""
    findings = [report.dossier.outcome.findings[k] for k in card.answers]
    bad = [one for one in findings if one.verdict not in (Verdict.PASS, Verdict.NOT_ASKED)]
    groups = [group for block in blocks(bad, report.units) for group in block.groups]
    groups.sort(key=lambda group: RANK[group.verdict])
    told = tuple(found.question(group, anchors, report.units) for group in groups)
    told = tuple(replace(one, pictures=()) for one in told)
    plates = _plates_of(report.plates, card.stems)
    tables = [
        tabular(one, None, report.units)
        for one in (card.bolts, card.tools, card.tether, card.hazards)
    ]
    n_lines = sum(len(one.lines) + 2 for one in tables) + len(card.stands) + len(card.if_stuck)
    n_lines += sum(2 * len(one.said) + 1 for one in told)
    size = next((f"size-{k}" for k, room in enumerate(_ROOM) if n_lines <= room), "size-3")
    counts = count_of(findings)
    said = ", ".join(f"{counts[one]} {one}" for one in RANK)
    return CardShown(
        card, worst_of(findings), told, said,
        plates,
        tables[0], tables[1], tables[2], tables[3], size,
    )  # fmt: skip


def _plates_of(plates: Sequence[Plate], stems: Sequence[str]) -> tuple[Plate, ...]:
    """Return the picture from outside and the one from the worker's eyes."""
    found_plates = []
    for kind in ("outside", "eyes"):
        mine = [p for stem in stems for p in plates if p.stem == stem and p.kind == kind]
        found_plates += mine[:1]
    return tuple(found_plates)
