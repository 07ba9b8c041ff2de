"""Which pictures to draw: one worksite for each step and action, shown for its worst body."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from reach.checks.wording import about
from reach.finding import RANK, Finding, Verdict, worst_of
from reach.model.procedure import Action, Drive, HandOver, Hold, Ingress, Release
from reach.reports.margin import margin_text
from reach.run import Outcome
from reach.site import Situation

_ROUNDING = 1e-6


@dataclass(frozen=True, eq=False, slots=True)
class Worksite:
    """One action of one step, in the body for which it comes out worst.

    Attributes
    ----------
    number : int
        From 1, in the order of the procedure.
    situation : Situation
    findings : tuple of Finding
        What was found about it, worst verdict first.
    cases : tuple of str
        All bodies that it was run for.
    elsewhere : tuple of Finding
        What does not pass of the same step and is about something that is not drawn.
    """

    number: int
    situation: Situation
    findings: tuple[Finding, ...]
    cases: tuple[str, ...]
    elsewhere: tuple[Finding, ...] = ()

    @property
    def verdict(self) -> Verdict:
        """The worst verdict of what is drawn; not asked when nothing was judged."""
        return worst_of(self.findings)

    @property
    def action(self) -> str:
        """What is done, in words."""
        action, head = self.situation.action, self.situation.head
        if isinstance(action, Ingress) or head is None:
            return standing(action)
        if not isinstance(action, Drive):
            return f"look at {head.name}"
        assert self.situation.held is not None
        if action.do != "drive":
            return f"{action.do} {head.name}"
        return f"turn {head.name} with {self.situation.held.title}"

    @property
    def stem(self) -> str:
        """Start of its file names, safe on every system.

        Numbered first, so that files sort as the procedure runs.
        """
        head = self.situation.head
        what = head.name if head is not None else "stand"
        return stem_of(self.number, self.situation.step, self.situation.action.do, what)


def standing(action: Action) -> str:
    """Return what is done without a fastener, in words; the posture drawn is one at rest.

    Examples
    --------
    >>> standing(Hold(do="hold", grips=("HB2", "HB3")))
    'take hold of HB2, HB3'
    """
    match action:
        case Ingress():
            return "get in and stand at rest"
        case Hold():
            return f"take hold of {', '.join(action.grips)}"
        case HandOver():
            return f"hand over to {action.to}, who takes {', '.join(action.grips)}"
        case Release():
            return "let go"
        case _:
            return action.do.replace("-", " ")


def stem_of(number: int, *words: str) -> str:
    """Return the start of a file name that is safe on every system.

    Examples
    --------
    >>> stem_of(3, "20 to Hazel", "translate")
    '03-20-to-Hazel-translate'
    """
    safe = (re.sub(r"[^A-Za-z0-9_.+]+", "-", word).strip("-.") for word in words)
    return "-".join([f"{number:02d}", *safe])


def named(finding: Finding) -> str:
    """Return the name of the check, with which of its answers it is where it gives several."""
    return f"{finding.check}, {finding.answer}" if finding.answer else finding.check


def margin_words(finding: Finding) -> str:
    """Return the margin of a finding in words; a proof that has no size says so.

    Proofs that refute every posture say that it fails, not by how much: their margin is a
    rounding below zero, which would read as a measure.
    """
    if finding.verdict is Verdict.FAIL and finding.high > -_ROUNDING:
        return "proved, by how much is not known"
    return margin_text(finding.low, finding.high, finding.unit)


def groups_of(outcome: Outcome) -> tuple[tuple[int, tuple[Situation, ...]], ...]:
    """Return what can be drawn: numbered groups of the bodies of one action or one move."""
    groups: dict[tuple[str, int], list[Situation]] = {}
    for situation in outcome.situations:
        place = situation.place
        placed = place is not None and place.world_from_boots is not None
        if placed or situation.passage is not None:
            groups.setdefault((situation.step, id(situation.action)), []).append(situation)
    return tuple((number, tuple(group)) for number, group in enumerate(groups.values(), 1))


def worksites_of(outcome: Outcome) -> tuple[Worksite, ...]:
    """Return the worksites of a run that have boots placed somewhere, in order."""
    return tuple(
        _worst(number, group, outcome.findings)
        for number, group in groups_of(outcome)
        if group[0].passage is None
    )


def worksite_of(outcome: Outcome, situation: Situation) -> Worksite:
    """Return the worksite of one situation, shown for that very body.

    Raises
    ------
    ValueError
        If the worker of the situation stands nowhere.
    """
    place = situation.place
    if place is None or place.world_from_boots is None:
        raise ValueError(f"step {situation.step!r} leaves its place or setting blank")
    return _worksite(1, situation, (situation.case,), outcome.findings)


def _worst(number: int, group: Sequence[Situation], findings: Sequence[Finding]) -> Worksite:
    cases = tuple(situation.case for situation in group)
    sites = [_worksite(number, situation, cases, findings) for situation in group]
    return min(sites, key=_badness)


def _badness(site: Worksite) -> tuple[int, float]:
    low = min((f.high for f in site.findings if f.verdict is site.verdict), default=0.0)
    return RANK[site.verdict], low


def _worksite(
    number: int, situation: Situation, cases: tuple[str, ...], findings: Sequence[Finding]
) -> Worksite:
    names = about(situation)
    checks: dict[str, list[Finding]] = {}
    for finding in findings:
        if finding.step == situation.step and finding.about == names:
            checks.setdefault(finding.check, []).append(finding)
    mine: list[Finding] = []
    for answers in checks.values():
        # A check that does not depend on the body answers for the first one alone.
        own = any(finding.case == situation.case for finding in answers)
        case = situation.case if own else answers[0].case
        mine += [finding for finding in answers if finding.case == case]
    worst_first = sorted(mine, key=lambda finding: RANK[finding.verdict])
    more = elsewhere(findings, situation.step, mine)
    return Worksite(number, situation, tuple(worst_first), cases, more)


def elsewhere(
    findings: Sequence[Finding], step: str, drawn: Sequence[Finding]
) -> tuple[Finding, ...]:
    """Return what does not pass of a step, beside what is drawn of it, worst first."""
    shown = {id(one) for one in drawn}
    bad = [
        one
        for one in findings
        if one.step == step and id(one) not in shown and RANK[one.verdict] < RANK[Verdict.PASS]
    ]
    return tuple(sorted(bad, key=lambda one: RANK[one.verdict]))
