"""Worksite cards: one page for each stay of a worker in one place."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import isfinite

from reach.dossier.basis import Basis
from reach.dossier.bolts import answers_of, hand_words, set_to, turned
from reach.dossier.card_words import fastener_told, order_told, step_words_told, turns_told
from reach.dossier.hazards import NEAR, names_hazard, told_of
from reach.dossier.moving import answers_on as answers_on_move
from reach.dossier.moving import moves_of
from reach.dossier.records import Card, Row, Table
from reach.dossier.restraints import set_to as joint_set_to
from reach.dossier.stays import Stay, stays_of
from reach.dossier.sticking import if_stuck
from reach.dossier.stowing import where_words
from reach.dossier.wording import UNTOLD, columns, least, listed, table
from reach.finding import RANK, Finding, Verdict
from reach.ledger import names, needs_of
from reach.model.procedure import Drive, Ingress
from reach.pictures.worksite import Worksite, worksites_of
from reach.site import Situation
from reach.units import text_of

BOLTS = columns(
    "no.", "fastener", "turn", ("torque", "N m"), ("set to", "N m"), "with", "hand", "order",
    "step", "verdict",
)  # fmt: skip
TOOLS = columns("item", "needed for", "where then", "tied to", "step", "verdict")
TETHER = columns("line", "hooked to", ("length", "m"), "from step", "verdict")
HAZARDS = columns("hazard", "kind", "stand-off", "control", "what was found", "verdict")


def cards_of(basis: Basis) -> tuple[Card, ...]:
    """Return the worksite cards, in the order in which the stays begin."""
    drawn = worksites_of(basis.outcome)
    return tuple(_card(basis, k, stay, drawn) for k, stay in enumerate(stays_of(basis), 1))


def worksites(basis: Basis) -> Table:
    """Return one line for each card: who, where, which steps, and how it stands."""
    heads = columns(
        "card", "worker", "place", "steps", "what is done there", ("begins", "at"), ("ends", "at"),
        ("least margin of reach", "m"), ("least clearance left", "m"), "what stands in the way",
        "verdict",
    )  # fmt: skip
    says = (
        "One line for each worksite card: a stay of one worker in one place, from coming there "
        "until leaving it."
    )
    rows = (_line(basis, k, stay) for k, stay in enumerate(stays_of(basis), 1))
    return table("worksites", "Worksites", says, heads, rows, "Nothing is done in a place.")


def _line(basis: Basis, number: int, stay: Stay) -> Row:
    answers = answers_on(basis, stay)
    found = [basis.findings[k] for k in answers]
    bad = [one for one in found if RANK[one.verdict] < RANK_PASS]
    worst = min(bad, key=lambda one: RANK[one.verdict], default=None)
    spans = basis.outing.spans if basis.outing else {}
    return Row(
        (
            number,
            stay.worker,
            stay.place,
            listed(step.name for step in stay.steps),
            listed(_done(stay)),
            spans[stay.steps[0].name].begin if spans else None,
            spans[stay.steps[-1].name].end if spans else None,
            least((one for one in found if one.check == "reach"), "m"),
            least((one for one in found if one.check == "clearance"), "m"),
            worst.because if worst else "nothing",
            basis.verdict(answers),
        ),
        answers,
    )


def _done(stay: Stay) -> Iterator[str]:
    """Yield what is turned, looked at or held; where that is nothing, what is done instead."""
    found = [name for one in stay.situations for name in _targets(one)]
    yield from found or [DOING.get(one.action.do, one.action.do) for one in stay.situations]


DOING = {"ingress": "getting in", "release": "letting go", "align": "aligning"}
"""Actions without a thing of their own, in words."""


def _targets(one: Situation) -> Iterator[str]:
    if one.head is not None:
        yield one.head.name
    else:
        yield from getattr(one.action, "grips", ())


def _card(basis: Basis, number: int, stay: Stay, drawn: Sequence[Worksite]) -> Card:
    what = listed(_done(stay))
    return Card(
        number=number,
        title=f"{stay.worker} at {stay.place}: {what}",
        worker=stay.worker,
        place=stay.place,
        steps=tuple(step_words_told(step) for step in stay.steps),
        stems=_stems(stay, drawn),
        stands=tuple(_stands(basis, stay)),
        bolts=_bolts(basis, stay),
        tools=_tools(basis, stay),
        tether=_tether(basis, stay),
        hazards=_hazards(basis, stay),
        if_stuck=tuple(if_stuck(basis, stay)),
        answers=answers_on(basis, stay),
        step_names=tuple(step.name for step in stay.steps),
    )


RANK_PASS = RANK[Verdict.PASS]
"""Verdicts of a lower rank do not pass: fail, open, review."""

FAR = 2.0
"""Hazards that keep so much (m) beyond what is asked are left off a card."""


def answers_on(basis: Basis, stay: Stay) -> tuple[int, ...]:
    """Return the places of the findings about a stay: of its steps, about its worker or place.

    What a step of the worker's own is found to do wrong belongs here, whoever else it names. So
    does what does not pass in another step and names this worker in this place, or the line that
    is worn here.
    """
    own = {step.name for step in stay.steps if step.lane == stay.worker}
    about = {stay.worker, stay.place}

    def mine(one: Finding) -> bool:
        return one.step in own or bool(about & set(one.about))

    def elsewhere(one: Finding) -> bool:
        if RANK[one.verdict] >= RANK_PASS or not about <= set(one.about):
            return False
        return one.about[0] != stay.worker or one.about[1] != stay.place or one.step in own

    found = {*basis.answers(stay.names, where=mine), *basis.answers(where=elsewhere)}
    for line, _, _ in _worn(basis, stay):
        found |= {k for k in _on_line(basis, stay, line) if _is_bad(basis, k)}
    return tuple(sorted(found))


def _is_bad(basis: Basis, k: int) -> bool:
    return RANK[basis.findings[k].verdict] < RANK_PASS


def _stems(stay: Stay, drawn: Sequence[Worksite]) -> tuple[str, ...]:
    """Return the pictures of a stay: what is worst first, work before standing."""
    mine = [
        one
        for one in drawn
        if one.situation.step in stay.names
        and one.situation.worker == stay.worker
        and one.situation.place is not None
        and one.situation.place.name == stay.place
    ]

    def first(one: Worksite) -> tuple[int, bool, int]:
        return RANK[one.verdict], isinstance(one.situation.action, Ingress), one.number

    return tuple(one.stem for one in sorted(mine, key=first))


def _stands(basis: Basis, stay: Stay) -> Iterator[tuple[str, str]]:
    place = stay.situations[0].place
    assert place is not None
    first = stay.situations[0]
    station = basis.scene.stations.get(stay.place)
    yield "worker", f"{stay.worker}, {first.case}, {first.own_hand}-handed, {first.body.label}"
    yield "restraint", place.restraint_name
    word = "socket" if stay.place in basis.scene.sockets else "place"
    yield word, f"{stay.place}, {station.title}" if station and station.title else stay.place
    settings: dict[str, list[str]] = {}
    for one in stay.situations:
        assert one.place is not None
        settings.setdefault(one.place.shown, []).append(one.step)
    if len(settings) == 1:
        for joint in place.restraint.joints:
            yield joint.name, joint_set_to(place, joint.name)
        if not place.restraint.joints:
            yield "setting", "the boot plate is fixed, there is nothing to set"
        return
    for shown, steps in settings.items():
        yield f"set for {listed(steps)}", shown or "nothing to set"


def _bolts(basis: Basis, stay: Stay) -> Table:
    rows: list[Row] = []
    for deed in turned(basis):
        action = deed.action
        if deed.step.name not in stay.names or deed.lane != stay.worker:
            continue
        assert isinstance(action, Drive) and basis.outing is not None
        record = basis.scene.fasteners[action.fastener]
        answers = answers_of(basis, deed)
        rows.append(
            Row(
                (
                    len(rows) + 1,
                    fastener_told(action.fastener, record),
                    turns_told(action, record),
                    record.torque if not action.undoes else record.breakaway,
                    set_to(basis.outing, deed, action),
                    f"{action.tool}, {action.bit}" if action.bit else action.tool,
                    hand_words(basis, stay.worker, action, record),
                    order_told(basis, action.fastener),
                    deed.step.name,
                    basis.verdict(answers),
                ),
                answers,
            )
        )
    says = (
        "In the order in which they are turned; torque is the breakaway where they are undone. "
        "Not known: neither scene nor procedure says so."
    )
    return table("card-bolts", "Bolts and connectors", says, BOLTS, rows, "Nothing is turned here.")


def _tools(basis: Basis, stay: Stay) -> Table:
    rows: list[Row] = []
    seen: set[tuple[str, str]] = set()
    outing = basis.outing
    for step in stay.steps if outing else ():
        assert outing is not None
        for deed in outing.deeds_in(step.name):
            if deed.lane != stay.worker:
                continue
            for need in needs_of(outing, deed):
                if (need.item, need.why) in seen:
                    continue
                seen.add((need.item, need.why))
                values = outing.before(deed)
                ties = values.get(names.ties(need.item))
                tied = sorted(map(str, ties)) if isinstance(ties, frozenset) else []
                answers = basis.answers(step.name, ("present", "custody", "fit"), (need.item,))
                cells = (
                    need.item, need.why, where_words(basis, values, need.item),
                    listed(tied, "nothing"), step.name, basis.verdict(answers),
                )  # fmt: skip
                rows.append(Row(cells, answers))
    says = "What must be at hand, and where it is just before it is needed."
    return table("card-tools", "Tools and hardware", says, TOOLS, rows, "Nothing is needed here.")


def _tether(basis: Basis, stay: Stay) -> Table:
    rows: list[Row] = []
    for line, hook, step in _worn(basis, stay):
        answers = _on_line(basis, stay, line)
        cells = (
            line, hook or "not hooked", basis.scene.tethers[line].length, step,
            basis.verdict(answers),
        )  # fmt: skip
        rows.append(Row(cells, answers))
    says = (
        f"Safety lines on the suit of {stay.worker}, by the ledger. Local tethers that no step "
        "names are not known."
    )
    return table(
        "card-tether", "Safety lines", says, TETHER, rows, "No safety line is known to be worn."
    )


def _worn(basis: Basis, stay: Stay) -> Iterator[tuple[str, str, str]]:
    """Yield each line worn during a stay, with its hook and the step that shows it first."""
    told: set[tuple[str, object]] = set()
    outing = basis.outing
    for step in stay.steps if outing else ():
        assert outing is not None
        for deed in outing.deeds_in(step.name):
            values = outing.states[outing.rank(deed) + 1]
            for line in basis.scene.tethers:
                hook = values.get(names.hook(line))
                if values.get(names.reel(line)) == stay.worker and (line, hook) not in told:
                    told.add((line, hook))
                    yield line, str(hook) if hook else "", step.name


def _on_line(basis: Basis, stay: Stay, line: str) -> tuple[int, ...]:
    """Return the places of the findings about a line while a stay lasts.

    That somebody is on a line all the time outside holds here too; where they are not at some
    other time does not. A line that is too short for the way to this place is too short here, and
    what is wrong with a line on a crane is wrong until it is hooked elsewhere.
    """
    spans = basis.outing.spans if basis.outing else {}
    begin, end = spans[stay.steps[0].name].begin, spans[stay.steps[-1].name].end
    meanwhile = [name for name, one in spans.items() if one.begin < end and one.end > begin]
    all_along = basis.answers(
        checks=("hooked",), names=(stay.worker,), where=lambda one: one.verdict is Verdict.PASS
    )
    here = basis.answers(meanwhile, LINES, (line,))
    at_fault = basis.answers(stay.names, ("hooked",), (stay.worker,))
    ways = _on_ways(basis, stay, line)
    return tuple(sorted({*all_along, *here, *at_fault, *ways, *_on_rides(basis, stay, line)}))


def _on_ways(basis: Basis, stay: Stay, line: str) -> Iterator[int]:
    """Yield the findings on the length of a line on the moves that end where a stay is.

    Where nobody came along rails, what is found of the line when they leave tells of it where it
    speaks of this place, not of one farther on.
    """
    moves = [
        one
        for one in moves_of(basis)
        if one.worker == stay.worker and any(worn.tether == line for worn in one.worn)
    ]
    to = [one for one in moves if one.passage and one.passage.stop == stay.place]
    for one in to:
        yield from answers_on_move(basis, one, LENGTH)
    for one in moves if not to else ():
        if one.passage and one.passage.start == stay.place:
            found = answers_on_move(basis, one, LENGTH)
            yield from (k for k in found if f" to {stay.place} (" in basis.findings[k].because)


def _on_rides(basis: Basis, stay: Stay, line: str) -> Iterator[int]:
    """Yield what is wrong with a line on rides begun before a stay ends, hooked as it is here."""
    outing = basis.outing
    if outing is None:
        return
    end = outing.spans[stay.steps[-1].name].end
    hook = outing.after(stay.steps[0].name).get(names.hook(line))
    for k in basis.answers(checks=RIDING, names=(line,)):
        one = basis.findings[k]
        if not _is_bad(basis, k) or stay.worker not in one.about or one.step not in outing.spans:
            continue
        is_before = outing.spans[one.step].begin < end
        if is_before and outing.after(one.step).get(names.hook(line)) == hook:
            yield k


LENGTH = ("tether",)
RIDING = ("anchored", "tether-riding")
LINES = ("locked", "anchored", "tether-riding", "tether")


def _hazards(basis: Basis, stay: Stay) -> Table:
    rows: list[Row] = []
    answers_here = set(answers_on(basis, stay))
    for name, hazard in basis.scene.hazards.items():
        answers = tuple(
            k
            for k in basis.answers(stay.names, NEAR)
            if k in answers_here and names_hazard(basis.findings[k], name)
        )
        found = [basis.findings[k] for k in answers]
        told = [one for one in (told_of(each, name) for each in found) if one is not None]
        worst = min(told, default=None)
        if worst is None or (worst[0] >= RANK_PASS and worst[1] > FAR):
            continue
        stand_off = text_of(hazard.stand_off, "m") if hazard.stand_off else UNTOLD
        told_in_short = worst[0] == RANK_PASS and isfinite(worst[1])
        words = f"{text_of(worst[1], 'm')} more than asked" if told_in_short else worst[2]
        cells = (
            name, hazard.kind, stand_off, hazard.control or UNTOLD, words,
            basis.verdict(answers),
        )  # fmt: skip
        rows.append(Row(cells, answers))
    says = (
        f"Declared hazards that are not farther off than {FAR:g} m beyond what is asked, by the "
        "checks of this stay."
    )
    return table(
        "card-hazards",
        "Hazards",
        says,
        HAZARDS,
        rows,
        "No check of this stay found a declared hazard near.",
    )
