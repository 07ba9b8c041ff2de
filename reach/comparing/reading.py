"""Which edits are likely to be behind a flip, by reading alone: what is tried first."""

from __future__ import annotations

import re
from collections.abc import Sequence

from reach.comparing.edits import Edit, Version
from reach.comparing.flips import Flip
from reach.finding import Finding
from reach.model.procedure import Procedure

SAME_STEP, NAMED, MENTIONED, BEFORE, ELSE = 8, 4, 2, 1, 0
"""The edit is of the step asked about; of a thing named in the answer; it mentions one; it is of
a step before that one in its lane; none of these."""


def likely(flip: Flip, edits: Sequence[Edit], old: Version, new: Version) -> list[int]:
    """Return how likely each edit is to be behind a flip, by what the answers name."""
    told = [finding for finding in (flip.old, flip.new) if finding is not None]
    steps = {finding.step for finding in told}
    about = {name for finding in told for name in finding.about}
    limits = {limit.name for finding in told for limit in finding.limits}
    before = _before(old.asked.procedure, steps) | _before(new.asked.procedure, steps)
    return [_score(edit, told, steps, about | limits, before) for edit in edits]


def _score(
    edit: Edit, told: Sequence[Finding], steps: set[str], names: set[str], before: set[str]
) -> int:
    its = {edit.name, edit.old_name}
    if edit.part == "step" and its & steps:
        return SAME_STEP
    if its & names or any(_mentions(finding.because, name) for finding in told for name in its):
        return NAMED
    if any(_mentions(f"{one.old} {one.new}", name) for one in edit.changes for name in names):
        return MENTIONED
    return BEFORE if edit.part == "step" and its & before else ELSE


def _before(procedure: Procedure, steps: set[str]) -> set[str]:
    """Return the steps of the same lanes that stand before the last of some steps."""
    names = [step.name for step in procedure.steps]
    ends = {
        step.lane: max(k for k, one in enumerate(procedure.steps) if one.name in steps
                       and one.lane == step.lane)
        for step in procedure.steps if step.name in steps
    }  # fmt: skip
    return {
        name
        for k, (name, step) in enumerate(zip(names, procedure.steps, strict=True))
        if step.lane in ends and k < ends[step.lane]
    }


def _mentions(text: str, name: str) -> bool:
    """Return whether a name stands in a text by itself, not as part of a longer one."""
    return bool(name) and bool(re.search(rf"(?<![\w-]){re.escape(name)}(?![\w-])", text))
