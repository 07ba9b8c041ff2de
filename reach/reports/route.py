"""Ways from place to place as text, CSV and JSON: legs, totals, proof where there is no way."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from reach.finding import Finding, Limit, Verdict, count_of
from reach.reports.margin import margin_text, unsigned
from reach.reports.record import plain, record_of
from reach.reports.table import heading, laid_out, paragraph, printed
from reach.reports.verdicts import SHAPE
from reach.units import text_of

if TYPE_CHECKING:
    from rich.console import RenderableType

    from reach.model.procedure import Aside
    from reach.rails.proof import NoRoute
    from reach.routes import Routes
    from reach.travel.choices import Choice, Stage

SCHEMA = "routes-1"

COLUMNS = (
    "way", "leg", "kind", "from", "to", "start.x", "start.y", "start.z", "stop.x", "stop.y",
    "stop.z", "length", "limit", "margin", "hands", "side", "aside.x", "aside.y", "aside.z",
    "time", "length_so_far", "time_so_far",
)  # fmt: skip
"""Columns of the CSV of legs, SI units; blank where a leg has no such thing."""


def render_routes(
    routes: Routes, width: int = 100, colour: bool = False, units: str = "si", others: int = 0
) -> str:
    """Return ways and findings as text that stands alone.

    Parameters
    ----------
    routes : Routes
    width : int
        Columns to fill.
    colour : bool
        With escape codes for a terminal.
    units : str
        ``"si"`` or ``"both"``.
    others : int
        How many alternatives were asked for.
    """
    return printed(_parts(routes, width, units, others), width, colour)


def routes_csv(routes: Routes) -> str:
    """Return one row a leg of every way under `COLUMNS`, SI units."""
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(COLUMNS)
    for step, choice in zip(routes.steps, routes.choices, strict=False):
        for number, stage in enumerate(choice.stages, 1):
            table.writerow(_row(step, number, choice, stage))
    return text.getvalue()


def routes_json(routes: Routes) -> str:
    """Return the answer as JSON text, SI units: the findings and, beside them, ways or proof."""
    record = record_of(routes.outcome) | {
        "exit_code": routes.exit_code,
        "routes": {
            "schema": SCHEMA,
            "from": routes.asked.start,
            "to": routes.asked.stop,
            "widest_span": plain(routes.span),
            "ways": [
                {
                    "step": step,
                    "rails": list(choice.route.rails),
                    "length": plain(choice.route.length),
                    "widest": plain(choice.route.widest),
                    "time": plain(choice.seconds),
                    "hands": choice.hands,
                    "legs": [
                        dict(zip(COLUMNS, map(plain, _row(step, k, choice, stage)), strict=True))
                        for k, stage in enumerate(choice.stages, 1)
                    ],
                }
                for step, choice in zip(routes.steps, routes.choices, strict=False)
            ],
            "none": None if routes.none is None else _proof(routes.none),
        },
    }
    return json.dumps(record, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _row(step: str, number: int, choice: Choice, stage: Stage) -> tuple[Any, ...]:
    leg = stage.leg
    aside: Sequence[float | None] = (None, None, None)
    if stage.side and choice.corridor is not None:
        aside = [float(v) for v in choice.corridor.asides[leg.rail]]
    numbers = [*leg.start, *leg.stop, leg.length, stage.limit, stage.margin]
    return (
        step, number, leg.kind, *stage.names, *(_rounded(v) for v in numbers), choice.hands,
        stage.side, *(_rounded(v) for v in aside), _rounded(stage.seconds), _rounded(stage.length),
        _rounded(stage.time),
    )  # fmt: skip


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 6) + 0.0


def _proof(none: NoRoute) -> dict[str, Any]:
    return {
        "from_start": list(none.from_start),
        "from_stop": list(none.from_stop),
        "gaps": [
            {
                "between": list(gap.names),
                "points": [list(gap.start), list(gap.stop)],
                "width": plain(gap.width),
                "limit": plain(gap.limit),
                "handholds": [list(at) for at in gap.handholds],
            }
            for gap in none.gaps
        ],
        "freed": list(none.freed),
        "freed_together": list(none.freed_together),
    }


# ---- text ------------------------------------------------------------------------------


def _parts(routes: Routes, width: int, units: str, others: int) -> Iterator[RenderableType]:
    one = routes.situation
    yield heading("WAYS", f"{routes.asked.start} to {routes.asked.stop}, {_who(routes)}")
    yield from _load(routes)
    if routes.none is not None:
        yield from no_way(routes.none, units)
    elif not routes.choices:
        span = text_of(routes.span, "m", units)
        yield heading("NO WAY FOUND", f"none with gaps up to {span}, which is spanned for sure")
    for step, choice in zip(routes.steps, routes.choices, strict=False):
        mine = [f for f in routes.outcome.findings if f.step == step]
        yield from _way(step, choice, mine, units)
    if 0 < len(routes.choices) <= others:
        yield paragraph(f"\n{NO_OTHER if len(routes.choices) == 1 else NO_FURTHER}")
    if routes.choices:
        yield from _rests(routes, routes.choices[0], units)
    for line in one.worn:
        words = f"{line.tether} from {line.anchor}, {text_of(line.length, 'm', units)}"
        yield paragraph(f"Safety line worn: {words}.", 2)
    yield from laid_out(routes.outcome, width, units)


def _who(routes: Routes) -> str:
    cases = list(dict.fromkeys(s.case for s in routes.outcome.situations))
    return f"{routes.situation.worker} ({', '.join(cases)})"


def _load(routes: Routes) -> Iterator[RenderableType]:
    passage = routes.situation.passage
    assert passage is not None
    words = []
    if passage.carrying:
        words.append(f"on the suit: {', '.join(passage.carrying)}")
    if passage.in_hand:
        words.append(f"in the hand: {', '.join(passage.in_hand)}")
    if routes.asked.avoid:
        words.append(f"not used: {', '.join(routes.asked.avoid)}")
    if words:
        yield paragraph(f"{'; '.join(words)[:1].upper()}{'; '.join(words)[1:]}.", 2)


# What `reach.rails.alternatives` calls really different.
NO_OTHER = "No other way was found that differs by three tenths of its length."
NO_FURTHER = "No further way was found that differs from these by three tenths of its length."


def _way(
    step: str, choice: Choice, findings: Sequence[Finding], units: str
) -> Iterator[RenderableType]:
    route = choice.route
    words = f"{text_of(route.length, 'm', units)} in {_minutes(choice.seconds)}"
    if route.widest:
        words += f", widest gap {text_of(route.widest, 'm', units)} ({' to '.join(route.at)})"
    yield heading(step.upper(), f"{words}: {verdicts_in_words(findings)}")
    yield paragraph(f"{' > '.join([route.start, *route.rails, route.stop])}", 2)
    table = Table(box=None, padding=(0, 1, 0, 0), pad_edge=False, show_edge=False)
    for name in HEADS:
        right = name in ("m", "hands", "min", "so far")
        fixed = name != "side"
        table.add_column(name, justify="right" if right else "left", no_wrap=fixed)
    for row in _rows(choice):
        table.add_row(*row)
    yield Padding(table, (0, 0, 0, 2), expand=False)
    yield paragraph("as a step takes it, body in its translate action:", 2)
    for line in as_step(choice):
        # An inline table must stay on one line: it is never wrapped.
        yield Text(f"    {line}", no_wrap=True, overflow="ignore")


def as_step(choice: Choice) -> tuple[str, ...]:
    """Return a way in TOML as a step takes it: ``route``, and ``body`` of its translate action."""
    names = ", ".join(json.dumps(rail, ensure_ascii=False) for rail in choice.route.rails)
    lines = [f"route = [{names}]"] if names else []
    sides = [f"{_key(rail)} = {_aside(aside)}" for rail, aside in choice.body.items()]
    return (*lines, f"body = {{ {', '.join(sides)} }}") if sides else tuple(lines)


def _key(name: str) -> str:
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else json.dumps(name, ensure_ascii=False)


def _aside(aside: Aside) -> str:
    toward = aside.toward
    if isinstance(toward, str):
        words = json.dumps(toward, ensure_ascii=False)
    else:
        words = "[" + ", ".join(f"{round(v, 6) + 0.0:g}" for v in toward) + "]"
    return f'{{ by = "{round(aside.by, 6):g} m", toward = {words} }}'


HEADS = ("rail", "from", "to", "m", "next, left", "side", "hands", "min", "so far")
"""Columns of the table: a row is a rail with the span to the next one."""


def _rows(choice: Choice) -> Iterator[tuple[str, ...]]:
    """Yield a row for each rail, and one for the place at the start."""
    stages = choice.stages
    k = 0
    while k < len(stages):
        first = last = stages[k]
        if first.leg.kind == "along" and k + 1 < len(stages) and stages[k + 1].leg.kind != "along":
            k += 1
            last = stages[k]
        k += 1
        is_along = first.leg.kind == "along"
        at = first.leg.stop if is_along else first.leg.start
        spans = last.limit is not None and last.margin is not None
        side = unsigned(first.side)
        yield (
            first.names[0], _point(first.leg.start), _point(at),
            f"{first.leg.length if is_along else 0.0:.2f}",
            f"{last.leg.length:.2f}, {last.margin:.2f}" if spans else "",
            side, str(choice.hands), f"{(last.time - first.time + first.seconds) / 60:.2f}",
            f"{last.length:.2f}",
        )  # fmt: skip


def _point(point: Iterable[float]) -> str:
    return " ".join(f"{round(v, 2) + 0.0:.2f}" for v in point)


def _minutes(seconds: float) -> str:
    return f"{seconds / 60.0:.1f} min"


def verdicts_in_words(findings: Iterable[Finding]) -> str:
    """Return the counts of verdicts in shapes and words, what was not asked apart."""
    counts = count_of(findings)
    told = [
        f"{SHAPE[verdict]} {count} {verdict}"
        for verdict, count in counts.items()
        if count and verdict is not Verdict.NOT_ASKED
    ]
    return ", ".join(told) or "nothing was checked"


def _rests(routes: Routes, choice: Choice, units: str) -> Iterator[RenderableType]:
    yield heading("RECKONED WITH")
    yield paragraph(f"Pace: {sourced(choice.pace, units)}", 2)
    yield paragraph(f"Gap from rail to rail: {sourced(routes.gap, units)}", 2)
    if routes.span < routes.gap.value:
        words = f"the body spans {text_of(routes.span, 'm', units)} for sure, which is less"
        yield paragraph(f"Of that, {words}.", 2)
    span = routes.site.limit("place_span")
    yield paragraph(f"From a place to a rail: {sourced(span, units)}", 2)
    hands = routes.site.limit("hands_free")
    wanted = sourced(hands, units).replace(f"{hands.value:.2f}", f"{hands.value:.0f}", 1)
    yield paragraph(f"Hands free: {choice.hands}; wanted {wanted}", 2)
    words = (
        "'next, left': the span to what comes next, and what is left of its limit. From a place "
        "the quickest way reaches as far as it may, so that nothing is left: '"
        f"{span.value:.2f}, 0.00'. Whether a place can be reached is judged by the nearest point."
    )
    yield paragraph(words, 2)
    yield paragraph("'side': to which side of straight out from the rail the body is held.", 2)


def sourced(limit: Limit, units: str = "si") -> str:
    """Return the value of a limit with where it comes from, as a sentence."""
    if limit.unit == "s":
        value = f"{limit.value / 60.0:.1f} min"
    elif limit.unit == "m/s":
        value = f"{limit.value:.3g} m/s"
    else:
        value = text_of(limit.value, limit.unit, units)
    source = ", ".join(part for part in (limit.source.source, limit.source.place) if part)
    return f"{value} ({limit.name}: {source}; {limit.source.mark})."


def no_way(none: NoRoute, units: str = "si") -> Iterator[RenderableType]:
    """Yield the proof that there is no way, and the least that would make one."""
    yield heading("NO WAY", f"proved: no sequence of holds leads from {none.start} to {none.stop}")
    for place, rails in ((none.start, none.from_start), (none.stop, none.from_stop)):
        words = f"{', '.join(rails)} ({len(rails)})" if rails else "none"
        yield paragraph(f"{words}.", 2, f"rails that {place} leads to  ")
    for gap in none.gaps:
        short = margin_text(gap.limit - gap.width, gap.limit - gap.width, "m", units)
        width = text_of(gap.width, "m", units)
        many = len(gap.handholds)
        noun = "one more handhold closes it" if many == 1 else f"{many} more handholds close it"
        at = "; ".join(_point(point) for point in gap.handholds)
        words = f"{' to '.join(gap.names)} is {width} wide, {short}; {noun}: at {at}."
        yield paragraph(words, 2, "smallest remedy  ")
    if none.freed:
        words = f"{' or '.join(none.freed)}, if it could be used."
        yield paragraph(words, 2, "or by a rail that is there  ")
    elif none.freed_together:
        words = f"{' and '.join(none.freed_together)} together, if they could be used."
        yield paragraph(words, 2, "or by rails that are there  ")
