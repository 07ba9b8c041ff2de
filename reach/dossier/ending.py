"""How everything is left, against what the next outing expects."""

from __future__ import annotations

from collections.abc import Iterator

from reach.dossier.basis import Basis
from reach.dossier.records import Row, Table
from reach.dossier.stowing import where_words
from reach.dossier.wording import UNTOLD, columns, table
from reach.ledger import chain_of
from reach.ledger.facts import Fact
from reach.ledger.keeping import same_place
from reach.model.outing import End

CHECKS = ("left-as", "left-record", "inventory", "parked")
OTHER = ("restraints", "fasteners", "payloads", "cranes", "inhibits")
"""Groups of the ledger of which a procedure expects nothing: they are told as they are left."""

NOTHING = "nothing is declared"


def end_state(basis: Basis) -> Table:
    """Return every thing with what is expected of it in the end and how it is left."""
    heads = columns(
        "thing", "what", "expected", "found in the end", "as expected", "who answers for it",
        "until", "verdict",
    )  # fmt: skip
    says = (
        "How everything is left when the last step is done, from the ledger, and what the next "
        "outing expects of it where the procedure says so. Of settings, fasteners, payloads and "
        "cranes a procedure declares no end: the next planner finds them as they stand here."
    )
    rows = [*_items(basis), *_lines(basis), *_others(basis)]
    return table("end-state", "End state and the next outing", says, heads, rows)


def _items(basis: Basis) -> Iterator[Row]:
    end = basis.procedure.end or End()
    values = basis.outing.finally_ if basis.outing else {}
    for item in basis.scene.items:
        goal = end.items.get(item, end.rest)
        chain = chain_of(values, item)
        right: str = NOTHING
        if goal is not None:
            right = "yes" if any(same_place(one, goal) for one in chain) else "no"
        bags = [one for one in chain if one in basis.scene.items]
        answers = basis.answers(checks=CHECKS, names=(item, *bags))
        left = end.left.get(item)
        yield Row(
            (
                item,
                "place",
                goal or NOTHING,
                where_words(basis, values, item),
                right,
                left.owner if left else UNTOLD,
                left.until if left else UNTOLD,
                basis.verdict(answers),
            ),
            answers,
        )


def _lines(basis: Basis) -> Iterator[Row]:
    end = basis.procedure.end or End()
    for fact in basis.ledger.entries[-1].facts:
        if fact.group != "lines":
            continue
        expected = end.lines.get(fact.thing)
        wanted = (getattr(expected, fact.what) or "the lock") if expected else NOTHING
        place = fact.value.split(",")[0].removeprefix("at ").removeprefix("on ")
        place = place.replace("in the lock", "the lock")
        right = NOTHING if expected is None else ("yes" if place == wanted else "no")
        answers = basis.answers(checks=CHECKS, names=(fact.thing,))
        cells = (
            fact.thing, fact.what, wanted, fact.value, right, UNTOLD, UNTOLD,
            basis.verdict(answers),
        )  # fmt: skip
        yield Row(cells, answers)


def _others(basis: Basis) -> Iterator[Row]:
    told: dict[str, list[Fact]] = {}
    for fact in basis.ledger.entries[-1].facts:
        if fact.group in OTHER:
            told.setdefault(fact.thing, []).append(fact)
    for thing, facts in told.items():
        what = ", ".join(fact.what for fact in facts)
        found = "; ".join(f"{fact.what} {fact.value}" for fact in facts)
        yield Row((thing, what, NOTHING, found, NOTHING, UNTOLD, UNTOLD, basis.verdict(())))
