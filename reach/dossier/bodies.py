"""What differs for small and large, left- and right-handed workers, worksite by worksite."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from reach.dossier.basis import Basis, Spread
from reach.dossier.records import Row, Table
from reach.dossier.spreading import BODILY
from reach.dossier.wording import columns, least, table
from reach.finding import RANK, Finding, Verdict, worst_of
from reach.model.procedure import Drive, Hold, Ingress, Inspect
from reach.run import Outcome
from reach.site import Situation

HEADS = columns(
    "step", "worker", "what", "where", "run for", "size", "better hand",
    ("least margin of reach", "m"), ("least clearance left", "m"), "against the plan",
    "what stands in the way", "verdict",
)  # fmt: skip

SAYS = (
    "Each thing that is turned, looked at, held or got into, and each move: as planned, "
    "and for other bodies and hands in the same place and setting. Only checks that "
    "hang on the body are run for these, judged in full; hands that a step names stay."
)

UNRUN = " Other sizes and hands were not run, so what differs for them is not known."


def differences(basis: Basis) -> Table:
    """Return verdict and margins of each worksite by size and by hand."""
    says = SAYS if basis.spread else SAYS + UNRUN
    rows = [row for one in _asked(basis.outcome) for row in _rows(basis, one)]
    return table(
        "differences", "Differences by size and hand", says, HEADS, rows, "Nothing is done by hand."
    )


def _asked(outcome: Outcome) -> tuple[Situation, ...]:
    found: dict[tuple[str, int], Situation] = {}
    for one in outcome.situations:
        is_work = isinstance(one.action, Drive | Ingress | Inspect | Hold)
        if one.passage is not None or (is_work and one.place is not None):
            found.setdefault((one.step, id(one.action)), one)
    return tuple(found.values())


def _rows(basis: Basis, asked: Situation) -> Iterator[Row]:
    mine = _about(basis.outcome, asked)
    answers = tuple(k for k, _ in mine)
    planned = [one for _, one in mine]
    verdict = worst_of(planned)
    yield _row(asked, "as planned", asked.case, asked.own_hand, planned, "as planned", answers)
    if not basis.spread:
        yield _unrun(asked, "other sizes and hands")
    for spread in basis.spread:
        if spread.kind == "hands" and spread.worker != asked.worker:
            continue
        if spread.outcome is None:
            yield _unrun(asked, spread.words, spread.why)
            continue
        for other in _same(spread, asked):
            found = [one for _, one in _about(spread.outcome, other)]
            words = _against(worst_of(found), verdict)
            yield _row(other, spread.words, other.case, other.own_hand, found, words, ())


def _unrun(asked: Situation, words: str, why: str = "") -> Row:
    cells = (
        asked.step, asked.worker, _what(asked), _where(asked), words, "not asked", "not asked",
        None, None, "not asked", why or "not asked", Verdict.NOT_ASKED,
    )  # fmt: skip
    return Row(cells)


def _row(
    asked: Situation,
    words: str,
    size: str,
    hand: str,
    found: Sequence[Finding],
    against: str,
    answers: tuple[int, ...],
) -> Row:
    bad = [one for one in found if one.verdict in (Verdict.FAIL, Verdict.OPEN, Verdict.REVIEW)]
    worst = min(bad, key=lambda one: RANK[one.verdict], default=None)
    cells = (
        asked.step,
        asked.worker,
        _what(asked),
        _where(asked),
        words,
        size,
        hand,
        least((one for one in found if one.check == "reach"), "m"),
        least((one for one in found if one.check == "clearance"), "m"),
        against,
        worst.because if worst else "nothing",
        worst_of(found),
    )
    return Row(cells, answers)


def _about(outcome: Outcome, asked: Situation) -> list[tuple[int, Finding]]:
    """Return the findings about one action in one body, each with its place in the run."""
    places = {_where(asked)}
    if asked.passage is not None:
        places = {asked.passage.start, asked.passage.stop}
    head = asked.head.name if asked.head is not None else ""
    found = []
    for k, one in enumerate(outcome.findings):
        right = one.step == asked.step and one.check in BODILY and one.case in ("", asked.case)
        about = one.about[:1] == (asked.worker,) and places <= set(one.about)
        if right and about and (not head or head in one.about):
            found.append((k, one))
    return found


def _same(spread: Spread, asked: Situation) -> Iterator[Situation]:
    """Yield the situations of another run that ask the same of another body."""
    assert spread.outcome is not None
    for one in spread.outcome.situations:
        same = one.step == asked.step and one.worker == asked.worker
        if same and one.action == asked.action:
            yield one


def _what(asked: Situation) -> str:
    if asked.head is not None:
        return asked.head.name
    if asked.passage is not None:
        return f"move from {asked.passage.start}"
    return "hold" if isinstance(asked.action, Hold) else "getting in"


def _where(asked: Situation) -> str:
    if asked.passage is not None:
        return asked.passage.stop
    return asked.place.name if asked.place is not None else "not known"


def _against(now: Verdict, planned: Verdict) -> str:
    if Verdict.NOT_ASKED in (now, planned):
        return "not asked"
    if now is planned:
        return "alike"
    return "worse" if RANK[now] < RANK[planned] else "better"
