"""The translation plan: each move with its rails, sides, times, widest gap and load."""

from __future__ import annotations

from collections.abc import Iterator

from reach.dossier.basis import Basis
from reach.dossier.records import Row, Table
from reach.dossier.wording import columns, known, least, listed, table
from reach.finding import Finding
from reach.site import Situation
from reach.travel.headings import aside_words
from reach.travel.path import pace_of, path_of
from reach.travel.sides import corridor_of

CHECKS = (
    "route", "gap", "rails", "hands", "pace", "corridor", "stand-off", "passing", "companion",
    "kick", "exposure", "edge", "boarding",
)  # fmt: skip
"""Checks of a way; those of the line on it are told with the tether plan."""


def translation_plan(basis: Basis) -> Table:
    """Return every move of the procedure, in order."""
    heads = columns(
        "step", "who", "from", "to", "rails in order", "how the body is held", "carried",
        "in the hands", ("length", "m"), ("widest gap", "m"), "between", ("begins", "at"),
        ("planned", "s"), ("needed at the pace", "s"), ("least room round the tube", "m"),
        ("least beyond stand-offs", "m"), "who else is where", "verdict",
    )  # fmt: skip
    says = (
        "Each move along rails: the rails as written, or the way planned where the step names "
        "none; which end of the body goes first and to which side it is held, straight out where "
        "nothing is said. Room is what the free tube keeps beyond its radius; where it is below "
        "zero that much is missing at least."
    )
    moves = moves_of(basis)
    rows = (_row(basis, one) for one in moves)
    return table(
        "translation-plan", "Translation plan", says, heads, rows, "Nobody moves along rails."
    )


def moves_of(basis: Basis) -> tuple[Situation, ...]:
    """Return each move once, for the first body that it is asked for."""
    found: dict[tuple[str, int], Situation] = {}
    for one in basis.outcome.situations:
        if one.passage is not None:
            found.setdefault((one.step, id(one.action)), one)
    return tuple(found.values())


def answers_on(basis: Basis, move: Situation, checks: tuple[str, ...]) -> tuple[int, ...]:
    """Return the places of the findings about one move."""
    passage = move.passage
    assert passage is not None

    def mine(one: Finding) -> bool:
        return move.worker in one.about[:1] and {passage.start, passage.stop} <= set(one.about)

    return basis.answers(move.step, checks, where=mine)


def _row(basis: Basis, move: Situation) -> Row:
    site, passage = basis.site, move.passage
    assert passage is not None
    path = path_of(site, move)
    route, answers = path.route, answers_on(basis, move, CHECKS)
    found = [basis.findings[k] for k in answers]
    span = basis.outing.spans.get(move.step) if basis.outing else None
    needed = route.length / pace_of(site, passage).value if route else None
    pace = next((one for one in found if one.check == "pace"), None)
    if pace is not None and "needed" in pace.numbers:
        needed = float(pace.numbers["needed"])
    way = listed(route.rails, "no rail is needed") if route else "no way is known"
    return Row(
        (
            move.step,
            move.worker,
            passage.start,
            passage.stop,
            way if path.is_written or not route else f"{way} (planned)",
            "; ".join(_held(basis, move)) or "not known",
            listed(passage.carrying, "nothing"),
            listed(passage.in_hand, "nothing"),
            known(route.length) if route else None,
            known(route.widest) if route else None,
            _gap_words(route.at if route else ("", "")),
            span.begin if span else None,
            move.duration,
            needed,
            least((one for one in found if one.check == "corridor"), "m"),
            least((one for one in found if one.check == "stand-off"), "m"),
            listed((f"{name} at {at}" for name, at in move.others.items()), "not known"),
            basis.verdict(answers),
        ),
        answers,
    )


def _gap_words(at: tuple[str, str]) -> str:
    return f"{at[0]} to {at[1]}" if all(at) else "no gap"


def _held(basis: Basis, move: Situation) -> Iterator[str]:
    """Yield for each rail in order how the body is held along it, alike ones together."""
    corridor = corridor_of(basis.site, move)
    if corridor is None:
        return
    alike: list[tuple[str, list[str]]] = []
    for rail in corridor.route.rails:
        if rail not in corridor.asides:
            continue
        side = aside_words(basis.scene, corridor.asides[rail])
        end = "feet first" if rail in corridor.feet_first else "head first"
        words = f"{side}, {end}"
        if alike and alike[-1][0] == words:
            alike[-1][1].append(rail)
        else:
            alike.append((words, [rail]))
    for words, rails in alike:
        yield f"{rails[0]} to {rails[-1]}: {words}" if len(rails) > 1 else f"{rails[0]}: {words}"
