"""What to do when it does not go as written: from declared data and findings, never made up."""

from __future__ import annotations

from collections.abc import Iterator

from reach.dossier.basis import Basis
from reach.dossier.contingency import phase_at
from reach.dossier.stays import Stay
from reach.dossier.stowing import where_words
from reach.dossier.wording import clock, listed, minutes
from reach.model.outing import Phase
from reach.model.procedure import Drive
from reach.returns import Late


def if_stuck(basis: Basis, stay: Stay) -> Iterator[str]:
    """Yield one sentence for each thing that may be done, with where it comes from."""
    yield from _fasteners(basis, stay)
    yield from _tools(basis, stay)
    yield from _settings(stay)
    yield from _leaving(basis, stay)
    yield from _home(basis, stay)


def _drives(stay: Stay) -> tuple[Drive, ...]:
    actions = [one.action for one in stay.situations]
    return tuple(one for one in actions if isinstance(one, Drive))


def _fasteners(basis: Basis, stay: Stay) -> Iterator[str]:
    said: dict[str, list[str]] = {}
    for drive in _drives(stay):
        words = basis.scene.fasteners[drive.fastener].if_stuck
        said.setdefault(words, []).append(drive.fastener)
    for words, fasteners in said.items():
        names = listed(fasteners)
        if words:
            yield f"{names}: {words} (scene)."
        else:
            yield f"The scene declares nothing for {names} if turning or mating does not go."


def _tools(basis: Basis, stay: Stay) -> Iterator[str]:
    """Yield which other pieces may turn what is turned, with where they then are."""
    said: dict[tuple[str, str], list[str]] = {}
    for one in stay.situations if basis.outing else ():
        drive = one.action
        if not isinstance(drive, Drive):
            continue
        kinds = basis.scene.fasteners[drive.fastener].tools
        used = {drive.tool, getattr(basis.scene.items.get(drive.tool), "kind", "")}
        assert basis.outing is not None
        values = basis.outing.after(one.step)
        for name, item in basis.scene.items.items():
            if item.kind in kinds and name not in used:
                where = where_words(basis, values, name)
                said.setdefault((name, where), []).append(drive.fastener)
    for (name, where), fasteners in said.items():
        yield (
            f"{listed(fasteners)}: or with {name}, then {where} (its kind is allowed by the scene; "
            "reach with it is not checked)."
        )


def _settings(stay: Stay) -> Iterator[str]:
    """Yield that there is no other setting, where the stay has one alone."""
    shown: dict[str, list[str]] = {}
    for one in stay.situations:
        if one.place is not None and one.place.shown:
            shown.setdefault(one.place.shown, []).append(one.step)
    if len(shown) <= 1:
        yield f"The procedure declares no other setting or place for this work at {stay.place}."


def _leaving(basis: Basis, stay: Stay) -> Iterator[str]:
    phases = dict(phase_at(basis, step.name) for step in stay.steps)
    for name, phase in phases.items():
        if phase is None:
            bare = [one.name for one in stay.steps if phase_at(basis, one.name)[1] is None]
            yield f"The procedure declares nothing for stopping work in {listed(bare)}."
        else:
            yield _clean_up_words(name, phase)


def _clean_up_words(name: str, phase: Phase) -> str:
    first = listed(phase.clean_up, "nothing is declared")
    takes = f" ({minutes(phase.takes)})" if phase.takes is not None else " (time not declared)"
    left = f"left then: {phase.stop}" if phase.stop else "how things are left is not known"
    safe = f", safe for {phase.safe / 3600.0:g} h" if phase.safe is not None else ""
    return f"To leave in phase '{name}': {first}{takes}; {left}{safe} (procedure)."


def _home(basis: Basis, stay: Stay) -> Iterator[str]:
    late = next(
        (
            one
            for one in (basis.returns.steps if basis.returns else ())
            if one.step in stay.names and one.worker == stay.worker
        ),
        None,
    )
    if late is None or late.home is None:
        yield (
            f"No way home along rails is known from {stay.place}: none were found to lead there."
        )
    else:
        yield _way_words(late)
    told = next(
        (one for one in (basis.timed.homeward if basis.timed else ()) if one.worker == stay.worker),
        None,
    )
    if told is not None and late is not None and late.home is not None and basis.timed is not None:
        by = basis.timed.limit.value - late.home.alone
        yield (
            f"Leave {stay.place} by {clock(by)} at the latest to be in by "
            f"{clock(basis.timed.limit.value)}."
        )


def _way_words(late: Late) -> str:
    home = late.home
    assert home is not None
    rails = listed(home.way.rails, "no rail")
    alone = minutes(home.alone)
    rescue = (
        f"brought in by {home.partner} from {home.partner_place} in {minutes(home.brought)} (rule "
        f"{minutes(late.limit)})"
        if late.margin is not None
        else "whether a partner can bring the worker in is not known"
    )
    return f"Home from {late.place} to {home.hatch} by {rails}: {alone} by oneself; {rescue}."
