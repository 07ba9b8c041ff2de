"""Rules of the ledger judged: in the order as written, and in every order that links allow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reach.ledger.deed import Deed
from reach.ledger.outing import Outing
from reach.orders import Always, Answer, At, AtEnd, Rule, Ruling, examine
from reach.orders.conditions import variables_of
from reach.orders.meeting import met

Number = tuple[float, float]


@dataclass(frozen=True, eq=False)
class Judged:
    """What is known of one rule.

    Attributes
    ----------
    rule : Rule
    written : Deed or None
        Where it is first broken as written: the deed that breaks it, or, for a rule asked at
        a deed, that deed.
    at_start : bool
        It is broken before anything is done.
    ruling : Ruling
        Over all orders.
    """

    rule: Rule
    written: Deed | None
    at_start: bool
    ruling: Ruling
    outing: Outing

    @property
    def is_broken(self) -> bool:
        """Whether it is broken, as written or in another order."""
        return self.at_start or self.written is not None or self.elsewhere

    @property
    def elsewhere(self) -> bool:
        """Whether only another order than the written one breaks it."""
        kept = self.written is None and not self.at_start
        return kept and self.ruling.answer is Answer.BROKEN

    @property
    def margin(self) -> Number:
        """Low and high end of a margin: 0 kept, -1 broken, between the two not settled."""
        if self.is_broken:
            return -1.0, -1.0
        return (0.0, 0.0) if self.ruling.answer is Answer.HOLDS else (-1.0, 0.0)

    @property
    def deed(self) -> Deed | None:
        """The deed at which it is broken: as written, else the last of the order that shows it."""
        if self.written is not None:
            return self.written
        if not self.elsewhere or not self.ruling.order:
            return None
        last = self.ruling.order[-1].name
        return next(deed for deed in self.outing.deeds if deed.name == last)

    @property
    def ahead_of(self) -> Deed | None:
        """What comes before it as written, and after it in the order that breaks the rule."""
        deed = self.deed
        if not self.elsewhere or deed is None:
            return None
        done = {event.name for event in self.ruling.order}
        read = variables_of(self.rule.condition)
        missing = [
            one
            for one in self.outing.deeds[: self.outing.rank(deed)]
            if one.name not in done and read & set(one.event.writes)
        ]
        return missing[-1] if missing else None

    @property
    def said(self) -> str:
        """In which order it is broken, in words; empty where it is as written or not broken."""
        if not self.elsewhere or self.deed is None:
            return ""
        if self.ahead_of is not None:
            return (
                f"nothing keeps {quoted(self.deed)} from being done before {quoted(self.ahead_of)}"
            )
        others = [event.name for event in self.ruling.order if event.lane != self.deed.lane]
        after = f" after '{others[-1]}'" if others else ""
        return f"nothing keeps {quoted(self.deed)} from being done{after}"

    @property
    def fix(self) -> str:
        """The link that mends it, in words; empty where none is known."""
        if not self.elsewhere or self.deed is None or self.ahead_of is None:
            return ""
        return f"Let step '{self.deed.step.name}' wait: after = ['{self.ahead_of.step.name}']."


def quoted(deed: Deed) -> str:
    """Return the name of a deed in quotes, to stand in a sentence."""
    return f"'{deed.name}'"


def judge(outing: Outing, rules: Sequence[Rule]) -> tuple[Judged, ...]:
    """Return what is known of some rules, in their order.

    Rules are asked always, at a deed or a step (just before it), or at the end.
    """
    if not rules:
        return ()
    rulings = examine(outing.lanes, outing.links, outing.start, rules)[: len(rules)]
    return tuple(_judged(outing, rule, ruling) for rule, ruling in zip(rules, rulings, strict=True))


def _judged(outing: Outing, rule: Rule, ruling: Ruling) -> Judged:
    states, deeds = outing.states, outing.deeds
    match rule.when:
        case Always():
            if not met(rule.condition, states[0]):
                return Judged(rule, None, True, ruling, outing)
            broken = next(
                (
                    deed
                    for deed, after in zip(deeds, states[1:], strict=True)
                    if not met(rule.condition, after)
                ),
                None,
            )
        case At(name):
            asked = next(deed for deed in deeds if name in (deed.name, deed.step.name))
            broken = None if met(rule.condition, outing.before(asked)) else asked
        case AtEnd():
            broken = None if met(rule.condition, states[-1]) or not deeds else deeds[-1]
        case _:
            raise ValueError(f"rule {rule.name!r}: asked always, at a deed or at the end")
    return Judged(rule, broken, False, ruling, outing)
