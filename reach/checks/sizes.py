"""Question. Does the step work for every body it was run for, and which one is worst?

Margin. The least margin of reach over the bodies of one step, in metres.

Limit. As for the check on reach; the bodies are the size classes asked for.

Blind spots. Size classes are bodies on one axis of the population: a person with long legs and
short arms can be worse than any of them.
"""

from __future__ import annotations

from collections.abc import Iterable

from reach.checks import reach
from reach.checks.wording import drives
from reach.finding import Finding
from reach.kept.noting import step_of
from reach.site import Site, Situation

NAME = "sizes"
IDS = ("U1",)


def find(site: Site, situations: tuple[Situation, ...]) -> list[Finding]:
    """Return one finding for each thing turned that was run for several bodies."""
    asked = tuple(drives(situations))
    groups: dict[tuple[str, int], list[Finding]] = {}
    for situation, finding in zip(asked, _reach(site, asked), strict=True):
        groups.setdefault((step_of(situation), id(situation.action)), []).append(finding)
    return [_worst(group) for group in groups.values() if len(group) > 1]


def _reach(site: Site, situations: tuple[Situation, ...]) -> Iterable[Finding]:
    key = ("reach findings", tuple(map(id, situations)))
    if key not in site.memo:
        site.memo[key] = reach.find(site, situations)
    found: list[Finding] = site.memo[key]
    return found


def _worst(group: list[Finding]) -> Finding:
    worst = min(group, key=lambda finding: (finding.low, finding.high))
    verdicts = ", ".join(f"{finding.case} {finding.verdict}" for finding in group)
    return Finding(
        NAME,
        worst.step,
        worst.about,
        ", ".join(finding.case for finding in group),
        f"The {worst.case} body has the least margin ({verdicts}).",
        min(finding.low for finding in group),
        min(finding.high for finding in group),
        "m",
        worst.limits,
        worst.fix,
        numbers={"worst": worst.case},
    )
