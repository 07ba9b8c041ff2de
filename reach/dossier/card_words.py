"""What a card says in few words: fasteners, how they are turned, in which order, what steps do."""

from __future__ import annotations

from reach.dossier.basis import Basis
from reach.dossier.bolts import order_words
from reach.dossier.wording import doing
from reach.model.handling import GloveCheck
from reach.model.procedure import Drive, Step
from reach.model.scene import Fastener


def fastener_told(name: str, record: Fastener) -> str:
    """Return a fastener with whether it may float off."""
    if record.kind == "connector" or record.captive:
        return name
    return f"{name} ({'not captive' if record.captive is False else 'captive not known'})"


def turns_told(action: Drive, record: Fastener) -> str:
    """Return which way, how many turns, and between how many it counts as done."""
    if action.do != "drive":
        return action.do
    way = "out" if action.undoes else "in"
    if record.turns is None:
        return f"{way}, how many is not known"
    between = record.turns_between
    return f"{way} {record.turns:g}" + (f" ({between[0]:g} to {between[1]:g})" if between else "")


def order_told(basis: Basis, fastener: str) -> str:
    """Return the place of a fastener in its order and what comes before it."""
    order, before = order_words(basis, fastener)
    place = "; ".join(one.split(", number ")[-1] for one in order.split("; "))
    return place if before == "nothing" else f"{place}, after {before}"


def step_words_told(step: Step) -> str:
    """Return a step with what is done in it beside what the table of bolts tells."""
    done = (one for one in step.actions if not isinstance(one, Drive))
    words = "; ".join("gloves" if isinstance(one, GloveCheck) else doing(one) for one in done)
    return f"{step.name}: {words}" if words else step.name
