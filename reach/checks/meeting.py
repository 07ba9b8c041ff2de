"""Question. Do two workers keep apart in every order, where only times keep them apart?

Asked of workers who, as written, are never at two places within 5 m of each other at once, but
could be: nothing but the times written keeps the two steps apart. Bodies and helmets are looked
at as *helmets* does, at work and at rest after it. Each pair of places is told once, with the
worst of what may be done there at once; if all keep apart, each pair of workers is told once,
with the least distance found.

Margin. Metres from helmet to helmet in the postures shown, the limit taken off, or from body to
body, whichever is worse. The low end is that of the postures shown, the high end no pair of
postures exceeds.

Limit. ``helmet_distance``; bodies must not touch.

Blind spots. A worker is taken to be in a place from the begin of the step there until the next
step that asks something of the body begins, or the worker is taken along; stowing, passing and
waiting change no posture. Places, and where payloads are, are those of the written order. What
goes on at once as written is left to *helmets*, though another order may have it again. Ways
along rails, and who has ridden off, are not looked at. Without times nothing is asked.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import combinations

from reach.checks.near_bodies import Apart, at_work, how_near, is_far, spot_of
from reach.checks.ruling import clock_text
from reach.checks.stays import Stay, Stays, agrees, at_once_as_written, links_between, stays_of
from reach.finding import RANK, Finding, Verdict
from reach.ledger import Outing
from reach.orders import Link
from reach.site import Site
from reach.units import text_of

NAME = "meeting"
IDS = ("U3O",)
TAKES = "outing"

Pair = tuple[Stay, Stay]
Key = frozenset[tuple[object, ...]]
"""What two do, each in one place: pairs of stays with one key are as near as each other."""


def find(site: Site, outing: Outing) -> list[Finding]:
    """Return a finding for each pair of places too near, else one for each pair of workers."""
    if not outing.is_declared or all(step.start is None for step in outing.steps):
        return []
    stays = stays_of(site, outing)
    known = Stays(outing.examiner.order, stays)
    by_workers: dict[tuple[object, ...], list[Pair]] = {}
    for who, pair in _pairs(stays):
        by_workers.setdefault(who, []).append(pair)
    return [
        finding
        for pairs in by_workers.values()
        for finding in _of_two(site, outing, known, _asked(known, pairs))
    ]


def _pairs(stays: Sequence[Stay]) -> Iterator[tuple[tuple[object, ...], Pair]]:
    """Yield workers and cases of two stays in the same case, the earlier one as written first."""
    cases: dict[str, set[str]] = {}
    # Records note each read, and there are as many pairs as stays squared.
    who = [(stay.worker, stay.situation.case, stay.span) for stay in stays]
    for worker, case, _ in who:
        cases.setdefault(worker, set()).add(case)
    for i, j in combinations(range(len(stays)), 2):
        (worker, case, span), (other, other_case, other_span) = who[i], who[j]
        if worker != other and (case == other_case or case not in cases[other]):
            pair = (stays[i], stays[j]) if span <= other_span else (stays[j], stays[i])
            yield (frozenset((worker, other)), frozenset((case, other_case))), pair


def _asked(known: Stays, pairs: Iterable[Pair]) -> dict[Key, list[Pair]]:
    """Return which stays near each other may be at once in other orders only, by what is done."""
    asked: dict[Key, list[Pair]] = {}
    written: set[Key] = set()
    for one, other in pairs:
        if is_far(one.situation, other.situation):
            continue
        key = frozenset((one.task, other.task))
        if at_once_as_written(one, other):
            written.add(key)
        elif known.may_meet(one, other):
            asked.setdefault(key, []).append((one, other))
    return {key: some for key, some in asked.items() if key not in written}


def _of_two(
    site: Site, outing: Outing, known: Stays, asked: dict[Key, list[Pair]]
) -> Iterator[Finding]:
    """Yield what is found of two workers."""
    told: list[tuple[Key, Finding]] = []
    for key, (pair, *_) in asked.items():
        mine, theirs = (at_work(site, stay.situation, stay.is_over) for stay in pair)
        words = (_words(pair[0], mine.words), _words(pair[1], theirs.words))
        apart_key = ("apart", *(one for stay in pair for one in (stay.situation, stay.is_over)))
        if apart_key not in site.memo:
            site.memo[apart_key] = tuple(how_near(site, mine, theirs))
        for apart in site.memo[apart_key]:
            told.append((key, _finding(known, pair, words, apart)))
    bad = [(key, one) for key, one in told if one.verdict is not Verdict.PASS]
    if told and not bad:
        yield min((one for _, one in told), key=lambda one: one.low)
    by_places: dict[Key, list[tuple[Key, Finding]]] = {}
    for key, one in bad:
        places = frozenset(spot_of(stay.situation) for stay in asked[key][0])
        by_places.setdefault(places, []).append((key, one))
    for some in by_places.values():
        worst = min((one for _, one in some), key=lambda one: (RANK[one.verdict], one.low))
        pairs = [pair for key in dict.fromkeys(key for key, _ in some) for pair in asked[key]]
        yield replace(worst, fix=_fix(outing, links_between(outing, pairs)))


def _finding(known: Stays, pair: Pair, words: Sequence[str], apart: Apart) -> Finding:
    first, then = pair
    first_words, then_words = words
    what = f"their {apart.what} would be {_far(apart.gap)} in the postures shown"
    if apart.low >= 0.0:
        because = (
            f"Where times alone keep {first.worker} and {then.worker} from being at once, they "
            f"keep apart in every order; nearest, in {first_words} and {then_words}, {what}."
        )
    else:
        because = f"Nothing keeps {first_words} and {then_words} apart: {what}."
    about = [name for stay in (then, first) for name in (stay.worker, _place(stay))]
    return Finding(
        NAME,
        then.step,
        tuple(about),
        then.situation.case,
        because,
        apart.low,
        apart.high,
        "m",
        apart.limits,
        "",
        (apart.mark,),
        {
            "answer": f"{apart.what}, {first.worker}",
            "distance": apart.gap,
            "orders": "all" if apart.low >= 0.0 else "another order",
            "order": known.events_of(first, then),
        },
    )


def _far(gap: float) -> str:
    apart = f"{text_of(abs(gap), 'm')}"
    return f"{apart} apart" if gap >= 0.0 else f"{apart} inside each other"


def _place(stay: Stay) -> str:
    assert stay.situation.place is not None
    return stay.situation.place.name


def _words(stay: Stay, task: str) -> str:
    after = "the wait after " if stay.is_over else ""
    return f"{after}step '{stay.step}' ({stay.worker} at {_place(stay)}, {task})"


def _fix(outing: Outing, links: Sequence[Link]) -> str:
    """Return which steps are to wait for which, in words."""
    said = []
    for link in links:
        until = "" if agrees(outing, link) else f" until {clock_text(outing.spans[link.first].end)}"
        said.append(f"Let step '{link.then}' wait{until}: after = ['{link.first}'].")
    return " ".join(said)
