"""Which edits make sense by themselves, and which only together with others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from reach.comparing.edits import Edit, Version
from reach.comparing.hybrid import HYBRID, hybrid
from reach.files.problem import InputError, Problem

MOST_COMPANIONS = 12
"""More edits that one edit needs to make sense are not looked for."""
_TIES = 2
"""So many companions in a row may mend nothing by themselves."""

Group = tuple[Edit, ...]


@dataclass(slots=True)
class Fitting:
    """What is wrong with the old version with some of the edits, read once.

    Attributes
    ----------
    old, new : Version
    edits : tuple of Edit
        All of them.
    """

    old: Version
    new: Version
    edits: tuple[Edit, ...]
    _known: dict[Group, tuple[Problem, ...]] = field(default_factory=dict)
    _groups: dict[Edit, Group] = field(default_factory=dict)

    def problems(self, edits: Sequence[Edit]) -> tuple[Problem, ...]:
        """Return every problem of the old version with these edits alone."""
        asked = tuple(edits)
        if asked not in self._known:
            try:
                hybrid(self.old, self.new, asked)
                self._known[asked] = ()
            except InputError as error:
                self._known[asked] = error.problems
            except (LookupError, ValueError) as error:  # a name that another edit brings
                said = str(error) or type(error).__name__
                self._known[asked] = (Problem(HYBRID, "", None, said),) * len(self.edits)
        return self._known[asked]

    def group(self, edit: Edit) -> Group:
        """Return an edit with those that it needs to make sense; empty where none are found.

        An edit that needs others may be one of those that another edit needs, or go beside them.
        """
        if not self._groups:
            self._groups = {one: self._grown(one) for one in self.edits}
            found = sorted({group for group in self._groups.values() if group}, key=len)
            for one, group in self._groups.items():
                if not group:
                    self._groups[one] = self._beside(one, found)
        return self._groups[edit]

    def _beside(self, edit: Edit, groups: Sequence[Group]) -> Group:
        for group in groups:
            if edit in group:
                return group
        for group in groups:
            if len(group) > 1 and not self.problems(both := self._in_order((*group, edit))):
                return both
        return ()

    def _grown(self, edit: Edit) -> Group:
        """Return an edit with companions taken in one by one, each the one that mends most."""
        mine: Group = (edit,)
        ties = 0
        for _ in range(MOST_COMPANIONS):
            problems = self.problems(mine)
            if not problems:
                return self._needed(mine, edit)
            tries = [self._in_order((*mine, one)) for one in self._concerned(problems, mine)]
            best = min(tries, key=lambda some: len(self.problems(some)), default=mine)
            n_left = len(self.problems(best))
            ties = ties + 1 if n_left == len(problems) else 0
            if best == mine or n_left > len(problems) or ties > _TIES:
                return ()
            mine = best
        return () if self.problems(mine) else self._needed(mine, edit)

    def _needed(self, group: Group, edit: Edit) -> Group:
        """Return a group without those that the edit fits without."""
        for one in group:
            fewer = tuple(other for other in group if other is not one)
            if one is not edit and not self.problems(fewer):
                group = fewer
        return group

    def _concerned(self, problems: Sequence[Problem], apart: Group) -> list[Edit]:
        """Return the edits of what problems name, and of steps in the lanes that they are in."""
        text = "\n".join(f"{problem.place} {problem.message}" for problem in problems)
        steps = (*self.old.asked.procedure.steps, *self.new.asked.procedure.steps)
        lanes = {step.lane for step in steps if step.name in text}
        near = {step.name for step in steps if step.lane in lanes}
        return [
            edit
            for edit in self.edits
            if edit not in apart
            and ({edit.name, edit.old_name} & near or edit.name in text or edit.old_name in text)
        ]

    def _in_order(self, edits: Sequence[Edit]) -> Group:
        return tuple(sorted(edits, key=self.edits.index))
