"""How restraints are set, for whom, for which steps, and with what margin."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from reach.dossier.basis import Basis, Spread
from reach.dossier.records import Cell, Column, Row, Table
from reach.dossier.wording import NOT_ASKED, columns, least, listed, table
from reach.finding import Finding
from reach.model.procedure import Drive, Ingress, Inspect
from reach.site import Place, Situation
from reach.units import in_unit

POSTURES = ("reach", "two-handed", "clearance", "ingress", "inner", "grips", "error")
"""Checks that are answered by how the restraint is set."""


def restraint_settings(basis: Basis) -> Table:
    """Return every setting of every stay: socket, joints, who, which steps, margins."""
    joints = joints_of(basis)
    sized = next((one for one in basis.spread if one.kind == "sizes"), None)
    heads = (
        *columns("place", "restraint", "worker", "size"),
        *(Column(name) for name in joints),
        *columns("steps", "serves", ("least margin of reach", "m"), ("least clearance left", "m")),
        *_size_heads(sized),
        *columns("verdict"),
    )
    says = (
        "How each restraint is set, as the procedure writes it: detent number of a numbered joint, "
        "else the angle. The margin of reach is that of joint limits; the clearance left is what "
        "stays beyond that asked. Both are the least of the steps; below zero that much is missing "
        "at least, blank is not known."
    )
    rows = (_row(basis, stay, joints, sized) for stay in stays_at(basis))
    return table(
        "restraint-settings", "Restraint settings", says, heads, rows,
        "Nobody stands in a restraint.",
    )  # fmt: skip


def _size_heads(sized: Spread | None) -> tuple[Column, ...]:
    if sized is None:
        return columns("other sizes")
    return columns(*((f"margin of reach, {size}", "m") for size in sized.words.split(", ")))


def joints_of(basis: Basis) -> tuple[str, ...]:
    """Return the names of the joints of the restraints that are stood in, in their order."""
    places = [one.place for one in basis.outcome.situations if one.place is not None]
    names = [joint.name for one in places for joint in one.restraint.joints]
    return tuple(dict.fromkeys(names))


def stays_at(basis: Basis) -> tuple[tuple[Situation, ...], ...]:
    """Return situations in groups: one worker and body in one place as it is set, in order."""
    groups: dict[tuple[object, ...], list[Situation]] = {}
    for one in basis.outcome.situations:
        if one.place is not None:
            key = one.worker, one.case, one.place.name, one.place.restraint_name, one.place.shown
            groups.setdefault(key, []).append(one)
    return tuple(tuple(group) for group in groups.values())


def set_to(place: Place, joint: str) -> str:
    """Return how a joint of a restraint is set, in words."""
    record = next((one for one in place.restraint.joints if one.name == joint), None)
    if record is None:
        return "no such joint"
    if place.setting is None or joint not in place.setting:
        return "left blank"
    angle = place.setting[joint]
    if record.numbered:
        return str(min(enumerate(record.stops), key=lambda stop: abs(stop[1] - angle))[0])
    return f"{in_unit(angle, 'deg') + 0.0:+.4g} deg"


def answers_at(basis: Basis, stay: Sequence[Situation]) -> tuple[int, ...]:
    """Return the places of the findings about postures in one stay."""
    steps = {one.step for one in stay}
    place, worker, case = stay[0].place, stay[0].worker, stay[0].case
    assert place is not None

    def mine(one: Finding) -> bool:
        at = place.name in one.about and worker in one.about[:1]
        return at and one.case in ("", case)

    return basis.answers(steps, POSTURES, where=mine)


def _row(
    basis: Basis, stay: Sequence[Situation], joints: Sequence[str], sized: Spread | None
) -> Row:
    first = stay[0]
    place = first.place
    assert place is not None
    answers = answers_at(basis, stay)
    found = [basis.findings[k] for k in answers]
    serves = [head for one in stay for head in _targets(one)]
    return Row(
        (
            place.name,
            place.restraint_name,
            first.worker,
            first.case,
            *(set_to(place, joint) for joint in joints),
            listed(one.step for one in stay),
            listed(serves, "standing alone"),
            least((one for one in found if one.check == "reach"), "m"),
            least((one for one in found if one.check == "clearance"), "m"),
            *_other_sizes(stay, sized),
            basis.verdict(answers),
        ),
        answers,
    )


def _targets(one: Situation) -> Iterator[str]:
    if isinstance(one.action, Drive | Inspect):
        yield one.action.fastener
    elif isinstance(one.action, Ingress):
        return
    else:
        yield from getattr(one.action, "grips", ())


def _other_sizes(stay: Sequence[Situation], sized: Spread | None) -> Iterator[Cell]:
    if sized is None or sized.outcome is None:
        yield NOT_ASKED
        return
    place = stay[0].place
    assert place is not None
    steps = {one.step for one in stay}
    mine = [
        one
        for one in sized.outcome.findings
        if one.check == "reach" and one.step in steps and place.name in one.about
    ]
    for size in sized.words.split(", "):
        yield least((one for one in mine if one.case == size), "m")
