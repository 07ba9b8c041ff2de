"""A payload's way as text: gaps thing by thing, where and when, the curve of them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from reach.reports.margin import margin_text
from reach.reports.route import verdicts_in_words
from reach.reports.sweep_words import (
    axis_words,
    bracket,
    clock,
    down,
    part_words,
    point_words,
    sparkline,
    up,
)
from reach.reports.table import heading, laid_out, paragraph, printed
from reach.units import text_of

if TYPE_CHECKING:
    from rich.console import RenderableType

    from reach.files.way_text import FoundWay
    from reach.payload.at_waypoints import AtWaypoint
    from reach.payload.records import Curve, PartGap
    from reach.sweeps import Sweeps, Swept

MOST_THINGS = 12
"""Things that the table names one by one."""

NEAR = 0.5
"""Things with more left than this (m) are named only while they are few."""

FEW = 5

MOST_TOLD = 4
"""Things come too near of which everything is told."""


def render_sweeps(
    sweeps: Sweeps,
    width: int = 100,
    colour: bool = False,
    units: str = "si",
    ways: Sequence[FoundWay] = (),
) -> str:
    """Return gaps and findings as text that stands alone.

    Parameters
    ----------
    sweeps : Sweeps
    width : int
        Columns to fill.
    colour : bool
        With escape codes for a terminal.
    units : str
        ``"si"`` or ``"both"``.
    ways : sequence of FoundWay
        What was found, to be printed as a scene takes it.
    """
    return printed(_parts(sweeps, width, units, ways), width, colour)


# ---- text ------------------------------------------------------------------------------


def _parts(
    sweeps: Sweeps, width: int, units: str, ways: Sequence[FoundWay]
) -> Iterator[RenderableType]:
    found = iter(ways)
    for one in sweeps.swept:
        yield from _head(sweeps, one)
        if one.found is not None:
            yield from _search(one, sweeps.seed)
        if one.found is not None and one.has_way:
            way = next(found, None)
            yield from _as_toml(way) if way is not None else ()
        if one.gaps:
            yield from _table(one, units)
            yield from _worst(one, units)
            yield from _at_waypoints(one, units)
            yield from _curve(one, width)
    yield from laid_out(sweeps.outcome, width, units)


def _head(sweeps: Sweeps, one: Swept) -> Iterator[RenderableType]:
    carriage = one.carriage
    along = f"from {carriage.names[0]} to {carriage.names[-1]}"
    if carriage.path:
        along = f"along {carriage.path}"
    words = f"{one.what} {along}: {verdicts_in_words(one.findings)}"
    yield heading("SWEEP", words)
    if sweeps.asked.is_written:
        source = f"step {carriage.step} of {sweeps.asked.procedure.file}"
        if carriage.start is not None and carriage.duration:
            source += f", {clock(carriage.start)} to {clock(carriage.start + carriage.duration)}"
        yield paragraph(f"As {source}. {_company(one)}", 2)
    else:
        yield paragraph(f"As asked, in no procedure. {_company(one)}", 2)
    yield paragraph(" > ".join(name for name in carriage.names if name), 2)


def _company(one: Swept) -> str:
    """Return who rides and who stands by, in sentences."""
    carriage = one.carriage
    rider = carriage.rider
    words = []
    if rider is not None:
        words.append(f"{rider.worker} ({rider.case}) rides.")
    elif carriage.crane:
        words.append("Nobody rides.")
    else:
        words.append("It moves by itself: no crane and no rider are looked at.")
    others = (stay.worker for stay in carriage.bystanders)
    standing = dict.fromkeys(worker for worker in others if worker != carriage.lane)
    words.append(f"{', '.join(standing)} beside it." if standing else "Nobody is beside it.")
    return " ".join(words)


def _search(one: Swept, seed: int) -> Iterator[RenderableType]:
    found = one.found
    assert found is not None
    if found.poses is not None:
        n = len(found.poses) - 2
        poses = f"{n} pose{'' if n == 1 else 's'} in between"
        words = (
            f"The way was left blank; one was found with {poses}, seed {seed}, {found.motions} "
            "motions tried. Every motion of it is proved to keep its stand-offs from solids and "
            "hazards; that there is no shorter one is not said."
        )
    else:
        words = (
            f"The way was left blank: {found.reason}, seed {seed}, {found.motions} motions tried."
        )
    yield paragraph(words, 2)


def _as_toml(way: FoundWay) -> Iterator[RenderableType]:
    yield paragraph("as a scene takes it:", 2)
    for line in way.text().splitlines():
        yield Text(f"    {line}" if line else "", no_wrap=True, overflow="ignore")


HEADS = ("", "thing", "asked", "gap, m", "left, m", "by", "leg", "time")
"""Columns of the table of things; ``by`` is what comes near, ``time`` a share of the whole."""


def by_thing(one: Swept) -> list[PartGap]:
    """Return of every thing the gap with the least margin, in that order."""
    found: dict[str, PartGap] = {}
    for gap in one.judged:
        found.setdefault(gap.thing, gap)
    return list(found.values())


def named_things(one: Swept) -> list[PartGap]:
    """Return those of `by_thing` that are worth a line each."""
    every = by_thing(one)
    near = [gap for gap in every if gap.margin[0] < NEAR]
    return every[: max(FEW, min(len(near), MOST_THINGS))]


def _table(one: Swept, units: str) -> Iterator[RenderableType]:
    table = Table(box=None, padding=(0, 1, 0, 0), pad_edge=False, show_edge=False)
    for name in HEADS:
        is_number = name in ("asked", "gap, m", "left, m", "time")
        table.add_column(
            name, justify="right" if is_number else "left", no_wrap=name not in ("leg", "by")
        )
    shown = named_things(one)
    for gap in shown:
        table.add_row(*_cells(one, gap, units))
    yield Padding(table, (0, 0, 0, 2), expand=False)
    rest = by_thing(one)[len(shown) :]
    if rest:
        least = min(gap.margin[0] for gap in rest)
        many = f"{len(rest)} more thing{'' if len(rest) == 1 else 's'}"
        yield paragraph(f"{many}, each with {text_of(down(least), 'm', units)} left at least.", 2)
    meant = dict.fromkeys(gap.thing for gap in one.gaps if gap.is_contact_meant)
    if meant:
        words = (
            f"Contact with {', '.join(meant)} is meant on the legs that say so: not judged there."
        )
        yield paragraph(words, 2)


def _cells(one: Swept, gap: PartGap, units: str) -> tuple[str, ...]:
    low, high = gap.margin
    left = f"{down(low):.3f}" if low >= 0.0 or not math.isfinite(high) else f"{up(high):.3f}"
    mark = "■" if high < 0.0 else "○" if low >= 0.0 else "◇"
    asked = text_of(gap.stand_off, "m", units).replace(" m", "", 1)
    return (
        mark, gap.thing, asked, bracket(gap.low, gap.high), left,
        gap.piece_of_part if gap.part == one.carriage.payload else part_words(gap),
        *_when(one, gap),
    )  # fmt: skip


def _when(one: Swept, gap: PartGap) -> tuple[str, str]:
    """Return the leg and the share of the time at which a gap is as small as it is."""
    if not math.isfinite(gap.at):
        return "", ""
    share = f"{100.0 * one.share(gap.at):.0f} %"
    if _is_between(one, gap):
        return " > ".join(one.ends_of_leg(one.leg(gap.at))), share
    return f"at {one.carriage.names[round(gap.at)]}", share


def _worst(one: Swept, units: str) -> Iterator[RenderableType]:
    """Yield what is to be known of each thing that is come too near, else of the nearest one."""
    gaps = [gap for gap in by_thing(one) if math.isfinite(gap.at)]
    short = [gap for gap in gaps if gap.margin[1] < 0.0]
    for gap in short[:MOST_TOLD] or gaps[:1]:
        yield paragraph(_told(one, gap, units), 2, "too near  " if short else "nearest  ")
    if short[MOST_TOLD:]:
        names = ", ".join(gap.thing for gap in short[MOST_TOLD:])
        yield paragraph(f"and to {names}.", 2)


def _told(one: Swept, gap: PartGap, units: str) -> str:
    since, angle, axis = one.turned(gap)
    turned = f"turned {text_of(angle, 'rad')} about {axis_words(axis)} since {since}"
    turned = turned if angle > 1e-6 else f"turned as at {since}"
    words = (
        f"{part_words(gap)} to {gap.thing}: {text_of(gap.high, 'm', units)}, "
        f"{margin_text(*gap.margin, 'm', units)}, {one.where(gap.at)}{_moment(one, gap.at)}. "
        f"{one.carriage.what} is at {point_words(gap.pose[:3, 3])}, {turned}. "
        f"Nearest points: {point_words(gap.on_part)} on {gap.part}, "
        f"{point_words(gap.on_thing)} on {gap.thing}."
    )
    at = one.short.get((gap.part, gap.thing))
    if at is not None and at.margin >= 0.0:
        words += (
            f" At the waypoints alone it is {text_of(down(at.low), 'm', units)} at least "
            f"(at {at.name}): the fault lies between."
        )
    return words


def _moment(one: Swept, at: float) -> str:
    share = one.share(at)
    duration, start = one.carriage.duration, one.carriage.start
    if start is None or not duration:
        return f", {100.0 * share:.0f} % of the way"
    return f", about {clock(start + share * duration)}"


def _at_waypoints(one: Swept, units: str) -> Iterator[RenderableType]:
    known = [at for at in one.waypoints if at.thing]
    if not known:
        return
    said = "; ".join(_waypoint(at, units) for at in known)
    yield paragraph(f"{said}.", 2, "at the waypoints  ")


def _is_between(one: Swept, gap: PartGap) -> bool:
    return abs(gap.at - round(gap.at)) > 1e-6 or not one.carriage.names[round(gap.at)]


def _waypoint(at: AtWaypoint, units: str) -> str:
    left = f"{down(at.low - at.stand_off):+.3f} m left"
    return f"{at.name} {text_of(at.high, 'm', units)}, {at.part} to {at.thing}, {left}"


def _curve(one: Swept, width: int) -> Iterator[RenderableType]:
    if not one.curves or not one.carriage.legs:
        return
    n_legs = len(one.carriage.legs)
    label = max(len(curve.part) for curve in one.curves)
    columns = max(3, min(16, (width - label - 6 - n_legs) // n_legs))
    top = max((float(np.max(c.margin_low, initial=0.0)) for c in one.curves), default=0.0)
    yield paragraph(
        "What is left of what is asked, leg by leg (a bound, lowest in each column; × is short):", 2
    )
    for curve in one.curves:
        line = sparkline(curve, n_legs, columns, min(top, 2.0))
        yield Text(f"    {curve.part.ljust(label)}  {line}", no_wrap=True, overflow="ignore")
    least = [min(_of_leg(curve, leg) for curve in one.curves) for leg in range(n_legs)]
    numbers = "; ".join(
        f"to {one.ends_of_leg(leg)[1]} {down(value):.3f}" for leg, value in enumerate(least)
        if math.isfinite(value)
    )  # fmt: skip
    yield paragraph(f"{numbers} m." if numbers else "nothing near.", 2, "left at least  ")


def _of_leg(curve: Curve, leg: int) -> float:
    mine = (curve.start >= leg - 1e-9) & (curve.start < leg + 1 - 1e-9)
    return float(np.min(curve.margin_low[mine], initial=math.inf))
