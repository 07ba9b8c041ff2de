"""Minutes back to the lock as text and CSV: rates, places, rails, steps, and what is too long."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator
from itertools import groupby
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from rich.padding import Padding
from rich.table import Table

from reach.cautions import cautions
from reach.reports.route import sourced
from reach.reports.table import heading, paragraph, printed
from reach.units import text_of

if TYPE_CHECKING:
    from rich.console import RenderableType

    from reach.returns import Late, Returns

BEYOND, WITHIN, NONE = "■ BEYOND", "○ within", "– no rails"
APART = "– not known"

COLUMNS = (
    "kind", "name", "step", "worker", "along", "x", "y", "z", "way", "alone", "partner",
    "partner_place", "to_partner", "swaps", "swaps_counted", "brought", "limit", "answer",
)  # fmt: skip
"""Columns of the CSV: metres and minutes; blank where there is no way."""


def render_returns(
    returns: Returns, width: int = 100, colour: bool = False, units: str = "si"
) -> str:
    """Return the times as text that stands alone.

    Parameters
    ----------
    returns : Returns
    width : int
        Columns to fill.
    colour : bool
        With escape codes for a terminal.
    units : str
        ``"si"`` or ``"both"``.
    """
    return printed(_parts(returns, units), width, colour)


def answer_of(seconds: float, limit: float) -> str:
    """Return in shape and word whether a time is beyond the rule.

    Examples
    --------
    >>> answer_of(1700.0, 1800.0), answer_of(1801.0, 1800.0)
    ('○ within', '■ BEYOND')
    """
    return BEYOND if seconds > limit else WITHIN


def returns_csv(returns: Returns) -> str:
    """Return one row a grip, place and step under `COLUMNS`."""
    text = io.StringIO()
    table = csv.DictWriter(text, COLUMNS, lineterminator="\n")
    table.writeheader()
    for row in (*_grips(returns), *_places(returns), *_steps(returns)):
        table.writerow(row)
    return text.getvalue()


def _grips(returns: Returns) -> Iterator[dict[str, Any]]:
    found, graph = returns.map, returns.map.graph
    for node in range(graph.n_grips):
        x, y, z = (round(float(v), 6) + 0.0 for v in graph.points[node])
        yield {
            "kind": "grip",
            "name": graph.rails[graph.rail[node]].name,
            "along": round(float(graph.along[node]), 6),
            "x": x,
            "y": y,
            "z": z,
            "partner_place": found.partner_place,
            "swaps": found.swaps,
            **_times(returns, found.length[node], found.alone[node], found.brought[node]),
        }


def _places(returns: Returns) -> Iterator[dict[str, Any]]:
    for one in returns.places:
        yield {
            "kind": "place",
            "name": one.place,
            "partner_place": returns.map.partner_place,
            "to_partner": _number(one.to_partner),
            "swaps": returns.swaps,
            **_times(returns, one.length, one.alone, one.brought),
        }


def _steps(returns: Returns) -> Iterator[dict[str, Any]]:
    for late in returns.steps:
        row: dict[str, Any] = {
            "kind": "step", "name": late.place, "step": late.step, "worker": late.worker,
        }  # fmt: skip
        home = late.home
        if home is None:
            yield row | _times(returns, math.inf, math.inf, math.inf)
            continue
        yield row | {
            "partner": home.partner,
            "partner_place": home.partner_place,
            "to_partner": _number(home.to_partner),
            "swaps": home.swaps,
            "swaps_counted": "yes" if home.swaps_known else "no",
            **_times(returns, home.way.length, home.alone, home.brought),
        }


def _times(returns: Returns, way: float, alone: float, brought: float) -> dict[str, Any]:
    limit = returns.limit.value
    known = math.isfinite(brought)
    word = answer_of(brought, limit).split(" ", 1)[1].lower() if known else "no rails lead home"
    if not known and math.isfinite(way):
        word = "no partner who can come"
    return {
        "way": _number(way),
        "alone": _number(alone / 60.0),
        "brought": _number(brought / 60.0),
        "limit": _number(limit / 60.0),
        "answer": word,
    }


def _number(value: float) -> float | str:
    return round(float(value), 4) if math.isfinite(value) else ""


# ---- text ------------------------------------------------------------------------------


def _parts(returns: Returns, units: str) -> Iterator[RenderableType]:
    hatch = " or ".join(returns.site.scene.hatches)
    yield heading("THE WAY HOME", f"{returns.outcome.title}: to {hatch} along rails")
    place = returns.map.partner_place
    start = f"starts at {place}" if place else "starts beside them"
    swaps = f"{returns.swaps} swap{'' if returns.swaps == 1 else 's'} of safety lines"
    yield paragraph(
        f"{_spanned(returns, units)} Brought: by a partner who {start}, for someone who cannot "
        f"move; {swaps}.", 2,
    )  # fmt: skip
    yield paragraph(f"The rule: {sourced(returns.limit, units)}", 2)
    yield heading("RECKONED WITH")
    for rate in returns.rates:
        yield paragraph(sourced(rate, units), 2)
    yield paragraph(
        "alone: the way at the free pace and the lock; leaving a restraint and swaps of safety "
        "lines are not in it. brought: all of the above.", 2,
    )  # fmt: skip
    known = any(late.home is not None and late.home.swaps_known for late in returns.steps)
    counted = "; steps with those of the lines worn, where these are known" if known else ""
    yield paragraph(f"Places and rails are reckoned with {swaps}{counted}.", 2)
    yield heading("PLACES", "minutes until the hatch is closed behind them")
    yield _place_table(returns)
    yield heading("RAILS", "worst grip of each, farthest first")
    yield _rail_table(returns)
    if returns.steps:
        yield heading("STEPS", returns.outcome.procedure)
        yield from _step_lines(returns, units)
        if returns.unknown:
            yield paragraph(_unknown_words(len(returns.unknown)), 2, style="bold")
    yield heading("CAUTIONS")
    for number, text in enumerate(cautions(returns.outcome.inputs), 1):
        yield paragraph(text, 2, f"{number:>2}. ")


def _spanned(returns: Returns, units: str) -> str:
    """Return in words which gaps are taken."""
    one, limit = returns.situation, returns.site.limit("rail_gap")
    span = returns.map.graph.gap
    words = f"Gaps up to {text_of(span, 'm', units)}"
    if span < limit.value:
        return f"{words}, which {one.worker} ({one.case}, {one.body.label}) spans for sure."
    return f"{words} (rail_gap), which everyone asked about spans for sure."


def _table(*names: str) -> Table:
    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, show_edge=False)
    for name in names:
        fixed = name not in ("step", "partner")
        justify: Literal["left", "right"] = "right" if name in RIGHT else "left"
        table.add_column(name, justify=justify, no_wrap=fixed, overflow="fold")
    return table


RIGHT = ("way", "alone", "brought", "left", "swaps")


def _cells(returns: Returns, way: float, alone: float, brought: float) -> tuple[str, ...]:
    if not math.isfinite(way):
        return NONE, "", "", "", ""
    left = returns.limit.value - brought
    known = math.isfinite(brought)
    return (
        answer_of(brought, returns.limit.value) if known else APART,
        f"{way:.1f} m",
        f"{alone / 60.0:.1f}",
        f"{brought / 60.0:.1f}" if known else "",
        f"{left / 60.0:+.1f}" if known else "",
    )


def _place_table(returns: Returns) -> RenderableType:
    table = _table("place", "by the rule", "way", "alone", "brought", "left")
    for one in returns.places:
        table.add_row(one.place, *_cells(returns, one.length, one.alone, one.brought))
    return Padding(table, (0, 0, 0, 2), expand=False)


def _rail_table(returns: Returns) -> RenderableType:
    table = _table("rail", "by the rule", "way", "alone", "brought", "left", "at")
    found, graph = returns.map, returns.map.graph
    rail = graph.rail[: graph.n_grips]
    worst: list[tuple[float, int]] = []
    for k in np.unique(rail).tolist():
        nodes = np.flatnonzero(rail == k)
        node = int(nodes[np.argmax(found.brought[nodes])])
        worst.append((float(found.brought[node]), node))
    for _, node in sorted(worst, key=lambda each: (-each[0], each[1])):
        one = graph.rails[rail[node]]
        cells = _cells(returns, found.length[node], found.alone[node], found.brought[node])
        at = f"{one.name}@{graph.along[node]:.2f}" if math.isfinite(found.length[node]) else ""
        words = at if one.usable else f"{one.status if one.rated else 'not rated'}"
        table.add_row(one.name, *cells, words)
    return Padding(table, (0, 0, 0, 2), expand=False)


def _step_lines(returns: Returns, units: str) -> Iterator[RenderableType]:
    """Yield where steps leave a worker, those that follow each other and say the same once."""
    rows = ((late.step, _step_words(returns, late, units)) for late in returns.steps)
    for (answer, head, words), group in groupby(rows, key=lambda row: row[1]):
        names = [name for name, _ in group]
        steps = names[0] if len(names) == 1 else f"{names[0]} .. {names[-1]}"
        style = "bold" if answer == BEYOND else ""
        yield paragraph(f"{steps}: {head}", 2, f"{answer:<13}", style)
        if words:
            yield paragraph(words, 15)


def _unknown_words(count: int) -> str:
    if count == 1:
        return "1 step has no known way of bringing its worker in."
    return f"{count} steps have no known way of bringing their workers in."


def _step_words(returns: Returns, late: Late, units: str) -> tuple[str, str, str]:
    head, home = f"{late.worker} at {late.place}", late.home
    if late.case not in head and len({one.case for one in returns.steps}) > 1:
        head = f"{late.worker} ({late.case}) at {late.place}"
    if home is None:
        return NONE, head, ""
    way = f"{text_of(home.way.length, 'm', units)} to {home.hatch}"
    alone = f"alone {home.alone / 60.0:.1f} min"
    if not home.partner:
        return APART, head, f"{way}; {alone}; no partner is there"
    by = f"{home.partner}, who is at {home.partner_place}"
    if not math.isfinite(home.brought):
        return APART, head, f"{way}; {alone}; no rails lead to them for {by}"
    left = (returns.limit.value - home.brought) / 60.0
    swaps = f"{home.swaps} swap{'' if home.swaps == 1 else 's'}"
    counted = "by the lines worn" if home.swaps_known else "as said"
    return (
        answer_of(home.brought, returns.limit.value),
        head,
        f"{way}; {alone}; brought {home.brought / 60.0:.1f} min ({left:+.1f}) by {by}, "
        f"{swaps} {counted}",
    )
