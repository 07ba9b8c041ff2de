"""A payload's way for programs: JSON with every gap, CSV with the curve of them, one row a span."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from reach.reports.record import plain, record_of

if TYPE_CHECKING:
    from reach.payload.records import Curve, PartGap
    from reach.sweeps import Sweeps, Swept

SCHEMA = "sweeps-1"

COLUMNS = (
    "step", "case", "path", "leg", "from", "to", "part", "start", "stop", "time_start",
    "time_stop", "low", "high", "margin_low", "margin_high", "thing",
)  # fmt: skip
"""Columns of the CSV of the curve, SI units: a row a span and part; no bound above is blank.

``start`` and ``stop`` are shares of the leg, ``time_start`` and ``time_stop`` of the whole time.
"""


def sweeps_csv(sweeps: Sweeps) -> str:
    """Return the curves, one row a span and part under `COLUMNS`, SI units."""
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(COLUMNS)
    for one in sweeps.swept:
        for curve in one.curves:
            table.writerows(_rows(one, curve))
    return text.getvalue()


def _rows(one: Swept, curve: Curve) -> Iterator[tuple[Any, ...]]:
    carriage = one.carriage
    for k in range(len(curve.start)):
        start, stop = float(curve.start[k]), float(curve.stop[k])
        leg = min(int(0.5 * (start + stop)), max(len(carriage.legs) - 1, 0))
        before, after = one.ends_of_leg(leg)
        bounds = (curve.low[k], curve.high[k], curve.margin_low[k], curve.margin_high[k])
        yield (
            carriage.step, carriage.case, carriage.path, leg + 1, before, after, curve.part,
            round(start - leg, 9), round(stop - leg, 9), round(one.share(start), 9),
            round(one.share(stop), 9), *(_rounded(v) for v in bounds), curve.thing[k],
        )  # fmt: skip


def _rounded(value: float) -> float | None:
    return round(float(value), 6) + 0.0 if math.isfinite(value) else None


def sweeps_json(sweeps: Sweeps) -> str:
    """Return the answer as JSON text, SI units: the findings and, beside them, every gap."""
    record = record_of(sweeps.outcome) | {
        "exit_code": sweeps.exit_code,
        "sweeps": {
            "schema": SCHEMA,
            "payload": sweeps.question.payload,
            "procedure": sweeps.asked.procedure.file,
            "clearance": plain(sweeps.clearance),
            "ways": [_way(one, sweeps.seed) for one in sweeps.swept],
        },
    }
    return json.dumps(record, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _way(one: Swept, seed: int) -> dict[str, Any]:
    carriage, found = one.carriage, one.found
    rider = carriage.rider
    return {
        "step": carriage.step,
        "case": carriage.case,
        "path": carriage.path,
        "crane": carriage.crane,
        "rider": "" if rider is None else rider.worker,
        "names": list(carriage.names),
        "poses": plain(carriage.poses),
        "time_at_end_of_leg": plain(one.ends),
        "start": plain(carriage.start),
        "duration": plain(carriage.duration),
        "search": None
        if found is None
        else {"reason": found.reason, "obstacle": found.obstacle, "motions": found.motions,
              "seed": seed},
        "gaps": [_gap(one, gap) for gap in one.gaps],
        "at_waypoints": [
            {"pose": at.name, "part": at.part, "thing": at.thing, "low": plain(at.low),
             "high": plain(at.high), "stand_off": plain(at.stand_off)}
            for at in one.waypoints
        ],
        "curve": [
            dict(zip(COLUMNS, map(plain, row), strict=True))
            for curve in one.curves
            for row in _rows(one, curve)
        ],
    }  # fmt: skip


def _gap(one: Swept, gap: PartGap) -> dict[str, Any]:
    known = math.isfinite(gap.at)
    return {
        "part": gap.part,
        "piece": gap.piece_of_part,
        "thing": gap.thing,
        "low": plain(gap.low),
        "high": plain(gap.high),
        "stand_off": plain(gap.stand_off),
        "contact_meant": bool(gap.is_contact_meant),
        "legs": [leg + 1 for leg in gap.legs],
        "at": plain(gap.at),
        "time": plain(one.share(gap.at)) if known else None,
        "pose": plain(gap.pose),
        "on_part": plain(gap.on_part),
        "on_thing": plain(gap.on_thing),
    }
