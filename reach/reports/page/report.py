"""The report as HTML: one page for the screen, the same for paper, and the worksite cards."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from reach.cautions import CAUTIONS, cautions, digest
from reach.comparing.flips import Change
from reach.dossier.records import Card, Table
from reach.finding import RANK, Finding, Verdict, count_of, exit_code, worst_of
from reach.reports.order import UNSETTLED, Group, blocks
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


SIZES = {"size-0": 9.6, "size-1": 9.0, "size-2": 8.6, "size-3": 8.4, "size-4": 8.2, "size-5": 7.7,
         "size-6": 5.0}  # fmt: skip
"""Sizes of a card's letters, pt, the largest first; the last one is for what fits no other way."""

_CARD_WIDE = 188.0 / 0.3528 / 0.95
"""Width of a card in letters of 1 pt, as its tables are set."""


def card_pages(report: Report) -> list[CardPage]:
    """Return the worksite cards as pages for A4, each one a page of its own; one if there is none.

    Parameters
    ----------
    report : Report
    """
    from markupsafe import Markup

    words = _words(report, on_paper=True) | {"card_css": Markup(looks.card_css())}
    cards = [card_of(report, card, words["anchors"]) for card in report.dossier.cards]
    words["n_cards"] = len(cards)
    return [CardPage(words, card) for card in cards] or [CardPage(words, None)]


@dataclass(frozen=True, eq=False, slots=True)
class CardPage:
    """One worksite card, to be set in one of several sizes.

    Attributes
    ----------
    words : dict
        What all cards say.
    card : CardShown or None
        None where the procedure has no worksite, which the page then says.
    """

    words: dict[str, Any]
    card: CardShown | None

    @property
    def sizes(self) -> tuple[str, ...]:
        """Sizes to be tried: from two above the guess by lines, which is careful, downward."""
        every = tuple(SIZES)
        return every[max(0, every.index(self.card.size) - 2) :] if self.card else every[:1]

    def html(self, size: str) -> str:
        """Return the page, set in one of `SIZES`."""
        told = {"one": self.card, "size": size, "points": SIZES[size]}
        return _rendered("cards.html", self.words | told | {"room": _CARD_WIDE / SIZES[size]})


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
        "causes": found.causes_of(outcome, anchors),
        "unsettled": found.unsettled_of(some),
        "passes": {} if on_paper else found.passes(outcome, anchors, report.units),
        "passes_briefly": found.passes_briefly(outcome, report.units) if on_paper else {},
        "blind_spots": _blind_spots(report),
        "not_asked": found.not_asked(outcome, anchors),
        "unrun": [words for _, words in _unrun(dossier)],
        "limits": found.limits_of(outcome, anchors, report.units),
        "assumptions": found.assumptions_of(outcome),
        "chapters": _chapters(report, anchors, on_paper),
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

    @property
    def rows(self) -> list[tuple[Plate, ...]]:
        """Its pictures in rows: small ones two by two, a sweep with its curve, others alone."""
        rows: list[tuple[Plate, ...]] = []
        for plate in self.plates:
            last = rows[-1] if rows else ()
            if len(last) == 1 and last[0].is_small and plate.is_small:
                rows[-1] = (*last, plate)
            else:
                rows.append((plate,))
        return rows


def _chapters(report: Report, anchors: Anchors, on_paper: bool) -> list[Part]:
    outcome = report.dossier.outcome
    ids = [anchors.finding(one) for one in outcome.findings]
    tables = {table.name: table for table in report.dossier.tables}
    for name, _ in _unrun(report.dossier):
        tables.pop(name, None)
    if on_paper:
        tables = {name: shortened(table) for name, table in tables.items()}
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


def _unrun(dossier: Dossier) -> list[tuple[str, str]]:
    """Return (table, what is said under 'Not checked') of what nobody asked for."""
    found = []
    if dossier.comparison is None:
        found.append(("changes", "What has changed: no older version was given (--since)."))
    if not dossier.spread:
        found.append(
            ("differences", "Other sizes and the other hand were not run (--differences), so what "
             "differs for them is not known.")
        )  # fmt: skip
    return found


_SHORT = {
    "differences": ("against the plan", ("alike", "as planned")),
    "changes": ("what changed", (str(Change.NEW), str(Change.GONE_WITH_STEP))),
}
"""Table -> column and words of rows that need no paper where they pass."""


def shortened(table: Table) -> Table:
    """Return a table without rows that pass and tell nothing new; how many is said."""
    title, words = _SHORT.get(table.name, ("", ()))
    heads = [column.title for column in table.columns]
    if title not in heads:
        return table
    k = heads.index(title)
    rows = tuple(
        row for row in table.rows if row.cells[k] not in words or row.cells[-1] is not Verdict.PASS
    )
    n_left_out = len(table.rows) - len(rows)
    if not n_left_out:
        return table
    told = f"{n_left_out} rows that pass ({', '.join(words)}) stand in report.html and tables.xlsx."
    return replace(table, rows=rows, says=f"{table.says} {told}", nothing=told)


def _worst_first(table: Table, findings: Sequence[Finding]) -> Table:
    """Return a table whose rows name the worst of their findings first: links are cut short."""
    rows = (
        replace(row, answers=tuple(sorted(row.answers, key=lambda k: RANK[findings[k].verdict])))
        for row in table.rows
    )
    return replace(table, rows=tuple(rows))


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """What does not pass in steps that are not the card's own, told in few words.

    Attributes
    ----------
    verdict : Verdict
    steps : str
    checks : str
        Each with its margins.
    """

    verdict: Verdict
    steps: str
    checks: str


@dataclass(frozen=True, slots=True)
class CardShown:
    """A worksite card ready to print."""

    card: Card
    verdict: Verdict
    told: tuple[found.Question, ...]
    elsewhere: tuple[Elsewhere, ...]
    counts: str
    plates: tuple[Plate, ...]
    bolts: Tabular
    tools: Tabular
    tether: Tabular
    hazards: Tabular
    size: str


_ROOM = (40, 46, 52, 64)
"""So many lines of a card are set in the largest size, the next, and so on."""

_MUCH = 8
"""With more that does not pass, what belongs to other steps is told in few words."""


def card_of(report: Report, card: Card, anchors: Anchors) -> CardShown:
    """Return a card ready to print, set as small as its lines need."""
    findings = [report.dossier.outcome.findings[k] for k in card.answers]
    bad = [one for one in findings if one.verdict not in (Verdict.PASS, Verdict.NOT_ASKED)]
    groups = [group for block in blocks(bad, report.units) for group in block.groups]
    groups.sort(key=lambda group: RANK[group.verdict])
    own = [one for one in groups if any(f.step in card.step_names for f in one.findings)]
    others = [one for one in groups if one not in own] if len(groups) > _MUCH else []
    told = [
        replace(found.question(group, anchors, report.units), pictures=())
        for group in groups
        if group not in others
    ]
    tables = [
        tabular(one, None, report.units)
        for one in (card.bolts, card.tools, card.tether, card.hazards)
    ]
    n_lines = len(tables[0].lines) + len(tables[3].lines) * 2
    n_lines += max(len(tables[1].lines), len(card.stands) + len(tables[2].lines) + 3)
    n_lines += 2 * len(others) + sum(3 * len(one.said) for one in told) + len(card.if_stuck)
    size = next((f"size-{k}" for k, room in enumerate(_ROOM) if n_lines <= room), "size-4")
    counts = count_of(findings)
    said = ", ".join(f"{counts[one]} {one}" for one in RANK)
    return CardShown(
        card, worst_of(findings), tuple(told), _elsewhere(others, anchors, report.units), said,
        _plates_of(report.plates, card.stems),
        tables[0], tables[1], tables[2], tables[3], size,
    )  # fmt: skip


def _elsewhere(groups: Sequence[Group], anchors: Anchors, units: str) -> tuple[Elsewhere, ...]:
    """Return what does not pass in other steps, by verdict and steps."""
    said: dict[tuple[Verdict, str], list[str]] = {}
    for group in groups:
        one = found.question(group, anchors, units)
        margins = "; ".join(each.margins for each in one.said)
        said.setdefault((one.verdict, one.steps), []).append(f"{one.check} ({margins})")
    return tuple(Elsewhere(*key, ", ".join(checks)) for key, checks in said.items())


def _plates_of(plates: Sequence[Plate], stems: Sequence[str]) -> tuple[Plate, ...]:
    """Return the picture from outside, and from the worker's eyes or another side."""
    for stem in stems:
        mine = [one for one in plates if stem in (one.stem, *one.stands_for) and one.is_small]
        if mine:
            return tuple(mine[:2])
    return ()
