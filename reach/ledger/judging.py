"""Rules of the ledger judged: in the order as written, and in every order that links allow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from reach.ledger.deed import Deed
from reach.ledger.outing import Outing
from reach.orders import Always, Answer, At, AtEnd, Link, Rule, Ruling, examine
from reach.orders.conditions import variables_of
from reach.orders.meeting import met

_MOST_TRIED = 40
"""Links tried for one broken rule: how long to look, not what is good."""


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
    def margin(self) -> tuple[float, float]:
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
        """What comes before another deed as written, and after it where the rule is broken.

        Of several the one to wait for; if waiting for none of them is enough, the last.
        """
        pair = self._mending or next(iter(self._swapped[:1]), None)
        return pair[0] if pair is not None else None

    @cached_property
    def _swapped(self) -> tuple[tuple[Deed, Deed], ...]:
        """Pairs of deeds, first and later as written, of which the order did the later one first.

        Those of the deed that breaks the rule come first; one pair for each two steps.
        """
        deed = self.deed
        if not self.elsewhere or deed is None:
            return ()
        outing, read = self.outing, variables_of(self.rule.condition)
        asked = deed if isinstance(self.rule.when, At) else None
        names = {event.name for event in self.ruling.order}
        matter = [one for one in outing.deeds if one is asked or read & set(one.event.writes)]
        done = [one for one in matter if one.name in names]
        missing = [one for one in matter if one.name not in names or one is asked]
        done.sort(key=lambda one: (one is not deed, -outing.rank(one)))
        pairs: dict[tuple[str, str], tuple[Deed, Deed]] = {}
        for then in done:
            for one in missing:
                if one.lane != then.lane and outing.rank(one) < outing.rank(then):
                    pairs.setdefault((one.step.name, then.step.name), (one, then))
        return tuple(pairs.values())

    @cached_property
    def _mending(self) -> tuple[Deed, Deed] | None:
        """The first of those pairs that keep the rule in every order if the later one waits."""
        return next((pair for pair in self._swapped[:_MOST_TRIED] if self._mends(*pair)), None)

    def _mends(self, first: Deed, then: Deed) -> bool:
        outing = self.outing
        links = (*outing.links, Link(first.step.name, then.step.name))
        try:
            (ruling, *_) = examine(outing.lanes, links, outing.start, [self.rule])
        except ValueError:  # they would wait for each other
            return False
        return ruling.answer is Answer.HOLDS

    @property
    def said(self) -> str:
        """In which order it is broken, in words; empty where it is as written or not broken."""
        if not self.elsewhere or self.deed is None:
            return ""
        pair = self._mending or next(iter(self._swapped[:1]), None)
        if pair is not None:
            return f"nothing keeps {quoted(pair[1])} from being done before {quoted(pair[0])}"
        others = [event.name for event in self.ruling.order if event.lane != self.deed.lane]
        after = f" after '{others[-1]}'" if others else ""
        return f"nothing keeps {quoted(self.deed)} from being done{after}"

    @property
    def fix(self) -> str:
        """The link that mends it, in words; empty where none is known to."""
        if self._mending is None:
            return ""
        first, then = self._mending
        return f"Let step '{then.step.name}' wait: after = ['{first.step.name}']."


def quoted(deed: Deed) -> str:
    """Return the name of a deed in quotes, to stand in a sentence."""
    return f"'{deed.name}'"


def judge(outing: Outing, rules: Sequence[Rule]) -> tuple[Judged, ...]:
    """Return what is known of some rules, in their order.

    Rules are asked always, at a deed or a step (just before it), or at the end.
    """
    if not rules:
        return ()
    rulings = outing.examiner.rulings(rules)
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
            asked = outing.deed_named(name)
            broken = None if met(rule.condition, outing.before(asked)) else asked
        case AtEnd():
            broken = None if met(rule.condition, states[-1]) or not deeds else deeds[-1]
        case _:
            raise ValueError(f"rule {rule.name!r}: asked always, at a deed or at the end")
    return Judged(rule, broken, False, ruling, outing)
