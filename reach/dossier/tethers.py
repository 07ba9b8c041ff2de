"""The tether plan: which line leads whom from where, and each end that is moved."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from reach.dossier.basis import Basis
from reach.dossier.moving import answers_on, moves_of
from reach.dossier.records import Row, Table
from reach.dossier.wording import NOT_ASKED, columns, known, least, listed, table
from reach.finding import Finding
from reach.ledger import Outing, names, shifts_of
from reach.model.handling import Attach
from reach.model.procedure import Release
from reach.site import Situation
from reach.travel.led import led_ends

CHECKS = ("tether", "crossing", "sag", "swing", "line-home", "anchor", "hook")
"""Checks of a line on one move."""

RIDING = ("anchored", "tether-riding")
ENDS = ("locked", "present", "parked")


def tether_plan(basis: Basis) -> Table:
    """Return the safety line of each move: where it is hooked, how it is led, how long it runs."""
    heads = columns(
        "step", "who", "line", "hooked to", "to", "led along", ("runs", "m"),
        ("pulled tight, at most", "m"), ("may be used", "m"), ("left", "m"), "crosses",
        "meant to cross", "slack and drift", "verdict",
    )  # fmt: skip
    says = (
        "The safety line worn on each move and each ride, led along the rails that the worker "
        "took. What may be used is the length of the line less the slack that is kept."
    )
    rows = [row for one in moves_of(basis) for row in _rows(basis, one)] + list(_rides(basis))
    return table("tether-plan", "Tether plan", says, heads, rows, "Nobody moves on a safety line.")


def _rows(basis: Basis, move: Situation) -> list[Row]:
    """Return a row for each line that is worn; what is asked of all of them stands in each."""
    return [_row(basis, move, k) for k in range(max(1, len(move.worn)))]


def _row(basis: Basis, move: Situation, k: int) -> Row:
    passage, line = move.passage, move.worn[k] if move.worn else None
    assert passage is not None
    answers = answers_on(basis, move, CHECKS)
    found = [basis.findings[k] for k in answers]
    led = led_ends(basis.site, move, line) if line else ()
    runs = next((one for one in found if one.check == "tether"), None)
    numbers = runs.numbers if runs else {}
    if line and "lines" in numbers:
        numbers = numbers["lines"][line.tether]
    is_worst = line is None or runs is None or runs.numbers.get("line") in (None, line.tether)
    way = led[-1].route.rails if led else ()
    return Row(
        (
            move.step,
            move.worker,
            line.tether if line else "not known",
            line.anchor if line else "not known",
            passage.stop,
            listed(way, "straight" if led else "not known"),
            known(numbers.get("routed")),
            known(numbers.get("tight at most")),
            known(numbers.get("usable")),
            least([runs] if runs and is_worst else [], "m"),
            _crosses(found),
            listed(getattr(move.action, "crosses", ()), "no line"),
            _drift(found),
            basis.verdict(answers),
        ),
        answers,
    )


def _crosses(found: Sequence[Finding]) -> str:
    told = [one for one in found if one.check == "crossing" and "crosses" in one.numbers]
    if not told:
        return NOT_ASKED
    return listed((name for one in told for name in one.numbers["crosses"]), "no line")


def _drift(found: Sequence[Finding]) -> str:
    told = [one.because for one in found if one.check in ("sag", "swing")]
    return " ".join(told) or NOT_ASKED


def _rides(basis: Basis) -> Iterator[Row]:
    """Yield what is found about lines of those who ride on a crane."""
    for k, one in enumerate(basis.findings):
        if one.check not in RIDING or not one.about:
            continue
        line = next((name for name in one.about if name in basis.scene.tethers), "not known")
        outing = basis.outing
        hook = outing.after(one.step).get(names.hook(line)) if outing else None
        yield Row(
            (
                one.step,
                one.about[0],
                line,
                str(hook) if hook else "not known",
                "while the crane moves",
                "straight" if "straight" in one.numbers else NOT_ASKED,
                known(one.numbers.get("straight")),
                None,
                known(one.numbers.get("usable")),
                least([one], "m") if one.unit == "m" else None,
                NOT_ASKED,
                "no line",
                one.because,
                one.verdict,
            ),
            (k,),
        )


def tether_swaps(basis: Basis) -> Table:
    """Return each end of a safety line that is moved, in order of time."""
    heads = columns(
        ("when", "at"), "step", "who", "what is done", "line", "end", "from", "to",
        "seen locked", "lines that then hold the worker", "verdict",
    )  # fmt: skip
    says = (
        "Each time that an end of a safety line is hooked on or let go, with the lines whose reel "
        "the worker wears and whose hook is on an anchor just after it. A swap is made before it "
        "is broken only where that is never none."
    )
    rows = _swaps(basis, basis.outing) if basis.outing else ()
    return table(
        "tether-swaps", "Swaps of safety lines", says, heads, rows, "No end of a line is moved."
    )


def _swaps(basis: Basis, outing: Outing) -> Iterator[Row]:
    for deed in outing.deeds:
        for shift in shifts_of(outing, deed):
            before = outing.before(deed)
            after = outing.states[outing.rank(deed) + 1]
            was = before.get(shift.name)
            whom = next((one for one in (shift.to, was) if one in outing.workers), deed.lane)
            on = [
                line
                for line in outing.scene.tethers
                if after.get(names.reel(line)) == whom
                and after.get(names.hook(line)) in outing.scene.anchors
            ]
            action = deed.action
            checked = isinstance(action, Attach) and action.checked
            answers = _answers(basis, deed.step.name, shift.line, whom)
            yield Row(
                (
                    deed.moment,
                    deed.step.name,
                    deed.lane,
                    "release" if isinstance(action, Release) else "attach",
                    shift.line,
                    shift.end,
                    str(was) if was else "the lock",
                    str(shift.to) if shift.to else "the lock",
                    "released" if isinstance(action, Release) else ("yes" if checked else "no"),
                    f"{whom}: {listed(on, 'none')}",
                    basis.verdict(answers),
                ),
                answers,
            )


def _answers(basis: Basis, step: str, line: str, whom: str) -> tuple[int, ...]:
    """Return the places of the findings about one end that is moved in one step."""
    of_line = basis.answers(step, ENDS, (line,))
    return (*of_line, *basis.answers(step, ("hooked",), (whom,)))
