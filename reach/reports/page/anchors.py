"""Anchors of a page: names of places in it, unique, so that links lead where they say."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from reach.finding import Finding, Limit
from reach.reports.page.plates import Plate
from reach.run import Outcome


class Anchors:
    """Hands out the names of places in one page."""

    def __init__(self, outcome: Outcome, plates: Sequence[Plate]) -> None:
        self._of = {id(one): f"f{k}" for k, one in enumerate(outcome.findings)}
        self._headings: dict[str, str] = {}
        self._limits: dict[tuple[str, float, str], str] = {}
        self._plates: dict[str, list[Plate]] = {}
        for plate in plates:
            for step in plate.steps:
                self._plates.setdefault(step, []).append(plate)

    def finding(self, finding: Finding) -> str:
        """Return the anchor of a finding of the run."""
        return self._of[id(finding)]

    def heading(self, title: str) -> str:
        """Return the anchor of a heading."""
        if title not in self._headings:
            self._headings[title] = self._free(f"s-{slug(title)}", self._headings.values())
        return self._headings[title]

    def limit(self, limit: Limit) -> str:
        """Return the anchor of a limit; limits of one name and another value have another."""
        key = (limit.name, limit.value, limit.unit)
        if key not in self._limits:
            self._limits[key] = self._free(f"limit-{slug(limit.name)}", self._limits.values())
        return self._limits[key]

    def picture(self, plate: Plate) -> str:
        """Return the anchor of a picture."""
        return f"p-{slug(plate.stem)}-{plate.kind}"

    def pictures(self, steps: Sequence[str], about: Sequence[str]) -> tuple[tuple[str, str], ...]:
        """Return (words, anchor) of the pictures of steps, those about the names asked first."""
        mine = [plate for step in steps for plate in self._plates.get(step, ())]
        near = [
            plate for plate in mine if any(slug(name) in slug(plate.stem) for name in about[1:])
        ]
        chosen = (near or mine)[:_MOST]
        return tuple((_words(plate), self.picture(plate)) for plate in chosen)

    @staticmethod
    def _free(wanted: str, taken: Iterable[str]) -> str:
        known, name, n = set(taken), wanted, 1
        while name in known:
            n += 1
            name = f"{wanted}-{n}"
        return name


_MOST = 4
_VIEW = {
    "outside": "outside", "eyes": "worker's eyes", "side": "another side", "move": "way",
    "sweep": "sweep", "curve": "clearance curve", "home": "minutes home", "crane": "crane",
}  # fmt: skip


def _words(plate: Plate) -> str:
    return f"{_VIEW[plate.kind]}, {plate.step}"


def slug(words: str) -> str:
    """Return words as part of an anchor.

    Examples
    --------
    >>> slug("20 to Hazel: RL30@1.6")
    '20-to-Hazel-RL30-1.6'
    """
    return re.sub(r"[^A-Za-z0-9_.]+", "-", words).strip("-") or "x"
