"""If work is stopped: clean-up and what is left by phase, the way home from every step."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from reach.dossier.basis import Basis
from reach.dossier.records import Row, Table
from reach.dossier.stowing import where_words
from reach.dossier.wording import UNTOLD, clock, columns, known, listed, sure, table
from reach.ledger import Outing, chain_of
from reach.model.outing import Phase
from reach.orders import Value
from reach.returns import Late
from reach.timetables import Homeward

PHASES = ("clean-up", "safe-stop")
SAME_TIME = 0.01
"""Ways home that take as long to this (s) from one place answer the same question."""

HOME = ("rescue", "companion", "line-home")


def contingency_phases(basis: Basis) -> Table:
    """Return for each phase what is done first, how long home takes and what is left."""
    heads = columns(
        "phase", "from step", "to step", ("begins", "at"), ("ends", "at"), "done first",
        ("that takes", "s"), ("longest way home", "s"), ("both together", "s"), ("at most", "s"),
        "left as", ("safe for", "s"), "latest start home", "in words", "verdict",
    )  # fmt: skip
    says = (
        "What is done if work is stopped, as the phases of the procedure declare it, and the "
        "longest way home by oneself from where anyone is in the phase, lock included. The latest "
        "start home is that of the whole outing, worker by worker."
    )
    rows = (_phase(basis, name, one) for name, one in basis.procedure.phases.items())
    return table(
        "contingency-phases", "If work is stopped: clean-up by phase", says, heads, rows,
        "The procedure declares no phase: what is done first if work is stopped is not known.",
    )  # fmt: skip


def _phase(basis: Basis, name: str, phase: Phase) -> Row:
    outing = basis.outing
    answers = basis.answers(checks=PHASES, names=(name,))
    told = next((basis.findings[k] for k in answers if basis.findings[k].check == "clean-up"), None)
    home = known(told.numbers.get("home")) if told else None
    spans = outing.spans if outing else {}
    begin = spans[phase.start].begin if phase.start in spans else None
    end = spans[phase.stop_at].end if phase.stop_at in spans else None
    both = home + phase.takes if home is not None and phase.takes is not None else None
    latest = [f"{one.worker}: {latest_words(one)}" for one in _homeward(basis)]
    return Row(
        (
            name,
            phase.start,
            phase.stop_at,
            begin,
            end,
            listed(phase.clean_up, UNTOLD),
            phase.takes,
            home,
            both,
            basis.site.limit("terminate_time").value,
            phase.stop or UNTOLD,
            phase.safe,
            "; ".join(latest) or "not known",
            " ".join(basis.findings[k].because for k in answers) or "Nothing was asked.",
            basis.verdict(answers),
        ),
        answers,
    )


def _homeward(basis: Basis) -> tuple[Homeward, ...]:
    return basis.timed.homeward if basis.timed else ()


def latest_words(one: Homeward) -> str:
    """Return when somebody must start home at the latest, in words."""
    told = one.bingo
    if not one.returns or told.latest is None or told.from_ is None:
        return "no start home is known to end in time"
    return f"{clock(told.latest)}, {told.from_.takes / 60.0:.1f} min from {told.from_.place}"


def contingency_steps(basis: Basis) -> Table:
    """Return for each step and place how the worker gets home, alone and brought in."""
    heads = columns(
        "step", "worker", "place", ("ends", "at"), ("home alone", "s"), ("brought in", "s"),
        ("the rule", "s"), ("left of the rule", "s"), "by whom, from where", "swaps of lines",
        ("leave by", "at"), "phase", "done first", "then left outside", "verdict",
    )  # fmt: skip
    says = (
        "From where each step leaves a worker: minutes home by oneself, and until a partner has "
        "brought them in who cannot move. 'Leave by' is when that place must be left so that all "
        "ends by the limit of the outing. Blank is not known: no rails lead home from there."
    )
    rows = (_step(basis, one) for one in basis.returns.steps) if basis.returns else ()
    nothing = (
        "No step leaves anybody away from the hatch."
        if basis.returns
        else "The scene has no hatch to come home through, so no way home is known."
    )
    return table(
        "contingency-steps", "The way home from every step", says, heads, rows, nothing
    )  # fmt: skip


def _step(basis: Basis, late: Late) -> Row:
    answers = _answers(basis, late)
    home, outing = late.home, basis.outing
    span = outing.spans.get(late.step) if outing else None
    name, phase = phase_at(basis, late.step)
    limit = basis.timed.limit.value if basis.timed else None
    alone = known(home.alone) if home else None
    return Row(
        (
            late.step,
            late.worker,
            late.place,
            span.end if span else None,
            alone,
            known(home.brought) if home else None,
            late.limit,
            late.margin,
            f"{home.partner} from {home.partner_place}" if home and home.partner else "not known",
            _swaps(late),
            limit - alone if limit is not None and alone is not None else None,
            name or "no phase covers it",
            listed(phase.clean_up, "nothing") if phase else UNTOLD,
            listed(left_outside(basis, outing, late.step), "nothing") if outing else "not known",
            basis.verdict(answers),
        ),
        answers,
    )


def _answers(basis: Basis, late: Late) -> tuple[int, ...]:
    """Return the places of the findings about the way home from one step.

    The same question is asked once only: its answer may stand at an earlier step.
    """
    found = set(basis.answers(late.step, HOME, (late.worker,)))
    for k in basis.answers(checks=("rescue",), names=(late.place,)):
        one = basis.findings[k]
        margin = sure(one)
        mine = one.about[:1] == (late.worker,) and one.case == late.case
        if mine and late.margin is not None and margin is not None:
            found |= {k} if abs(margin - late.margin) < SAME_TIME else set()
    return tuple(sorted(found))


def _swaps(late: Late) -> str:
    if late.home is None:
        return "not known"
    return (
        f"{late.home.swaps}" if late.home.swaps_known else f"{late.home.swaps}, taken for granted"
    )


def phase_at(basis: Basis, step: str) -> tuple[str, Phase | None]:
    """Return the phase that is on when a step ends, with its name; empty where none is."""
    outing = basis.outing
    if outing is None or step not in outing.spans:
        return "", None
    end = outing.spans[step].end
    for name, phase in basis.procedure.phases.items():
        begin, last = outing.spans.get(phase.start), outing.spans.get(phase.stop_at)
        if begin and last and begin.begin < end <= last.end:
            return name, phase
    return "", None


def left_outside(basis: Basis, outing: Outing, step: str) -> Iterator[str]:
    """Yield the items that then lie outside, on nobody, where they did not lie at the begin."""
    now, start = outing.after(step), outing.start
    for item in basis.scene.items:
        chain = chain_of(now, item)
        if not chain or chain == chain_of(start, item):
            continue
        at = chain[-1]
        inside = chain[0] in basis.scene.items
        if at not in outing.workers and at not in basis.scene.hatches and not inside:
            yield f"{item} {_where(basis, now, item)}"


def _where(basis: Basis, values: Mapping[str, Value], item: str) -> str:
    return where_words(basis, values, item)
