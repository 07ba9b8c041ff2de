"""The answer to a search for settings as text and JSON: ranking, margins, proof, remedies."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from reach.finding import Verdict
from reach.reports.record import plain, record_of
from reach.reports.table import heading, laid_out, paragraph, printed
from reach.settings.choose import all_pass
from reach.settings.wording import sure
from reach.units import text_of
from reach.worker.margin import WITHIN

if TYPE_CHECKING:
    from rich.console import RenderableType

    from reach.plan.ranking import Served
    from reach.settings.choose import Choice, Judged

SCHEMA = "settings-1"

FARTHEST = 10.0
"""A gap (m) larger than this says nothing."""


def render_settings(
    choice: Choice, width: int = 100, colour: bool = False, units: str = "si"
) -> str:
    """Return what was found as text that stands alone.

    Parameters
    ----------
    choice : Choice
    width : int
        Columns to fill.
    colour : bool
        With escape codes for a terminal.
    units : str
        ``"si"`` or ``"both"``.
    """
    return printed(_parts(choice, width, units), width, colour)


def settings_json(choice: Choice) -> str:
    """Return the answer as JSON text, SI units: the findings and, beside them, the search."""
    record = record_of(choice.outcome) | {
        "settings": {
            "schema": SCHEMA,
            "ranked": [
                {**_setting(one.served, choice), "verdicts": _verdicts(one)}
                for one in choice.judged
            ],
            "per_target": [
                {
                    "socket": one.socket,
                    "settings": {
                        target: {
                            **_setting(served, None),
                            "verdicts": _verdicts(choice.each_judged[served]),
                        }
                        if served
                        else None
                        for target, served in one.settings.items()
                    },
                }
                for one in choice.each
            ],
            "proved_short": {
                name: {"metres": plain(short.metres), "question": _asked(choice, short.ask)}
                for name, short in choice.grid.short.items()
            },
            "remedies": [
                {"change": one.words, **_setting(one.served, None)} for one in choice.remedies
            ],
            "settings": choice.grid.n_settings,
            "not_excluded": len(choice.grid.rows),
            "tried": choice.ranking.n_looked,
            "others_better_by_at_most": plain(choice.ranking.gap),
        }
    }
    return json.dumps(record, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _verdicts(one: Judged) -> dict[str, int]:
    return {str(verdict): one.count(verdict) for verdict in Verdict}


def _setting(served: Served, choice: Choice | None) -> dict[str, Any]:
    found: dict[str, Any] = {
        "socket": served.candidate.socket,
        "setting": plain(served.candidate.angles),
        "words": served.candidate.words,
        "worst_margin": plain(served.worst),
    }
    if choice is not None:
        found["margins"] = {
            _asked(choice, k): {"margin": plain(margin), "hand": hand}
            for k, (margin, hand) in enumerate(zip(served.margins, served.hands, strict=True))
        }
    return found


def _asked(choice: Choice, k: int) -> str:
    ask = choice.asks[k]
    assert ask.head is not None
    return f"{ask.head.name}, {ask.case}"


def _parts(choice: Choice, width: int, units: str) -> Iterator[RenderableType]:
    yield heading("SETTINGS", _title(choice))
    yield from _ranked(choice)
    if choice.judged:
        yield from _margins(choice, choice.judged[0].served, units)
    yield from _per_target(choice)
    yield from _searched(choice)
    yield from laid_out(choice.outcome, width, units)


def _title(choice: Choice) -> str:
    heads = list(dict.fromkeys(_asked(choice, k).split(", ")[0] for k in range(len(choice.asks))))
    cases = list(dict.fromkeys(ask.case for ask in choice.asks))
    place = choice.asks[0].place
    held = place.restraint_name if place is not None else ""
    return f"{held} for {choice.asks[0].worker} ({', '.join(cases)}): {', '.join(heads)}"


def _ranked(choice: Choice) -> Iterator[RenderableType]:
    if not choice.judged:
        yield paragraph("No one setting was found that serves everything; see the finding.", 2)
    for rank, one in enumerate(choice.judged, 1):
        k = one.served.margins.index(one.worst)
        where = one.served.candidate
        text = (
            f"{where.socket}, {where.words}: worst margin {sure(one.worst)} at least "
            f"({_asked(choice, k)}); {_checked(one)}"
        )
        yield paragraph(text, 2, f"{rank:>2}. ")


def _checked(one: Judged) -> str:
    """Return what the checks say of a setting, in words."""
    return one.lacks or f"all {one.count(Verdict.PASS)} answers pass"


def _margins(choice: Choice, served: Served, units: str) -> Iterator[RenderableType]:
    yield heading("MARGINS OF REACH", "at the first of them, by joint limits, at least")
    for k, (margin, hand) in enumerate(zip(served.margins, served.hands, strict=True)):
        shown = sure(margin)
        if units == "both":
            shown = f"{shown} ({max(0.0, margin - WITHIN) / 0.0254:.1f} in)"
        yield paragraph(f"{shown}, {hand} hand", 2, f"{_asked(choice, k):24s}")


def _per_target(choice: Choice) -> Iterator[RenderableType]:
    if not choice.each:
        return
    yield heading("ONE SOCKET, SET ANEW FOR EACH TARGET")
    anew = [one.socket for one in choice.each if all_pass(one, choice.each_judged)]
    if anew and len(choice.spread) > 1:
        spread = ", ".join(choice.spread)
        yield paragraph(
            f"{anew[0]} serves all of them from the start; the procedure spreads "
            f"them over {spread}.", 2,
        )  # fmt: skip
    for one in choice.each:
        for target, served in one.settings.items():
            words = "no setting found"
            if served:
                words = (
                    f"{served.candidate.words}: margin {sure(served.worst)} at least; "
                    f"{_checked(choice.each_judged[served])}"
                )
            yield paragraph(words, 2, f"{one.socket}  {target:10s} ")


def _searched(choice: Choice) -> Iterator[RenderableType]:
    grid, ranking = choice.grid, choice.ranking
    yield heading("LOOKED AT")
    joints, n = grid.restraint.joints, len(grid.sockets)
    every = math.prod(max(1, len(joint.stops)) for joint in joints)
    each = f"{every} settings of which {len(grid.angles)} differ in pose"
    if any(not joint.stops for joint in joints):
        each = f"{len(grid.angles)} settings (joints without detents in steps)"
    text = (
        f"{n} socket{'' if n == 1 else 's'}, each at {each}; {len(grid.rows)} of "
        f"{grid.n_settings} are not proved out of reach, {ranking.n_looked} tried by postures."
    )
    left = [f"{n} ({one.status})" for n, one in choice.outcome.site.scene.sockets.items()
            if n not in grid.sockets]  # fmt: skip
    if left:
        text = f"{text} Not looked at: {', '.join(left)}."
    yield paragraph(text, 2)
    short = [
        f"{name} by {text_of(one.metres, 'm')} ({_asked(choice, one.ask)})"
        for name, one in sorted(grid.short.items(), key=lambda item: item[1].metres)
        if one.metres > 0.0
    ]
    if short:
        yield paragraph(f"Short at every setting (outer bound): {'; '.join(short)}.", 2)
    if ranking.gap > 0.0:
        much = f"by up to {text_of(ranking.gap, 'm')} as far as their scores go"
        if not ranking.gap < FARTHEST:
            much = "by how much is not known"
        yield paragraph(f"Settings that were not tried may be better, {much}.", 2)
