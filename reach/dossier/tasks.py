"""What is to be done, what counts as done, what is cut first, and what may be added."""

from __future__ import annotations

from collections.abc import Iterator

from reach.dossier.basis import Basis
from reach.dossier.records import Row, Table
from reach.dossier.wording import NO_PRIORITY, UNTOLD, columns, listed, step_words, table
from reach.ledger import needs_of
from reach.ledger.facts import Fact
from reach.model.procedure import Drive, Step
from reach.units import text_of

ELSEWHERE = {"crane": "at the crane's controls", "inside lead": "inside"}
"""Where those are whose lanes are not workers outside."""

SAYS = (
    "Each step with what counts as done. The procedure format has no words of its own for success: "
    "it is what the ledger says the step changes, and the turns that fasteners declare. Steps that "
    "are not optional are never cut."
)


def task_description(basis: Basis) -> Table:
    """Return each step with what is done, what shows that it is, and how it stands in the cuts."""
    heads = columns(
        "step", "who", "where", "what is done", "done when", "priority", "cut", "note",
        "verdict",
    )  # fmt: skip
    rows = (_row(basis, step) for step in basis.outing.steps) if basis.outing else ()
    return table("task-description", "Tasks and what counts as done", SAYS, heads, rows)


def _row(basis: Basis, step: Step) -> Row:
    answers = basis.answers(step.name)
    where = step.where or ", ".join(
        fact.value
        for fact in basis.ledger.after(step.name).facts
        if fact.what in ("place", "tip") and fact.thing == step.lane
    )
    return Row(
        (
            step.name,
            listed((step.lane, *step.others)),
            where or ELSEWHERE.get(basis.procedure.lanes[step.lane], UNTOLD),
            step_words(step),
            _done_when(basis, step),
            NO_PRIORITY if step.optional is None else step.optional,
            _cut_words(basis, step),
            step.note or "no note",
            basis.verdict(answers),
        ),
        answers,
    )


def _done_when(basis: Basis, step: Step) -> str:
    changes = basis.ledger.after(step.name).changes
    told = [
        f"{new.thing} {new.what} {new.value}" for old, new in changes if not _is_along(old, new)
    ]
    for action in step.actions:
        if isinstance(action, Drive):
            between = basis.scene.fasteners[action.fastener].turns_between
            if between:
                told.append(f"{action.fastener} after {between[0]:g} to {between[1]:g} turns")
    return "; ".join(told) or "the ledger sees no change"


def _is_along(old: Fact, new: Fact) -> bool:
    """Return whether a change only follows from another: a tie, or being in a bag that moves."""
    if new.what == "tied to":
        return True
    is_in_bag = new.group == "items" and new.value.startswith("in ")
    return is_in_bag and old.value.split(",")[0] == new.value.split(",")[0]


def _cut_words(basis: Basis, step: Step) -> str:
    if step.optional is None:
        return "never"
    cuts = basis.timed.cuts.cuts if basis.timed else ()
    for number, cut in enumerate(cuts, 1):
        if step.name in cut.option.tasks:
            return f"cut number {number}"
    return "not needed"


def cut_order(basis: Basis) -> Table:
    """Return what is left out so that the outing ends in time, least important first."""
    heads = columns(
        "number", "steps that are cut", "priority", ("it then ends at", "at"),
        ("saved", "s"), "what it leaves",
    )  # fmt: skip
    says, rows = "The procedure has no steps, so nothing is timed.", []
    if basis.timed is not None:
        told, limit = basis.timed.cuts, basis.timed.limit
        within = "within" if told.margin >= 0.0 else "still after"
        says = (
            "Optional steps that are left out, least important first, so that all ends within "
            f"{text_of(limit.value / 60.0, 'min')}; with these it is {within} the limit. Steps are "
            "closed up in their written order, windows kept."
        )
        answers = basis.answers(checks=("outing",))
        for number, cut in enumerate(told.cuts, 1):
            option = cut.option
            leaves = "in time" if cut.end <= limit.value else "still late"
            cells = (number, listed(option.tasks), option.priority, cut.end, cut.saved, leaves)
            rows.append(Row(cells, answers))
    nothing = "Nothing needs to be cut."
    if not any(step.optional is not None for step in basis.procedure.steps):
        nothing = "No step says that it is optional, so there is nothing that may be cut."
    return table("cut-order", "Cut order", says, heads, rows, nothing)


def optional_tasks(basis: Basis) -> Table:
    """Return steps that may be left out or added, with what must be so before they begin."""
    heads = columns(
        "step", "who", "priority", ("not before", "at"), ("takes", "s"), "after", "needs at hand",
        "needs inhibits and windows", "slack", "verdict",
    )  # fmt: skip
    says = (
        "Steps that say they are optional, with their entry conditions: what comes before, what "
        "must be at hand, which inhibits and windows. Tasks that are in no step are not known."
    )
    return table(
        "optional-tasks", "Optional tasks and their entry conditions", says, heads, _options(basis),
        "No step says that it is optional: the procedure declares no get-ahead task.",
    )  # fmt: skip


def _options(basis: Basis) -> Iterator[Row]:
    outing = basis.outing
    for step in outing.steps if outing else ():
        if step.optional is None or outing is None:
            continue
        answers = basis.answers(step.name)
        span = outing.spans[step.name]
        needs = [
            need.item for deed in outing.deeds_in(step.name) for need in needs_of(outing, deed)
        ]
        slack = basis.timed.table.times[step.name].slack if basis.timed else None
        yield Row(
            (
                step.name,
                listed((step.lane, *step.others)),
                step.optional,
                span.begin,
                span.end - span.begin,
                listed(step.after, "no step is named"),
                listed(needs),
                listed(_guards(basis, step)),
                None if slack is None else text_of(slack / 60.0, "min"),
                basis.verdict(answers),
            ),
            answers,
        )


def _guards(basis: Basis, step: Step) -> Iterator[str]:
    for action in step.actions:
        if isinstance(action, Drive):
            guard = basis.procedure.guards.get(action.fastener)
            if guard is not None:
                yield from guard.inhibits
                if guard.window:
                    yield f"window {guard.window}"
